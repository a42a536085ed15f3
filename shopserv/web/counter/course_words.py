"""The words of the Fluid course page: levels against full, lines that a stage may cross, points of share."""

from __future__ import annotations

from fractions import Fraction

from django.utils.translation import gettext as _

from shopserv.calc.course_bands import Band, Breach
from shopserv.common import formats
from shopserv.jobs.selectors.fluid_course import DrainLabor, Over


def level_words(level: Band | int, first: str) -> str:
    """A level against full: "1.4 below full", "0.5 below to 0.6 above full", "full"."""
    low, high = (level.low, level.high) if isinstance(level, Band) else (level, level)
    if low == high:
        return _one_level(low, first)
    if low < 0 < high:
        return _("%(low)s below to %(high)s above full") % {"low": _amount(-low, first), "high": _amount(high, first)}
    if high <= 0:
        return _("%(high)s to %(low)s below full") % {"high": _amount(-high, first), "low": _amount(-low, first)}
    return _("%(low)s to %(high)s above full") % {"low": _amount(low, first), "high": _amount(high, first)}


def _one_level(ml: Fraction | int, first: str) -> str:
    if ml == 0:
        return _("full")
    words = _("%(amount)s above full") if ml > 0 else _("%(amount)s below full")
    return words % {"amount": _amount(ml if ml > 0 else -ml, first)}


def _amount(ml: Fraction | int, first: str) -> str:
    return formats.quarts(ml, 1) if first == "us" else formats.liters(ml, 1)


def breach_words(breach: Breach, first: str) -> str:
    """What a stage may cross, by how much, and if what: "reaches 12 mL under the pickup if the unit holds 7.2 L"."""
    by = formats.milliliters(breach.by_ml)
    said = {
        "pickup": _("reaches %(by)s under the pickup: the pump would draw air"),
        "dips": _("stands %(by)s above the line where turning parts dip: the fluid foams"),
        "minimum": _("ends %(by)s under the low mark"),
    }[breach.line] % {"by": by}
    causes = [_cause(name, value, first) for name, value in breach.if_.items()]
    if not causes:
        return said
    return _("%(said)s, if %(causes)s") % {"said": said, "causes": _(" and ").join(causes)}


def _cause(name: str, value: Fraction, first: str) -> str:
    if name in ("capacity_ml", "sump_ml"):
        words = _("the unit holds %(volume)s") if name == "capacity_ml" else _("the sump holds %(volume)s")
        return words % {"volume": formats.volume(value, first)}
    if name == "pickup_ml":
        return _("the pump draws air already %(volume)s below full") % {"volume": formats.volume(-value, first)}
    off = formats.trimmed(abs(value - 1) * 100)
    words = _("the drain lets out %(off)s %% more") if value > 1 else _("the drain lets out %(off)s %% less")
    return words % {"off": off}


def over_words(over: Over, first: str) -> str:
    """Where an order runs too high, by how much: it is not offered."""
    return _("Not offered: stage %(stage)s runs %(level)s above full, %(by)s above where turning parts dip: foam.") % {
        "stage": over.stage,
        "level": formats.volume(over.level_ml, first),
        "by": formats.volume(over.by_ml, first),
    }


def drain_words(drain: DrainLabor | None) -> str:
    """What the labor of an opened drain comes to, or that it is asked; empty where nothing is opened besides."""
    if drain is None:
        return ""
    if drain.tenths is None:
        return _("Not on the price list: %(what)s. Say what it takes before it is offered.") % {"what": drain.question}
    return _("Onto the quote comes the %(what)s: %(hours)s, less what it shares with the method.") % {
        "what": drain.question,
        "hours": formats.hours(drain.tenths),
    }


def points(ppm: int) -> str:
    """A difference of shares: "2.5 points"."""
    return _("%(points)s points") % {"points": formats.number(Fraction(ppm, 10_000), 1)}
