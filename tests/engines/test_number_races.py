"""Sixteen writers draw invoice numbers and one in twenty rolls back: none is missing, none is double (I-02).

The control draws by max()+1, read before the deed, and must see a double; were it to pass, the race proved nothing.
"""

from __future__ import annotations

import random
import threading
from concurrent.futures import ThreadPoolExecutor

import pytest
from django.db import OperationalError, connections, transaction

from shopserv.billing import services
from shopserv.billing.models import Invoice
from shopserv.common.errors import Refusal
from shopserv.jobs.models import WorkOrder
from shopserv.shop import numbers
from shopserv.shop.models import NumberSeries
from tests.billing import stage

WRITERS, DRAWS = 16, 25
ROLLED_BACK = 0.05


class RolledBack(Exception):
    pass


def at_once(act, writers: int = WRITERS) -> list:
    """What each of the writers came to, all of them starting together."""
    barrier = threading.Barrier(writers)

    def run(number: int):
        try:
            barrier.wait(timeout=30)
            return act(number)
        finally:
            connections.close_all()

    with ThreadPoolExecutor(writers) as pool:
        return list(pool.map(run, range(writers)))


def drawing(draw):
    """The act: so many deeds that draw a number last, some of which are rolled back."""

    def act(writer: int) -> list[str]:
        dice, drawn = random.Random(writer), []
        for _ in range(DRAWS):
            try:
                number = draw(fails=dice.random() < ROLLED_BACK)
            except RolledBack:
                continue
            drawn.append(number)
        return drawn

    return act


def numbers_of(outcomes: list[list[str]]) -> list[int]:
    return sorted(int(number.rsplit("-", 1)[1]) for drawn in outcomes for number in drawn)


def test_b119_invoice_numbers_are_gapless_under_sixteen_writers_and_roll_backs(cast_for_races):
    shop = cast_for_races.brw

    def draw(fails: bool) -> str:
        with transaction.atomic():
            number = numbers.draw(shop, "invoice", 2026)
            if fails:
                raise RolledBack
            return number

    found = numbers_of(at_once(drawing(draw)))

    assert found == list(range(1, len(found) + 1))
    assert len(found) < WRITERS * DRAWS  # some were rolled back
    assert NumberSeries.objects.get(shop=shop, kind="invoice", year=2026).next == len(found) + 1


def test_each_year_and_each_shop_has_a_row_of_its_own(cast_for_races):
    series = [(shop, year) for shop in (cast_for_races.brw, cast_for_races.slt) for year in (2026, 2027)]

    def act(writer: int) -> str:
        with transaction.atomic():
            return numbers.draw(*[(shop, "invoice", year) for shop, year in series][writer % 4])

    found = sorted(at_once(act))

    wanted = [f"{shop}-{year}-{count:04d}" for shop in ("BRW", "SLT") for year in (2026, 2027) for count in range(1, 5)]
    assert found == wanted


@pytest.mark.control
def test_the_greatest_number_and_one_is_drawn_twice(cast_for_races):
    shop = cast_for_races.brw
    drawn: list[int] = []

    def draw(fails: bool) -> str:
        number = max(drawn, default=0) + 1  # read before the deed, as anybody would who counts rows
        with transaction.atomic():
            NumberSeries.objects.filter(shop=shop).update(next=number + 1)
            if fails:
                raise RolledBack
        drawn.append(number)
        return f"BRW-2026-{number:04d}"

    try:
        found = numbers_of(at_once(drawing(draw)))
    except OperationalError as collided:  # writers that wait for each other too long prove it as well
        pytest.fail(f"the control ended early: {collided}")

    assert len(set(found)) < len(found)


def test_sixteen_who_issue_the_same_work_make_one_invoice(cast_for_races):
    order = stage.through(cast_for_races, stage.agreed(cast_for_races))
    actor, edition = cast_for_races.tobin, order.edition

    def act(writer: int) -> str:
        mine = WorkOrder.objects.get(pk=order.pk)
        try:
            return services.issue(mine, actor=actor, edition=edition).number
        except Refusal as told:
            return told.code

    outcomes = sorted(at_once(act))

    assert outcomes == ["BRW-2026-0001"] + ["invoice.issued"] * (WRITERS - 1)
    assert Invoice.objects.count() == 1


def test_a_deed_that_fails_gives_its_number_back(cast_for_races, monkeypatch):
    orders = [stage.through(cast_for_races, stage.agreed(cast_for_races, number, "A")) for number in ("V-01", "V-08")]
    real = services._save

    def broken(*args):
        real(*args)
        raise RolledBack

    monkeypatch.setattr(services, "_save", broken)
    with pytest.raises(RolledBack):
        services.issue(orders[0], actor=cast_for_races.tobin, edition=orders[0].edition)
    monkeypatch.setattr(services, "_save", real)

    invoice = services.issue(orders[1], actor=cast_for_races.tobin, edition=orders[1].edition)

    assert invoice.number == "BRW-2026-0001"
    assert WorkOrder.objects.get(pk=orders[0].pk).state == "second look done"
