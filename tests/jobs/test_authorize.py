"""The customer's yes. Sources: 16 CCR 3354 and Fla. Stat. 559.909 for what is kept; figures of the worked examples."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.http import Http404

from shopserv.common import clock
from shopserv.common.errors import NotYours, Refusal, StateRefusal
from shopserv.jobs.models import Authorization, CustomerEvent, QuoteVersion, WorkOrder
from shopserv.jobs.selectors import quotes as selectors
from shopserv.jobs.selectors.room_left import fits_in_bay, room_left, room_left_of_work
from shopserv.jobs.services import quotes
from shopserv.jobs.services.authorize import LateYes, answer, authorize, take_back
from shopserv.papers.models import Paper
from shopserv.shop.models import ToleranceRule, TrailEntry
from tests.jobs import stage


def agreed(cast, letter="C", **more):
    version = stage.offered(cast)
    option = stage.option(version, letter)
    return authorize(option, actor=cast.tobin, consent=stage.by_telephone(option, **more))


def addition(cast, order, *, cents=1_500):
    counted = order.authorizations.get(state="counted")
    line = quotes.ExtraLine("labor", "adaptation run", 100, "h", unit_price_cents=cents * 10)
    edits = quotes.Edits(options=(quotes.OptionEdit(kind="addition", extras=(line,)),))
    quote = counted.quote
    plan = quotes.plan_for(cast.tobin, quote.vehicle, visit=quote.visit, edits=edits, adds_to=counted)
    version = quotes.write(plan, actor=cast.tobin, quote=quote)
    return quotes.offer(version, actor=cast.tobin, edition=version.edition).version


def test_a_yes_counts_writes_up_the_work_order_and_files_the_record(cast):
    order = agreed(cast, old_parts_wanted=True)

    row = order.authorizations.get()
    assert (order.state, order.facts["method"], order.facts["packages"]) == (
        "written up",
        "line exchange",
        {"FEN2-J": 2, "FEN2-B": 3},
    )
    assert (row.state, row.amount_cents, row.tax_cents, row.added_cents) == ("counted", 44_295, 832, None)
    assert (row.way, row.person, row.old_parts_wanted) == ("telephone", "Ansel Thornby", True)
    assert row.option.version.state == "agreed"
    paper = Paper.objects.get(kind="authorization").snapshot
    assert '"amount_cents":44295' in paper
    assert row.rule["words"] in paper
    assert TrailEntry.objects.filter(what="consent counted").count() == 1


def test_the_work_order_carries_no_price(cast):
    facts = str(agreed(cast).facts)

    assert "cents" not in facts
    assert "27000" not in facts


def test_a_second_yes_is_told_who_was_faster(cast):
    order = agreed(cast)
    option = order.authorizations.get().option

    with pytest.raises(StateRefusal) as told:
        authorize(option, actor=cast.maren, consent=stage.by_telephone(option))

    assert told.value.message.startswith(f"Tobin recorded the authorization for quote {option.version.quote}")
    assert told.value.message.endswith(f"Go on with work order {order}.")
    assert Authorization.objects.count() == 1


@pytest.mark.parametrize(
    ("said", "code"),
    [
        ({"amount_cents": 39_569}, "consent.amount"),
        ({"check_words": "apple apple"}, "consent.check_words"),
        ({"check_words": ""}, "consent.check_words"),
        ({"version_hash": "0" * 64}, "consent.hash"),
        ({"person": "  "}, "consent.person"),
        ({"way": "by bird"}, "consent.way"),
    ],
)
def test_a_yes_that_does_not_fit_the_version_is_refused(cast, said, code):
    option = stage.option(stage.offered(cast), "C")

    with pytest.raises(Refusal) as refused:
        authorize(option, actor=cast.tobin, consent=stage.by_telephone(option, **said))

    assert refused.value.code == code
    assert (Authorization.objects.count(), WorkOrder.objects.count()) == (0, 0)


def test_a_late_yes_is_kept_and_counts_for_nothing(cast):
    version = stage.offered(cast)
    option = stage.option(version, "C")
    newer = quotes.revise(version.quote, actor=cast.tobin)
    quotes.offer(newer, actor=cast.tobin, edition=newer.edition)

    with pytest.raises(LateYes) as late:
        authorize(option, actor=cast.tobin, consent=stage.by_telephone(option))
    event = answer(option, actor=cast.tobin, consent=stage.by_telephone(option))

    assert late.value.code == "quote.replaced"
    assert isinstance(event, CustomerEvent)
    assert list(CustomerEvent.objects.values_list("what", "who")) == [("late yes", "Ansel Thornby")] * 2
    assert Authorization.objects.count() == 0


def test_good_until_is_looked_at_by_the_deed_itself(cast):
    option = stage.option(stage.offered(cast), "C")
    clock.set_back_to(cast.morning + timedelta(days=15))
    try:
        with pytest.raises(LateYes) as late:
            authorize(option, actor=cast.tobin, consent=stage.by_telephone(option))
    finally:
        clock.set_back_to(cast.morning)

    assert late.value.code == "quote.expired"
    assert QuoteVersion.objects.get().state == "offered"


def test_the_holder_of_a_link_says_yes_to_that_version_alone(cast):
    version = stage.offered(cast)
    option = stage.option(version, "C")
    right = cast.holder(f"{version.quote.number}/1", cast.customer("C-001"), opens="quote version")
    wrong = cast.holder(f"{version.quote.number}/2", cast.customer("C-001"), opens="quote version")
    consent = stage.by_telephone(option, way="page", version_hash=version.snapshot_hash)

    for actor in (wrong, cast.ansel):
        with pytest.raises(Http404):
            authorize(option, actor=actor, consent=consent)
    with pytest.raises(NotYours):
        authorize(option, actor=cast.odo, consent=consent)
    with pytest.raises(Http404):
        authorize(option, actor=cast.lise, consent=consent)
    order = authorize(option, actor=right, consent=consent)

    assert order.authorizations.get().recorded_by == "Ansel Thornby"
    assert selectors.customer_decision(right).agreed == "C"


def test_another_option_after_a_yes_replaces_it_and_keeps_the_work_order(cast):
    order = agreed(cast, "C")
    version = quotes.revise(order.authorizations.get().quote, actor=cast.tobin)
    version = quotes.offer(version, actor=cast.tobin, edition=version.edition).version
    option = stage.option(version, "B")

    again = authorize(option, actor=cast.tobin, consent=stage.by_telephone(option))

    assert again == order
    assert list(order.authorizations.order_by("pk").values_list("state", "amount_cents")) == [
        ("replaced", 44_295),
        ("counted", 39_569),
    ]
    assert (again.facts["method"], again.facts["earlier"][0]["method"]) == ("repeated drain", "line exchange")


def test_more_work_lengthens_the_order_and_the_new_total_counts(cast):
    order = agreed(cast)
    version = addition(cast, order)
    option = version.options.get()

    authorize(option, actor=cast.tobin, consent=stage.by_telephone(option, amount_cents=44_295 + option.total_cents))

    rows = list(order.authorizations.order_by("pk").values_list("state", "amount_cents", "added_cents"))
    assert option.total_cents == 1_575  # 15.00 and 5 % supplies: one tenth with supplies of the worked example
    assert rows == [("added to", 44_295, None), ("counted", 45_870, 1_575)]
    assert len(order.__class__.objects.get().facts["added"]) == 1


def test_an_addition_to_what_no_longer_counts_is_refused(cast):
    order = agreed(cast)
    option = addition(cast, order).options.get()
    take_back(order.authorizations.get(), actor=cast.tobin, words="changed his mind")

    with pytest.raises(StateRefusal) as refused:
        authorize(option, actor=cast.tobin, consent=stage.by_telephone(option, amount_cents=45_870))

    assert refused.value.code == "quote.base_changed"
    assert option.version.__class__.objects.get(pk=option.version_id).state == "offered"


def test_after_a_yes_is_taken_back_a_new_one_can_count(cast):
    order = agreed(cast)
    WorkOrder.objects.update(state="in the bay")
    first = order.authorizations.get()

    take_back(first, actor=cast.tobin, words="changed his mind")
    order.refresh_from_db()
    assert (first.state, order.state, order.hold_reason) == ("taken back", "on hold", "authorization taken back")

    version = quotes.revise(first.quote, actor=cast.tobin)
    version = quotes.offer(version, actor=cast.tobin, edition=version.edition).version
    option = stage.option(version, "A")
    authorize(option, actor=cast.tobin, consent=stage.by_telephone(option))
    assert sorted(Authorization.objects.values_list("state", flat=True)) == ["counted", "taken back"]


@pytest.mark.parametrize(
    ("said", "code"),
    [
        ({"purchase_order_number": ""}, "consent.purchase_order"),
        ({"person": "Nadia Westerholm", "capacity": "fleet contact"}, "consent.limit"),
        ({"person": "Nadia Westerholm", "capacity": "keeper"}, "consent.limit"),
        ({}, "consent.designation"),
        ({"way": "standing agreement"}, "consent.agreement"),
    ],
)
def test_a_fleet_needs_its_number_and_stays_inside_its_limits(cast, said, code):
    version = stage.offered(cast, "F-01", confirmed={"quote.exemption_ended"})
    dear = stage.option(version, "D")  # above the 500.00 that Nadia Westerholm and the agreement cover
    consent = {"person": "driver", "way": "signature", "purchase_order_number": "PO-7", **said}

    with pytest.raises(Refusal) as refused:
        authorize(dear, actor=cast.tobin, consent=stage.by_telephone(dear, **consent))

    assert refused.value.code == code


def test_a_standing_agreement_covers_due_service_alone(cast):
    version = stage.offered(cast, "F-01", confirmed={"quote.exemption_ended"})  # due in spring
    cheap = stage.option(version, "A")
    said = {"person": "Kell Top Parcel Carriers", "way": "standing agreement", "purchase_order_number": "PO-7"}

    with pytest.raises(Refusal) as refused:
        authorize(cheap, actor=cast.tobin, consent=stage.by_telephone(cheap, **said))

    assert refused.value.code == "consent.agreement"
    assert "F-01 is due about" in refused.value.message


def test_a_standing_agreement_covers_what_it_names(cast):
    version = stage.offered(cast, "F-07", confirmed={"quote.exemption_ended"})
    cheap = stage.option(version, "A")
    said = {"person": "Kell Top Parcel Carriers", "way": "standing agreement", "purchase_order_number": "PO-7"}

    order = authorize(cheap, actor=cast.tobin, consent=stage.by_telephone(cheap, **said))

    row = order.authorizations.get()
    assert row.designation.startswith("standing agreement signed by Kell Top Parcel Carriers from 2025-01-06")
    assert row.purchase_order_number == "PO-7"


RULES = {  # worked examples, room left on 442.95: left, tenths that fit, left after them
    "consent-only": ({"kind": "none"}, (0, 0, 0)),
    "lesser-10": ({"kind": "lesser_of", "percent_ppm": 100_000, "amount_cents": 1_000}, (1_000, 0, 1_000)),
    "lesser-25": ({"kind": "lesser_of", "percent_ppm": 100_000, "amount_cents": 2_500}, (2_500, 1, 925)),
    "greater-capped": (
        {"kind": "greater_of", "percent_ppm": 100_000, "amount_cents": 1_000, "cap_cents": 5_000},
        (4_429, 2, 1_279),
    ),
    "share-before-tax": ({"kind": "percent", "percent_ppm": 100_000, "base": "before_tax"}, (4_346, 2, 1_196)),
}


@pytest.mark.parametrize("code", RULES)
def test_the_room_left_comes_out_by_each_rule(cast, code):
    columns, expected = RULES[code]
    empty = {"percent_ppm": None, "amount_cents": None, "cap_cents": None, "base": "total", "words": code}
    ToleranceRule.objects.filter(shop=cast.brw).update(code=code, **{**empty, **columns})
    order = agreed(cast)

    room = room_left(cast.tobin, order.authorizations.get().quote.number)

    assert (room.left_cents, room.extra_tenths, room.left_after_cents) == expected
    assert room.tenth_cents == 1_575
    assert room.tax_cents == (0 if room.is_before_tax else 832)
    assert sum(line.price_cents for line in room.lines) + room.tax_cents == room.used_cents
    assert room.fits(expected[0])
    assert not room.fits(expected[0] + 1)
    assert not room.fits(0, method="single drain")
    assert not room.fits(0, parts={"HF-1004"})
    assert fits_in_bay(cast.odo, order.number, expected[1])
    assert not fits_in_bay(cast.odo, order.number, expected[1] + 1)


def test_without_an_authorization_there_is_no_room(cast):
    assert room_left(cast.tobin, stage.offered(cast).quote.number) is None


def test_a_second_addition_counts_on_top_of_the_first(cast):
    order = agreed(cast)
    for _ in range(2):
        option = addition(cast, order).options.get()
        counted = order.authorizations.get(state="counted")
        said = stage.by_telephone(option, amount_cents=counted.amount_cents + option.total_cents)
        authorize(option, actor=cast.tobin, consent=said)

    room = room_left(cast.tobin, counted.quote.number)
    assert list(order.authorizations.order_by("pk").values_list("amount_cents", flat=True)) == [44_295, 45_870, 47_445]
    assert (room.agreed_cents, room.used_cents, room.tolerance_cents) == (47_445, 47_445, 4_744)  # 10 % cut down
    assert room_left_of_work(cast.tobin, order.number) == room
    with pytest.raises(Http404):
        room_left_of_work(cast.lise, order.number)
    with pytest.raises(ValueError, match="not below zero"):
        room.fits(-1)


def test_a_quote_without_a_visit_asks_to_take_the_vehicle_in_first(cast):
    plan = quotes.plan_for(cast.tobin, cast.vehicle("V-01"))
    version = quotes.write(plan, actor=cast.tobin)
    version = quotes.offer(version, actor=cast.tobin, edition=version.edition).version
    option = stage.option(version, "C")

    with pytest.raises(StateRefusal) as refused:
        authorize(option, actor=cast.tobin, consent=stage.by_telephone(option))

    version.refresh_from_db()
    assert (refused.value.code, version.state) == ("work.no_visit", "offered")


def test_a_draft_cannot_be_agreed(cast):
    option = stage.option(stage.draft(cast), "C")

    with pytest.raises(StateRefusal) as refused:
        authorize(option, actor=cast.tobin, consent=stage.by_telephone(option))

    assert refused.value.code == "quote.draft"


def test_after_taking_back_the_same_version_does_not_count_again(cast):
    option = agreed(cast).authorizations.get().option
    take_back(option.authorizations.get(), actor=cast.tobin, words="changed his mind")

    with pytest.raises(StateRefusal) as told:
        authorize(option, actor=cast.tobin, consent=stage.by_telephone(option))

    assert "taken back. Offer it anew" in told.value.message


def test_what_is_invoiced_is_not_taken_back_and_strangers_take_nothing_back(cast):
    row = agreed(cast).authorizations.get()
    other = cast.holder(f"{row.quote.number}/9", cast.customer("C-001"), opens="quote version")

    for actor in (cast.lise, other):
        with pytest.raises(Http404):
            take_back(row, actor=actor, words="no")
    WorkOrder.objects.update(state="closed")
    with pytest.raises(StateRefusal) as refused:
        take_back(row, actor=cast.tobin, words="no")

    assert refused.value.code == "consent.invoiced"


def test_the_fleet_contact_agrees_inside_the_limit_by_designation(cast):
    version = stage.offered(cast, "F-01", confirmed={"quote.exemption_ended"})
    cheap = stage.option(version, "A")
    said = {"person": "Nadia Westerholm", "capacity": "fleet contact", "purchase_order_number": "PO-7"}

    row = authorize(cheap, actor=cast.tobin, consent=stage.by_telephone(cheap, **said)).authorizations.get()

    assert row.designation == (
        "Nadia Westerholm, fleet contact, designated by Kell Top Parcel Carriers from 2024-11-18"
    )
