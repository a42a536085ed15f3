"""What stands on the morning of the scenario: forecasts, the stopped reminder, and who is expected."""

from __future__ import annotations

from datetime import date, datetime, time
from zoneinfo import ZoneInfo

from shopserv.demo.rows import ZONE, Tally, noon
from shopserv.demo.vehicles import AS_OF, everyone
from shopserv.jobs.models import Visit
from shopserv.jobs.services import worth
from shopserv.registry import search
from shopserv.registry.models import Customer, Vehicle
from shopserv.registry.selectors import keeper_on
from shopserv.reminders.models import Forecast, Reminder
from shopserv.reminders.services import forecasts
from shopserv.reminders.services.facts import facts_of
from shopserv.reminders.worth import Worth
from shopserv.shop import numbers
from shopserv.shop.actors import loader_actor
from shopserv.shop.models import Shop

# Who is expected when. F-09 stands in the yard without a slip; the van in F-11's place is another (section 6).
EXPECTED = [
    ("07:55", "BRW", "F-09"),
    ("08:05", "BRW", "V-02"),
    ("08:10", "BRW", "V-01"),
    ("09:15", "BRW", "F-11"),
    ("10:20", "SLT", "V-07"),
    ("13:30", "BRW", "V-09"),
    ("16:20", "SLT", "V-05"),
    ("17:00", "BRW", "V-04"),
]
SELLER_WAS_WRITTEN_ON = date(2026, 2, 2)


def load_forecasts(tally: Tally, vehicles: dict[str, Vehicle]) -> None:
    """A forecast for every vehicle that has none."""
    have = set(Forecast.objects.values_list("vehicle_id", flat=True))
    new = [vehicle for vehicle in vehicles.values() if vehicle.pk not in have]
    if not new:
        return
    tally.made["forecasts"] = forecasts.renew_many(new, on=AS_OF, values=_work_values(new))


def _work_values(vehicles: list[Vehicle]) -> dict[int, Worth]:
    """What the recommended work on each vehicle costs at the shop that saw it last."""
    shops = {shop.pk: shop for shop in Shop.objects.select_related("business")}
    values: dict[int, Worth] = {}
    for facts in facts_of(vehicles, on=AS_OF):
        if value := worth.value_of(loader_actor(shops[facts.shop_pk]), facts.vehicle):
            values[facts.vehicle.pk] = value
    return values


def load_reminder_of_the_seller(tally: Tally, vehicles: dict[str, Vehicle], customers: dict[str, Customer]) -> None:
    """The reminder planned for the seller of a vehicle before it was sold: stopped, and kept (trap T-6)."""
    for one in everyone():
        if "planned_reminder_for" not in one:
            continue
        vehicle, seller = vehicles[one["no"]], customers[one["planned_reminder_for"]]
        if Reminder.objects.filter(vehicle=vehicle, customer=seller).exists():
            continue
        old = forecasts.kept_from(vehicle, on=SELLER_WAS_WRITTEN_ON)
        point = seller.contact_points.get(kind="e-mail")
        row = Reminder(
            vehicle=vehicle,
            shop=old.shop,
            forecast=old,
            customer=seller,
            contact_point_key=point.pk,
            lead_days=42,
            send_on=SELLER_WAS_WRITTEN_ON,
            state="stopped",
            why=seller.note,
        )
        tally.ensure(Reminder, ("vehicle", "forecast", "channel"), [row])


def load_expected(tally: Tally, vehicles: dict[str, Vehicle], shops: dict[str, Shop]) -> None:
    """The visits expected on the day, each with its number."""
    have = set(Visit.objects.values_list("vehicle_id", "expected_at"))
    made = 0
    for hour, code, number in EXPECTED:
        vehicle, shop = vehicles[number], shops[code]
        at = datetime.combine(AS_OF, time.fromisoformat(hour), ZoneInfo(ZONE))
        keeper = keeper_on(vehicle, AS_OF)
        if keeper is None or (vehicle.pk, at) in have:
            continue
        visit = Visit.objects.create(
            shop=shop,
            number=numbers.draw(shop, "visit", AS_OF.year),
            vehicle=vehicle,
            customer=keeper,
            state_since=noon(AS_OF),
            expected_at=at,
            brought_by="" if keeper.is_fleet else keeper.name,
        )
        search.index_number(visit.number, vehicle, shop.pk)
        made += 1
    if made:
        tally.made["visits"] = made
