"""From the plan to the offer. Figures: the worked examples on the demonstration data."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.http import Http404

from shopserv.catalog.models import UnitSheet
from shopserv.common import clock, formats
from shopserv.common.errors import NotYours, Refusal, Stale, StateRefusal
from shopserv.jobs import check_words, sums
from shopserv.jobs.models import Line, Option, Quote, QuoteVersion
from shopserv.jobs.selectors import quotes as selectors
from shopserv.jobs.services import plans, quotes, visits
from shopserv.jobs.services.findings import note_finding, override_finding
from shopserv.jobs.snapshots.quote import differences
from shopserv.papers.models import Paper
from shopserv.shop.models import HouseRules, RateCard, TrailEntry
from shopserv.web.counter.columns import rows_of
from tests.jobs import stage

FOUR = [("A", 18_364), ("B", 39_569), ("C", 44_295), ("D", 64_189)]


def totals(version: QuoteVersion) -> list[tuple[str, int]]:
    return list(version.options.order_by("letter").values_list("letter", "total_cents"))


def offer(cast, version, **more):
    return quotes.offer(version, actor=cast.tobin, edition=version.edition, **more)


def test_the_four_options_of_the_example_come_out_to_the_cent(cast):
    version = stage.draft(cast)

    assert totals(version) == FOUR
    assert version.recommended == "C"
    c = stage.option(version, "C")
    assert (c.net_cents, c.tax_cents, c.cost_cents) == (43_463, 832, 14_295)
    assert list(c.lines.values_list("kind", "number", "price_cents", "cost_cents", "is_taxed")) == [
        ("labor", "", 27_000, 7_560, False),
        ("fluid", "FEN2", 12_208, 6_310, True),
        ("part", "HF-1003", 1_105, 425, True),
        ("supplies", "", 1_350, 0, False),
        ("waste", "", 1_800, 0, False),
    ]
    fluid = c.lines.get(kind="fluid").detail
    assert (fluid["packages"], fluid["left_ml"]) == ({"FEN2-J": 2, "FEN2-B": 3}, 408)


def test_what_the_money_buys_is_said_by_the_clock_that_governs(cast):
    version = stage.draft(cast)

    said = {option.letter: option.bought["words"] for option in version.options.all()}
    assert said == {
        "A": "due again at once by age",
        "B": "17.5 months, $22.66 a month",
        "C": "23.2 months, $19.10 a month",
        "D": "27.7 months, $23.19 a month",
    }


def test_an_unknown_fill_gives_two_totals(cast):
    version = stage.draft(cast, "V-09")

    line = version.options.get(method="line exchange")
    fluid = line.lines.get(kind="fluid")
    assert (fluid.low_price_cents, fluid.price_cents) == (12_208, 12_946)
    assert (fluid.detail["low"]["planned_ml"], fluid.detail["planned_ml"]) == (9_800, 11_200)
    assert (line.low_total_cents, line.total_cents) == (44_259, 45_295)


def test_both_columns_of_a_band_add_up_to_their_totals(cast):
    version = stage.draft(cast, "V-09")
    sheet = selectors.quote_sheet(cast.maren, version.quote.number)
    column = next(one for one in sheet.columns if one.option.method == "line exchange")
    cells = {row.name: row.cells[sheet.columns.index(column)].figure for row in rows_of(sheet.columns, "us")}

    assert (column.low_tax_cents, column.option.tax_cents) == (832, 878)  # 6.25 % of 133.13 and of 140.51
    assert cells["tax"] == "$8.32 to $8.78"
    low = sums.price({**column.option.snapshot, "fluids": [
        {**row, "need_ml": 9_800} for row in column.option.snapshot["fluids"]
    ]})  # fmt: skip
    assert low.total_cents == 44_259
    assert column.low_margin_cents == 44_259 - 832 - low.cost_cents
    assert cells["margin, you and owner"].startswith(formats.money(min(column.low_margin_cents, column.margin_cents)))
    assert " to " in cells["margin, you and owner"]


def test_what_is_opened_and_not_on_the_parts_list_is_said(cast):
    vehicle = cast.vehicle("V-09")
    planned = plans.plan_for(cast.tobin, vehicle)
    drain = next(option for option in planned.options if option.method == "single drain")

    assert drain.inputs["parts"] == []
    assert drain.inputs["not_listed"] == ["drain plug seal"]
    assert (
        "quote.not_listed",
        f"Option {drain.letter} (drain and fill): not listed: drain plug seal.",
    ) in planned.warnings
    exchange = next(option for option in planned.options if option.method == "line exchange")
    assert exchange.inputs["not_listed"] == []

    drained = ({"op": "drain", "to_ml": -1_000}, {"op": "add", "volume_ml": 1_000})
    edited = quotes.Edits(options=(quotes.OptionEdit(method="line exchange", stages=drained),))
    taken = plans.plan_for(cast.tobin, vehicle, edits=edited).options[0]
    assert "HF-1002" in [part["number"] for part in taken.inputs["parts"]]  # its seals for the plug
    assert taken.inputs["not_listed"] == []


def test_the_sheet_says_what_is_not_listed(cast):
    version = stage.draft(cast, "V-09")
    columns = selectors.quote_sheet(cast.tobin, version.quote.number).columns
    row = next(row for row in rows_of(columns, "us") if row.name == "parts")

    assert row.cells[0].lead == "not listed: drain plug seal"


def test_a_fleet_whose_exemption_ended_is_taxed_and_the_writer_told_first(cast):
    version = stage.draft(cast, "F-01")

    assert all(option.tax_cents > 0 for option in version.options.all())
    with pytest.raises(Refusal) as told:
        offer(cast, version)
    assert (told.value.code, told.value.confirmable) == ("quote.exemption_ended", True)
    assert "EX-INVENTED-77 ended on November 17, 2026" in told.value.message
    assert offer(cast, version, confirmed={"quote.exemption_ended"}).version.state == "offered"


def test_a_fleet_with_a_valid_certificate_pays_no_tax(cast):
    cast.customer("C-100").exemptions.update(to_on=None)

    version = stage.draft(cast, "F-01")

    assert {option.tax_cents for option in version.options.all()} == {0}
    assert offer(cast, version).version.state == "offered"


def test_every_offered_version_comes_out_the_same_from_its_snapshot(cast):
    for number in ("V-01", "V-09", "V-04", "V-12", "F-01"):
        stage.offered(cast, number, confirmed={"quote.exemption_ended"})
    RateCard.objects.update(sold_per_hour_cents=99_900)
    HouseRules.objects.update(margin_floor_ppm=990_000)

    versions = QuoteVersion.objects.filter(state="offered").prefetch_related("options__lines")

    assert versions.count() == 5
    assert [found for version in versions for found in differences(version)] == []


def test_a_changed_snapshot_is_noticed_when_worked_out_again(cast):
    version = stage.draft(cast)
    option = stage.option(version, "C")
    option.snapshot["labor"]["tenths"] += 1
    option.save()

    assert len(differences(version)) == 2  # its sums, and its lines


def test_lines_and_tax_add_up_in_every_option(cast):
    for number in ("V-01", "V-03", "V-05", "V-08", "V-09", "F-01"):
        stage.draft(cast, number)

    for option in Option.objects.prefetch_related("lines"):
        lines = list(option.lines.all())
        taxed = sum(line.price_cents for line in lines if line.is_taxed)
        assert option.net_cents == sum(line.price_cents for line in lines)
        assert option.tax_cents == (taxed * 62_500 * 2 + 1_000_000) // 2_000_000
        assert option.total_cents == option.net_cents + option.tax_cents


def test_packages_always_cover_what_is_planned(cast):
    for number in ("V-01", "V-03", "V-05", "V-08", "V-09", "F-01"):
        stage.draft(cast, number)

    fluids = [line.detail for line in Line.objects.filter(kind="fluid")]
    assert len(fluids) > 10
    assert all(d["bought_ml"] >= d["planned_ml"] and d["left_ml"] == d["bought_ml"] - d["planned_ml"] for d in fluids)


def test_an_offer_freezes_files_a_paper_and_gives_two_check_words(cast):
    version = stage.offered(cast)

    paper = Paper.objects.get(kind="quote", number=version.quote.number, version=1)
    assert version.check_words == check_words.check_words(version.snapshot_hash)
    assert f'"check_words":"{version.check_words}"' in paper.snapshot
    assert '"total_cents":44295' in paper.snapshot
    assert not any(word in paper.snapshot for word in ("cost_cents", "markup", "margin_floor", "14295"))
    assert str(version.good_until.astimezone(cast.morning.tzinfo)) == "2026-12-08 23:59:59-05:00"
    assert TrailEntry.objects.filter(what="quote offered").count() == 1


def test_a_token_is_made_for_a_contact_and_opens_that_version_alone(cast):
    version = stage.draft(cast)
    contact = cast.customer("C-001").contact_points.get(kind="phone")

    token = offer(cast, version, contact=contact).token

    holder = cast.holder(f"{version.quote.number}/1", cast.customer("C-001"), opens="quote version")
    assert len(token) > 40
    assert [choice.total_cents for choice in selectors.customer_decision(holder).choices] == [c for _, c in FOUR]
    with pytest.raises(Http404):
        selectors.version_for(holder, version.quote.number, 2)


def test_a_newer_offer_replaces_the_older_and_says_what_changed(cast):
    first = stage.offered(cast)
    second = quotes.revise(first.quote, actor=cast.tobin)
    edits = quotes.Edits(options=(quotes.OptionEdit(method="line exchange", tenths=20),))
    plan = quotes.plan_for(cast.tobin, first.quote.vehicle, visit=first.quote.visit, edits=edits)
    second = quotes.write(plan, actor=cast.tobin, quote=first.quote, edition=second.edition)

    offer(cast, second)

    first.refresh_from_db()
    holder = cast.holder(f"{first.quote.number}/1", cast.customer("C-001"), opens="quote version")
    decision = selectors.customer_decision(holder)
    assert (first.state, decision.state) == ("replaced", "replaced")
    assert decision.changes[0] == "Option A was drain and fill for $183.64, now cooler-line fluid exchange for $474.45"
    assert len(decision.changes) == 3


@pytest.mark.parametrize(
    ("edit", "row"),
    [
        (quotes.OptionEdit(method="line exchange", tenths=0), "A.labor"),
        (quotes.OptionEdit(method="line exchange", prices={"part HF-1003": None}), "A.part HF-1003"),
        (quotes.OptionEdit(method="line exchange", extras=(quotes.ExtraLine("sublet", "flush"),)), "A.sublet flush"),
        (quotes.OptionEdit(method="warm-open line exchange"), "A.method"),
    ],
)
def test_an_offer_is_refused_with_the_row_named_and_the_draft_kept(cast, edit, row):
    version = stage.draft(cast, edits=quotes.Edits(options=(edit,)))

    with pytest.raises(Refusal) as refused:
        offer(cast, version)

    version.refresh_from_db()
    assert (refused.value.field, version.state) == (row, "draft")


def test_below_the_margin_floor_only_the_owner_may_offer_and_says_why(cast):
    edit = quotes.OptionEdit(method="line exchange", prices={"labor": 1_000})
    version = stage.draft(cast, edits=quotes.Edits(options=(edit,)))

    with pytest.raises(Refusal) as refused:
        offer(cast, version, below_floor_because="a friend")
    with pytest.raises(Refusal):
        quotes.offer(version, actor=cast.maren, edition=version.edition)
    assert refused.value.code == "quote.margin_floor"
    done = quotes.offer(version, actor=cast.maren, edition=version.edition, below_floor_because="settles a comeback")
    assert done.version.state == "offered"


def test_a_finding_noted_after_the_draft_bars_the_offer(cast):
    version = stage.draft(cast)
    note_finding(version.quote.visit, actor=cast.odo, code="K-14", state="confirmed", words="brass on the magnet")

    with pytest.raises(Refusal) as refused:
        offer(cast, version)

    assert refused.value.code == "quote.barred"
    plan = quotes.plan_for(cast.tobin, version.quote.vehicle, visit=version.quote.visit)
    assert [one.kind for one in plan.options] == ["diagnosis"]
    assert any("metal beyond fine paste" in row.reason for row in plan.barred)


def test_a_rate_changed_from_today_asks_for_a_new_draft_but_leaves_offers_alone(cast):
    before = stage.offered(cast)
    version = stage.draft(cast, "V-09")
    RateCard.objects.create(
        shop=cast.brw, sold_per_hour_cents=20_000, cost_per_hour_cents=5_000, from_on=cast.today, source="test"
    )

    with pytest.raises(Refusal) as refused:
        offer(cast, version)

    before.refresh_from_db()
    assert refused.value.code == "quote.terms_changed"
    assert (before.state, totals(before)) == ("offered", FOUR)


def test_the_second_of_two_writers_is_told_and_loses_nothing(cast):
    version = stage.draft(cast)
    plan = quotes.plan_for(cast.tobin, version.quote.vehicle, visit=version.quote.visit)
    quotes.write(plan, actor=cast.maren, quote=version.quote, edition=version.edition)

    with pytest.raises(Stale) as told:
        quotes.write(plan, actor=cast.tobin, quote=version.quote, edition=version.edition)

    assert told.value.message.startswith("Maren Holbeck saved")
    assert told.value.theirs["totals_cents"] == dict(FOUR)
    assert Quote.objects.count() == QuoteVersion.objects.count() == 1


def test_a_sheet_put_in_force_since_asks_for_a_new_draft_and_the_old_quote_keeps_its_own(cast):
    before = stage.offered(cast)
    version = quotes.revise(before.quote, actor=cast.tobin)
    old = UnitSheet.objects.get(unit__code="AL640")
    UnitSheet.objects.create(
        unit=old.unit, version=2, state="in force", from_on=cast.today, methods=old.methods, fluids=old.fluids
    )

    with pytest.raises(Refusal) as refused:
        offer(cast, version)

    assert refused.value.code == "quote.sheet_changed"
    assert QuoteVersion.objects.get(pk=before.pk).inputs["sheet_version"] == 1


def test_wrong_fluid_leaves_only_methods_that_replace_most(cast):
    visit = stage.take_in(cast, "V-01", answers={"other_fluid": visits.Answer(True, "a chain did it")})

    plan = quotes.plan_for(cast.tobin, visit.vehicle, visit=visit)

    assert [option.method for option in plan.options] == ["line exchange", "pan drop then line exchange"]
    reasons = {row.method: row.reason for row in plan.barred}
    assert reasons["repeated drain"] == "wrong or mixed fluid suspected: it replaces too little"


def test_a_diagnosis_has_no_course_and_pays_no_tax(cast):
    visit = stage.take_in(cast, "V-01", answers={"slips": visits.Answer(True, "late")})
    edits = quotes.Edits(options=(quotes.OptionEdit(kind="diagnosis"),))

    plan = quotes.plan_for(cast.tobin, visit.vehicle, visit=visit, edits=edits)
    version = quotes.write(plan, actor=cast.tobin)

    option = version.options.get()
    assert (option.kind, option.course, option.total_cents, option.tax_cents) == ("diagnosis", {}, 15_000, 0)
    assert offer(cast, version).version.state == "offered"


def test_saltreach_charges_by_the_liter_and_bills_no_supplies(cast):
    plan = quotes.plan_for(cast.lise, cast.vehicle("V-01"))

    lines = {line.kind: line for line in plan.options[2].priced.lines}
    assert (lines["fluid"].cost_cents, lines["fluid"].price_cents) == (6_063, 11_763)
    assert "supplies" not in lines
    assert lines["labor"].unit_price_cents == 15_600


def test_a_course_that_lets_the_pump_draw_air_is_refused_by_its_stage(cast):
    stages = ({"op": "drain", "to_ml": -2900}, {"op": "mix"}, {"op": "add", "volume_ml": 2900})
    version = stage.draft(cast, edits=quotes.Edits(options=(quotes.OptionEdit("line exchange", stages=stages),)))

    with pytest.raises(Refusal) as refused:
        offer(cast, version)

    assert refused.value.field == "A.course"
    assert "stage 2 (warm run) runs the engine below the pickup" in refused.value.message


def test_an_unsound_unit_gives_no_option_and_says_why(cast):
    vehicle = cast.vehicle("V-01")
    vehicle.identifications.update(state="disputed")

    plan = quotes.plan_for(cast.tobin, vehicle)

    assert (plan.options, plan.how_known) == ((), "disputed")
    assert plan.missing == "The transmission is in doubt (Alder 640). The shop owner settles it first."
    with pytest.raises(Refusal):
        quotes.write(plan, actor=cast.tobin)


def test_a_declined_version_can_be_revised_and_an_expired_one_is_moved_by_time_alone(cast):
    version = stage.offered(cast)
    with pytest.raises(Refusal):
        quotes.expire(version, actor=cast.clock)
    quotes.decline(version, actor=cast.tobin, person="Ansel Thornby")

    with pytest.raises(StateRefusal):
        quotes.decline(version, actor=cast.tobin)
    assert totals(quotes.revise(version.quote, actor=cast.tobin)) == FOUR
    assert quotes.expire_due(actor=cast.clock) == 0


def test_time_expires_what_is_past_its_day(cast):
    version = stage.offered(cast)

    clock.set_back_to(cast.morning + timedelta(days=15))
    try:
        moved = quotes.expire_due(actor=cast.clock)
    finally:
        clock.set_back_to(cast.morning)

    version.refresh_from_db()
    assert (moved, version.state) == (1, "expired")


def test_who_may_not_write_or_read_quotes(cast):
    version = stage.offered(cast)
    number = version.quote.number

    with pytest.raises(NotYours):
        quotes.plan_for(cast.odo, version.quote.vehicle)
    with pytest.raises(NotYours):
        selectors.quote_sheet(cast.odo, number)
    for read in (lambda: selectors.quote_sheet(cast.lise, number), lambda: selectors.quote_for(cast.lise, number)):
        with pytest.raises(Http404):
            read()


@pytest.mark.parametrize("count", [1, 4])
def test_the_quote_sheet_takes_six_queries_however_many_options(cast, count, django_assert_max_num_queries):
    methods = ("single drain", "repeated drain", "line exchange", "pan drop then line exchange")[:count]
    edits = quotes.Edits(options=tuple(quotes.OptionEdit(method=method) for method in methods))
    version = stage.draft(cast, edits=edits)
    actor = cast.tobin

    with django_assert_max_num_queries(6):
        sheet = selectors.quote_sheet(actor, version.quote.number)

    assert len(sheet.columns) == count
    assert sheet.columns[0].margin_cents == 12_199


def test_the_writer_looks_at_the_page_that_the_customer_will_see(cast):
    version = stage.offered(cast)

    page = selectors.preview(cast.tobin, version.quote.number, 1)

    assert [(choice.letter, choice.is_recommended) for choice in page.choices][2] == ("C", True)
    assert page.tolerance["words"] == "up to 10.00 or 10 % over, whichever is greater, never more than 50.00"
    assert not any(hasattr(choice, "cost_cents") for choice in page.choices)
    with pytest.raises(NotYours):
        selectors.customer_decision(cast.tobin)
    with pytest.raises(Http404):
        selectors.customer_decision(cast.ansel)


def test_what_changed_between_versions_is_said_for_each_option(cast):
    first = stage.offered(cast)
    edits = quotes.Edits(
        options=(
            quotes.OptionEdit(method="single drain", prices={"labor": 9_500}),
            quotes.OptionEdit(method="repeated drain", without=("HF-1002",), prices={"labor": 24_889}),
        )
    )
    plan = quotes.plan_for(cast.tobin, first.quote.vehicle, visit=first.quote.visit, edits=edits)
    second = quotes.write(plan, actor=cast.tobin, quote=first.quote)

    said = selectors.what_changed(first, second)

    assert said[0] == "Option A was $183.64, now $173.64"
    assert said[1].startswith("Option B was $395.69, now $")
    assert said[2] == "Option C (cooler-line fluid exchange) is no longer offered"
    assert selectors.what_changed(second, first)[2] == "Option C is new: cooler-line fluid exchange, $442.95"


def test_margins_are_shown_to_the_owner_and_to_who_wrote_the_quote(cast):
    version = stage.draft(cast)
    number = version.quote.number
    version.made_by = cast.maren.staff
    version.save()

    assert selectors.quote_sheet(cast.maren, number).columns[2].margin_ppm == 671_099
    assert selectors.quote_sheet(cast.tobin, number).columns[2].margin_ppm is None
    assert list(selectors.quotes_of(cast.tobin)) == [version.quote]


@pytest.mark.parametrize(
    ("edits", "code"),
    [
        (quotes.Edits(options=(quotes.OptionEdit(method="single drain"),) * 5), "plan.too_many"),
        (quotes.Edits(options=(quotes.OptionEdit(method="warp"),)), "plan.method"),
        (quotes.Edits(options=(quotes.OptionEdit(kind="addition"),)), "plan.kind"),
        (quotes.Edits(options=(quotes.OptionEdit(kind="party"),)), "plan.kind"),
    ],
)
def test_a_plan_that_makes_no_sense_is_refused(cast, edits, code):
    with pytest.raises(Refusal) as refused:
        quotes.plan_for(cast.tobin, cast.vehicle("V-01"), edits=edits)

    assert refused.value.code == code


def test_a_quote_is_revised_once_at_a_time_and_a_total_below_zero_is_none(cast):
    version = stage.offered(cast)
    quotes.revise(version.quote, actor=cast.tobin)
    with pytest.raises(StateRefusal):
        quotes.revise(version.quote, actor=cast.tobin)
    gift = quotes.ExtraLine("discount", "goodwill", unit_price_cents=-90_000)
    edits = quotes.Edits(options=(quotes.OptionEdit(method="single drain", extras=(gift,)),))

    plan = quotes.plan_for(cast.tobin, version.quote.vehicle, edits=edits)
    with pytest.raises(Refusal) as refused:
        quotes.write(plan, actor=cast.tobin)

    assert refused.value.code == "quote.below_zero"
    for deed in (quotes.revise, quotes.decline):
        with pytest.raises(Http404):
            deed(version.quote if deed is quotes.revise else version, actor=cast.lise)


def test_where_the_fluid_was_never_changed_one_partial_change_is_recommended_until_the_owner_decides(cast):
    visit = stage.take_in(cast, "V-01")
    assert quotes.plan_for(cast.tobin, visit.vehicle, visit=visit).recommended == "C"
    note_finding(visit, actor=cast.tobin, code="K-11", words="no, never")

    plan = quotes.plan_for(cast.tobin, visit.vehicle, visit=visit)

    partial = next(option for option in plan.options if option.method == "single drain")
    assert (plan.recommended, plan.why) == (
        partial.letter,
        "The fluid was never changed: a single partial change first.",
    )
    without = quotes.Edits((quotes.OptionEdit(method="line exchange"),))
    assert quotes.plan_for(cast.tobin, visit.vehicle, visit=visit, edits=without).recommended == ""
    override_finding(visit, actor=cast.maren, code="K-11", words="told of it", shown="signed")
    assert quotes.plan_for(cast.tobin, visit.vehicle, visit=visit).recommended == "C"
