"""From the telephone to the reminder in a browser: full data, capacity not known, one of the fleet."""

from __future__ import annotations

import re

from tests.journeys.day import Day


def test_the_example_vehicle_by_the_customers_link(cast_for_races, page):
    day = Day(page, "V-01")
    day.sign_in("Tobin")
    day.take_in("63,200")
    assert all(total in day.words() for total in ("$183.64", "$395.69", "$442.95", "$641.89"))
    day.write_quote()
    link = day.offer(with_link=True)
    assert re.search(r"/c/[\w-]{20,}/", link)
    day.yes_by_link(link, "C", "Ansel Thornby")
