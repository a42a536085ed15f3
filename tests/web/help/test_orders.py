"""The table of best orders in the help: computed for every unit, for all who may open the help."""

from __future__ import annotations

import pytest
from django.test import Client

from shopserv.demo.rows import scenario
from shopserv.jobs.selectors.fluid_course import gains

pytestmark = pytest.mark.django_db


def test_every_unit_has_its_row_and_its_figures_come_from_the_calculation(cast):
    found = {gain.unit: gain for gain in gains(cast.odo)}

    assert sorted(found) == sorted(unit["code"] for unit in scenario()["units"])
    assert {code: gain.best.gain_points for code, gain in found.items()} == {
        "AL640": "2.5",
        "AL641": "2.3",
        "BI850": "2.6",
        "BI870": "2.7",
        "CE-V30": "0.0",
        "CE-V45": "0.0",
        "DO440": "0.0",
        "EL-D7": "0.0",
        "FI1060": "2.4",
        "GO510": "2.0",
    }
    assert all(gain.best.saved_ml >= 500 for gain in found.values() if gain.best.gain_ppm)
    assert found["EL-D7"].best.why_not == "each sump is drained once; there is no other order"


def test_the_page_shows_them(cast):
    client = Client()
    client.force_login(cast.odo.staff)

    body = client.get("/help/orders/").content.decode()

    assert body.count("opens the drain first") == 6
    assert body.count("no order brings half a point more") == 3
    assert "86 to 94 %" in body
    assert "/help/orders/" in client.get("/help/").content.decode()
