"""A link for the customer to a version that was offered without one."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.test import Client

from shopserv.common import clock
from shopserv.common.errors import Refusal, StateRefusal
from shopserv.jobs.services import quotes
from shopserv.registry.models import ContactPoint
from shopserv.shop.models import CustomerLink, TrailEntry
from tests.jobs import stage
from tests.web.counter.test_flow import key_of, tobin  # noqa: F401


@pytest.fixture
def version(cast):
    """V-01's quote on offer, no link made."""
    return stage.offered(cast)


def address(version) -> str:
    return f"/counter/quote/{version.quote.number}/link/"


def make(client, version, **changes):
    fields = {"once": key_of(client.get(address(version))), "contact": str(mail(version).pk), **changes}
    return client.post(address(version), fields)


def mail(version) -> ContactPoint:
    return version.quote.customer.contact_points.get(kind="e-mail")


def test_the_sheet_leads_to_the_link_which_is_shown_there_and_opens_the_page(tobin, version):  # noqa: F811
    sheet = f"/counter/quote/{version.quote.number}/"
    assert address(version) in tobin.get(sheet).content.decode()

    answer = make(tobin, version)

    assert answer.headers["Location"] == sheet
    given = tobin.get(sheet).context["link"]
    assert given["write"].startswith("mailto:")
    path = given["address"].partition("/c/")[2]
    assert Client().get(f"/c/{path}").status_code == 200
    assert TrailEntry.objects.filter(what="link made", after__about=f"{version.quote.number}/1").count() == 1


def test_pressed_twice_one_link_is_made(tobin, version):  # noqa: F811
    fields = {"once": key_of(tobin.get(address(version))), "contact": str(mail(version).pk)}

    first, second = (tobin.post(address(version), fields) for _ in range(2))

    assert first.headers["Location"] == second.headers["Location"]
    assert CustomerLink.objects.filter(subject=f"{version.quote.number}/1").count() == 1


@pytest.mark.parametrize("contact", ["", "0", "x"])
def test_without_an_address_of_the_customer_none_is_made(tobin, version, contact):  # noqa: F811
    answer = make(tobin, version, contact=contact)

    assert answer.status_code == 422
    assert 'href="#id_contact"' in answer.content.decode()
    assert not CustomerLink.objects.filter(subject=f"{version.quote.number}/1").exists()


def test_behind_a_draft_the_link_is_to_the_version_on_offer(tobin, cast, version):  # noqa: F811
    quotes.revise(version.quote, actor=cast.tobin)

    make(tobin, version)

    assert CustomerLink.objects.filter(subject=f"{version.quote.number}/1").count() == 1
    assert tobin.get(f"/counter/quote/{version.quote.number}/").context["link"]["to"] == mail(version).as_typed


def test_what_is_no_longer_on_offer_gets_no_link(tobin, cast, version):  # noqa: F811
    contact = mail(version)
    clock.set_back_to(cast.morning + timedelta(days=60))
    with pytest.raises(StateRefusal, match="is expired: only what is on offer"):
        quotes.give_link(version, actor=cast.tobin, contact=contact)
    clock.set_back_to(cast.morning)

    quotes.decline(version, actor=cast.tobin)

    with pytest.raises(StateRefusal, match="is declined"):
        quotes.give_link(version, actor=cast.tobin, contact=contact)
    assert tobin.get(address(version)).status_code == 409
    assert address(version) not in tobin.get(f"/counter/quote/{version.quote.number}/").content.decode()


def test_a_link_is_not_made_for_somebody_else(cast, version):
    other = ContactPoint.objects.exclude(customer=version.quote.customer).first()

    with pytest.raises(Refusal) as refused:
        quotes.give_link(version, actor=cast.tobin, contact=other)

    assert refused.value.code == "quote.contact"


def test_a_customer_who_permits_no_message_is_to_be_called(tobin, version):  # noqa: F811
    version.quote.customer.contact_points.update(state="bounced")

    assert "Call, and record the yes." in tobin.get(address(version)).content.decode()
