"""The book of the fluid's age.

Sources: worked examples of the demonstration (V-01, batch L6-2602); means of mixtures; what always holds.
"""

from __future__ import annotations

from datetime import date, timedelta
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shopserv.calc import age, errors
from shopserv.calc.forecast import Climate, Use, forecast
from shopserv.calc.forecast import Job as Done
from tests.calc.worked import DEMO, WORKED

F = Fraction
SHARES = st.fractions(min_value=0, max_value=1, max_denominator=1000)
FIRST_USE = date(2019, 4, 2)
DRAIN = age.Job(date(2023, 12, 12), F(31_890), F("0.392"), "FEN2")


def booked(*jobs, first_use=FIRST_USE):
    return age.book(jobs, first_use, interval=33_000, months=33)


def test_the_book_of_the_worked_example():
    found = booked(DRAIN)

    assert found.lines == (age.Line(DRAIN, (F(31_890), F(56)), (F("19389.12"), F("34.048"))),)
    assert (found.since, found.at, found.is_assumed) == (DRAIN.on, DRAIN.distance, False)
    now = found.now(63_180, date(2026, 11, 24))
    assert f"{float(now[0]):.0f}" == WORKED["credit_V01"]["age_before_mi"]
    assert f"{float(now[1]):.3f}" == WORKED["credit_V01"]["age_before_months"]


def test_without_a_job_the_first_fluid_ages_from_first_use():
    found = booked()

    assert found == age.Book((), F(0), F(0), FIRST_USE, F(0), False)
    assert found.now(1_200, date(2019, 6, 1)) == (F(1_200), F(1))


def test_time_and_road_never_run_backward():
    assert booked(DRAIN).now(100, date(2023, 1, 1)) == (F("19389.12"), F("34.048"))


def test_an_unknown_first_fluid_is_taken_as_one_interval_old():
    found = booked(DRAIN, first_use=None)

    assert found.is_assumed
    assert found.lines[0].before == (33_000, 33)
    assert found.lines[0].after == (F("0.608") * 33_000, F("0.608") * 33)


def test_a_top_up_is_an_exchange_of_what_was_added():
    topped = age.Job(date(2024, 12, 12), F(40_000), age.share_of_add(F("0.3"), F("7.4")), "FEN2")
    found = booked(DRAIN, topped)

    assert topped.share == F(3, 74)
    assert found.lines[1].before == (F("19389.12") + 8_110, F("34.048") + 12)
    assert found.distance == F(71, 74) * F("27499.12")
    assert found.months == F(71, 74) * F("46.048")


@pytest.mark.parametrize(("added", "fill", "share"), [(0, 5, 0), (5, 5, 1), (F("0.1"), 2, F(1, 20))])
def test_shares_of_an_addition(added, fill, share):
    assert age.share_of_add(added, fill) == share


@pytest.mark.parametrize(
    ("added", "fill", "words"),
    [(F("-0.1"), 5, "What was added"), (F("5.1"), 5, "What was added"), (1, 0, "not above zero"), (1, -1, "not above")],
)
def test_an_addition_that_cannot_be_is_refused(added, fill, words):
    with pytest.raises(errors.OutOfRange, match=words):
        age.share_of_add(added, fill)


@pytest.mark.parametrize(
    ("jobs", "first_use", "error", "words"),
    [
        ((), None, errors.MissingInput, "no beginning"),
        ((DRAIN, age.Job(date(2023, 12, 11), F(32_000), F(1))), FIRST_USE, errors.DateOrder, "2023-12-11 is earlier"),
        ((DRAIN,), date(2023, 12, 13), errors.DateOrder, "earlier than 2023-12-13"),
        ((DRAIN, age.Job(date(2024, 1, 1), F(31_889), F(1))), FIRST_USE, errors.OutOfRange, "31889 at the job of"),
        ((age.Job(FIRST_USE, F(-1), F(1)),), FIRST_USE, errors.OutOfRange, "less than 0 before it"),
        ((age.Job(FIRST_USE, F(0), F("1.001")),), FIRST_USE, errors.OutOfRange, "The share of new fluid"),
    ],
)
def test_a_book_that_cannot_be_is_refused(jobs, first_use, error, words):
    with pytest.raises(error, match=words):
        booked(*jobs, first_use=first_use)


def test_two_jobs_of_one_day_at_one_reading_are_taken():
    found = booked(DRAIN, age.Job(DRAIN.on, DRAIN.distance, F("0.392")))

    assert found.distance == F("0.608") ** 2 * 31_890


def test_several_exchanges_together():
    assert age.combined([F("0.392")] * 3) == 1 - F("0.608") ** 3
    assert age.combined([]) == 0
    with pytest.raises(errors.OutOfRange):
        age.combined([F("1.1")])


def test_the_suspect_batch_of_the_worked_example():
    """Share then, times what each later job left; vans of the demonstration that got it, one of them twice."""
    found = []
    for van in DEMO["fleet"]["vans"]:
        inside = age.contents([(job.get("batch", job["fluid"]), F(job["fraction"])) for job in van["services"]])
        if "L6-2602" in inside:
            found.append([van["no"], f"{float(inside['L6-2602']):.3f}"])

    assert found == WORKED["batch_L6_2602_inside"]


def test_what_is_still_inside_shrinks_by_each_job():
    assert age.still_inside(F("0.9"), []) == F("0.9")
    assert age.still_inside(F("0.9"), [F("0.479")]) == F("0.4689")
    assert age.still_inside(F("0.9"), [1, F("0.5")]) == 0
    with pytest.raises(errors.OutOfRange, match="The share of the fluid"):
        age.still_inside(F("1.1"), [])


def test_a_mix_knows_each_of_its_fluids():
    assert age.contents([("A", F("0.5")), ("B", F("0.5"))]) == {age.FIRST: F(1, 4), "A": F(1, 4), "B": F(1, 2)}
    assert age.contents([("A", F("0.5")), ("A", F("0.5"))], "unknown") == {"unknown": F(1, 4), "A": F(3, 4)}
    assert age.contents([("A", 1)]) == {"A": F(1)}
    assert age.contents([]) == {"first fluid": F(1)}
    with pytest.raises(errors.OutOfRange):
        age.contents([("A", -1)])


@given(st.lists(st.tuples(st.sampled_from("ABC"), SHARES), max_size=6))
def test_a_mix_is_the_whole_whatever_was_poured(fluids):
    found = age.contents(fluids)

    assert sum(found.values()) == 1
    assert all(0 < part <= 1 for part in found.values())
    for name in set("ABC") - {name for name, _ in fluids}:
        assert name not in found
    if fluids and len({name for name, _ in fluids}) == len(fluids):
        name, share = fluids[0]
        assert found.get(name, 0) == age.still_inside(share, [later for _, later in fluids[1:]])


JOBS = st.lists(st.tuples(st.integers(0, 900), st.integers(0, 30_000), SHARES), min_size=1, max_size=5)


def jobs_of(steps):
    on, run, found = FIRST_USE, F(0), []
    for days, driven, share in steps:
        on, run = on + timedelta(days=days), run + driven
        found.append(age.Job(on, run, share))
    return found


@settings(max_examples=40)
@given(JOBS, st.booleans())
def test_the_book_ages_as_the_forecast_does(steps, is_known):
    jobs = jobs_of(steps)
    first_use = FIRST_USE if is_known else None
    said = forecast(
        unit="mi",
        base_distance=F(60_000),
        base_months=60,
        climate=Climate((10.0,) * 12, (0.5,) * 12, 0),
        use=Use(F(0), F(0), ((F(1), 79.0),)),
        first_use=first_use,
        readings=[],
        jobs=[Done(job.on, job.distance, job.share) for job in jobs],
        today=jobs[-1].on,
    )
    found = age.book(jobs, first_use, interval=said.interval, months=said.interval_months)

    assert (found.distance, found.months) == (said.age_after, said.age_after_months)


@settings(max_examples=40)
@given(JOBS, st.integers(0, 4), SHARES)
def test_more_new_fluid_is_never_older_and_none_is_older_than_the_vehicle(steps, which, share):
    jobs = jobs_of(steps)
    place = which % len(jobs)
    more = age.Job(jobs[place].on, jobs[place].distance, max(share, jobs[place].share))
    one, other = booked(*jobs), booked(*jobs[:place], more, *jobs[place + 1 :])

    assert other.distance <= one.distance <= jobs[-1].distance
    assert 0 <= other.months <= one.months


def test_a_fill_may_be_small_and_a_share_no_more_than_all():
    assert age.share_of_add(Fraction(1, 4), Fraction(1, 2)) == Fraction(1, 2)
    assert age.contents([("A", 1)]) == {"A": 1}
    with pytest.raises(errors.OutOfRange):
        age.contents([("A", Fraction(3, 2))])
