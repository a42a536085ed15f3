"""The owner reads the trail of the own shop, by day, person and thing, page by page."""

from __future__ import annotations

from datetime import timedelta

import pytest

from shopserv.common import clock, frozen
from shopserv.common.errors import NotYours
from shopserv.shop import pins, selectors, trail
from shopserv.shop.models import TrailEntry


def write(cast, count=1, who="tobin", what="something done", thing="V-01"):
    for _ in range(count):
        trail.write(getattr(cast, who), what, cast.vehicle(thing))


def told(page) -> list[tuple[str, str, str]]:
    return [(row.who, row.what, row.subject) for row in page.rows]


def test_the_newest_stands_first(cast):
    write(cast, what="first")
    write(cast, what="second")

    assert told(selectors.trail_page(cast.maren))[:2] == [
        ("Tobin Ashgrave", "second", "V-01"),
        ("Tobin Ashgrave", "first", "V-01"),
    ]


def test_another_shops_entries_do_not_exist(cast):
    write(cast, who="lise", what="done at Saltreach")

    assert "done at Saltreach" not in {row.what for row in selectors.trail_page(cast.maren).rows}
    assert "done at Saltreach" not in {row.what for row in selectors.trail_page(cast.maren, whole_house=True).rows}


def test_what_belongs_to_no_shop_stands_with_the_house(cast):
    assert "scenario loaded" not in {row.what for row in selectors.trail_page(cast.maren).rows}
    assert "scenario loaded" in {row.what for row in selectors.trail_page(cast.maren, whole_house=True).rows}


def test_a_day_is_the_day_of_the_shop(cast):
    clock.set_back_to(cast.morning.replace(hour=23, minute=59))  # the next day by universal time
    write(cast, what="late")
    clock.set_back_to(cast.morning.replace(hour=0, minute=1) + timedelta(days=1))
    write(cast, what="early")

    assert [row.what for row in selectors.trail_page(cast.maren, on=cast.today).rows] == ["late"]
    assert [row.what for row in selectors.trail_page(cast.maren, on=cast.today + timedelta(days=1)).rows] == ["early"]


def test_person_and_thing_narrow_it(cast):
    write(cast, who="tobin", thing="V-01")
    write(cast, who="odo", thing="V-01")
    write(cast, who="odo", thing="V-12")

    assert told(selectors.trail_page(cast.maren, who="Odo Brackley", thing="v-0")) == [
        ("Odo Brackley", "something done", "V-01")
    ]


def test_refused_tries_are_found_alone(cast):
    write(cast)
    pins.set_pin(cast.person("Odo"), actor=cast.odo, pin="2512")
    trail.refused(cast.odo, pins.WRONG, cast.person("Odo"))
    trail.refused(cast.tobin, "override refused", cast.vehicle("V-01"))
    trail.write_refused()

    rows = selectors.trail_page(cast.maren, refused=True).rows

    assert [row.what for row in rows] == ["override refused", "wrong PIN"]
    assert [selectors.is_refused(row) for row in rows] == [True, True]


def test_pages_by_key_show_every_entry_once(cast):
    write(cast, 25)
    seen, before = [], None
    while True:
        page = selectors.trail_page(cast.maren, before=before, size=10)
        seen += [row.pk for row in page.rows]
        before = page.before
        if before is None:
            break

    assert seen == sorted(set(seen), reverse=True)
    assert len(seen) == TrailEntry.objects.filter(shop=cast.brw).count()


@pytest.mark.parametrize("rows", [1, 300])
def test_a_page_takes_one_query(cast, rows, django_assert_num_queries):
    write(cast, rows)
    maren = cast.maren

    with django_assert_num_queries(1):
        page = selectors.trail_page(maren, who="Tobin Ashgrave", size=300)

    assert len(page.rows) == rows


def test_a_changed_entry_is_seen_on_its_page_and_in_the_chain(cast):
    write(cast, 3)
    trail.seal()
    row = selectors.trail_page(cast.maren).rows[1]
    assert selectors.trail_page(cast.maren).broken == frozenset()
    frozen.lift_guards()
    TrailEntry.objects.filter(pk=row.pk).update(who="Nobody")
    frozen.set_guards()

    assert selectors.trail_page(cast.maren).broken == {row.pk}
    assert list(selectors.chain(cast.maren).breaks) == [row.pk]


def test_the_chain_says_how_much_it_holds(cast):
    write(cast, 3)
    trail.seal()

    found = selectors.chain(cast.maren)

    last = TrailEntry.objects.order_by("-pk")[0]
    assert found == selectors.Chain(TrailEntry.objects.count(), 0, [], last.own_hash)


@pytest.mark.parametrize("who", ["tobin", "odo", "sam", "ansel", "clock"])
def test_nobody_but_the_owner_reads_it(cast, who):
    actor = getattr(cast, who)

    for read in (selectors.trail_page, selectors.trail_people, selectors.chain):
        with pytest.raises(NotYours):
            read(actor)


def test_all_who_have_or_had_a_role_may_be_asked_for(cast):
    names = selectors.trail_people(cast.maren)

    assert names == sorted(names)
    assert {"Tobin Ashgrave", "Maren Holbeck"} <= set(names)
    assert "Lise Varnholt" not in names
