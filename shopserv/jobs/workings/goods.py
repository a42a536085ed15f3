"""How the price of fluid and parts comes about: what is bought and one price; for the owner from their cost."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction
from typing import Any

from shopserv.calc import measures
from shopserv.calc.money import amount, round_half_up
from shopserv.calc.shown_price import a_measure, each, slices
from shopserv.calc.working import Step
from shopserv.common import formats
from shopserv.jobs.models import Line

Bands = Sequence[Sequence[int]]


def priced_packages(
    counts: Mapping[str, int], listed: Sequence[Mapping[str, Any]], price_cents: int, currency: str
) -> list[Step]:
    """What is bought at one price: of one kind so many at so much each, of several kinds all of them together.

    A price of one package among several kinds would only repeat what they cost us, one against the other.

    counts   stock number -> how many
    listed   {number, word, volume_ml, cost_cents} of the price list, as frozen
    """
    known = {one["number"]: one for one in listed}
    numbers = [number for number in known if counts.get(number)]  # in the order of the list, whatever the engine keeps
    if not numbers or len(numbers) != len(counts) or price_cents < 0:
        return []
    words = {number: f"{known[number].get('word') or 'package'} {number}" for number in numbers}
    if len(numbers) == 1:
        found = each(price_cents, counts[numbers[0]])
        step = _times(words[numbers[0]], counts[numbers[0]], found.cents, currency)
        return [step, *_rest(found.rest, currency)]
    mix = ", ".join(f"{counts[number]} × {words[number]}" for number in numbers)
    return [Step(f"{mix}, together", "P", amount(price_cents), currency)]


def a_liter(price_cents: int, volume_ml: int, currency: str, units_first: str) -> list[Step]:
    """The price over its volume, in the measure that the shop names first; none without a volume."""
    if volume_ml <= 0 or price_cents < 0:
        return []
    unit, word, exact = (
        ("qt", "quart", measures.ml_to_qt(volume_ml))
        if units_first == "us"
        else ("L", "liter", Fraction(volume_ml, 1000))
    )
    volume, price = Fraction(round_half_up(exact, 3)), amount(price_cents)
    return [
        Step(
            f"price a {word}: {formats.money(price_cents, currency)} for {formats.trimmed(volume, 3)} {unit}",
            rf"P / V = {price} / {formats.trimmed(volume, 3)}",
            a_measure(price, volume),
            currency,
        )
    ]


def priced_pieces(row: Line, currency: str) -> list[Step]:
    """A part as count × price of one, and the rest; none of a single piece, or where it is no whole number of them."""
    count, over = divmod(row.quantity_thousandths, 1000)
    if count < 2 or over or row.price_cents < 0:
        return []
    found = each(row.price_cents, count)
    return [_times(row.text, count, found.cents, currency), *_rest(found.rest, currency)]


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
