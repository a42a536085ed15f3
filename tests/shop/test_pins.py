"""PINs carry a name on a shared tablet (N-18)."""

from __future__ import annotations

import pytest

from shopserv.common.errors import NotYours, Refusal
from shopserv.demo.house import demo_pin
from shopserv.shop import pins, trail
from shopserv.shop.models import TrailEntry


def code_of(cast, pin, first_name="Pilar"):
    with pytest.raises(Refusal) as refused:
        pins.check_pin(cast.person(first_name), pin, actor=cast.odo)
    trail.write_refused()
    return refused.value.code


def test_the_right_pin_passes_and_writes_nothing(cast):
    before = TrailEntry.objects.count()

    pins.check_pin(cast.person("Pilar"), demo_pin("PS"), actor=cast.odo)

    assert TrailEntry.objects.count() == before


def test_a_wrong_pin_is_refused_and_seen_on_the_trail(cast):
    assert code_of(cast, "0001") == "pin.wrong"
    assert TrailEntry.objects.filter(what="wrong PIN", subject="Pilar Senderos").count() == 1


def test_five_wrong_ones_rest_the_pin_even_for_the_right_one(cast):
    for _ in range(5):
        assert code_of(cast, "0001") == "pin.wrong"

    assert code_of(cast, demo_pin("PS")) == "pin.rest"


def test_who_has_left_has_no_pin(cast):
    assert code_of(cast, "1234", "Rufus") == "pin.none"


@pytest.mark.parametrize("pin", ["123", "123456789", "12a4", "1111", "", "\u0661\u0662\u0663\u0664"])
def test_a_pin_has_4_to_8_digits_not_all_the_same(cast, pin):
    with pytest.raises(Refusal) as refused:
        pins.set_pin(cast.person("Odo"), actor=cast.odo, pin=pin)

    assert refused.value.code == "pin.form"


def test_one_sets_the_own_pin_and_the_owner_anybodys(cast):
    pins.set_pin(cast.person("Odo"), actor=cast.odo, pin="4711")
    pins.set_pin(cast.person("Odo"), actor=cast.maren, pin="4712")

    pins.check_pin(cast.person("Odo"), "4712", actor=cast.odo)
    with pytest.raises(NotYours):
        pins.set_pin(cast.person("Odo"), actor=cast.tobin, pin="4713")
