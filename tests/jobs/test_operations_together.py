"""Operations of the price list beside a method: time and rate of the day, what they share sold once. Invented times."""

from __future__ import annotations

import pytest

from shopserv.common.errors import Refusal
from shopserv.jobs import sums
from shopserv.jobs.selectors.work import agreed_for
from shopserv.jobs.services import quotes
from shopserv.jobs.services.authorize import authorize
from shopserv.jobs.snapshots.quote import differences
from tests.jobs.stage import by_telephone, option, take_in

pytestmark = pytest.mark.django_db

REPAIR = quotes.ExtraLine(kind="labor", text="fill plug repair", number="fill plug repair")
RUN = quotes.ExtraLine(kind="labor", text="adaptation run", number="adaptation run")


def labor_of(planned):
    return [
        (line.text, line.quantity_thousandths, line.price_cents)
        for line in planned.priced.lines
        if line.kind == "labor"
    ]


def plan(cast, *extras, **more):
    visit = take_in(cast, "V-01")
    edits = quotes.Edits(options=(quotes.OptionEdit(method="line exchange", extras=extras),))
    return quotes.plan_for(cast.tobin, visit.vehicle, visit=visit, edits=edits, **more)


def test_a_further_operation_has_the_time_and_rate_of_the_list_and_what_it_shares_comes_off(cast):
    [planned] = plan(cast, REPAIR).options

    assert labor_of(planned) == [
        ("line exchange", 1_800, 27_000),
        ("fill plug repair", 900, 13_500),
        ("overlap removed: raise and lower the vehicle, road test and leak check", -200, -3_000),
    ]
    assert planned.faults == ()
    assert [line.cost_cents for line in planned.priced.lines if line.kind == "labor"] == [7_560, 3_780, -840]


def test_what_three_share_comes_off_twice(cast):
    [planned] = plan(cast, REPAIR, RUN).options

    assert labor_of(planned)[2:] == [
        ("adaptation run", 400, 6_000),
        ("overlap removed: raise and lower the vehicle, road test and leak check", -300, -4_500),
    ]


def test_the_list_says_what_may_be_sold_beside_a_method(cast):
    assert plan(cast).inputs["operations"] == [["adaptation run", 4], ["fill plug repair", 9]]


def test_an_operation_that_is_not_on_the_list_is_refused(cast):
    with pytest.raises(Refusal) as refusal:
        plan(cast, quotes.ExtraLine(kind="labor", text="polish", number="polish"))

    assert refusal.value.code == "labor.unknown"


def test_the_same_cents_come_out_again_and_an_addition_takes_off_what_was_agreed_before(cast):
    visit = take_in(cast, "V-01")
    edits = quotes.Edits(options=(quotes.OptionEdit(method="line exchange", extras=(REPAIR,)),))
    version = quotes.write(quotes.plan_for(cast.tobin, visit.vehicle, visit=visit, edits=edits), actor=cast.tobin)
    version = quotes.offer(version, actor=cast.tobin, edition=version.edition).version
    assert differences(version) == []
    chosen = option(version, "A")
    order = authorize(chosen, actor=cast.tobin, consent=by_telephone(chosen, words_read="Option A"))
    yes = order.authorizations.get()

    more = quotes.Edits(options=(quotes.OptionEdit(kind="addition", extras=(RUN,)),))
    [added] = quotes.plan_for(cast.tobin, visit.vehicle, visit=visit, edits=more, adds_to=yes).options

    assert labor_of(added) == [
        ("adaptation run", 400, 6_000),
        ("overlap removed: road test and leak check", -100, -1_500),
    ]
    [agreed] = agreed_for(cast.tobin, order)
    assert [line.text for line in agreed.option.lines.all() if line.kind == "labor"] == [
        "line exchange",
        "fill plug repair",
    ]
    assert sums.operations_of(yes.option.snapshot) == [("line exchange", 18), ("fill plug repair", 9)]
