"""What must hold always, over whole courses and from the exposure to the interval. Each property says why it must."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import assume, example, given, settings
from hypothesis import strategies as st

from shopserv.calc import errors, exchange, intervals, measures, moisture, pricing
from shopserv.calc.stages import Add, Batches, Drain, Mix, Pump, UnitLayout, staged_exchange

# Courses on any unit


@st.composite
def layouts(draw):
    sump = draw(st.integers(500, 6000))
    return UnitLayout(sump + draw(st.integers(0, 8000)), sump, -draw(st.integers(0, sump)))


VOLUMES, MARGINS = st.integers(0, 5000), st.integers(0, 600)
STAGES = st.one_of(
    st.builds(Add, VOLUMES),
    st.builds(Drain, st.integers(-500, 500)),
    st.builds(Pump, VOLUMES, MARGINS),
    st.builds(Batches, st.integers(0, 3), VOLUMES, MARGINS),
    st.builds(Mix),
)
COURSES = st.lists(STAGES, max_size=6)


def run(layout, stages):
    try:
        return staged_exchange(layout, stages)
    except (errors.PumpCannotReach, errors.DrainBelowEmpty):
        assume(False)


@settings(deadline=None)
@given(layouts(), COURSES)
@example(UnitLayout(7400, 3400, -1600), [Add(1000), Mix(), Pump(3000, 0), Mix(), Drain(-500)])
def test_plug_flow_is_never_less_fresh_than_a_stirred_rest(layout, stages):
    """The sump grows fresher while it is poured into, so the rest that gives up its oldest fluid first keeps the best.

    Driving mixes sump and rest, and the fresher whole of the two gives the fresher sump: the order is kept. So the
    stirred share is the low end of the band that is shown, and the plug-flow share the high end, for any course.
    """
    found = run(layout, stages)

    assert 0 <= found.fresh_stirred <= found.fresh_plug + 1e-9
    assert found.fresh_plug <= 1


@settings(deadline=None)
@given(layouts(), COURSES)
def test_no_fluid_is_made_or_lost_on_any_unit(layout, stages):
    found = run(layout, stages)

    assert found.new_used_ml - found.removed_ml == found.over_at_end_ml
    assert min(found.new_used_ml, found.removed_ml) >= 0
    held = layout.dry_capacity_ml + found.over_at_end_ml
    assert held >= 0
    for fresh in (found.fresh_stirred, found.fresh_plug):  # what is fresh was poured
        assert fresh * float(held) <= float(found.new_used_ml) + 1e-6 * layout.dry_capacity_ml


@settings(deadline=None)
@given(layouts(), COURSES, st.integers(1, 3000))
def test_pouring_more_at_the_end_never_makes_the_fluid_older(layout, stages, more):
    found, after = run(layout, stages), run(layout, [*stages, Add(more)])

    assert after.fresh_stirred >= found.fresh_stirred - 1e-9
    assert after.fresh_plug >= found.fresh_plug - 1e-9


@settings(deadline=None)
@given(st.integers(1, 10_000), st.integers(0, 40_000), st.integers(1, 200), st.integers(0, 199))
def test_more_tanks_in_series_are_never_less_fresh(capacity, volume, tanks, more):
    """Residence times of more tanks spread less about the same mean: less of the new fluid is lost again."""
    assume(tanks + more <= 200)
    shares = [
        float(exchange.fresh_fraction_exchange(capacity, volume, *model))
        for model in (("stirred", None), ("tanks", tanks), ("tanks", tanks + more), ("plug", None))
    ]

    assert all(one <= other + 1e-12 for one, other in pairwise(shares))


# From the exposure to the interval

TEMPERATURES, SHARES = st.integers(-200, 450).map(lambda tenth: Fraction(tenth, 10)), st.integers(0, 100)
EXPOSURES = st.tuples(
    st.lists(st.tuples(TEMPERATURES, SHARES), min_size=12, max_size=12), SHARES, SHARES, st.integers(-500, 4000)
)


def interval(exposure, hot):
    months, short, stored, height = exposure
    factor = moisture.moisture_factor(
        [(t, Fraction(rh, 100)) for t, rh in months],
        Fraction(short, 100),
        storage_share=Fraction(stored, 100),
        altitude_m=height,
    )
    thermal = intervals.thermal_factor([(Fraction(1, 2), 80), (Fraction(1, 2), hot)])
    return intervals.adjusted_distance(60_000, factor, thermal), intervals.adjusted_months(60, factor)


def milder(exposure, draw):
    """Every month no warmer and no moister, no more short trips and storage, no lower."""
    months, short, stored, height = exposure
    return (
        [(t - draw(st.integers(0, 30)), draw(st.integers(0, rh))) for t, rh in months],
        draw(st.integers(0, short)),
        draw(st.integers(0, stored)),
        height + draw(st.integers(0, 3000)),
    )


@settings(deadline=None, max_examples=60)
@given(EXPOSURES, st.integers(60, 140), st.data())
def test_a_milder_exposure_never_shortens_an_interval(exposure, hot, data):
    assume(min(t for t, _ in exposure[0]) > -15)
    distance, months = interval(exposure, hot)
    easier = interval(milder(exposure, data.draw), hot - data.draw(st.integers(0, 60)))

    assert easier[0] >= distance >= 500
    assert easier[1] >= months >= 1
    assert easier[0] <= 60_000
    assert easier[1] <= 60


# Prices

CENTS = st.integers(0, 10**6).map(lambda cents: Decimal(cents) / 100)
BANDS = st.lists(st.integers(1, 50_000), unique=True, max_size=3).flatmap(
    lambda steps: st.lists(st.integers(0, 300), min_size=len(steps) + 1, max_size=len(steps) + 1).map(
        lambda ups: [
            pricing.Band(Decimal(step) / 100, Decimal(up) / 100)
            for step, up in zip([0, *sorted(steps)], ups, strict=True)
        ]
    )
)


@settings(deadline=None)
@given(CENTS, CENTS, BANDS)
def test_a_dearer_part_never_has_a_lower_price(one, other, bands):
    low, high = sorted((one, other))

    assert low <= pricing.marked_up(low, bands) <= pricing.marked_up(high, bands)


LINES = st.lists(st.tuples(st.integers(0, 9), CENTS, st.booleans()), max_size=4)
TIMES = st.lists(st.tuples(st.integers(0, 60), CENTS, st.booleans()), max_size=3)


def total(parts, labor, supplies):
    return pricing.quote_total(
        [pricing.PartLine(*line) for line in parts],
        [pricing.LaborLine(Fraction(tenths, 10), rate, taxed) for tenths, rate, taxed in labor],
        Decimal("0.0725"),
        supplies=supplies,
        discount_percent=Decimal("0.1"),
    )


@settings(deadline=None)
@given(LINES, TIMES, st.integers(1, 9), CENTS, st.booleans(), st.sampled_from(["parts", "labor", "both"]))
def test_a_quote_never_falls_when_the_need_grows(parts, labor, count, price, taxed, on):
    """By a cent at most for each of the roundings of discount, its shares and tax, which fall anew."""
    supplies = pricing.Supplies(Decimal("0.05"), on, Decimal("4.00"), Decimal("25.00"), is_taxed=True)
    less, more = total(parts, labor, supplies), total([*parts, (count, price, taxed)], labor, supplies)

    assert more.subtotal >= less.subtotal + price * count
    assert more.total >= less.total - Decimal("0.02")
    assert less.total >= 0


@settings(deadline=None)
@given(st.integers(0, 10_000), st.integers(0, 10_000), CENTS)
def test_more_time_never_costs_less(one, other, rate):
    low, high = (pricing.labor_tenths(Fraction(minutes, 60)) for minutes in sorted((one, other)))

    assert pricing.labor_charge(Fraction(low, 10), rate) <= pricing.labor_charge(Fraction(high, 10), rate)


# Conversions

PAIRS = [
    (one.name, other.name, dimension)
    for dimension in {unit.dimension for units in measures.UNITS.values() for unit in units.values()}
    for one in (units[dimension] for units in measures.UNITS.values() if dimension in units)
    for other in (units[dimension] for units in measures.UNITS.values() if dimension in units)
]


@pytest.mark.parametrize("figure", [Fraction(0), Fraction(741, 100), Fraction(1, 3), Fraction(10**9)])
def test_every_unit_goes_to_every_other_and_back_exactly(figure):
    assert len(PAIRS) > 200
    for one, other, dimension in PAIRS:
        there = measures.from_base(
            measures.to_base(figure, measures.unit(one, dimension)), measures.unit(other, dimension)
        )
        back = measures.from_base(
            measures.to_base(there, measures.unit(other, dimension)), measures.unit(one, dimension)
        )
        assert back == figure, (one, other)
