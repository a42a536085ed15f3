"""What a share of new fluid covers, in a few words: for staff, and plainly for customers."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _

from shopserv.common import formats


@dataclass(frozen=True, slots=True)
class Share:
    """The share of new fluid of one course as every page tells it.

    figure    "86 to 94 %"
    covers    what the band runs over, in the words of the shop
    plainly   the same for a customer
    """

    figure: str
    covers: str
    plainly: str


def share_of(
    low_ppm: int | None, high_ppm: int | None, course: Mapping[str, Any], *, is_doubted: bool = False
) -> Share:
    """The share of a course, as it is kept with its option (jobs.courses.Course.as_dict).

    is_doubted   whether fill and drains are taken 20 % off either way besides
    """
    if low_ppm is None:
        return Share(figure(None, None), "", "")
    return Share(figure(low_ppm, high_ppm), covers(course.get("over"), is_doubted=is_doubted), covers_plainly(course))


def figure(low_ppm: int | None, high_ppm: int | None) -> str:
    """ "86 to 94 %"; "not known" where the unit sheet gives no fill."""
    return _("not known") if low_ppm is None else formats.share(low_ppm, high_ppm)


def covers(over: Sequence[str] | None, *, is_doubted: bool = False) -> str:
    """ "from stirred to plug flow, fill anywhere in its band"; what is open besides stands behind.

    over         what the share runs over, as jobs.courses.Course has it; none: kept by an older program
    is_doubted   whether fill and drains are taken 20 % off either way besides
    """
    if over is not None and "sumps" in over:
        return _("the sump with the smaller and with the larger share")
    said = _("from stirred to plug flow")
    names = [word for name, word in _names().items() if name in (over or ())]
    if is_doubted and "capacity_ml" in (over or ()):
        others = [word for name, word in _names().items() if name in ("sump_ml", "pickup_ml") and name in (over or ())]
        said = _("%(said)s, fill and drains 20 %% off either way") % {"said": said}
        names = others
    if not names:
        return said
    return _("%(said)s, %(what)s anywhere in its band") % {"said": said, "what": _(" and ").join(names)}


def _names() -> dict[str, str]:
    return {"capacity_ml": _("fill"), "sump_ml": _("sump"), "pickup_ml": _("pickup"), "drained": _("drain")}


def covers_plainly(course: Mapping[str, Any]) -> str:
    """The same for a customer: what the two ends stand for."""
    over = course.get("over") or ()
    if "sumps" in over:
        return _("estimate: the part that gets less and the part that gets more")
    if course.get("kind") == "drains":
        if "capacity_ml" in over:
            return _("estimate: it may hold more or less")
        return _("estimate")
    if over:
        return _("%(said)s, and the transmission may hold more or less") % {"said": _mixed_or_pushed()}
    return _mixed_or_pushed()


def _mixed_or_pushed() -> str:
    return _("estimate: less if new and old fluid mix on the way, more if the new pushes the old out")
