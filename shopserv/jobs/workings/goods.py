"""How the price of fluid and parts comes about: so many at so much each and the rest; for the owner from their cost."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction
from typing import Any

from shopserv.calc.money import amount
from shopserv.calc.shown_price import each, slices
from shopserv.calc.working import Step
from shopserv.common import formats
from shopserv.jobs.models import Line

Bands = Sequence[Sequence[int]]


def priced_packages(
    counts: Mapping[str, int], listed: Sequence[Mapping[str, Any]], price_cents: int, currency: str
) -> list[Step]:
    """Each kind of package as count × price of one, and what the price is more; none where nothing was kept of them.

    counts   stock number -> how many
    listed   {number, word, volume_ml, cost_cents} of the price list, as frozen
    """
    known = {one["number"]: one for one in listed}
    numbers = [number for number in known if counts.get(number)]  # in the order of the list, whatever the engine keeps
    weights = [known[number]["cost_cents"] for number in numbers]
    if len(numbers) != len(counts) or price_cents < 0 or not sum(weights):
        return []
    found = each(price_cents, [counts[number] for number in numbers], weights)
    steps = [
        _times(f"{known[number].get('word') or 'package'} {number}", counts[number], cents, currency)
        for number, cents in zip(numbers, found.cents, strict=True)
    ]
    return [*steps, *_rest(found.rest, currency)]


def priced_liters(price_cents: int, charged_ml: int, currency: str) -> list[Step]:
    """Charged by the liter: liters × price of one, and what the price is more."""
    if charged_ml <= 0 or price_cents < 0:
        return []
    liters, a_liter = Fraction(charged_ml, 1000), price_cents * 1000 // charged_ml
    together = a_liter * charged_ml // 1000
    step = Step(
        f"{formats.trimmed(liters, 3)} L at {formats.money(a_liter, currency)} a liter",
        rf"V\,p = {formats.trimmed(liters, 3)} \cdot {amount(a_liter)}",
        amount(together),
        currency,
    )
    return [step, *_rest(price_cents - together, currency)]


def priced_pieces(row: Line, currency: str) -> list[Step]:
    """A part as count × price of one, and the rest; none of a single piece, or where it is no whole number of them."""
    count, over = divmod(row.quantity_thousandths, 1000)
    if count < 2 or over or row.price_cents < 0:
        return []
    found = each(row.price_cents, [count], [1])
    return [_times(row.text, count, found.cents[0], currency), *_rest(found.rest, currency)]


def _times(what: str, count: int, cents: int, currency: str) -> Step:
    one = amount(cents)
    words = f"{count} × {what} at {formats.money(cents, currency)} each"
    return Step(words, rf"n\,p = {count} \cdot {one}", one * count, currency)


def _rest(cents: int, currency: str) -> list[Step]:
    return [Step("the rest: cents that do not divide", r"P - \sum n\,p", amount(cents), currency)] if cents else []


def package_costs(counts: Mapping[str, int], listed: Sequence[Mapping[str, Any]], currency: str) -> list[Step]:
    """For who sees cost: each kind of package as count × what one costs us."""
    return [
        Step(
            f"{counts[one['number']]} × {one.get('word') or 'package'} {one['number']}, cost",
            rf"n_i\,k_i = {counts[one['number']]} \cdot {amount(one['cost_cents'])}",
            amount(one["cost_cents"] * counts[one["number"]]),
            currency,
        )
        for one in listed
        if counts.get(one["number"])
    ]


def on_cost(cost_cents: int, bands: Bands, currency: str) -> list[Step]:
    """For who sees cost: what is put on each slice of it."""
    return [
        Step(
            f"on {formats.money(one.cost_cents, currency)} of it, {formats.percent(one.markup_ppm, 1)}",
            rf"{amount(one.cost_cents)} \cdot {formats.trimmed(Fraction(one.markup_ppm, 1_000_000), 4)}",
            one.added / 100,
            currency,
        )
        for one in slices(cost_cents, [(above, ppm) for above, ppm in bands])
    ]


def cost_of_lines(lines: Sequence[Line], said: Mapping[int, str], currency: str) -> list[Step]:
    """For who sees cost: what each line costs us; one that costs nothing is left out.

    said   words of a line by its order
    """
    return [
        Step(f"cost of {said[line.order]}", r"K_j", amount(line.cost_cents), currency)
        for line in lines
        if line.cost_cents
    ]
