"""Customers, their addresses and what they permit. Cases of the catalog of bad input are named by their id."""

from __future__ import annotations

import pytest

from shopserv.common import clock
from shopserv.common.errors import NotYours, Refusal, Stale
from shopserv.outbox.models import Letter
from shopserv.registry import selectors
from shopserv.registry.services import customers
from shopserv.shop.models import TrailEntry


def new_entries(what):
    return list(TrailEntry.objects.filter(what=what).values_list("who", "subject"))


def test_a_new_customer_is_written_down_with_a_number_and_found_by_name(cast):
    row = customers.add(actor=cast.tobin, name="Café  Rosa", phone="202 555 0150", email="Rosa@Example.com")

    assert row.number == "C-101"
    assert list(row.contact_points.order_by("pk").values_list("kind", "value", "as_typed")) == [
        ("phone", "+12025550150", "202 555 0150"),
        ("e-mail", "rosa@example.com", "Rosa@Example.com"),
    ]
    assert new_entries("customer added") == [("Tobin Ashgrave", "Café Rosa")]


def test_b089_one_name_in_two_compositions_is_one_name(cast):
    row = customers.add(actor=cast.tobin, name="Cafe\u0301")

    assert row.name == "Caf\u00e9"


def test_b088_control_and_format_signs_stay_out_of_names(cast):
    row = customers.add(actor=cast.tobin, name="Ro\u202esa\u200b Lind\x00")

    assert row.name == "Rosa Lind"


@pytest.mark.parametrize("typed", ["555-01", "tel:+1;drop", "call me"])  # B045, B047
def test_what_is_no_telephone_number_is_refused_with_the_typed_text(cast, typed):
    with pytest.raises(Refusal) as refused:
        customers.add(actor=cast.tobin, name="Rosa", phone=typed)

    assert refused.value.code == "phone.invalid"
    assert typed in refused.value.message


def test_b046_a_number_with_trunk_zero_and_extension_is_kept_in_normal_form(cast):
    row = customers.add(actor=cast.tobin, name="Rosa", phone="+49 (0)30 901820 ext. 12")

    assert row.contact_points.get().value == "+4930901820 ext 12"


@pytest.mark.parametrize("typed", ["rosa", "rosa@", "@example.com", "ro sa@example.com", "rosa@example"])
def test_what_is_no_address_is_refused(cast, typed):
    with pytest.raises(Refusal) as refused:
        customers.add(actor=cast.tobin, name="Rosa", email=typed)

    assert refused.value.code == "email.invalid"


def test_a_customer_needs_a_name(cast):
    with pytest.raises(Refusal) as refused:
        customers.add(actor=cast.tobin, name=" \u200b ")

    assert (refused.value.code, refused.value.field) == ("required", "name")


def test_the_same_address_twice_is_refused(cast):
    with pytest.raises(Refusal) as refused:
        customers.add_contact_point(cast.customer("C-001"), actor=cast.tobin, kind="e-mail", typed="ANSEL@example.com")

    assert refused.value.code == "contact.twice"


def test_a_stale_change_shows_what_stands_now_and_loses_nothing(cast):
    row = cast.customer("C-001")
    customers.change(row, actor=cast.tobin, edition=1, note="came by tram")

    with pytest.raises(Stale) as stale:
        customers.change(cast.customer("C-001"), actor=cast.maren, edition=1, note="rings first")

    assert stale.value.theirs == {"note": "came by tram"}
    assert cast.customer("C-001").note == "came by tram"
    assert cast.customer("C-001").edition == 2


def test_a_changed_name_is_found_and_the_old_one_is_not(cast):
    customers.change(cast.customer("C-001"), actor=cast.tobin, edition=1, name="Ansel Overbeck")

    assert [m.number for m in selectors.find(cast.tobin, "Overbeck")] == ["V-01"]
    assert selectors.find(cast.tobin, "Thornby") == []


def test_withdrawing_a_permission_cancels_the_waiting_letters_in_the_same_deed(cast):
    point = cast.customer("C-001").contact_points.get(kind="e-mail")
    common = {
        "shop": cast.brw, "contact_point_key": point.pk, "address_kind": "e-mail", "address": point.value,
        "subject": "x", "text": "x", "about": "x", "not_before": clock.now(),
    }  # fmt: skip
    Letter.objects.create(once_key="a", purpose="reminder", **common)
    Letter.objects.create(once_key="b", purpose="status", **common)

    customers.permit(point, actor=cast.tobin, purpose="reminder", given=False, how="by telephone")

    assert list(Letter.objects.order_by("once_key").values_list("state", flat=True)) == ["canceled", "waiting"]
    assert new_entries("permission withdrawn") == [("Tobin Ashgrave", "Ansel Thornby")]


def test_a_customer_decides_for_own_addresses_alone(cast):
    own = cast.customer("C-001").contact_points.get(kind="e-mail")
    other = cast.customer("C-002").contact_points.get(kind="e-mail")

    customers.permit(own, actor=cast.ansel, purpose="reminder", given=False, how="on the page")
    with pytest.raises(Refusal):
        customers.permit(other, actor=cast.ansel, purpose="reminder", given=False, how="on the page")


@pytest.mark.parametrize("who", ["odo", "sam", "ansel"])
def test_only_writer_and_owner_write_customers_down(cast, who):
    with pytest.raises(NotYours):
        customers.add(actor=getattr(cast, who), name="Rosa")
