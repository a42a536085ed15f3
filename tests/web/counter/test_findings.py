"""Findings decided, lifted and noted at the counter, by those whom the list names."""

from __future__ import annotations

import pytest
from django.test import Client

from shopserv.jobs.models import WorkOrder
from shopserv.jobs.selectors.visits import standing
from shopserv.jobs.services.findings import note_finding
from shopserv.shop.models import TrailEntry
from tests.jobs import bay_stage, stage
from tests.web.counter.test_flow import key_of

pytestmark = pytest.mark.django_db


def signed_in(actor):
    client = Client()
    client.force_login(actor.staff)
    return client


def say(client, visit, act, code, words="", **more):
    page = client.get(f"/counter/visit/{visit.number}/")
    said = {"once": key_of(page), "act": act, "finding": code, "finding_words": words, **more}
    return client.post(f"/counter/visit/{visit.number}/finding/", said)


def state_of(visit, code):
    return next((one.state for one in standing(visit) if one.code == code), "")


def test_the_owner_decides_and_the_work_is_cleared(cast):
    order = bay_stage.written_up(cast)
    note_finding(order.visit, actor=cast.odo, code="K-04", words="P07xx stored")
    maren, tobin = signed_in(cast.maren), signed_in(cast.tobin)
    page = tobin.get(f"/counter/work/{order.number}/")
    clear = {"act": "clear", "bay": bay_stage.north(cast).pk, "technician": cast.odo.staff.pk}
    before = tobin.post(f"/counter/work/{order.number}/", {**clear, "once": key_of(page)})

    decided = say(maren, order.visit, "decide", "K-04", "copied, old", order=order.number)
    page = tobin.get(f"/counter/work/{order.number}/")
    after = tobin.post(f"/counter/work/{order.number}/", {**clear, "once": key_of(page)})

    assert before.status_code == 409
    assert decided.headers["Location"] == f"/counter/work/{order.number}/"
    assert after.status_code == 302
    assert WorkOrder.objects.get(pk=order.pk).state == "cleared"
    assert TrailEntry.objects.filter(what="finding overridden").count() == 1


def test_held_for_a_decision_the_work_goes_on_once_it_is_decided(cast):
    from shopserv.jobs.services import bay

    order = bay_stage.in_the_bay(cast)
    bay.find(order, actor=cast.odo, code="K-04", words="codes", once_key="k4")
    maren = signed_in(cast.maren)
    where = f"/counter/work/{order.number}/"
    go = {"act": "resume", "words": "goes on, copied"}
    before = maren.post(where, {**go, "once": key_of(maren.get(where))})

    say(maren, order.visit, "decide", "K-04", "copied to the record")
    after = maren.post(where, {**go, "once": key_of(maren.get(where))})

    assert (before.status_code, after.status_code) == (409, 302)
    assert WorkOrder.objects.get(pk=order.pk).state == "in the bay"


@pytest.mark.control
@pytest.mark.parametrize("who", ["tobin", "odo", "sam"])
def test_who_is_not_the_owner_decides_nothing(cast, who):
    visit = stage.take_in(cast, "V-01")
    note_finding(visit, actor=cast.odo, code="K-04")
    key = key_of(signed_in(cast.tobin).get(f"/counter/visit/{visit.number}/"))
    client = signed_in(getattr(cast, who))

    said = {"once": key, "act": "decide", "finding": "K-04", "finding_words": "goes on"}
    answer = client.post(f"/counter/visit/{visit.number}/finding/", said)

    assert answer.status_code == 403
    assert state_of(visit, "K-04") == "suspected"


@pytest.mark.parametrize("code", ["K-01", "K-12", "K-15"])
def test_some_nobody_may_override(cast, code):
    visit = stage.take_in(cast, "V-01")
    note_finding(visit, actor=cast.odo, code=code, signs=["pink milk"] if code == "K-01" else ())

    answer = say(signed_in(cast.maren), visit, "decide", code, "I say so")

    assert answer.status_code == 422
    assert "nobody may override this" in answer.content.decode()
    assert "I say so" in answer.content.decode()
    assert state_of(visit, code) == "suspected"
    assert TrailEntry.objects.filter(what="override refused").count() == 1


def test_coolant_is_not_lifted_by_words(cast):
    visit = stage.take_in(cast, "V-01")
    note_finding(visit, actor=cast.odo, code="K-01", signs=["pink milk"])

    answer = say(signed_in(cast.maren), visit, "lift", "K-01", "looks clear now")

    assert answer.status_code == 422
    assert state_of(visit, "K-01") == "suspected"


def test_a_wrong_answer_of_the_slip_is_mended_by_a_further_entry(cast):
    visit = stage.take_in(cast, "V-01")

    noted = say(signed_in(cast.tobin), visit, "note", "K-07", "drips, he says now")
    lifted = say(signed_in(cast.maren), visit, "lift", "K-07", "was the air conditioning")

    assert (noted.status_code, lifted.status_code) == (302, 302)
    assert list(visit.findings.order_by("pk").values_list("state", flat=True)) == ["suspected", "not confirmed"]


def test_without_words_nothing_is_decided_and_the_page_says_where(cast):
    visit = stage.take_in(cast, "V-01")
    note_finding(visit, actor=cast.odo, code="K-04")

    answer = say(signed_in(cast.maren), visit, "decide", "K-04")

    assert answer.status_code == 422
    assert "Why, in words" in answer.content.decode()
    assert state_of(visit, "K-04") == "suspected"


def test_the_page_says_who_decides(cast):
    visit = stage.take_in(cast, "V-01")
    note_finding(visit, actor=cast.odo, code="K-04")

    writer = signed_in(cast.tobin).get(f"/counter/visit/{visit.number}/").content.decode()
    owner = signed_in(cast.maren).get(f"/counter/visit/{visit.number}/").content.decode()

    assert "the shop owner decides, with words" in writer
    assert "go on in spite of it" not in writer
    assert "go on in spite of it" in owner


def test_a_decision_sent_twice_is_one(cast):
    visit = stage.take_in(cast, "V-01")
    note_finding(visit, actor=cast.odo, code="K-04")
    maren = signed_in(cast.maren)
    key = key_of(maren.get(f"/counter/visit/{visit.number}/"))
    said = {"once": key, "act": "decide", "finding": "K-04", "finding_words": "old codes"}

    first = maren.post(f"/counter/visit/{visit.number}/finding/", said)
    second = maren.post(f"/counter/visit/{visit.number}/finding/", said)

    assert first.headers["Location"] == second.headers["Location"]
    assert visit.findings.filter(state="overridden").count() == 1
