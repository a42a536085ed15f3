"""Issued rows refuse to be changed or deleted by the engine itself; the test asks both engines in turn."""

from __future__ import annotations

import pytest
from django.db import IntegrityError, connection, transaction
from django.db.models import F

from shopserv.catalog.models import SheetValue, UnitSheet
from shopserv.common import clock, frozen
from shopserv.jobs.models import Finding, Line, Option, Quote, QuoteVersion, Visit
from shopserv.logbook.models import OdometerReading, ServiceRecord
from shopserv.papers.models import Paper
from shopserv.registry.models import MessageConsent
from shopserv.shop.models import TrailEntry


def refuses(rows, **changes) -> bool:
    """Whether the engine refuses to change `rows`."""
    try:
        with transaction.atomic():
            assert rows.update(**changes) == 1
    except IntegrityError as error:
        return frozen.MESSAGE in str(error)
    return False


def refuses_to_delete(rows) -> bool:
    try:
        with transaction.atomic():
            rows._raw_delete(rows.db)
    except IntegrityError as error:
        return frozen.MESSAGE in str(error)
    return False


def one(model):
    return model.objects.filter(pk=model.objects.order_by("pk").values_list("pk", flat=True)[0])


@pytest.fixture
def paper(cast):
    row = Paper.objects.create(
        shop=cast.brw,
        kind="quote",
        number="BRW-Q-1",
        snapshot="{}",
        snapshot_hash="a",
        calc_version="1",
        issued_at=clock.now(),
    )
    return Paper.objects.filter(pk=row.pk)


@pytest.fixture
def version(cast):
    car, keeper = cast.vehicle("V-01"), cast.customer("C-001")
    quote = Quote.objects.create(shop=cast.brw, number="BRW-Q-1", vehicle=car, customer=keeper, made_at=clock.now())
    return QuoteVersion.objects.create(shop=cast.brw, quote=quote, version=1, made_at=clock.now())


def option_of(cast, version):
    return Option.objects.create(
        shop=cast.brw, version=version, letter="A", title="drain and fill", net_cents=100, tax_cents=0, total_cents=100,
        low_total_cents=100, cost_cents=50,
    )  # fmt: skip


def line_of(cast, option, order=1):
    return Line.objects.create(
        shop=cast.brw, option=option, order=order, kind="labor", text="labor", price_cents=100, low_price_cents=100
    )


def test_a_paper_keeps_its_snapshot_for_ever(paper):
    assert refuses(paper, snapshot="{1}")
    assert refuses(paper, number="BRW-Q-2")
    assert refuses_to_delete(paper)


def test_a_papers_file_is_made_once(paper):
    assert not refuses(paper, file="papers/x.pdf", file_hash="f", pages=1)
    assert refuses(paper, file_hash="g")
    assert refuses(paper, pages=2)


@pytest.mark.parametrize("model", [MessageConsent, OdometerReading, ServiceRecord, TrailEntry, UnitSheet, SheetValue])
def test_rows_of_the_record_are_never_deleted(cast, model):
    assert refuses_to_delete(one(model))


@pytest.mark.parametrize(
    ("model", "column", "value"),
    [
        (MessageConsent, "given", False),
        (OdometerReading, "figure", 1),
        (ServiceRecord, "method", "another"),
        (TrailEntry, "who", "somebody else"),
        (UnitSheet, "methods", []),
        (SheetValue, "as_typed", "another"),
    ],
)
def test_rows_of_the_record_refuse_another_value(cast, model, column, value):
    assert refuses(one(model), **{column: value})


def test_a_reading_may_be_set_aside_and_a_sheet_withdrawn(cast):
    assert not refuses(one(OdometerReading), state="set aside", reason="mistyped")
    assert not refuses(one(UnitSheet), state="withdrawn")


def test_the_same_value_again_is_no_change(cast):
    assert not refuses(one(OdometerReading), figure=F("figure"))


def test_a_trail_entry_is_sealed_once(cast):
    row = one(TrailEntry)
    if row.get().own_hash == "":
        assert not refuses(row, own_hash="a", previous_hash="b")

    assert refuses(row, own_hash="c")


def test_a_sheet_in_force_takes_no_further_value(cast):
    sheet = UnitSheet.objects.order_by("pk")[0]

    with pytest.raises(IntegrityError, match=frozen.MESSAGE), transaction.atomic():
        SheetValue.objects.create(sheet=sheet, what="new", source="x", source_grade="x", at=clock.now())


def test_a_draft_may_be_worked_on_and_an_offered_version_may_not(cast, version):
    option = option_of(cast, version)
    line = line_of(cast, option)
    option_row, line_row = Option.objects.filter(pk=option.pk), Line.objects.filter(pk=line.pk)
    assert not refuses(line_row, price_cents=120)
    assert not refuses(option_row, title="another")

    assert not refuses(QuoteVersion.objects.filter(pk=version.pk), state="offered", snapshot_hash="a")

    assert refuses(line_row, price_cents=130)
    assert refuses(option_row, total_cents=130)
    assert refuses(QuoteVersion.objects.filter(pk=version.pk), snapshot_hash="b")
    assert refuses_to_delete(line_row)
    assert refuses_to_delete(option_row)
    with pytest.raises(IntegrityError, match=frozen.MESSAGE), transaction.atomic():
        line_of(cast, option, order=2)
    assert not refuses(QuoteVersion.objects.filter(pk=version.pk), state="agreed")


def test_a_draft_may_go(cast, version):
    line = line_of(cast, option_of(cast, version))

    assert not refuses_to_delete(Line.objects.filter(pk=line.pk))


def test_a_finding_is_only_followed_by_another(cast):
    visit = Visit.objects.order_by("pk")[0]
    found = Finding.objects.create(
        shop=visit.shop, visit=visit, code="K-01", state="suspected", by="Odo Brackley", at=clock.now()
    )

    assert refuses(Finding.objects.filter(pk=found.pk), state="not confirmed")


def test_every_trigger_that_is_asked_for_stands_on_its_table(cast):
    asked = {trigger.name for trigger in frozen.triggers(connection.vendor)}
    catalog = {
        "sqlite": "SELECT name FROM sqlite_master WHERE type = 'trigger'",
        "postgresql": "SELECT tgname FROM pg_trigger WHERE NOT tgisinternal",
    }[connection.vendor]
    with connection.cursor() as cursor:
        cursor.execute(catalog)
        there = {name for (name,) in cursor.fetchall()}

    assert asked <= there
    assert len(asked) >= 35


def test_lifted_guards_let_a_migration_fill_a_column_and_are_made_again(cast):
    row = one(OdometerReading)
    frozen.lift_guards()
    assert not refuses(row, by="a migration")

    frozen.set_guards()

    assert refuses(row, by="anybody")
