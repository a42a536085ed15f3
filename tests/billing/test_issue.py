"""An invoice says what was agreed, once, and closes the work (job 7.8, 7.5, 11; I-01, I-03, I-07)."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.db import IntegrityError, transaction
from django.http import Http404

from shopserv.billing import bills, selectors, services
from shopserv.billing.models import Invoice, InvoiceLine
from shopserv.common.errors import NotYours, Refusal, Stale, StateRefusal
from shopserv.jobs.models import Authorization, Visit, WorkOrder
from shopserv.jobs.services import authorize
from shopserv.logbook.models import OdometerReading, ServiceRecord
from shopserv.papers.models import Paper
from shopserv.registry.models import Customer, ExemptionCertificate
from shopserv.shop.models import TrailEntry
from tests.billing import stage


def issued(cast, order: WorkOrder, **more) -> Invoice:
    return services.issue(order, actor=cast.tobin, edition=order.edition, **more)


def test_the_invoice_has_the_agreed_lines_and_cents(cast):
    order = stage.through(cast, stage.agreed(cast))

    invoice = issued(cast, order)

    assert (invoice.number, invoice.state) == ("BRW-2026-0001", "issued")
    # worked example of the unit: option C is 442.95, of it 8.32 tax on 133.13
    assert (invoice.net_cents, invoice.tax_cents, invoice.total_cents) == (43_463, 832, 44_295)
    assert invoice.tax_by_rate == [{"rate_ppm": 62_500, "base_cents": 13_313, "tax_cents": 832}]
    agreed = [(line.kind, line.price_cents, line.pk) for line in stage.option_of(order).lines.order_by("order")]
    assert list(invoice.lines.order_by("order").values_list("kind", "price_cents", "billed_line")) == agreed


def test_it_closes_the_work_readies_the_visit_and_writes_the_logbook(cast):
    order = stage.through(cast, stage.agreed(cast))
    before = cast.vehicle("V-01").forecasts.get(is_current=True).due_on

    issued(cast, order, odometer_out=63_186)

    order.refresh_from_db()
    record = ServiceRecord.objects.get(work_order_number=order.number)
    assert (order.state, order.odometer_out) == ("closed", 63_186)
    assert Visit.objects.get(pk=order.visit_id).state == "ready"
    assert (record.figure, record.method, record.fluid_code) == (63_186, "line exchange", "FEN2")
    assert (record.liters_in_ml, record.fraction_low_ppm, record.fraction_high_ppm) == (10_000, 857_514, 942_093)
    assert record.note.startswith("level at 107.6 °F (42.0 °C) by scan tool, tilt 0.1° and 0.2°")
    assert OdometerReading.objects.filter(vehicle=record.vehicle, figure=63_186, source="service").count() == 1
    assert cast.vehicle("V-01").forecasts.get(is_current=True).due_on > before


def test_paper_row_and_trail_are_one_and_frozen(cast):
    invoice = issued(cast, stage.through(cast, stage.agreed(cast)))
    paper = Paper.objects.get(kind="invoice", number=invoice.number)

    assert paper.snapshot_hash == invoice.snapshot_hash
    assert TrailEntry.objects.filter(what="invoice issued").count() == 1
    line = invoice.lines.first()
    for attempt in (
        lambda: Invoice.objects.filter(pk=invoice.pk).update(total_cents=1, net_cents=1, tax_cents=0),
        lambda: Invoice.objects.filter(pk=invoice.pk)._raw_delete("default"),
        lambda: InvoiceLine.objects.filter(pk=line.pk).update(price_cents=1),
        lambda: InvoiceLine.objects.filter(pk=line.pk).delete(),
        lambda: Paper.objects.filter(pk=paper.pk).update(snapshot="{}"),
    ):
        with pytest.raises(IntegrityError, match="issued rows never change"), transaction.atomic():
            attempt()


def test_a_second_invoice_for_the_same_work_is_refused_with_the_first_ones_number(cast):
    order = stage.through(cast, stage.agreed(cast))
    issued(cast, order)

    with pytest.raises(StateRefusal, match="Tobin issued invoice BRW-2026-0001"):
        issued(cast, order)
    assert Invoice.objects.count() == 1


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [
        ({"state": "in the bay"}, "the level is not set"),
        ({"state": "level set"}, "The second look has not said yes."),
        ({"closed_out_at": None}, "It is not closed out"),
        ({"state": "on hold"}, "it is on hold"),
        ({"state": "cut short"}, "only what a diagnosis or teardown covers"),
    ],
)
def test_what_is_missing_is_named_and_no_number_is_used(cast, changed, sentence):
    order = stage.through(cast, stage.agreed(cast), **changed)

    assert [one for one in selectors.blockers(cast.tobin, order) if sentence in one] != []
    with pytest.raises(Refusal, match=sentence):
        issued(cast, order)
    assert Invoice.objects.count() == 0


@pytest.mark.parametrize("what", ["level_records", "balance"])
def test_without_a_level_record_or_balance_it_is_refused(cast, what, monkeypatch):
    order = stage.agreed(cast)
    monkeypatch.setattr(stage, "level" if what == "level_records" else "balance", lambda *_: None)
    stage.through(cast, order)

    with pytest.raises(Refusal) as refused:
        issued(cast, order)
    assert ("level record" if what == "level_records" else "balance") in refused.value.message


def test_level_set_and_closed_out_is_enough_where_no_look_was_asked(cast):
    order = stage.through(cast, stage.agreed(cast), state="level set", rules={"look_asked": False})

    assert selectors.blockers(cast.tobin, order) == []
    assert issued(cast, order).number == "BRW-2026-0001"


def test_without_a_counted_yes_nothing_is_invoiced(cast):
    order = stage.through(cast, stage.agreed(cast))
    authorize.take_back(order.authorizations.get(), actor=cast.tobin, words="changed my mind")
    order.refresh_from_db()

    with pytest.raises(Refusal, match="the yes was taken back"):
        issued(cast, order)


def test_after_the_invoice_the_yes_cannot_be_taken_back(cast):
    order = stage.through(cast, stage.agreed(cast))
    issued(cast, order)

    with pytest.raises(StateRefusal, match="It is invoiced already"):
        authorize.take_back(order.authorizations.get(), actor=cast.tobin, words="too dear")


RULES = {  # worked tolerances on 442.95 with 8.32 of tax: what may be billed in all, on the rule's basis
    "none": ({"kind": "none", "base": "total"}, 44_295),
    "greater of, capped": (
        {"kind": "greater_of", "percent_ppm": 100_000, "amount_cents": 1_000, "cap_cents": 5_000, "base": "total"},
        44_295 + 4_429,
    ),
    "lesser of": ({"kind": "lesser_of", "percent_ppm": 100_000, "amount_cents": 1_000, "base": "total"}, 45_295),
    "amount": ({"kind": "amount", "amount_cents": 2_500, "base": "total"}, 46_795),
    "percent before tax": ({"kind": "percent", "percent_ppm": 100_000, "base": "before_tax"}, 43_463 + 4_346),
}


@pytest.mark.parametrize("name", RULES)
def test_one_cent_beyond_the_tolerance_is_refused_by_every_rule(cast, name, monkeypatch):
    rule, most = RULES[name]
    order = stage.through(cast, stage.agreed(cast))
    full = {"percent_ppm": None, "amount_cents": None, "cap_cents": None, "words": name, "source": "test", **rule}
    real = selectors.counted_of

    def with_rule(work_order: WorkOrder) -> Authorization:
        counted = real(work_order)
        counted.rule = full
        return counted

    monkeypatch.setattr(selectors, "counted_of", with_rule)
    room = most - (43_463 if rule["base"] == "before_tax" else 44_295)

    with pytest.raises(Refusal) as refused:
        issued(cast, order, more=(bills.More("labor", "rusted screws", room + 1),))
    assert refused.value.code == "invoice.beyond"
    assert "$0.01 needs a new yes" in refused.value.message
    if room:
        assert issued(cast, order, more=(bills.More("labor", "rusted screws", room),)).number == "BRW-2026-0001"


def test_nothing_but_small_work_can_be_added(cast):
    order = stage.through(cast, stage.agreed(cast))

    for one in (
        bills.More("part", "another filter", 100),
        bills.More("labor", "less", -100),
        bills.More("fee", " ", 1),
    ):
        with pytest.raises(Refusal) as refused:
            issued(cast, order, more=(one,))
        assert refused.value.code == "invoice.more"


def test_a_certificate_that_stands_on_the_day_takes_the_tax_off(cast):
    order = stage.through(cast, stage.agreed(cast))
    customer = Customer.objects.get(number="C-001")
    ExemptionCertificate.objects.create(
        customer=customer, number="EX-1", reason="school", from_on=cast.today, to_on=cast.today
    )

    invoice = issued(cast, order)

    assert (invoice.tax_cents, invoice.total_cents, invoice.tax_by_rate) == (0, 43_463, [])
    assert invoice.exemption_text == "exempt by certificate EX-1, school"


def test_a_certificate_that_ended_yesterday_takes_nothing_off(cast):
    order = stage.through(cast, stage.agreed(cast))
    ExemptionCertificate.objects.create(
        customer=Customer.objects.get(number="C-001"),
        number="EX-1",
        from_on=cast.today - timedelta(days=365),
        to_on=cast.today - timedelta(days=1),
    )

    invoice = issued(cast, order)

    assert (invoice.tax_cents, invoice.exemption_text) == (832, "")


def test_the_odometer_out_is_asked_and_cannot_be_below_the_way_in(cast):
    order = stage.through(cast, stage.agreed(cast), odometer_out=None)

    with pytest.raises(Refusal, match="was not read on the way out"):
        issued(cast, order)
    came = order.visit.vehicle.readings.filter(state="counted").latest("read_at")
    Visit.objects.filter(pk=order.visit_id).update(reading=came)
    with pytest.raises(Refusal, match="is less"):
        issued(cast, order, odometer_out=came.figure - 1)


def test_an_old_page_is_told_and_nothing_is_issued(cast):
    order = stage.through(cast, stage.agreed(cast))

    with pytest.raises(Stale):
        services.issue(order, actor=cast.tobin, edition=order.edition - 1)
    assert Invoice.objects.count() == 0


def test_terms_and_guarantee_are_frozen_with_it(cast):
    order = stage.through(cast, stage.agreed(cast))
    Customer.objects.filter(number="C-001").update(terms_days=30)

    invoice = issued(cast, order)

    assert invoice.due_on == cast.today + timedelta(days=30)
    assert invoice.guarantee_text == (
        "12 months or 12,000 mi from Nov 24, 2026, whichever comes first, on labor, parts, fluid."
    )


def test_who_may_issue_and_read(cast):
    order = stage.through(cast, stage.agreed(cast))

    for actor in (cast.odo, cast.sam):
        with pytest.raises(NotYours):
            services.issue(order, actor=actor, edition=order.edition)
    with pytest.raises(Http404):
        services.issue(order, actor=cast.lise, edition=order.edition)
    invoice = issued(cast, order)
    assert selectors.invoice_for(cast.maren, invoice.number) == invoice
    with pytest.raises(Http404):
        selectors.invoice_for(cast.lise, invoice.number)
    with pytest.raises(NotYours):
        selectors.invoice_for(cast.odo, invoice.number)
