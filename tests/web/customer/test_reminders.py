"""Reminders on or off on a customer's link: by a press alone, for own addresses alone."""

from __future__ import annotations

import pytest
from django.test import Client

from shopserv.registry.models import ContactPoint, MessageConsent
from shopserv.registry.selectors import permission_at
from shopserv.reminders.models import Reminder
from shopserv.reminders.services import letters


@pytest.fixture
def point(link):
    return link.cast.customer("C-001").contact_points.get(kind="e-mail")


def turn(link, point, way, key="k"):
    return Client().post(f"{link.home}reminders/", {"once": key, "address": point.pk, "turn": way})


def test_the_page_leads_back_to_the_estimate(link, point):
    assert f'href="{link.home}"' in Client().get(f"{link.home}reminders/").content.decode()


def test_the_page_says_whether_reminders_are_on_and_shows_no_whole_address(link, point):
    page = Client().get(f"{link.home}reminders/")

    assert page.status_code == 200
    assert "reminders are on" in page.content.decode()
    assert point.value not in page.content.decode()


def test_b123_looking_changes_no_permission(link):
    before = MessageConsent.objects.count()

    Client().get(f"{link.home}reminders/")
    Client().head(f"{link.home}reminders/")

    assert MessageConsent.objects.count() == before


def test_turned_off_is_noted_with_its_way_and_stops_what_is_planned(link, point):
    letters.plan(["V-01"], actor=link.cast.lise)  # Saltreach saw it last

    assert turn(link, point, "off").status_code == 302

    assert permission_at(point, "reminder") is False
    newest = MessageConsent.objects.order_by("-pk").first()
    assert (newest.how, newest.by) == ("page", None)
    assert Reminder.objects.get(vehicle__number="V-01").state == "stopped"


def test_turned_off_and_on_again_it_is_on(link, point):
    turn(link, point, "off", "k1")
    turn(link, point, "on", "k2")

    assert permission_at(point, "reminder") is True


def test_pressed_twice_it_is_noted_once(link, point):
    before = MessageConsent.objects.count()

    assert [turn(link, point, "off").status_code for _ in range(2)] == [302, 302]
    assert MessageConsent.objects.count() == before + 1


@pytest.mark.parametrize("way", ["", "maybe"])
def test_another_word_changes_nothing(link, point, way):
    before = MessageConsent.objects.count()

    assert turn(link, point, way).status_code == 404
    assert MessageConsent.objects.count() == before


def test_the_address_of_somebody_else_is_not_there(link):
    other = ContactPoint.objects.filter(kind="e-mail").exclude(customer__number="C-001").first()
    before = MessageConsent.objects.count()

    assert turn(link, other, "off").status_code == 404
    assert MessageConsent.objects.count() == before
