"""The stages of a fluid course as a form: amounts in the shop's unit, steps, order, stages put in and taken out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from fractions import Fraction
from typing import Any

from django import forms
from django.utils.text import format_lazy
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from shopserv.calc import measures
from shopserv.common import formats
from shopserv.common.parsing import FieldError, UnitDoubt, quantity, volume_doubt
from shopserv.web.fields import TypedField
from shopserv.web.forms import PageForm

MOST_STAGES = 30
LARGEST_ML = 15_000
AS_PRINTED_ML = 1
AMOUNT_OF = {"drain": "to_ml", "add": "volume_ml", "pump": "add_ml", "mix": ""}
OPS = (
    ("drain", gettext_lazy("drain, engine off")),
    ("add", gettext_lazy("pour in, engine off")),
    ("pump", gettext_lazy("pump down, engine running")),
    ("mix", gettext_lazy("warm run")),
)
Stages = list[dict[str, Any]]


class AmountField(TypedField):
    """What a stage moves, as whole mL; empty is nothing. What stands as it was shown keeps its milliliters.

    kept_ml    what was shown
    sheet_ml   what the unit sheet gives, (low, high): a figure that is one of them in the other unit is asked
    """

    def __init__(
        self, *, units_first: str, kept_ml: int | None, sheet_ml: Sequence[tuple[int, int]], **kwargs: Any
    ) -> None:
        self.kept_ml, self.sheet_ml, self.units_first = kept_ml, sheet_ml, units_first
        unit = "qt" if units_first == "us" else "L"
        super().__init__(_amount_ml, unit_shown=unit, how={"unit": unit}, required=False, **kwargs)

    def clean(self, value: Any) -> int:
        """Whole mL."""
        text = str(value or "").strip()
        if self.kept_ml is not None and text == shown(self.kept_ml, self.units_first):
            return self.kept_ml
        return int(super().clean(value)) if text.strip("0.") else 0

    def doubt(self, text: str) -> UnitDoubt | None:
        """A figure of the unit sheet in the other unit than the one beside the field."""
        asked = (
            volume_doubt(text, unit=self.unit_shown, expected=(low - AS_PRINTED_ML, high + AS_PRINTED_ML))
            for low, high in self.sheet_ml
        )
        return next((one for one in asked if one), None)


def _amount_ml(typed: str, *, unit: str) -> int:
    """Whole mL of an amount that one stage can move."""
    ml = quantity(typed, unit=unit).ml
    if ml > LARGEST_ML:
        words = _("%(typed)s is more than one stage can move. The largest is %(most)s.")
        most = formats.volume(LARGEST_ML, "us" if unit == "qt" else "metric")
        raise FieldError("course.range", words % {"typed": typed.strip(), "most": most})
    return ml


def shown(ml: int, units_first: str) -> str:
    """An amount as it stands in its field."""
    return (formats.quarts(ml, 2) if units_first == "us" else formats.liters(ml, 2)).rpartition(" ")[0]


class CourseForm(PageForm):
    """One row a stage: what it does, how much, and the milliliters that were shown."""

    rows = forms.IntegerField(widget=forms.HiddenInput, min_value=0, max_value=MOST_STAGES)
    doubt = forms.BooleanField(label=gettext_lazy("fill and drains 20 % off either way"), required=False)

    def __init__(
        self,
        *args: Any,
        stages: Sequence[Mapping[str, Any]],
        units_first: str,
        margin_ml: int,
        sheet_ml: Sequence[tuple[int, int]],
        **kwargs: Any,
    ) -> None:
        self.units_first, self.margin_ml, self.given = units_first, margin_ml, list(stages)
        kwargs["initial"] = {**_initial(stages, units_first), **kwargs.get("initial", {})}
        super().__init__(*args, **kwargs)
        for n in range(1, self._count() + 1):
            self.fields[f"op_{n}"] = forms.ChoiceField(
                label=format_lazy(gettext_lazy("stage {n}"), n=n), choices=OPS, widget=forms.HiddenInput
            )
            self.fields[f"ml_{n}"] = forms.IntegerField(widget=forms.HiddenInput, min_value=0, required=False)
            self.fields[f"amount_{n}"] = AmountField(
                label=format_lazy(gettext_lazy("stage {n}"), n=n),
                units_first=units_first,
                kept_ml=self._kept(n),
                sheet_ml=sheet_ml,
                max_length=40,
            )

    def _count(self) -> int:
        if not self.is_bound:
            return len(self.given)
        typed = str(self.data.get("rows", ""))
        return min(int(typed), MOST_STAGES) if typed.isascii() and typed.isdigit() else 0

    def _kept(self, n: int) -> int | None:
        typed = str(self.data.get(f"ml_{n}", "") if self.is_bound else self.initial.get(f"ml_{n}", ""))
        return int(typed) if typed.isascii() and typed.isdigit() else None

    def stages(self) -> Stages:
        """The stages as typed."""
        return [
            self._row(self.cleaned_data[f"op_{n}"], self.cleaned_data[f"amount_{n}"])
            for n in range(1, self._count() + 1)
        ]

    def _row(self, op: str, ml: int) -> dict[str, Any]:
        if op == "mix":
            return {"op": op}
        row: dict[str, Any] = {"op": op, AMOUNT_OF[op]: -ml if op == "drain" else ml}
        return {**row, "stop_margin_ml": self.margin_ml} if op == "pump" else row

    def after(self, do: str) -> Stages:
        """The stages after one press: "up 3", "down 3", "more 3", "less 3", "out 3", "in add"."""
        stages = self.stages()
        what, _space, which = do.partition(" ")
        if what == "in" and which in AMOUNT_OF and len(stages) < MOST_STAGES:
            return [*stages, self._row(which, 0)]
        index = int(which) - 1 if which.isascii() and which.isdigit() else -1
        if not 0 <= index < len(stages):
            return stages
        if what == "out":
            return stages[:index] + stages[index + 1 :]
        to = index + {"up": -1, "down": 1}.get(what, 0)
        if to != index and 0 <= to < len(stages):
            stages[index], stages[to] = stages[to], stages[index]
        if what in ("more", "less"):
            stages[index] = self._stepped(stages[index], 1 if what == "more" else -1)
        return stages

    def _stepped(self, row: dict[str, Any], way: int) -> dict[str, Any]:
        """A tenth of the shop's unit more or less, never below nothing."""
        name = AMOUNT_OF[row["op"]]
        if not name:
            return row
        unit = "qt" if self.units_first == "us" else "L"
        now = Decimal(shown(abs(row[name]), self.units_first).replace(",", ""))
        ml = measures.whole(measures.convert(Fraction(max(Decimal(0), now + way * Decimal("0.1"))), unit, "mL"))
        return {**row, name: -ml if row["op"] == "drain" else ml}


def _initial(stages: Sequence[Mapping[str, Any]], units_first: str) -> dict[str, Any]:
    initial: dict[str, Any] = {"rows": len(stages)}
    for n, stage in enumerate(stages, 1):
        name = AMOUNT_OF[stage["op"]]
        ml = abs(stage.get(name, 0)) if name else 0
        initial |= {f"op_{n}": stage["op"], f"ml_{n}": ml, f"amount_{n}": shown(ml, units_first)}
    return initial
