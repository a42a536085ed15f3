"""The cast of the tests: the people, vehicles and customers of the demonstration, and nobody else.

Brindlewick: Tobin the writer, Odo and Pilar the technicians, Sam the parts keeper, Maren the owner, Ansel the
customer. Saltreach: Lise, a writer; Jory and Keziah, technicians. Rufus has left. It is Tuesday, 2026-11-24, 07:30.
"""

from __future__ import annotations

from datetime import date, datetime, timedelta
from functools import cached_property
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from django.db import connection, transaction
from django.test import TransactionTestCase

from shopserv.catalog.models import Unit
from shopserv.common import clock, frozen
from shopserv.demo.load import load_all
from shopserv.registry.models import Customer, Vehicle
from shopserv.shop.actors import Actor, clock_actor, link_actor, loader_actor, staff_actor
from shopserv.shop.links import make_link
from shopserv.shop.models import Shop, Staff

TODAY = date(2026, 11, 24)
MORNING = datetime(2026, 11, 24, 7, 30, tzinfo=ZoneInfo("America/New_York"))


class Cast:
    """Actors by first name; shops, vehicles, customers and units by their code. Read anew in each test."""

    today = TODAY
    morning = MORNING

    @cached_property
    def brw(self) -> Shop:
        return Shop.objects.select_related("business", "climate").get(code="BRW")

    @cached_property
    def slt(self) -> Shop:
        return Shop.objects.select_related("business", "climate").get(code="SLT")

    def person(self, first_name: str) -> Staff:
        return Staff.objects.get(name__startswith=f"{first_name} ")

    def actor(self, first_name: str, shop: Shop | None = None) -> Actor:
        return staff_actor(self.person(first_name), shop or self.brw)

    @cached_property
    def tobin(self) -> Actor:
        return self.actor("Tobin")

    @cached_property
    def odo(self) -> Actor:
        return self.actor("Odo")

    @cached_property
    def pilar(self) -> Actor:
        return self.actor("Pilar")

    @cached_property
    def sam(self) -> Actor:
        return self.actor("Sam")

    @cached_property
    def maren(self) -> Actor:
        return self.actor("Maren")

    @cached_property
    def lise(self) -> Actor:
        return self.actor("Lise", self.slt)

    @cached_property
    def jory(self) -> Actor:
        return self.actor("Jory", self.slt)

    @cached_property
    def keziah(self) -> Actor:
        return self.actor("Keziah", self.slt)

    @cached_property
    def rufus(self) -> Actor:
        return self.actor("Rufus")

    @cached_property
    def clock(self) -> Actor:
        return clock_actor(self.brw)

    @cached_property
    def loader(self) -> Actor:
        return loader_actor(self.brw)

    @cached_property
    def ansel(self) -> Actor:
        """Ansel with a link that opens his vehicle, V-01."""
        return self.holder("V-01", self.customer("C-001"))

    def holder(self, vehicle: str, customer: Customer, opens: str = "vehicle") -> Actor:
        """The holder of a new link."""
        link, _ = make_link(
            actor=self.tobin,
            opens=opens,
            subject=vehicle,
            holder=customer.name,
            customer_key=customer.pk,
            expires_at=clock.real_now() + timedelta(days=14),
        )
        return link_actor(link)

    def vehicle(self, number: str) -> Vehicle:
        return Vehicle.objects.select_related("home_climate", "first_shop").get(number=number)

    def customer(self, number: str) -> Customer:
        return Customer.objects.get(number=number)

    def unit(self, code: str) -> Unit:
        return Unit.objects.get(code=code)


def lift_guards_before_emptying() -> None:
    """Let a test with real transactions empty its database: frozen rows refuse even that."""
    emptying = TransactionTestCase._fixture_teardown

    def lifted(self: Any) -> None:
        frozen.lift_guards()
        emptying(self)
        frozen.set_guards()

    TransactionTestCase._fixture_teardown = lifted  # type: ignore[method-assign]


def load_scenario() -> None:
    """The scenario at its own hour, as `manage.py load_demo` does it."""
    clock.set_back_to(MORNING)
    load_all()


KEPT = "kept_{}"


def keep_scenario() -> None:
    """A copy of every table beside it: loading takes seconds, putting rows back does not."""
    with connection.cursor() as cursor:
        for table in connection.introspection.django_table_names(only_existing=True, include_views=False):
            cursor.execute(f'CREATE TABLE "{KEPT.format(table)}" AS SELECT * FROM "{table}"')  # noqa: S608


def put_scenario_back() -> None:
    """The rows of the scenario as they were after loading, in place of whatever stands there."""
    frozen.lift_guards()
    with transaction.atomic(), connection.cursor() as cursor:
        for table in connection.introspection.django_table_names(only_existing=True, include_views=False):
            cursor.execute(f'DELETE FROM "{table}"')  # noqa: S608
            cursor.execute(f'INSERT INTO "{table}" SELECT * FROM "{KEPT.format(table)}"')  # noqa: S608
    frozen.set_guards()


@pytest.fixture(scope="session")
def django_db_setup(django_db_setup: None, django_db_blocker: Any, tmp_path_factory: Any) -> None:
    """Every database test finds the scenario: it is loaded once into each worker's own database."""
    from django.conf import settings  # slow import: settings are ready only when the session has begun

    settings.CLOCK_OFFSET_FILE = str(tmp_path_factory.mktemp("clock") / "offset")
    lift_guards_before_emptying()
    with django_db_blocker.unblock():
        load_scenario()
        keep_scenario()


@pytest.fixture
def cast(db: None) -> Cast:
    """The cast on the morning of the scenario; each test's own changes are rolled back."""
    clock.set_back_to(MORNING)
    return Cast()


@pytest.fixture
def cast_for_races(transactional_db: None) -> Cast:
    """The cast where threads commit for real; the scenario is put back, since the test before has emptied it."""
    clock.set_back_to(MORNING)
    put_scenario_back()
    return Cast()
