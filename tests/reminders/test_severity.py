"""What makes a life hard on the fluid, noted: use, logs, laboratory figures, places; the forecast follows."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from fractions import Fraction

import pytest
from django.db import DatabaseError, transaction

from shopserv.common.errors import NotYours, Refusal
from shopserv.logbook.models import LaboratoryResult
from shopserv.logbook.selectors import counting_result, laboratory_results_of
from shopserv.logbook.services import record_service
from shopserv.registry.models import TemperatureLog
from shopserv.reminders import exposure
from shopserv.reminders.clocks import clocks_of
from shopserv.reminders.services import severity, top_ups
from shopserv.shop.models import TrailEntry

pytestmark = pytest.mark.django_db
LOADS = [("city", 700_000, 80_000), ("highway", 200_000, 95_000), ("towing", 100_000, 108_000)]
LOG = "Time (s),Sump °C\n" + "\n".join(f"{600 * n},{80 + n % 3}" for n in range(40))


def water(cast, number="V-01", **changes):
    said = {
        "sampled_on": cast.today, "reference": "L-77", "water_ppm": 600, "limit_ppm": 1200,
        "limit_source": "data sheet",
    }  # fmt: skip
    return severity.note_water(cast.vehicle(number), actor=cast.tobin, **{**said, **changes})


def forecast_of(cast, number="V-01"):
    return cast.vehicle(number).forecasts.get(is_current=True)


def test_a_laboratory_figure_stands_for_the_estimate_until_the_fluid_is_exchanged(cast):
    before = forecast_of(cast).working["moisture"]
    row = water(cast)
    car = cast.vehicle("V-01")

    assert forecast_of(cast).working["moisture"] == 1.6
    assert forecast_of(cast).working["inputs"]["water"] == [600, 1200, "2026-11-24", "L-77"]
    assert list(laboratory_results_of(cast.tobin, car)) == [row]
    assert TrailEntry.objects.filter(what="laboratory result noted", subject="V-01").count() == 1
    record_service(
        car, actor=cast.tobin, done_on=cast.today, method="single drain", fluid_code="FEN2", figure=63_180,
        fraction_low_ppm=392_000, fraction_high_ppm=392_000,
    )  # fmt: skip
    severity.forecasts.renew(car, actor=cast.tobin)
    assert forecast_of(cast).working["moisture"] == before
    assert "water" not in forecast_of(cast).working["inputs"]


def test_a_withdrawn_slip_counts_no_more_is_kept_and_may_be_noted_anew(cast):
    before = forecast_of(cast).working["moisture"]
    water(cast)
    car = cast.vehicle("V-01")

    row = severity.withdraw_water(car, actor=cast.tobin, reference="L-77", why=" another car's sample ")

    assert (row.withdrawn_by, row.withdrawn_why, row.water_ppm) == (cast.tobin.name, "another car's sample", 600)
    assert forecast_of(cast).working["moisture"] == before
    assert TrailEntry.objects.get(what="laboratory result withdrawn").subject == "V-01"
    again = water(cast, water_ppm=300)
    assert [one.pk for one in laboratory_results_of(cast.tobin, car)] == [again.pk, row.pk]
    assert forecast_of(cast).working["inputs"]["water"][0] == 300
    with pytest.raises(DatabaseError), transaction.atomic():
        LaboratoryResult.objects.filter(pk=row.pk).update(withdrawn_at=None, withdrawn_why="")


@pytest.mark.parametrize(
    ("number", "reference", "why", "code", "field"),
    [
        ("V-01", "L-77", " ", "water.why", "why"),
        ("V-01", "L-78", "typo", "water.withdrawn", "slip"),
        ("V-02", "L-77", "typo", "water.withdrawn", "slip"),
    ],
)
def test_a_slip_is_withdrawn_with_a_reason_and_where_it_stands_only(cast, number, reference, why, code, field):
    row = water(cast)
    with pytest.raises(Refusal) as refused:
        severity.withdraw_water(cast.vehicle(number), actor=cast.tobin, reference=reference, why=why)

    assert (refused.value.code, refused.value.field) == (code, field)
    row.refresh_from_db()
    assert row.withdrawn_at is None


def test_a_slip_is_withdrawn_once(cast):
    water(cast)
    severity.withdraw_water(cast.vehicle("V-01"), actor=cast.tobin, reference="L-77", why="typo")
    with pytest.raises(Refusal) as refused:
        severity.withdraw_water(cast.vehicle("V-01"), actor=cast.tobin, reference="L-77", why="typo")

    assert (refused.value.code, refused.value.status) == ("water.withdrawn", 409)


def test_the_newest_sample_since_the_last_job_counts(cast):
    day = cast.today
    old, new, ahead = (
        LaboratoryResult(pk=n, sampled_on=on) for n, on in enumerate((day - timedelta(9), day, day + timedelta(1)))
    )

    assert counting_result([old, new, ahead], None, day) == new
    assert counting_result([old, ahead], None, day) == old
    assert counting_result([old], old.sampled_on - timedelta(1), day) == old
    assert counting_result([old], old.sampled_on, day) is None  # taken from what was drained
    assert counting_result([], None, day) is None
    gone = LaboratoryResult(pk=9, sampled_on=day, withdrawn_at=datetime(2026, 11, 24, tzinfo=UTC))
    assert counting_result([old, gone], None, day) == old


@pytest.mark.parametrize(
    ("changes", "code", "field"),
    [
        ({"sampled_on": None}, "date.future", "sampled_on"),
        ({"water_ppm": 1_000_001}, "water.range", "water_ppm"),
        ({"water_ppm": -1}, "water.range", "water_ppm"),
        ({"limit_ppm": 0}, "water.limit", "limit_ppm"),
        ({"limit_ppm": 1_000_001}, "water.limit", "limit_ppm"),
    ],
)
def test_a_laboratory_figure_that_cannot_be_is_refused(cast, changes, code, field):
    if "sampled_on" in changes:
        changes = {"sampled_on": cast.today + timedelta(1)}
    with pytest.raises(Refusal) as refused:
        water(cast, **changes)

    assert (refused.value.code, refused.value.field) == (code, field)


def test_a_slip_is_noted_once_and_not_by_a_technician(cast):
    water(cast)

    with pytest.raises(Refusal) as refused:
        water(cast, "V-02")
    assert (refused.value.code, refused.value.status) == ("water.twice", 409)
    with pytest.raises(NotYours):
        severity.note_water(
            cast.vehicle("V-01"), actor=cast.odo, sampled_on=cast.today, reference="x", water_ppm=1, limit_ppm=1,
            limit_source="x",
        )  # fmt: skip


def profiled(cast, **changes):
    said = {"short_trip_ppm": 200_000, "stored_months": 0, "loads": LOADS, "is_assumed": False}
    return severity.note_profile(cast.vehicle("V-01"), actor=cast.tobin, **{**said, **changes})


def test_a_load_profile_gives_the_temperatures_of_the_forecast(cast):
    use = profiled(cast)

    assert use.temperatures == [[700_000, 80_000], [200_000, 95_000], [100_000, 108_000]]
    assert (use.profile, use.heat_from, use.towing_ppm, use.hill_ppm) == ([list(x) for x in LOADS], "told", 100_000, 0)
    assert use.idle_ppm == 100_000  # not asked: as it stood
    assert f"{forecast_of(cast).working['heat']:.3f}" == "1.853"
    assert profiled(cast, is_assumed=True).heat_from == "assumed"


@pytest.mark.parametrize(
    ("changes", "code", "field"),
    [
        ({"stored_months": 13}, "use.stored", "stored_months"),
        ({"stored_months": -1}, "use.stored", "stored_months"),
        ({"short_trip_ppm": 1_000_001}, "use.share", "short_trip_ppm"),
        ({"loads": LOADS[:2]}, "use.profile", "share_city"),
    ],
)
def test_a_use_that_cannot_be_is_refused(cast, changes, code, field):
    with pytest.raises(Refusal) as refused:
        profiled(cast, **changes)

    assert (refused.value.code, refused.value.field) == (code, field)


def logged(cast, text=LOG, number="V-01", **asked):
    data = text if isinstance(text, bytes) else text.encode()
    return severity.note_log(cast.vehicle(number), actor=cast.tobin, file_name="sump.csv", data=data, **asked)


def test_a_log_keeps_its_steps_and_its_hash_and_not_its_lines(cast):
    use = logged(cast)
    row = use.log

    assert (row.rows, row.unit, row.fault_count, row.gap_count) == (40, "degC", 0, 0)
    assert row.steps == [[80, 39 * 600_000, 81_000]]
    assert len(row.sha256) == 64
    assert (row.begins, row.ends) == ("0 s", "23400 s")
    assert use.temperatures == [[1_000_000, 81_000]]
    assert (use.heat_from, use.profile, use.short_trip_ppm) == ("log", [], 900_000)
    assert forecast_of(cast).working["heat"] == pytest.approx(2 ** ((81 - 79.4) / 11.1), abs=1e-6)


def test_lines_that_do_not_count_are_named_before_the_rest_is_taken(cast):
    text = LOG + "\n99999,300\nlater,80"
    with pytest.raises(Refusal) as refused:
        logged(cast, text)

    assert refused.value.code == "log.faults"
    assert refused.value.confirmable
    assert "2 of 42 lines cannot count. Line 42: 300 °C cannot be" in refused.value.message
    assert "Line 43: “later” is no time" in refused.value.message
    assert not TemperatureLog.objects.exists()
    row = logged(cast, text, are_faults_confirmed=True).log
    assert (row.fault_count, [line for line, _why in row.faults]) == (2, [42, 43])


@pytest.mark.parametrize(
    ("text", "code", "field"),
    [
        ("x", "log.unreadable", "file"),
        ("a,Sump °C\n0,80\n1,80", "log.columns", "time"),
        ("Time,b\n0,80\n1,80", "log.columns", "heat"),
        ("Time,Temp\n0,80\n1,80", "log.unit", "unit"),
        ("Time,Temp °C\n0,80\n1,80", "log.ticks", "ticks"),
        ("Time (s),Temp °C\n0,80\n", "log.unreadable", "file"),
        ("Time (s),Temp °C\n0,80\n700,80", "log.unreadable", "file"),
        (b"\xff\x00\x01", "log.letters", "file"),
        ("Time (s),Temp °C\n0,8\x000\n60,80\n120,80", "log.letters", "file"),
        (b"1" * 4_000_001, "log.size", "file"),
    ],
)
def test_a_file_that_cannot_be_read_says_what_to_mend(cast, text, code, field):
    with pytest.raises(Refusal) as refused:
        logged(cast, text)

    assert (refused.value.code, refused.value.field) == (code, field)


def test_a_file_cut_off_in_reading_is_not_told_a_size_it_does_not_have(cast):
    with pytest.raises(Refusal, match="more than 4 MB"):
        logged(cast, b"1" * 4_000_001)


def test_what_was_asked_is_taken_and_a_column_that_is_not_there_is_refused(cast):
    text = "a,b\n" + "\n".join(f"{600 * n},176" for n in range(13))

    assert logged(cast, text, time=0, heat=1, unit="degF", ticks="s").temperatures == [[1_000_000, 80_000]]
    assert logged(cast, text.replace("b", "Temp °F").encode("cp1252"), time=0, ticks="s").log.unit == "degF"
    with pytest.raises(Refusal) as refused:
        logged(cast, text, time=0, heat=7, ticks="s")
    assert (refused.value.code, refused.value.field) == ("log.columns", "heat")


def test_a_time_counts_in_the_unit_of_its_head_or_as_it_was_asked(cast):
    rows = "\n".join(f"{n / 10:g},90" for n in range(31))
    with pytest.raises(Refusal) as refused:
        logged(cast, f"Time,Temp °C\n{rows}")

    assert "It would last in ms 0.003 s; in s 3 s; in min 3.0 min; in h 3.0 h. Choose." in refused.value.message
    asked, headed = logged(cast, f"Time,Temp °C\n{rows}", ticks="h").log, logged(cast, f"t/h,Temp (°C)\n{rows}").log
    assert asked.milliseconds == headed.milliseconds == 3 * 3_600_000
    assert asked.sha256 != headed.sha256
    with pytest.raises(Refusal, match=r"The log counts 0\.0 minutes of running"):  # not three hours
        logged(cast, f"Time (ms),Temp °C\n{rows}")


def test_the_same_log_twice_is_refused_and_one_without_a_use_before_it(cast):
    logged(cast)

    with pytest.raises(Refusal) as refused:
        logged(cast)
    assert refused.value.code == "log.twice"
    cast.vehicle("V-02").uses.all().delete()
    with pytest.raises(Refusal) as refused:
        logged(cast, number="V-02")
    assert refused.value.code == "log.no_use"


def test_a_drier_home_lengthens_both_clocks(cast):
    car = cast.vehicle("V-01")
    severity.choose_place(car, actor=cast.tobin, code="US-AZ-DAVIS-MONTHAN", edition=car.edition)

    moved = forecast_of(cast)
    assert cast.vehicle("V-01").home_climate.name.startswith("Tucson")
    assert moved.working["interval"][1] > 33
    with pytest.raises(Refusal) as refused:
        severity.choose_place(
            cast.vehicle("V-01"), actor=cast.tobin, code="US-AZ-DAVIS-MONTHAN", edition=car.edition + 1
        )
    assert refused.value.code == "place.same"


def topped(cast, number="V-01", **changes):
    said = {"on": cast.today, "figure": 63_180, "unit": "mi", "added_ml": 370, "fluid_code": "FEN2"}
    return top_ups.note_top_up(cast.vehicle(number), actor=cast.tobin, **{**said, **changes})


def test_a_top_up_is_an_exchange_of_its_share_and_leaves_a_laboratory_figure(cast):
    water(cast, sampled_on=cast.today - timedelta(30))
    row = topped(cast)

    assert (row.method, row.fraction_low_ppm, row.fraction_high_ppm) == ("top-up", 50_000, 50_000)  # 0.37 of 7.4 L
    now = forecast_of(cast)
    assert now.working["age_after_last_job"][1] == str(Fraction("0.95") * Fraction("69.048"))
    assert now.working["moisture"] == 1.6
    found = exposure.exposure_of(cast.tobin, cast.vehicle("V-01"), today=cast.today)
    assert [line.job.share for line in found.book] == [Fraction("0.392"), Fraction("0.05")]
    assert dict(found.inside) == {
        "FEN2": 1 - Fraction("0.608") * Fraction("0.95"), "first fluid": Fraction("0.608") * Fraction("0.95"),
    }  # fmt: skip


@pytest.mark.parametrize(
    ("changes", "code", "field"),
    [
        ({"added_ml": 7_401}, "top_up.amount", "added"),
        ({"figure": 31_889}, "top_up.order", "odometer"),
        ({"on": date(2023, 12, 11), "figure": 40_000}, "top_up.order", "topped_on"),
    ],
)
def test_a_top_up_that_cannot_be_is_refused(cast, changes, code, field):
    with pytest.raises(Refusal) as refused:
        topped(cast, **changes)

    assert (refused.value.code, refused.value.field) == (code, field)


def test_a_top_up_of_an_unknown_unit_has_no_share(cast):
    cast.vehicle("V-08").identifications.all().delete()

    with pytest.raises(Refusal) as refused:
        topped(cast, "V-08")
    assert refused.value.code == "top_up.fill"


def test_severity_and_forecast_name_the_same_day(cast):
    for number in ("V-01", "V-02", "V-07", "V-10", "V-12", "F-01", "F-07", "F-26"):
        car = cast.vehicle(number)
        stored = severity.forecasts.renew(car, actor=cast.tobin)
        clocks = exposure.exposure_of(cast.tobin, car, today=cast.today).clocks

        assert (clocks.due, clocks.governs, clocks.distance_due) == (
            stored.told_on, stored.governs, clocks_of(stored, cast.today).crossed or stored.distance_due_on,
        )  # fmt: skip
        assert (clocks.early, clocks.late) == (
            stored.crossed_on or stored.early_on, stored.crossed_on or stored.late_on,
        )  # fmt: skip


def long_log(begin, celsius=90, *, minutes=120):
    rows = [f"{begin + timedelta(minutes=10 * n):%Y-%m-%d %H:%M:%S},{celsius}" for n in range(minutes // 10 + 1)]
    return "Time,Sump °C\n" + "\n".join(rows)


@pytest.mark.parametrize(
    ("begin", "changes", "code"),
    [
        (datetime(2026, 11, 20, 8), {"minutes": 110}, "log.short"),
        (datetime(2026, 11, 26, 8), {}, "log.future"),
        (datetime(2019, 4, 1, 8), {}, "log.before"),
        (datetime(2026, 11, 20, 8), {"celsius": 49}, "log.heat"),
        (datetime(2026, 11, 20, 8), {"celsius": 131}, "log.heat"),
    ],
)
def test_a_log_that_says_too_little_or_cannot_be_is_refused(cast, begin, changes, code):
    with pytest.raises(Refusal) as refused:
        logged(cast, long_log(begin, **changes))

    assert (refused.value.code, refused.value.confirmable) == (code, code == "log.heat")
    assert not TemperatureLog.objects.exists()


@pytest.mark.parametrize(
    ("begin", "celsius"),
    [(datetime(2026, 11, 25, 8), 50), (datetime(2019, 4, 2, 8), 130)],
)
def test_a_log_at_the_bounds_is_taken(cast, begin, celsius):
    assert logged(cast, long_log(begin, celsius)).heat_from == "log"


def test_a_rare_heat_counts_where_it_is_confirmed(cast):
    assert logged(cast, long_log(datetime(2026, 11, 20, 8), 131), is_heat_confirmed=True).heat_from == "log"


def test_a_log_that_is_withdrawn_gives_way_to_what_was_noted_before(cast):
    before = cast.vehicle("V-01").uses.latest("from_on")
    heat = forecast_of(cast).working["heat"]
    row = logged(cast, long_log(datetime(2026, 11, 20, 8))).log
    assert forecast_of(cast).working["heat"] > heat

    use = severity.withdraw_log(cast.vehicle("V-01"), actor=cast.tobin)

    assert (use.log, use.heat_from, use.temperatures) == (None, before.heat_from, before.temperatures)
    assert forecast_of(cast).working["heat"] == heat
    assert TrailEntry.objects.filter(what="temperature log withdrawn", subject="V-01").count() == 1
    with pytest.raises(Refusal) as refused:
        severity.withdraw_log(cast.vehicle("V-01"), actor=cast.tobin)
    assert refused.value.code == "log.none"
    assert logged(cast, long_log(datetime(2026, 11, 20, 8))).log == row  # taken again
    cast.vehicle("V-01").uses.filter(log=None).delete()
    with pytest.raises(Refusal) as refused:
        severity.withdraw_log(cast.vehicle("V-01"), actor=cast.tobin)
    assert refused.value.code == "log.alone"
