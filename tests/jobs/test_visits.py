"""Vehicles taken in, findings noted and overridden, the counter desk. Source: the shop's own lifecycle and K-list."""

from __future__ import annotations

import pytest
from django.http import Http404

from shopserv.common.errors import NotYours, Refusal, Stale, StateRefusal
from shopserv.jobs import findings
from shopserv.jobs.models import Finding, Visit
from shopserv.jobs.selectors import visits as selectors
from shopserv.jobs.services import visits
from shopserv.jobs.services.findings import note_finding, override_finding
from shopserv.registry.models import MessageConsent, Vehicle
from shopserv.registry.services.vehicles import NewVehicle
from shopserv.shop.models import TrailEntry
from tests.jobs import stage


def state_of(visit, code):
    return {one.code: one.state for one in selectors.standing(visit)}[code]


def test_an_expected_vehicle_is_taken_in_under_its_number(cast):
    expected = Visit.objects.get(vehicle__number="V-01", state="expected")

    visit = stage.take_in(
        cast,
        "V-01",
        odometer=63_190,
        complaint="Shudders at 40.",
        lamps="none",
        answers={"slips": visits.Answer(True, "late into second"), "drips": visits.Answer(None)},
        key_tag="14",
        permissions=(visits.Permission("e-mail", "offer", True),),
    )

    assert (visit.pk, visit.number, visit.state, visit.key_tag) == (expected.pk, expected.number, "here", "14")
    assert (visit.reading.figure, visit.complaints.get().words) == (63_190, "Shudders at 40.")
    assert list(Finding.objects.values_list("code", "state", "words")) == [("K-02", "suspected", "late into second")]
    assert MessageConsent.objects.filter(purpose="offer", given=True).count() == 1
    assert TrailEntry.objects.filter(what="vehicle taken in").count() == 1
    assert visit.vehicle.forecasts.get(is_current=True).grade == "stop"


def test_a_new_vehicle_of_a_new_customer_gets_a_visit_of_its_own(cast):
    intake = visits.Intake(
        new_vehicle=NewVehicle(vin_none=True, vin="TRAILER 9", plate="BRW 9001", facts={"year": 1975}),
        new_customer=visits.NewCustomer("Orla Quist", phone="+1 202 555 0177"),
        answers=stage.ALL_NO,
        odometer=12,
    )

    visit = visits.take_in(actor=cast.tobin, intake=intake)

    assert (visit.customer.name, visit.vehicle.number, visit.state) == ("Orla Quist", "TRAILER 9", "here")
    assert visit.number.startswith("BRW-V-")


def test_a_vehicle_is_in_the_shop_once(cast):
    first = stage.take_in(cast, "V-01")

    with pytest.raises(Refusal) as refused:
        stage.take_in(cast, "V-01")

    assert (refused.value.code, refused.value.status) == ("visit.open", 409)
    assert refused.value.message == f"V-01 is here already on visit {first.number} at Brindlewick."


@pytest.mark.parametrize(
    ("wrong", "code"),
    [
        ({"answers": {}}, "intake.unanswered"),
        ({"fuel_eighths": 9}, "intake.fuel"),
        ({"arrival": "flown"}, "intake.arrival"),
        ({"odometer": 100}, "odometer.went_back"),
    ],
)
def test_a_slip_that_cannot_be_so_is_refused_and_nothing_is_kept(cast, wrong, code):
    intake = {"vehicle": cast.vehicle("V-01"), "answers": stage.ALL_NO, **wrong}
    before = TrailEntry.objects.count()

    with pytest.raises(Refusal) as refused:
        visits.take_in(actor=cast.tobin, intake=visits.Intake(**intake))

    assert refused.value.code == code
    assert (TrailEntry.objects.count(), Visit.objects.exclude(state="expected").count()) == (before, 0)


def test_another_van_under_a_booking_is_noticed_by_two_of_three_marks(cast):
    booked = Visit.objects.get(vehicle__number="F-11")
    other = cast.vehicle("F-17")
    seen = visits.Seen(vin_end=other.vin[-6:], plate=other.plates.get().as_typed, fleet_number="F-17")

    with pytest.raises(Refusal) as refused:
        visits.take_in(actor=cast.tobin, visit=booked, intake=visits.Intake(answers=stage.ALL_NO, seen=seen))

    assert refused.value.code == "visit.other_vehicle"
    own = Vehicle.objects.get(number="F-11")
    seen = visits.Seen(vin_end=own.vin[-6:], plate="KTP 999", fleet_number="F-11")
    visit = visits.take_in(actor=cast.tobin, visit=booked, intake=visits.Intake(answers=stage.ALL_NO, seen=seen))
    assert visit.vehicle == own


def test_a_vehicle_waits_leaves_and_does_not_leave_twice(cast):
    visit = stage.take_in(cast, "V-01")

    visits.wait_for_word(visit, actor=cast.tobin)
    visits.leave(visit, actor=cast.tobin, words="no time")

    assert (visit.state, visit.left_at is not None) == ("gone", True)
    with pytest.raises(StateRefusal):
        visits.leave(visit, actor=cast.tobin)


def test_only_writer_and_owner_of_the_shop_take_in(cast):
    with pytest.raises(NotYours):
        visits.take_in(actor=cast.odo, intake=visits.Intake(vehicle=cast.vehicle("V-01"), answers=stage.ALL_NO))
    visit = stage.take_in(cast, "V-01")
    with pytest.raises(Http404):
        visits.leave(visit, actor=cast.lise)
    with pytest.raises(Http404):
        selectors.visit_for(cast.lise, visit.number)


def test_two_signs_confirm_coolant_and_nobody_lifts_it(cast):
    visit = stage.take_in(cast, "V-01")
    note_finding(visit, actor=cast.odo, code="K-01", signs=["pink milk"])
    assert state_of(visit, "K-01") == "suspected"

    note_finding(visit, actor=cast.odo, code="K-01", signs=["glycol strip positive"])

    assert state_of(visit, "K-01") == "confirmed"
    with pytest.raises(Refusal) as never:
        override_finding(visit, actor=cast.maren, code="K-01", words="I say so")
    with pytest.raises(Refusal):
        note_finding(
            visit, actor=cast.maren, code="K-01", state="not confirmed", signs=["laboratory"], words="none found"
        )
    assert never.value.code == "finding.never"
    assert (state_of(visit, "K-01"), Finding.objects.count()) == ("confirmed", 2)


def test_only_the_laboratory_lifts_a_suspicion_of_coolant(cast):
    visit = stage.take_in(cast, "V-01")
    note_finding(visit, actor=cast.odo, code="K-01", signs=["pink milk"])

    with pytest.raises(Refusal) as refused:
        note_finding(visit, actor=cast.maren, code="K-01", state="not confirmed", words="looks clear now")
    note_finding(visit, actor=cast.odo, code="K-01", state="not confirmed", signs=["laboratory"], words="slip 12")

    assert refused.value.code == "finding.only_laboratory"
    assert state_of(visit, "K-01") == "not confirmed"


@pytest.mark.parametrize("code", sorted(findings.FINDINGS))
def test_who_may_override_follows_the_list(cast, code, monkeypatch):
    kind = findings.FINDINGS[code]
    visit = stage.take_in(cast, "V-01")
    note_finding(visit, actor=cast.odo, code=code, state="confirmed", words="seen")
    monkeypatch.setattr(selectors, "was_diagnosed", lambda visit, since: True)
    lets = {}

    for name, actor in (("writer", cast.tobin), ("technician", cast.odo), ("owner", cast.maren)):
        try:
            override_finding(visit, actor=actor, code=code, words="goes on", shown="BRW-D-4")
            lets[name] = True
            note_finding(visit, actor=cast.odo, code=code, state="confirmed", words="seen again")
        except (Refusal, NotYours):
            lets[name] = False

    assert lets == {
        "writer": False,
        "technician": "technician" in kind.override.split(),
        "owner": "owner" in kind.override.split(),
    }


def test_a_leak_under_pressure_is_for_the_owner_alone(cast):
    visit = stage.take_in(cast, "V-01")
    note_finding(visit, actor=cast.odo, code="K-07", state="confirmed", signs=["dripping under pressure"])

    with pytest.raises(NotYours):
        override_finding(visit, actor=cast.odo, code="K-07", words="a weep")

    assert selectors.standing(visit)[0].grade == "stop"


def test_the_list_has_fifteen_kinds_and_six_questions():
    assert sorted(findings.FINDINGS) == [f"K-{number:02d}" for number in range(1, 16)]
    assert [question.code for question in findings.QUESTIONS] == ["K-02", "K-04", "K-06", "K-07", "K-11", "K-15"]
    never = {code for code, kind in findings.FINDINGS.items() if not kind.override}
    assert never == {"K-01", "K-05", "K-09", "K-10", "K-12", "K-15"}
    assert not any(
        "shudder" in kind.customer_words or code in kind.customer_words for code, kind in findings.FINDINGS.items()
    )


def test_the_desk_shows_expected_and_open_visits_by_promised_time(cast, django_assert_num_queries):
    visit = stage.take_in(cast, "V-04", promised_at=cast.morning.replace(hour=16))
    stage.take_in(cast, "V-01")
    visits.wait_for_word(Visit.objects.get(vehicle__number="V-01"), actor=cast.tobin)
    note_finding(visit, actor=cast.odo, code="K-14", state="confirmed", words="filings")
    actor = cast.tobin

    with django_assert_num_queries(5):
        desk = selectors.counter_desk(actor)

    lines = [(row.vehicle_number, row.state, row.grade) for row in desk.rows]
    assert lines == [
        ("F-09", "expected", "as it should be"),
        ("V-02", "expected", "as it should be"),
        ("V-01", "waiting on word", "as it should be"),
        ("F-11", "expected", "as it should be"),
        ("V-09", "expected", "as it should be"),
        ("V-04", "here", "stop"),
    ]
    assert desk.longest.vehicle_number == "V-01"
    assert desk.rows[-1].going_on == "metal beyond fine paste: photo of the magnet; diagnosis first"
    assert all(row.vehicle_number not in ("V-05", "V-07") for row in desk.rows)


def test_tries_to_reach_the_customer_are_kept_with_time_and_number(cast):
    visit = stage.take_in(cast, "V-04", promised_at=cast.morning.replace(hour=16))
    for _ in range(2):
        visits.note_try(visit, actor=cast.tobin, contact_used="+12025550114")

    assert visits.note_try(visit, actor=cast.tobin, contact_used="+12025550114", words="no answer") == 3
    visits.change_promise(
        visit, actor=cast.tobin, promised_at=cast.morning.replace(day=25), words="no answer", edition=visit.edition
    )

    assert [(contact, words) for _, contact, words in selectors.tries_of(visit)][-1] == ("+12025550114", "no answer")
    assert visit.promised_at == cast.morning.replace(day=25)
    with pytest.raises(Stale):
        visits.change_promise(
            visit, actor=cast.tobin, promised_at=cast.morning.replace(day=26), words="", edition=visit.edition - 1
        )
    with pytest.raises(Refusal):
        visits.note_try(visit, actor=cast.tobin, contact_used=" ")


@pytest.mark.parametrize(
    ("code", "given", "refusal"),
    [
        ("K-99", {}, "finding.unknown"),
        ("K-14", {"state": "perhaps"}, "finding.state"),
        ("K-14", {"state": "not confirmed", "words": "clean"}, "finding.none"),
    ],
)
def test_a_finding_that_cannot_be_so_is_refused(cast, code, given, refusal):
    visit = stage.take_in(cast, "V-01")

    with pytest.raises(Refusal) as refused:
        note_finding(visit, actor=cast.odo, code=code, **given)

    assert refused.value.code == refusal


def test_what_asks_for_a_diagnosis_is_neither_lifted_nor_decided_before_it(cast):
    visit = stage.take_in(cast, "V-01", answers={"slips": visits.Answer(True, "late")})

    with pytest.raises(Refusal) as lifted:
        note_finding(visit, actor=cast.odo, code="K-02", state="not confirmed", words="fine now")
    with pytest.raises(Refusal) as decided:
        override_finding(visit, actor=cast.maren, code="K-02", words="go on", shown="none")
    stage.diagnosed(visit)
    override_finding(visit, actor=cast.maren, code="K-02", words="a solenoid, replaced", shown="the diagnosis")

    assert lifted.value.code == decided.value.code == "finding.not_diagnosed"
    assert state_of(visit, "K-02") == "overridden"


def test_a_finding_is_lifted_by_who_saw_with_words_and_both_entries_stay(cast):
    visit = stage.take_in(cast, "V-01", answers={"slips": visits.Answer(True, "late")})
    stage.diagnosed(visit)

    with pytest.raises(NotYours):
        note_finding(visit, actor=cast.tobin, code="K-02", state="not confirmed", words="fine")
    with pytest.raises(Refusal) as wordless:
        note_finding(visit, actor=cast.odo, code="K-02", state="not confirmed")
    note_finding(visit, actor=cast.odo, code="K-02", state="not confirmed", words="road test, shifts on time")

    assert wordless.value.code == "finding.words"
    assert list(visit.findings.order_by("pk").values_list("state", flat=True)) == ["suspected", "not confirmed"]
    assert visit.vehicle.forecasts.get(is_current=True).grade != "stop"


@pytest.mark.parametrize(
    ("given", "refusal"),
    [
        ({"words": " ", "shown": "BRW-D-1"}, "finding.words"),
        ({"words": "sound"}, "finding.demands"),
        ({"code": "K-03", "words": "sound", "shown": "BRW-D-1"}, "finding.none"),
    ],
)
def test_an_override_needs_words_and_what_the_list_demands(cast, given, refusal):
    visit = stage.take_in(cast, "V-01", answers={"slips": visits.Answer(True, "late")})

    with pytest.raises(Refusal) as refused:
        override_finding(visit, actor=cast.maren, **{"code": "K-02", **given})

    assert refused.value.code == refusal


def test_who_stands_outside_notes_and_overrides_nothing(cast):
    visit = stage.take_in(cast, "V-01")

    with pytest.raises(NotYours):
        note_finding(visit, actor=cast.sam, code="K-14")
    for deed in (note_finding, override_finding):
        with pytest.raises(Http404):
            deed(visit, actor=cast.lise, code="K-14", words="x")


@pytest.mark.once
@pytest.mark.parametrize(
    ("code", "signs", "method", "fraction", "barred"),
    [
        ("K-07", (), "line exchange", 858_000, ""),
        ("K-07", ("dripping under pressure",), "line exchange", 858_000, "leaks outside"),
        ("K-09", (), "line exchange", 858_000, "no cooler-line method"),
        ("K-09", (), "repeated drain", 775_000, ""),
        ("K-06", (), "repeated drain", 850_000, "replaces too little"),
        ("K-06", (), "line exchange", 850_001, ""),
        ("K-06", (), "single drain", 900_000, "replaces too little"),
        ("K-15", (), "single drain", 392_000, "hybrid"),
        ("K-11", (), "single drain", 392_000, ""),
    ],
)
def test_what_a_finding_bars(code, signs, method, fraction, barred):
    found = [findings.Standing(code, "confirmed", "", signs)]

    said = findings.barred_because(method, found, fraction_low_ppm=fraction)

    assert (barred in said) if barred else said == ""
    assert findings.barred_because(method, [findings.Standing(code, "overridden", "")], fraction_low_ppm=fraction) == ""


def test_a_vehicle_is_expected_and_turned_away(cast):
    vehicle = cast.vehicle("V-08")
    visit = visits.expect(
        actor=cast.tobin, vehicle=vehicle, customer=cast.customer("C-001"), expected_at=cast.morning.replace(hour=15)
    )

    assert selectors.open_visit_of(cast.tobin, vehicle.pk) == visit
    visits.turn_away(visit, actor=cast.tobin, words="too heavy for our lifts")

    assert (visit.state, visit.number.startswith("BRW-V-")) == ("turned away", True)
    assert selectors.open_visit_of(cast.tobin, vehicle.pk) is None


@pytest.mark.parametrize(
    ("given", "code"),
    [
        ({}, "required"),
        ({"new_vehicle": NewVehicle(vin_none=True, vin="X 1")}, "required"),
        ({"vehicle": True, "inspect_cents": -1}, "intake.price"),
        ({"vehicle": True, "promised": True}, "promise.past"),
    ],
)
def test_an_intake_names_what_is_missing(cast, given, code):
    given = {**given, "answers": stage.ALL_NO}
    if given.pop("vehicle", False):
        given["vehicle"] = cast.vehicle("V-08")
    if given.pop("promised", False):
        given["promised_at"] = cast.morning.replace(hour=1)

    with pytest.raises(Refusal) as refused:
        visits.take_in(actor=cast.tobin, intake=visits.Intake(**given))

    assert refused.value.code == code
