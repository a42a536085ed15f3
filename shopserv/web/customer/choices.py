"""The options as the customer reads them: a tube, what is done, what it is worth, and what stays as it is."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.translation import gettext as _

from shopserv.common import formats, fresh, lasting
from shopserv.common.drawing.tube import ShareTube, share_tube
from shopserv.jobs.courses import METHODS
from shopserv.jobs.models import Line
from shopserv.jobs.selectors.quotes import Choice, Decision


@dataclass(frozen=True, slots=True)
class Shown:
    """One option, laid out.

    total    "$442.95", or "at most $512.00" where the fill is not known
    agrees   what the button says: the new agreed total
    over     by how much an invoice may be higher without a new OK; empty: by nothing
    notes    short lines below the title
    """

    choice: Choice
    tube: ShareTube | None
    title: str
    total: str
    agrees: str
    over: str
    notes: tuple[str, ...]
    lines: tuple[tuple[str, str], ...]


def shown(decision: Decision) -> list[Shown]:
    """Every option of a version, in the order of the letters."""
    return [_shown(choice) for choice in decision.choices]


def _shown(choice: Choice) -> Shown:
    total = formats.money(choice.total_cents)
    agrees = formats.money(choice.agreed_cents)
    return Shown(
        choice=choice,
        tube=_tube(choice),
        title=choice.title[:1].upper() + choice.title[1:],
        total=_("at most %(total)s") % {"total": total} if choice.is_at_most else total,
        agrees=_("at most %(total)s") % {"total": agrees} if choice.is_at_most else agrees,
        over=formats.money(choice.over_cents) if choice.over_cents else "",
        notes=tuple(note for note in (_new_fluid(choice), _lasts(choice), _left_out(choice)) if note),
        lines=(
            *((_line(_words(line, choice), line.condition), formats.money(line.price_cents)) for line in choice.lines),
            (_("tax"), formats.money(choice.tax_cents)),
        ),
    )


def _tube(choice: Choice) -> ShareTube | None:
    """A tube filled as far as the fluid is new; none for work without fluid."""
    return None if choice.fraction_low_ppm is None else share_tube(choice.fraction_low_ppm, choice.fraction_high_ppm)


def _new_fluid(choice: Choice) -> str:
    if choice.fraction_low_ppm is None:
        return ""
    share = fresh.share_of(choice.fraction_low_ppm, choice.fraction_high_ppm, choice.course)
    figure = share.figure[:1].upper() + share.figure[1:]
    return _("%(share)s new fluid (%(covers)s).") % {"share": figure, "covers": share.plainly}


def _lasts(choice: Choice) -> str:
    """How long the fluid lasts by the clock that runs out first, as a model figure with its band."""
    bought = choice.bought
    if not bought:
        return ""
    if bought["per_cents"] is None and not lasting.ends(bought)[1]:
        return (
            _("Due again at once, by age.") if bought["governs"] == "months" else _("Due again at once, by distance.")
        )
    if bought["per_cents"] is None:
        words = _("%(figure)s (%(covers)s).") % {"figure": lasting.figure(bought), "covers": lasting.covers(bought)}
        return words[:1].upper() + words[1:]
    return _("Lasts %(figure)s, %(price)s (%(covers)s).") % {
        "figure": lasting.figure(bought),
        "price": lasting.price(bought),
        "covers": lasting.covers(bought),
    }


def _left_out(choice: Choice) -> str:
    return _("Not included: %(what)s.") % {"what": choice.not_included} if choice.not_included else ""


def _words(line: Line, choice: Choice) -> str:
    """The method by its words for the customer; everything else as it is written."""
    return choice.title if line.kind == "labor" and line.text in METHODS else line.text


def _line(text: str, condition: str) -> str:
    return f"{text}, {condition}" if condition else text
