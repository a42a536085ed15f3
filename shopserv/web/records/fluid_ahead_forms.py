"""What is counted of one product: whole packages, opened ones, what is on its way, days of an order; and other days."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from datetime import date, timedelta
from fractions import Fraction
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.functional import cached_property
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as later

from shopserv.calc.opened import OpenPackage
from shopserv.calc.packages import Package as Kind
from shopserv.calc.promise import AgreedJob, Arrival
from shopserv.catalog.models import Package
from shopserv.common import formats, parsing
from shopserv.jobs.selectors.ahead import AheadJob, AheadProduct
from shopserv.jobs.shelf import Counted
from shopserv.web.fields import DayField, QuantityField, TypedField, WholeField
from shopserv.web.forms import PageForm
from shopserv.web.query import ORDER

MOST_COUNTED = 9_999
MOST_DAYS = 180  # ahead: a day without its year that has just passed is not taken for one of next year
NOT_COUNTED = later("Nothing was typed. Count it, and type 0 where there is none.")
NO_LEAD = later("The shelf does not reach for %(job)s: say by when to order. Type 0 where it comes on the same day.")
MOST_ROWS = 6  # of opened packages, and of what is on its way
OPENED = ("kind", "left", "use_by", "batch")
COMING = ("from", "count", "usable")


def words_of(package: Package, packages: Sequence[Package], units_first: str) -> str:
    """ "jug"; with its size where another kind has the same word, its number where it has none."""
    word = package.word or package.stock_number
    size = formats.quarts if units_first == "us" else formats.liters
    if sum(other.word == package.word for other in packages) > 1:
        return _("%(word)s of %(size)s") % {"word": word, "size": size(package.volume_ml)}
    return word


class ShelfForm(PageForm):
    """The shelf of one product. Nothing typed at all: not counted, which is no fault."""

    def __init__(self, data: Mapping[str, str], *, product: AheadProduct, today: date, units_first: str) -> None:
        self.product, self.today, self.units_first = product, today, units_first
        own = re.compile(rf"{re.escape(product.code)}-(n_|lead$|({'|'.join((*OPENED, *COMING))})[0-9]$)")
        mine = {name: text for name, text in data.items() if own.match(name)}
        self.is_counted = any(text.strip() for text in mine.values())
        super().__init__(mine if self.is_counted else None, prefix=product.code)
        unit = "qt" if units_first == "us" else "L"
        kinds = [("", "–"), *((one.stock_number, self._word(one)) for one in product.packages)]
        for one in product.packages:
            size = formats.volume(one.volume_ml, units_first)
            label = _("%(kind)s, %(size)s each") % {"kind": self._plural(one), "size": size}
            self.fields[f"n_{one.stock_number}"] = WholeField(
                kind="count", most=MOST_COUNTED, label=label, error_messages={"required": NOT_COUNTED}
            )
        self.fields["lead"] = WholeField(
            kind="count",
            most=MOST_DAYS,
            label=later("Calendar days until an order is here"),
            required=False,
        )
        for row in range(self._rows("left", "use_by", "batch", "kind")):
            self.fields[f"kind{row}"] = forms.ChoiceField(choices=kinds, required=False, label=later("kind"))
            self.fields[f"left{row}"] = QuantityField(unit=unit, required=False, label=later("still in it"))
            self.fields[f"use_by{row}"] = DayField(order=ORDER, required=False, label=later("use by"))
            self.fields[f"batch{row}"] = forms.CharField(max_length=40, required=False, label=later("batch"))
        for row in range(self._rows("from", "count", "usable")):
            self.fields[f"from{row}"] = forms.ChoiceField(choices=kinds, required=False, label=later("kind"))
            self.fields[f"count{row}"] = WholeField(
                kind="count", most=MOST_COUNTED, required=False, label=later("how many")
            )
            self.fields[f"usable{row}"] = _ahead(today, later("usable from"))

    def _word(self, package: Package) -> str:
        return words_of(package, self.product.packages, self.units_first)

    def _plural(self, package: Package) -> str:
        return f"{package.word}s".capitalize() if package.word else package.stock_number

    def _rows(self, *names: str) -> int:
        """The rows that are filled, and one more."""
        last = [
            row + 1
            for row in range(MOST_ROWS)
            if any(str(self.data.get(self.add_prefix(f"{name}{row}"), "")).strip() for name in names)
        ]
        return min(MOST_ROWS, max(last, default=0) + 1)

    def clean(self) -> dict[str, Any]:
        """A row is whole or empty; what is left in a package fits into it; nothing lies too far."""
        said: dict[str, Any] = super().clean() or self.cleaned_data
        for row in self._rows_of("kind"):
            self._check_row(row, OPENED[:2])
            self._check_left(row)
        for row in self._rows_of("from"):
            self._check_row(row, COMING)
            self._check_usable(row)
        return said

    def _rows_of(self, name: str) -> Iterator[int]:
        return (row for row in range(MOST_ROWS) if f"{name}{row}" in self.fields)

    def _check_row(self, row: int, needed: Sequence[str]) -> None:
        names = OPENED if "left" in needed else COMING
        if not any(str(self.data.get(self.add_prefix(f"{name}{row}"), "")).strip() for name in names):
            return
        for name in needed:
            field = f"{name}{row}"
            if self.cleaned_data.get(field) in (None, "") and field not in self.errors:
                self.add_error(field, ValidationError(_("Nothing was typed. Fill it in, or empty the row."), "row"))

    def _check_left(self, row: int) -> None:
        kind, left = self._kind(self.cleaned_data.get(f"kind{row}")), self.cleaned_data.get(f"left{row}")
        if kind is None or left is None:
            return
        if left.ml > kind.volume_ml:
            held = {"size": formats.volume(kind.volume_ml, self.units_first), "kind": self._word(kind)}
            words = _("A %(kind)s holds %(size)s; more cannot be left in it. Type what is still in it.")
            self.add_error(f"left{row}", ValidationError(words % held, "left"))

    def _check_usable(self, row: int) -> None:
        day = self.cleaned_data.get(f"usable{row}")
        if day is not None and day < self.today:
            words = _("%(day)s is past. What has come stands on the shelf: count it there, and empty the row.")
            self.add_error(f"usable{row}", ValidationError(words % {"day": formats.day(day)}, "day"))
        elif day is not None:
            _refuse_far(self, f"usable{row}", day, self.today)

    def _kind(self, number: Any) -> Package | None:
        return next((one for one in self.product.packages if one.stock_number == number), None)

    @cached_property
    def counted(self) -> Counted | None:
        """The shelf as it was counted; none where it was not, or something is to be mended."""
        if not self.is_counted or not self.is_valid():
            return None
        said = self.cleaned_data
        kinds = tuple(
            Kind(one.stock_number, one.volume_ml, one.cost_cents, said[f"n_{one.stock_number}"])
            for one in self.product.packages
        )
        opened = tuple(self._opened(row) for row in self._rows_of("kind") if said[f"kind{row}"])
        coming = tuple(
            Arrival(said[f"from{row}"], said[f"count{row}"], said[f"usable{row}"])
            for row in self._rows_of("from")
            if said[f"from{row}"]
        )
        return Counted(self.product.code, kinds, opened, coming, said["lead"] or 0)

    def _opened(self, row: int) -> OpenPackage:
        said, kind = self.cleaned_data, self._kind(self.cleaned_data[f"kind{row}"])
        assert kind is not None
        batch = said[f"batch{row}"]
        label = f"{self._word(kind)} {row + 1}" + (f" ({batch})" if batch else "")
        left = Fraction(said[f"left{row}"].ml)
        return OpenPackage(label, self.product.code, batch, left, said[f"use_by{row}"], kind.volume_ml, kind.cost_cents)

    def ask_lead(self, job: AgreedJob) -> bool:
        """The days of an order, where the shelf fails and none were typed: whether they have to be asked."""
        is_asked = self.cleaned_data.get("lead") is None
        if is_asked:
            self.add_error("lead", ValidationError(NO_LEAD % {"job": job.name}, "lead"))
        return is_asked

    @property
    def shelf_fields(self) -> list[Any]:
        """How many of each kind, and the days of an order."""
        return [self[f"n_{one.stock_number}"] for one in self.product.packages] + [self["lead"]]

    @property
    def opened_rows(self) -> list[list[Any]]:
        """A row of fields for each opened package, and an empty one."""
        return [[self[f"{name}{row}"] for name in OPENED] for row in self._rows_of("kind")]

    @property
    def coming_rows(self) -> list[list[Any]]:
        """A row of fields for each arrival, and an empty one."""
        return [[self[f"{name}{row}"] for name in COMING] for row in self._rows_of("from")]


class DaysForm(PageForm):
    """The day of each job: as the visit says, or as a person would have it."""

    def __init__(self, data: Mapping[str, str], *, jobs: Sequence[AheadJob], today: date) -> None:
        orders = {job.order: job for job in jobs}
        self.jobs = orders
        mine = {name: text for name, text in data.items() if name.removeprefix("day-") in orders and text.strip()}
        super().__init__(mine or None, prefix="day")
        for order, job in orders.items():
            self.fields[order] = _ahead(today, f"{order}, {job.vehicle}")
        self.today = today

    def clean(self) -> dict[str, Any]:
        """No vehicle is on the lift yesterday, and none in two years."""
        said: dict[str, Any] = super().clean() or self.cleaned_data
        for order in self.jobs:
            day = said.get(order)
            if day is not None:
                _refuse_far(self, order, day, self.today)
        return said

    def day_of(self, job: AheadJob) -> date | None:
        """The day that counts; none: what was typed is to be mended."""
        if not self.is_bound:
            return job.day
        return None if job.order in self.errors else self.cleaned_data.get(job.order) or job.day


class BatchForm(PageForm):
    """The mark of a batch, as its label says it."""

    batch = forms.CharField(max_length=40, required=False, label=later("Batch, as its label says"))

    def __init__(self, data: Mapping[str, str]) -> None:
        super().__init__({"batch": data["batch"]} if data.get("batch", "").strip() else None)

    @property
    def mark(self) -> str:
        """What was asked; empty: nothing, or what is to be mended."""
        return str(self.cleaned_data["batch"]) if self.is_bound and self.is_valid() else ""


def _ahead(today: date, label: Any) -> TypedField:
    """A day from today on, with its year or without."""
    how = {"today": today, "ahead": True, "order": ORDER}
    return TypedField(parsing.near_day, numeric=False, how=how, required=False, label=label)


def _refuse_far(form: PageForm, field: str, day: date, today: date) -> None:
    if not today <= day <= today + timedelta(days=MOST_DAYS):
        last = today + timedelta(days=MOST_DAYS)
        words = _("%(day)s is not ahead, or too far. Type a day from %(first)s to %(last)s.")
        told = {"day": formats.day(day), "first": formats.day(today), "last": formats.day(last)}
        form.add_error(field, ValidationError(words % told, "day"))
