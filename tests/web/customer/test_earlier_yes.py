"""What the customer reads when there is more than one answer: the earlier yes, the second yes, the yes after a None."""

from __future__ import annotations

import pytest
from django.test import Client

from shopserv.jobs.models import Authorization, CustomerEvent
from shopserv.jobs.services import quotes
from shopserv.jobs.services.authorize import take_back
from tests.web.customer.test_decision import words

STANDS = "What was agreed stands: option C of version 1, $442.95 in all, by Ansel Thornby on Nov 24, 2026"


@pytest.fixture
def newer(link):
    """Version 2, on offer after a yes to option C of version 1, with a link of its own."""
    link.yes()
    return offer(link, quotes.revise(link.version.quote, actor=link.cast.tobin))


def offer(link, draft):
    contact = link.cast.customer("C-001").contact_points.get(kind="e-mail")
    link.first = link.home
    made = quotes.offer(draft, actor=link.cast.tobin, edition=draft.edition, contact=contact)
    link.version, link.home = made.version, f"/c/{made.token}/"
    return link


def test_a_newer_version_says_which_yes_stands_and_that_another_takes_its_place(newer):
    said = words(Client().get(newer.home))

    assert STANDS in said
    assert "A yes here takes its place; “None” leaves it as it is." in said


def test_none_on_a_newer_version_leaves_the_yes_and_says_so(newer):
    Client().post(f"{newer.home}none/", {"once": "k"})

    said = words(Client().get(newer.home))
    assert Authorization.objects.get().state == "counted"
    assert "This version replaces nothing, and nothing is charged for it." in said
    assert STANDS in said
    assert "Nothing will be done" not in said


def test_added_work_declined_leaves_the_yes_and_says_so(link):
    link.yes()
    more = quotes.ExtraLine("part", "cooler hose", unit_price_cents=4_000, cost_cents=2_000)
    edits = quotes.Edits(options=(quotes.OptionEdit(kind="addition", extras=(more,)),))
    quote = link.version.quote
    plan = quotes.plan_for(
        link.cast.tobin, quote.vehicle, visit=quote.visit, edits=edits, adds_to=Authorization.objects.get()
    )
    offer(link, quotes.write(plan, actor=link.cast.tobin, quote=quote))
    before = words(Client().get(link.home))

    Client().post(f"{link.home}none/", {"once": "k"})

    said = words(Client().get(link.home))
    assert f"{STANDS}" in before
    assert "A yes here adds to it" in before
    assert "Nothing is added, and nothing is charged for this version." in said
    assert STANDS in said


def test_a_yes_that_another_took_the_place_of_no_longer_stands(newer):
    newer.yes(option="B")

    said = words(Client().get(newer.first))
    assert "A later yes took its place." in said
    assert "This answer stands." not in said
    assert "What was agreed stands: option B of version 2, $395.69 in all" in said


def test_a_yes_to_another_option_in_a_second_tab_is_told_that_it_did_not_count(link):
    link.yes()

    second = link.yes(option="A", once="another key")

    said = words(second)
    assert second.status_code == 409
    assert "Your yes to option A for $183.64 did not count: this quote was answered before" in said
    assert "Agreed for $442.95 by Ansel Thornby" in said
    assert Authorization.objects.get().amount_cents == 44_295


def test_a_yes_to_the_same_option_in_a_second_tab_shows_the_receipt(link):
    link.yes()

    assert link.yes(once="another key").status_code == 302


def test_a_yes_once_more_after_it_was_taken_back_is_told_that_it_did_not_count(link):
    link.yes()
    take_back(Authorization.objects.get(), actor=link.cast.tobin, words="wants to think")

    again = link.yes(once="another key")

    said = words(again)
    assert again.status_code == 409
    assert "Your yes to option C for $442.95 did not count" in said
    assert "The yes to it was taken back on Nov 24, 2026" in said
    assert not Authorization.objects.filter(state="counted").exists()


def test_a_yes_after_none_is_told_when_it_was_declined_and_whom_to_call(link):
    second = Client()
    key = second.get(link.home).context["form"].key
    Client().post(f"{link.home}none/", {"once": "k"})

    answer = link.yes(second, once=key)

    said = words(answer)
    assert answer.status_code == 409
    assert "counts for nothing yet: this quote was declined on Nov 24, 2026" in said
    assert f'please call us, <a href="tel:{link.cast.brw.phone}">' in said
    assert "newer quote" not in said
    assert CustomerEvent.objects.get().what == "late yes"


@pytest.mark.parametrize("chosen", [None, "no"])
def test_old_parts_that_were_not_asked_for_are_not_called_unneeded(link, chosen):
    link.yes(old_parts=chosen)

    said = words(Client().get(link.home))
    assert "You did not ask for the old parts." in said
    assert "not needed" not in said


def test_a_replaced_version_says_how_to_come_to_the_newer_one(link):
    link.replace()

    said = words(Client().get(link.home))
    assert "by itself" not in said
    assert f'ask us for it, phone <a href="tel:{link.cast.brw.phone}">' in said
