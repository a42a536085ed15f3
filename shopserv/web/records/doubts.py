"""Readings that are doubted, in words, and what a person may say of them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from shopserv.common import formats
from shopserv.logbook.doubts import Doubt
from shopserv.logbook.models import OdometerReading
from shopserv.registry.models import Vehicle
from shopserv.reminders.services import readings
from shopserv.shop.actors import Actor
from shopserv.web.forms import PageForm
from shopserv.web.query import LARGEST_KEY

ANSWERS = {"is right": "right", "is aside": "aside", "is meant": "read as"}  # act of the form -> answer of the deed
KINDS = {
    "two digits exchanged": gettext_lazy("two digits exchanged"),
    "a digit missing": gettext_lazy("a digit missing"),
    "a digit twice": gettext_lazy("a digit typed twice"),
    "one digit wrong": gettext_lazy("one digit wrong"),
    "other unit": gettext_lazy("miles and kilometers mixed up"),
    "trip meter": gettext_lazy("the trip meter"),
    "unknown": gettext_lazy("it fits nowhere"),
    "instrument replaced": gettext_lazy("the instrument was replaced"),
    "instrument rolled over": gettext_lazy("the instrument rolled over"),
    "set back": gettext_lazy("the instrument was set back"),
}


class DoubtForm(PageForm):
    """Which doubted reading is answered."""

    reading = forms.IntegerField(widget=forms.HiddenInput, min_value=1, max_value=LARGEST_KEY)


@dataclass(frozen=True, slots=True)
class Doubted:
    """One doubted reading as the page shows it; meant: the figure likely meant, empty where none is proposed."""

    key: int
    said: str
    meant: str
    form: DoubtForm


def shown(doubts: list[Doubt]) -> list[Doubted]:
    """The doubted readings with their forms."""
    return [Doubted(one.reading.pk, words(one), _meant(one), DoubtForm()) for one in doubts]


def words(doubt: Doubt) -> str:
    """What is doubted and why: likely kind, what was meant, in how many of a hundred cases."""
    verdict = doubt.verdict
    said = {
        "figure": formats.odometer(doubt.reading.figure, doubt.reading.unit),
        "on": formats.day(doubt.reading.read_on),
        "kind": KINDS[verdict.kind],
        "odds": formats.number(min(99, int(100 * verdict.odds))),  # never sure
        "meant": _meant(doubt),
    }
    if said["meant"]:
        return _("(%(figure)s) of %(on)s is doubted: likely %(meant)s, %(kind)s (%(odds)s of 100).") % said
    return _("(%(figure)s) of %(on)s is doubted: likely %(kind)s (%(odds)s of 100).") % said


def _meant(doubt: Doubt) -> str:
    return "" if doubt.meant is None else formats.odometer(doubt.meant, doubt.reading.unit)


def settle(actor: Actor, vehicle: Vehicle, act: str, form: Any) -> str:
    """Do what was said of a doubted reading; what became of it in a sentence."""
    row = readings.settle(vehicle, actor=actor, key=form.cleaned_data["reading"], answer=ANSWERS[act])
    return done_words(row)


def done_words(row: OdometerReading) -> str:
    """What became of a reading."""
    figure = formats.odometer(row.figure, row.unit)
    if row.state == "set aside":
        return _("%(figure)s is set aside, with its reason.") % {"figure": figure}
    return _("%(figure)s counts.") % {"figure": figure}
