"""What the money buys, against the clocks of the calculation: two hands, the same credit and the same clock."""

from __future__ import annotations

from fractions import Fraction

import pytest

from shopserv.calc import severity
from shopserv.jobs.bought import DAYS_A_MONTH, ages_of, bought_by
from shopserv.logbook.services import note_water
from shopserv.reminders.exposure import exposure_of
from shopserv.reminders.services import forecasts

pytestmark = pytest.mark.django_db
VEHICLES = ("V-01", "V-02", "V-07", "V-12", "F-01", "F-07", "F-26")
SHARES = ("0.392", "0.775", "0.858", "0.942", "1")


@pytest.mark.parametrize("number", VEHICLES)
def test_each_option_buys_the_credit_of_the_clock_that_ends_first(cast, number):
    car = cast.vehicle(number)
    ages = ages_of(car, on=cast.today)
    state = exposure_of(cast.maren, car, today=cast.today).state

    for share in SHARES:
        ppm = int(Fraction(share) * 1_000_000)
        bought = bought_by(ages, 44_295, (ppm, ppm))
        clocks = severity.clocks(state, cast.today, Fraction(share))

        assert bought["credit_distance_thousandths"] == int(clocks.credit[0] * 1000)
        assert bought["credit_months_thousandths"] == int(clocks.credit[1] * 1000)
        per = clocks.credit[0] / 1000 if bought["governs"] == "distance" else clocks.credit[1]
        credit = per * 1000 if bought["governs"] == "distance" else per
        assert bought["per_cents"] == (None if credit < 1 else int(Fraction(44_295) / per + Fraction(1, 2)))
        if clocks.crossing is not None and state.rate:
            by_distance, by_age = clocks.credit[0] / state.rate, clocks.credit[1] * DAYS_A_MONTH
            assert bought["governs"] == ("distance" if by_distance < by_age else "months")
            if abs(by_distance - by_age) > 31:  # the calendar's months and whole ones of them
                assert clocks.governs == bought["governs"]
                assert (state.rate > clocks.crossing) == (clocks.governs == "distance")


def test_a_laboratory_figure_of_the_old_fluid_does_not_price_the_new_one(cast):
    car = cast.vehicle("V-01")
    before = ages_of(car, on=cast.today)
    note_water(
        car, actor=cast.tobin, sampled_on=cast.today, reference="L-1", water_ppm=1200, limit_ppm=1200, limit_source="x"
    )

    assert forecasts.renew(car, actor=cast.tobin).working["moisture"] == 2.2
    assert ages_of(car, on=cast.today) == before
