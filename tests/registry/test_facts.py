"""What is known on a day: each day finds one row or none (I-17), and the newest word rules."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from django.db import IntegrityError, transaction

from shopserv.registry import selectors
from shopserv.registry.models import KeeperRecord, PlateRecord, UsePattern
from shopserv.registry.services import customers
from shopserv.shop.models import RateCard, RoleGrant


@pytest.mark.parametrize(
    ("day", "keeper"),
    [
        (date(2020, 3, 31), None),
        (date(2020, 4, 1), "C-006"),
        (date(2026, 2, 13), "C-006"),
        (date(2026, 2, 14), "C-013"),
        (date(2026, 11, 24), "C-013"),
    ],
)
def test_each_day_finds_one_keeper_or_none(cast, day, keeper):
    found = selectors.keeper_on(cast.vehicle("V-06"), day)

    assert (found.number if found else None) == keeper


@pytest.mark.parametrize("model", [KeeperRecord, PlateRecord, UsePattern, RateCard, RoleGrant])
def test_two_rows_of_one_subject_with_the_same_beginning_are_refused(cast, model):
    row = model.objects.order_by("pk")[0]
    row.pk = None

    with pytest.raises(IntegrityError), transaction.atomic():
        row.save(force_insert=True)


def test_a_plate_given_back_is_none(cast):
    car = cast.vehicle("V-01")
    PlateRecord.objects.create(vehicle=car, plate=None, from_on=cast.today)

    assert selectors.plate_on(car, cast.today) is None
    assert str(selectors.plate_on(car, cast.today - timedelta(days=1))) == "SAL 2100"


def test_the_use_of_the_day_is_read(cast):
    assert selectors.use_on(cast.vehicle("V-01"), cast.today).short_trip_ppm == 900_000


def test_a_unit_followed_by_another_is_noticed_by_the_build_month(cast):
    row = selectors.identification_of(cast.vehicle("V-02"))

    assert selectors.is_superseded(row, "2021-09")
    assert not selectors.is_superseded(row, "2021-06")
    assert not selectors.is_superseded(row, "")


def test_the_newest_word_about_a_purpose_rules(cast):
    point = cast.customer("C-001").contact_points.get(kind="e-mail")
    assert selectors.permission_at(point, "reminder")

    customers.permit(point, actor=cast.tobin, purpose="reminder", given=False, how="by telephone")
    assert not selectors.permission_at(point, "reminder")

    customers.permit(point, actor=cast.tobin, purpose="reminder", given=True, how="by telephone")
    assert selectors.permission_at(point, "reminder")


def test_no_word_is_no(cast):
    point = cast.customer("C-001").contact_points.get(kind="e-mail")

    assert not selectors.permission_at(point, "offer")
    assert selectors.permitted_points(cast.customer("C-011"), "status") == []
    assert [p.kind for p in selectors.permitted_points(cast.customer("C-001"), "reminder", "e-mail")] == ["e-mail"]


@pytest.mark.parametrize(("day", "valid"), [(date(2026, 11, 17), True), (date(2026, 11, 18), False)])
def test_a_certificate_holds_to_the_day_on_it(cast, day, valid):
    assert bool(selectors.exemption_on(cast.customer("C-100"), day)) is valid


@pytest.mark.parametrize(
    ("day", "valid"),
    [(date(2025, 1, 5), False), (date(2025, 1, 6), True), (date(2026, 12, 31), True), (date(2027, 1, 1), False)],
)
def test_an_agreement_holds_from_and_to_the_days_on_it(cast, day, valid):
    assert bool(selectors.agreement_on(cast.customer("C-100"), day)) is valid
