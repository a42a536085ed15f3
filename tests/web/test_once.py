"""A form that is sent twice acts once."""

from __future__ import annotations

import pytest
from django.http import HttpResponse, HttpResponseRedirect
from django.test import RequestFactory

from shopserv.shop.models import OnceKey, TrailEntry
from shopserv.shop.trail import refused, write
from shopserv.web.once import acts_once

pytestmark = pytest.mark.django_db


def post(cast, **fields):
    request = RequestFactory().post("/counter/x/", fields)
    request.actor = cast.tobin
    return request


def test_the_second_answer_is_that_of_the_first(cast):
    @acts_once
    def view(request):
        write(request.actor, "tried", request.actor.shop)
        return HttpResponseRedirect("/there/")

    before = TrailEntry.objects.count()

    answers = [view(post(cast, once="k1", words="a")) for _ in range(3)]

    assert [a.headers["Location"] for a in answers] == ["/there/"] * 3
    assert TrailEntry.objects.count() == before + 1


def test_a_form_that_failed_may_be_mended_and_sent_with_its_key(cast):
    @acts_once
    def view(request):
        write(request.actor, "tried", request.actor.shop)
        return HttpResponseRedirect("/there/") if request.POST["words"] == "good" else HttpResponse(status=422)

    before = TrailEntry.objects.count()

    assert view(post(cast, once="k2", words="bad")).status_code == 422
    assert TrailEntry.objects.count() == before
    assert view(post(cast, once="k2", words="good")).status_code == 302


def test_a_key_that_was_used_for_other_entries_is_refused(cast):
    @acts_once
    def view(request):
        return HttpResponseRedirect("/there/")

    view(post(cast, once="k3", words="a"))

    assert view(post(cast, once="k3", words="b")).status_code == 422


@pytest.mark.parametrize("key", ["", "k" * 256])
def test_a_form_without_a_usable_key_is_refused(cast, key):
    view = acts_once(lambda request: HttpResponseRedirect("/there/"))

    assert view(post(cast, once=key)).status_code == 400


def test_keys_of_two_people_do_not_meet(cast):
    view = acts_once(lambda request: HttpResponseRedirect(f"/{request.actor.name}/"))
    other = post(cast, once="k4")
    other.actor = cast.maren

    assert view(post(cast, once="k4")).headers["Location"] != view(other).headers["Location"]
    assert OnceKey.objects.filter(key="k4").count() == 2


def test_a_refused_try_is_written_although_the_form_failed(cast):
    @acts_once
    def view(request):
        refused(request.actor, "tried what is barred", request.actor.shop)
        return HttpResponse(status=422)

    view(post(cast, once="k5"))

    assert TrailEntry.objects.filter(what="tried what is barred").count() == 1
