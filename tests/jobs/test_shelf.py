"""What a counted shelf does for agreed jobs, with the worked figures of the checks: 10.0 L from jugs and bottles."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from fractions import Fraction

from shopserv.calc.opened import OpenPackage
from shopserv.calc.packages import Package
from shopserv.calc.promise import Arrival
from shopserv.jobs.selectors.ahead import AheadJob
from shopserv.jobs.shelf import Counted, reckon, share_cents, swings
from shopserv.jobs.workings.ahead import Ahead

TODAY = date(2026, 11, 24)
JUG, BOTTLE = Package("J", 3785, 2240, 9), Package("B", 946, 610, 11)
WORDS = {"J": "jug", "B": "bottle"}
OPEN = OpenPackage("bottle 1 (X)", "F", "X", 408, TODAY + timedelta(days=9), 946, 610)


def job(number, days=0, need=10_000, rule="whole-packages"):
    return AheadJob(
        f"W-{number}", "cleared", "V", True, "V-01", "", "", "F", TODAY + timedelta(days), need, need, rule, "Q"
    )


def shelf(jugs=9, bottles=11, opened=(), coming=(), lead=2):
    return Counted("F", (replace(JUG, stock=jugs), replace(BOTTLE, stock=bottles)), opened, coming, lead)


def found_of(jobs, counted=None):
    return reckon(jobs, counted or shelf(), today=TODAY)


def test_the_shelf_reaches_or_names_the_first_job_that_fails():
    four = [job(n, n) for n in range(1, 5)]

    full, short = found_of(four), found_of([*four, job(5, 5), job(6, 6)])

    assert (full.reaches, full.days_to_order, full.behind) == (True, None, 0)
    assert (short.reaches, short.promised.shortage.job.name, short.days_to_order, short.behind) == (False, "W-5", 3, 1)
    assert short.promised.shortage.order_by == TODAY + timedelta(days=3)


def test_an_order_that_is_too_late_counts_below_zero_and_what_comes_counts_from_its_day():
    late = found_of([job(1)], shelf(0, 0))
    comes = found_of([job(1, 1)], shelf(0, 3, coming=(Arrival("J", 2, TODAY + timedelta(days=1)),)))
    too_late = found_of([job(1)], shelf(0, 3, coming=(Arrival("J", 2, TODAY + timedelta(days=1)),)))

    assert (late.days_to_order, late.cover) == (-2, None)
    assert (comes.reaches, comes.cover.whole.counts) == (True, {"J": 2, "B": 3})
    assert (too_late.reaches, too_late.cover) == (False, None)


def test_by_the_liter_what_is_open_counts_and_by_whole_packages_it_does_not():
    opened = shelf(2, 3, opened=(OPEN,))
    liter, whole = found_of([job(1, rule="by-liter")], opened), found_of([job(1)], opened)
    mixed = found_of([job(1, rule="by-liter"), job(2)], opened)

    assert (liter.open_ml, [one.label for one in liter.cover.taken]) == (408, ["bottle 1 (X)"])
    assert (liter.cover.whole.surplus_ml, share_cents(liter.cover.taken[0])) == (816, 263)  # 408 / 946 of 6.10: 2.631
    assert (whole.open_ml, whole.cover.taken) == (0, ())
    assert (mixed.rule, mixed.is_mixed, whole.is_mixed, mixed.open_ml) == ("whole-packages", True, False, 0)


def test_jobs_of_one_day_may_be_opened_together_or_it_says_why_not():
    two = [job(1, 1, rule="by-liter"), job(2, 1, rule="by-liter")]

    pool = found_of(two).pools[0]

    assert (pool.found.joint.counts, pool.found.joint.cost_cents, pool.found.saving_cents) == (
        {"J": 5, "B": 2},
        12_420,
        200,
    )
    assert pool.apart == {"J": 4, "B": 6}
    assert "whole package" in found_of([job(1), job(2)]).pools[0].why
    assert "fewer than two" in found_of([job(1)]).pools[0].why
    apart = found_of([two[0], replace(two[1], day=TODAY)]).pools[0].why
    assert apart == "They differ in day: Nov 24, 2026, Nov 25, 2026."
    assert found_of(two, shelf(2, 3)).pools[0].why == "The shelf does not hold enough for all of them."
    assert (
        found_of([job(3, rule="by-liter"), *two], shelf(0, 0)).pools[0].why == "What is left on that day is not known."
    )


def test_what_earlier_days_take_is_gone_from_the_shelf_of_a_pool():
    jobs = [job(3, 0, rule="by-liter"), job(1, 1, rule="by-liter"), job(2, 1, rule="by-liter")]

    before, enough = (
        found_of(jobs, shelf(7, 5)).pools,
        found_of(jobs, shelf(7, 5, coming=(Arrival("J", 1, TODAY),))).pools,
    )

    assert before[0].apart is None  # 5 jugs and 2 bottles are left, which do for both only together
    assert before[0].found.joint.counts == {"J": 5, "B": 2}
    assert enough[0].apart is not None


def test_more_ways_than_a_page_waits_for_are_no_promise():
    kinds = tuple(Package(f"k{n}", 900 + 37 * n, 600 + 41 * n, 40) for n in range(5))

    found = found_of([job(n, n) for n in range(12)], Counted("F", kinds, (), (), 1))

    assert (found.promised, found.reaches, found.days_to_order, found.behind) == (None, False, None, 0)
    assert "F-promise" not in Ahead(found, {f"k{n}": "k" for n in range(5)}, currency="USD", with_cost=True).all()


def test_the_sums_say_the_same_and_hide_the_cost_from_who_may_not_see_it():
    jobs = [job(1, 1, rule="by-liter"), job(2, 1, rule="by-liter"), job(3, 2, 30_000, "by-liter")]
    found = found_of(jobs, shelf(opened=(OPEN, replace(OPEN, label="old", use_by=TODAY))))

    shown = Ahead(found, WORDS, currency="USD", with_cost=True).all()
    hidden = Ahead(found, WORDS, currency="USD", with_cost=False).all()

    assert list(shown) == list(hidden) == ["F-promise", "F-opened", "F-pool"]
    assert (shown["F-promise"].value, shown["F-promise"].unit) == (2, "of 3 jobs")
    assert shown["F-promise"].steps[-1].value == TODAY
    assert shown["F-opened"].value == Fraction(408)
    assert (str(shown["F-pool"].value), hidden["F-pool"].value) == ("2.00", 7)
    assert any("not old: It was to be used by Nov 24, 2026" in step.words for step in shown["F-opened"].steps)
    assert "USD" in str([one.as_dict() for one in shown.values()])
    assert "USD" not in str([one.as_dict() for one in hidden.values()])


def test_each_input_is_moved_by_a_fifth_and_many_jobs_are_left():
    four = [job(n, n) for n in range(1, 5)]
    found = found_of(four, shelf(9, 0))

    moved = {one.words: (one.less, one.more) for one in swings(found, {"needs": "needs", **WORDS})}

    assert len(found.promised.served) == 3
    assert moved == {"needs": (3, 2), "jug": (2, 3), "bottle": (3, 3)}  # 12.0 L asks for 4 jugs, 8.0 L for 3
    assert swings(found_of([job(n, n) for n in range(13)]), {}) == ()
