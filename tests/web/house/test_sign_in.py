"""The door: typed as people type it, and slow for whoever guesses."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.test import Client

from shopserv.common import clock
from shopserv.shop import trail
from shopserv.shop.models import TrailEntry
from tests.web.office.conftest import browser

pytestmark = pytest.mark.django_db
PHRASE = "weir lane ropewalk 14"
HERE, ELSEWHERE = "192.0.2.7", "198.51.100.9"


@pytest.fixture
def tobin(cast):
    cast.tobin.staff.set_password(PHRASE)
    cast.tobin.staff.save(update_fields=["password"])
    return cast.tobin.staff


def try_(name, phrase="a guess", *, at=HERE):
    return Client(REMOTE_ADDR=at).post("/sign-in/", {"sign_in": name, "phrase": phrase})


def wrong(name, times, *, at=HERE):
    return [try_(name, at=at).status_code for _ in range(times)]


def test_capitals_and_blanks_around_a_name_are_no_fault(tobin):
    name = tobin.sign_in

    answers = [try_(typed, PHRASE).status_code for typed in (name, name.title(), f" {name.upper()} ")]

    assert answers == [302] * 3


def test_the_field_asks_for_an_e_mail_and_lets_no_telephone_change_it(db):
    page = Client().get("/sign-in/").content.decode()

    assert ">E-mail" in page
    assert 'type="email" name="sign_in"' in page
    assert 'autocapitalize="off" spellcheck="false"' in page


def test_after_five_wrong_phrases_none_is_looked_at_for_a_minute_but_elsewhere(tobin):
    five = wrong(tobin.sign_in, 5)

    sixth = try_(tobin.sign_in.upper(), PHRASE)

    assert five == [422] * 5
    assert sixth.status_code == 429
    assert 1 <= int(sixth.headers["Retry-After"]) <= 60
    assert "Try again in 1 minute." in sixth.content.decode()
    assert tobin.sign_in.upper() in sixth.content.decode()
    assert try_(tobin.sign_in, PHRASE, at=ELSEWHERE).status_code == 302


def test_the_rest_grows_to_a_quarter_of_an_hour_and_ends(tobin, monkeypatch):
    start, waits = clock.now(), []
    passed = timedelta()
    monkeypatch.setattr(clock, "now", lambda: start + passed)
    wrong(tobin.sign_in, 5)
    for _ in range(6):
        waits.append(round(int(try_(tobin.sign_in).headers["Retry-After"]) / 60))
        passed += timedelta(minutes=waits[-1], seconds=1)
        assert try_(tobin.sign_in).status_code == 422

    passed += timedelta(minutes=15, seconds=1)

    assert waits == [1, 2, 4, 8, 15, 15]
    assert try_(tobin.sign_in, PHRASE).status_code == 302


def test_a_name_that_nobody_has_is_answered_the_same(tobin):
    known, unknown = wrong(tobin.sign_in, 7), wrong("nobody@example.com", 7)

    assert unknown == known == [422] * 5 + [429] * 2


def test_fifty_wrong_ones_of_any_names_rest_the_place(tobin, settings):
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    answers = [try_(f"guess{n}@example.com").status_code for n in range(51)]

    assert answers == [422] * 50 + [429]
    assert try_(tobin.sign_in, PHRASE).status_code == 429


def test_the_owner_sees_wrong_sign_ins_among_the_refused(cast, tobin):
    wrong(tobin.sign_in, 1)
    wrong("Slipped Phrase Typed Here", 1)
    rows = TrailEntry.objects.filter(what="sign-in refused").order_by("pk")

    ours = browser(cast.maren).get("/office/trail/?only=refused").content.decode()
    house = browser(cast.maren).get("/office/trail/?only=refused&of=house").content.decode()

    assert [(row.who, row.subject, row.from_where) for row in rows] == [
        ("somebody at the door", "Tobin Ashgrave", HERE),
        ("somebody at the door", "a sign-in that nobody has", HERE),
    ]
    assert "<b>sign-in refused</b>" in ours
    assert "a sign-in that nobody has" in house
    assert "Slipped" not in str(list(rows.values()))
    assert trail.seal() >= 0
    assert trail.breaks() == []


def test_behind_a_proxy_of_the_house_the_place_is_what_the_proxy_saw(tobin, settings):
    settings.BEHIND_PROXY = True
    proxied = Client(REMOTE_ADDR="127.0.0.1")
    asked = {"sign_in": tobin.sign_in, "phrase": "a guess"}
    forged = [proxied.post("/sign-in/", asked, headers={"x-forwarded-for": f"10.0.0.{n}, {HERE}"}) for n in range(6)]

    other = proxied.post("/sign-in/", {**asked, "phrase": PHRASE}, headers={"x-forwarded-for": ELSEWHERE})

    assert [answer.status_code for answer in forged] == [422] * 5 + [429]
    assert other.status_code == 302
