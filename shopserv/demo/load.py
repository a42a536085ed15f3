"""The whole scenario in one transaction: one deed, one row on the trail."""

from __future__ import annotations

from django.db import transaction

from shopserv.demo import day, goods, house, looks, people, vehicles
from shopserv.demo.rows import Tally, scenario
from shopserv.registry import search
from shopserv.shop import trail
from shopserv.shop.actors import Actor, loader_actor
from shopserv.shop.models import Business

WAITING = ("batches", "stock", "waste_containers")


@transaction.atomic
def load_all(*, actor: Actor | None = None) -> Tally:
    """Load all of the scenario that the tables can hold; what is there already is left as it is."""
    actor = actor or loader_actor()
    tally = Tally()
    places = house.load_places(tally)
    shops = house.load_shops(tally, places)
    house.load_terms(tally, shops)
    staff = house.load_staff(tally, shops)
    goods.load_fluids(tally)
    units = goods.load_units(tally)
    goods.load_parts(tally, units)
    looks.load_looks(tally, units)
    customers = people.load_customers(tally, staff)
    cars = vehicles.load_vehicles(tally, shops, places, customers)
    vehicles.load_identifications(tally, cars, units)
    vehicles.load_history(tally, cars, shops)
    search.index_all()
    day.load_forecasts(tally, cars)
    day.load_reminder_of_the_seller(tally, cars, customers)
    day.load_expected(tally, cars, shops)
    if tally.total:
        trail.write(actor, "scenario loaded", Business.objects.get(), rows=tally.made, refused=tally.refused)
    return tally


def waiting() -> dict[str, int]:
    """What of the scenario waits for tables of later issues: its name and how many rows."""
    return {name.replace("_", " "): len(scenario()[name]) for name in WAITING}
