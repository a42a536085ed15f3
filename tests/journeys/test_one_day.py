"""From the telephone to the reminder in a browser: full data, capacity not known, one of the fleet."""

from __future__ import annotations

import re

from shopserv.jobs.models import WorkOrder
from shopserv.reminders.models import Forecast
from tests.journeys.day import Day


def worked_and_invoiced(day: Day, shown: dict[str, str]) -> dict[str, str]:
    """From the agreed work to the papers; kind of paper -> what it says."""
    day.sign_in("Tobin")
    day.clear()
    day.sign_in("Odo")
    day.into_the_bay()
    day.through_the_bay(shown=shown)
    day.close_out()
    if WorkOrder.objects.get(number=day.order).second_looks.exists():
        day.second_look()
    day.sign_in("Tobin")
    day.invoice()
    return day.papers()


def test_the_example_vehicle_by_the_customers_link(cast_for_races, page):
    day = Day(page, "V-01")
    before = Forecast.objects.get(vehicle__number="V-01", is_current=True)
    day.sign_in("Tobin")
    day.take_in()
    assert all(total in day.words() for total in ("$183.64", "$395.69", "$442.95", "$641.89"))
    day.write_quote()
    link = day.offer(with_link=True)
    assert re.search(r"/c/[\w-]{20,}/", link)
    day.yes_by_link(link, "C", "Ansel Thornby")
    assert "$442.95" in day.words()
    day.sign_in("Tobin")
    day.open_work()

    said = worked_and_invoiced(day, {"lift": "bay-first", "pump": "bay-pump", "level": "bay-level"})

    assert set(said) == {"quote", "authorization", "procedure sheet", "invoice"}
    assert "$442.95" in said["invoice"]
    assert "Page 1 of" in said["procedure sheet"]
    after = Forecast.objects.get(vehicle__number="V-01", is_current=True)
    assert after.due_on > before.due_on  # the work was done: it is due again later
    day.sign_in("Maren")
    day.logbook()
    day.due_soon()


def test_a_vehicle_whose_capacity_is_not_known_keeps_two_totals_to_the_end(cast_for_races, page):
    day = Day(page, "V-09")
    day.sign_in("Tobin")
    day.take_in()
    day.write_quote()
    assert "$442.59 to $452.95" in day.words()
    day.offer()
    day.yes_recorded("C", way="in person")

    said = worked_and_invoiced(day, {"pump": "bay-pump", "level": "bay-level"})

    assert "$452.95" in said["invoice"]
    assert "$442.59 to $452.95" in said["quote"]


def test_a_van_of_the_fleet_on_a_purchase_order_by_telephone(cast_for_races, page, complaints):
    day = Day(page, "F-07")
    day.sign_in("Tobin")
    day.take_in(purchase_order_number="KT-2026-118")
    day.write_quote()
    day.offer()
    assert "The exemption certificate EX-INVENTED-77 ended on November 17, 2026: tax is charged." in day.words()
    assert [said for said in complaints if "422" not in said] == []
    complaints.clear()  # a browser says in its console that a page came back
    page.check("[name=confirm][value='quote.exemption_ended']")
    day.offer()
    day.yes_recorded("A", way="telephone", contact_used="+1 202 555 0190", check_words=day.check_words())

    said = worked_and_invoiced(day, {"drain": "bay-drain", "level": "bay-level"})

    assert "KT-2026-118" in said["invoice"]
    assert "$254.63" in said["invoice"]
