"""What the closed work has shown: measured fills beside the sheet, needed beside sold time."""

from __future__ import annotations

from datetime import timedelta
from fractions import Fraction

import pytest

from shopserv.calc import learns, oil
from shopserv.catalog.price_list import PriceList
from shopserv.catalog.selectors import sheet_in_force, values_of
from shopserv.common import clock
from shopserv.common.errors import NotYours
from shopserv.jobs.models import BayEvent, WorkOrder
from shopserv.jobs.selectors import learned
from shopserv.shop import trail
from tests.billing import stage as through_the_bay
from tests.jobs import bay_stage, stage

pytestmark = pytest.mark.django_db


class Jobs:
    """Closed work orders of one visit, as many as a test asks for."""

    def __init__(self, cast):
        self.cast, self.visit, self.count = cast, stage.take_in(cast, "V-01"), 0
        self.code = learned.FluidProduct.objects.order_by("code").first()

    def job(self, *steps, unit="AL640", method="single drain", tenths=10, is_level=True, state="closed", **facts):
        """A closed job. steps: (code, [(what, value)]) in their order, each press a minute after the one before."""
        self.count += 1
        told = {"kind": "work", "unit": unit, "method": method, "tenths": tenths, "fluids": [{"code": self.code.code}]}
        order = WorkOrder.objects.create(
            shop=self.visit.shop, visit=self.visit, number=f"BRW-W-{self.count + 900}", state_since=clock.now(),
            state=state, facts={**told, **facts},
        )  # fmt: skip
        for n, (code, presses) in enumerate(steps, 1):
            step = order.steps.create(shop=order.shop, order=n, code=code, text=code, state="done")
            for what, value in presses:
                self.press(order, n, step, what=what, value=value)
        if is_level:
            through_the_bay.level(self.cast, order)
        return order

    def press(self, order, minute, step=None, **fields):
        self.count += 1
        return BayEvent.objects.create(
            shop=order.shop, work_order=order, step=step, person=self.cast.odo.staff, once_key=f"key-{self.count}",
            received_at=self.cast.morning + timedelta(minutes=minute), **{"what": "done", **fields},
        )  # fmt: skip

    def drained(self, poured, **more):
        """A drain by the plug, filled again to the level."""
        return self.job(("drain", [("out_ml", 9_000)]), ("add", [("in_ml", poured)]), ("level", []), **more)


@pytest.fixture
def jobs(cast):
    return Jobs(cast)


def fills(cast, unit="AL640"):
    sheet = sheet_in_force(cast.unit(unit), cast.today)
    return {one.what: one for one in learned.measured_fills(cast.sam, cast.unit(unit), values_of(sheet))}


def test_a_job_that_went_through_the_bay_tells_the_volume_that_came_with_its_pan(cast):
    order = bay_stage.closed_out(cast, "A", "V-12")
    poured = sum(e.value for e in order.events.filter(what="in_ml"))
    out_again = sum(e.value for e in order.events.filter(what="out_ml", step__code="level"))
    WorkOrder.objects.filter(pk=order.pk).update(state="closed")
    record = order.level_records.get()
    code = order.facts["fluids"][0]["code"]
    density = learned.FluidProduct.objects.get(code=code).density_15_g_m3 / 1000

    found = fills(cast, "BI870")["pan_ml"]

    by_hand = poured - oil.oil_volume_at(out_again, record.temp_mdegc / 1000, 20, density)
    assert order.facts["method"] == "pan drop with filter"
    assert [float(one) for one in found.values] == [pytest.approx(by_hand, abs=0.06)]
    assert found.judged.verdict == learns.TOO_FEW
    assert found.judged.learned.missing == 7


def test_what_came_out_does_not_matter_only_what_brought_it_back(cast, jobs):
    jobs.drained(2_950)

    assert fills(cast)["drain_ml"].values == (Fraction(2_950),)


def test_eight_jobs_say_whether_the_sheet_agrees(cast, jobs):
    for n in range(8):
        jobs.drained(3_010 + 10 * n)

    found = fills(cast)["drain_ml"].judged

    assert found.printed == (2_900, 2_900)
    assert (found.learned.median, found.learned.low, found.learned.high) == (3_045, 3_010, 3_080)
    assert (found.verdict, found.needs_decision) == (learns.BELOW, True)


def test_a_sheet_that_does_not_agree_goes_to_the_owner(cast, jobs):
    for n in range(8):
        jobs.drained(3_010 + n)
        jobs.drained(2_996 + n, unit="AL641")
        jobs.drained(9_000 + n, unit="DO440")

    found = learned.sheets_to_decide(cast.maren)

    assert [(unit.code, fills.what, fills.judged.verdict) for unit, fills in found] == [
        ("AL640", "drain_ml", learns.BELOW)
    ]
    with pytest.raises(NotYours):
        learned.sheets_to_decide(cast.tobin)


def test_the_last_drain_of_a_repeated_one_and_the_pan_are_told_apart(cast, jobs):
    again = [("drain", [("out_ml", 2_900)]), ("add", [("in_ml", 2_900)]), ("mix", []), ("drain", [("out_ml", 2_900)])]
    jobs.job(*again, ("add", [("in_ml", 2_870)]), ("level", []))
    jobs.job(("drain", []), ("drain_pan", []), ("add", [("in_g", 2_900)]), ("level", [("out_ml", 20)]))

    found = fills(cast)

    density = Fraction(jobs.code.density_15_g_m3, 1000)
    pan = learns.fill_to_level(
        [learns.Amount("in", "add", mass_g=2_900), learns.Amount("out", "level", volume_ml=20)], density, 42
    )
    assert found["drain_ml"].values == (Fraction(2_870),)
    assert found["pan_ml"].values == (pan,)


@pytest.mark.parametrize(
    "steps",
    [
        [("add", [("in_ml", 2_900)]), ("level", [])],
        [("drain", []), ("add", [("in_ml", 2_900)]), ("pump", []), ("level", [])],
        [("drain", []), ("level", [])],
        [("drain", []), ("add", [("in_ml", 100)]), ("level", [("out_ml", 900)])],
    ],
)
def test_a_course_that_cannot_tell_a_fill_is_left_out(cast, jobs, steps):
    jobs.job(*steps)

    assert fills(cast)["drain_ml"].values == ()


@pytest.mark.parametrize(
    "more",
    [
        {"state": "level set"},
        {"kind": "diagnosis"},
        {"unit": "AL641"},
        {"fluids": []},
        {"fluids": [{"code": "none"}]},
        {"is_level": False},
    ],
)
def test_a_job_that_is_not_closed_or_not_sure_is_left_out(cast, jobs, more):
    jobs.drained(2_950, **more)

    assert fills(cast)["drain_ml"].values == ()


def test_what_was_typed_in_from_paper_is_left_out(cast, jobs):
    order = jobs.drained(2_950)
    jobs.press(order, 9, order.steps.get(code="add"), what="in_ml", value=1, words="jug", is_from_paper=True)

    assert fills(cast)["drain_ml"].values == ()


def timed(jobs, minutes, **more):
    """A job whose presses stand at these minutes."""
    order = jobs.job(is_level=False, **more)
    for minute in minutes:
        jobs.press(order, minute)
    return order


def rows(cast):
    found = learned.sold_and_needed(cast.maren)
    return {(row.words, row.units_pattern): row for row in found.rows}, dict(found.left_out)


def test_needed_by_sold_time_by_row_of_the_price_list(cast, jobs):
    for n in range(8):
        timed(jobs, (0, 30, 54 + 3 * n))
    timed(jobs, (0, 30), unit="DO440", method="pan drop with filter")

    found, left_out = rows(cast)

    sold = PriceList(cast.unit("AL640"), None, cast.today).labor("single drain")
    row = found[(sold.operation, sold.units_pattern)]
    assert row.ratios == tuple(Fraction(54 + 3 * n, 60) for n in reversed(range(8)))
    assert (row.learned.count, row.learned.median) == (8, Fraction(129, 120))
    assert (row.learned.low, row.learned.high) == (Fraction(54, 60), Fraction(75, 60))
    assert {one.learned.count for one in found.values()} == {8, 1}
    assert left_out == {}


def test_holds_and_pauses_are_no_needed_time(cast, jobs, monkeypatch):
    order = timed(jobs, (0, 30, 70, 100, 200))
    for minute, what in ((35, "put on hold"), (40, "put on hold"), (65, "work resumed")):
        at = cast.morning + timedelta(minutes=minute)
        monkeypatch.setattr(clock, "now", lambda at=at: at)
        trail.write(cast.odo, what, order)

    found, _ = rows(cast)

    # 0 to 30, 10 of 30 to 70, 70 to 100; the 100 minutes to the last press are a break.
    assert [row.ratios for row in found.values()] == [(Fraction(70, 60),)]


@pytest.mark.parametrize("what", ["put on hold", "work resumed"])
def test_a_hold_with_one_end_alone_leaves_the_job_out(cast, jobs, what):
    trail.write(cast.odo, what, timed(jobs, (0, 30)))

    assert rows(cast) == ({}, {"on hold with no beginning or end on the trail": 1})


def test_what_cannot_be_told_is_left_out_and_counted(cast, jobs):
    timed(jobs, (0, 30), added=[{"tenths": 3}])
    timed(jobs, (0, 30), earlier=[{"option": "A"}])
    timed(jobs, (0,))
    timed(jobs, (0, 30), tenths=0)
    timed(jobs, (0, 30), method="polish")
    timed(jobs, (0, 30), unit="XX1")
    jobs.press(timed(jobs, (0, 30)), 40, is_from_paper=True)
    timed(jobs, (0, 30), kind="diagnosis")

    assert rows(cast) == (
        {},
        {
            "with work added or another option on the way": 2,
            "without time at work, or without sold time": 2,
            "sold by no row of the price list": 2,
            "typed in from paper: the times are those of typing": 1,
        },
    )


def test_the_other_shop_and_who_is_not_the_owner_see_nothing_of_it(cast, jobs):
    timed(jobs, (0, 30))

    assert learned.sold_and_needed(cast.actor("Maren", cast.slt)).looked_at == 0
    for who in (cast.tobin, cast.odo, cast.sam):
        with pytest.raises(NotYours):
            learned.sold_and_needed(who)


@pytest.mark.once
@pytest.mark.parametrize("count", [1, 40])
def test_it_takes_the_same_queries_for_one_job_and_for_many(cast, jobs, count, django_assert_num_queries):
    for _ in range(count):
        jobs.drained(2_950)
    sheet, maren = sheet_in_force(cast.unit("AL640"), cast.today), cast.maren
    printed, unit = values_of(sheet), cast.unit("AL640")

    with django_assert_num_queries(6):
        learned.measured_fills(maren, unit, printed)
    with django_assert_num_queries(5):
        learned.sold_and_needed(maren)
    with django_assert_num_queries(9):
        learned.sheets_to_decide(maren)
