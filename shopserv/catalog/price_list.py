"""What may be sold for one unit on a day: each table is read once, at the first question, however many options ask."""

from __future__ import annotations

from datetime import date
from fnmatch import fnmatchcase
from functools import cached_property

from shopserv.catalog.models import FluidProduct, LaborOperation, Package, Part, Unit, UnitSheet
from shopserv.catalog.selectors import products_meeting, specification_for
from shopserv.common.errors import Refusal


class PriceList:
    """Labor, parts and fluids of a unit on `day`, for a vehicle of `build_month`.

    unit, sheet   none: not known; then only operations for every unit, no parts, no fluid
    """

    def __init__(self, unit: Unit | None, sheet: UnitSheet | None, day: date, build_month: str = "") -> None:
        self.unit, self.sheet, self.day, self.build_month = unit, sheet, day, build_month
        self._fluids: dict[str, tuple[str, FluidProduct | None]] = {}
        self._packages: dict[int, list[Package]] = {}

    @cached_property
    def _operations(self) -> list[LaborOperation]:
        return list(LaborOperation.objects.filter(from_on__lte=self.day))

    @cached_property
    def _parts(self) -> list[Part]:
        if self.unit is None:
            return []
        return list(Part.objects.filter(fits=self.unit, is_current=True).order_by("number"))

    def labor(self, method: str) -> LaborOperation | None:
        """The operation of `method`; the most exact pattern wins. None: not sold here."""
        if self.unit is None:
            return None
        code = self.unit.code
        return _most_exact(
            [row for row in self._operations if row.method == method and fnmatchcase(code, row.units_pattern)]
        )

    def operation(self, name: str) -> LaborOperation:
        """An operation by its own name: "diagnosis, first hour".

        raises  Refusal labor.unknown if the price list has none
        """
        code = self.unit.code if self.unit else "*"
        rows = [row for row in self._operations if row.operation == name]
        found = _most_exact([row for row in rows if row.units_pattern == "*" or fnmatchcase(code, row.units_pattern)])
        if found is None:
            raise Refusal(f"The price list has no “{name}”.", code="labor.unknown")
        return found

    def further(self) -> list[LaborOperation]:
        """The operations that belong to no method, by name: what may be sold beside one. The diagnosis is not."""
        names = sorted({row.operation for row in self._operations if not row.method})
        code = self.unit.code if self.unit else "*"
        found = []
        for name in names:
            rows = [row for row in self._operations if row.operation == name and not name.startswith("diagnosis")]
            best = _most_exact(
                [row for row in rows if row.units_pattern == "*" or fnmatchcase(code, row.units_pattern)]
            )
            found += [best] if best else []
        return found

    def parts(self, method: str) -> list[Part]:
        """The parts that `method` uses, by number."""
        # The list of methods is JSON: one engine could ask inside it, the other could not.
        return [part for part in self._parts if method in part.used_by]

    def fluid(self, sump: str = "") -> tuple[str, FluidProduct | None]:
        """What the sheet asks for a sump in words, and the product that meets it; none: no fluid on the list does."""
        if sump not in self._fluids:
            asked = specification_for(self.sheet, self.build_month, sump) if self.sheet else None
            products = products_meeting(asked, self.day) if asked else []
            self._fluids[sump] = (str(asked) if asked else "", products[0] if products else None)
        return self._fluids[sump]

    def packages(self, product: FluidProduct) -> list[Package]:
        """The packages in which `product` is bought now, largest first."""
        if product.pk not in self._packages:
            rows = product.packages.filter(is_current=True).order_by("-volume_ml", "stock_number")
            self._packages[product.pk] = list(rows)
        return self._packages[product.pk]


def _most_exact(rows: list[LaborOperation]) -> LaborOperation | None:
    return max(rows, key=lambda row: (len(row.units_pattern.rstrip("*")), row.from_on), default=None)
