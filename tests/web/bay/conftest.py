"""Browsers of the people of the bay, and a work order of the example vehicle."""

from __future__ import annotations

import re

import pytest
from django.test import Client

from shopserv.web.bay.figures import plain
from tests.jobs import bay_stage as bays


class Browser:
    """One person's browser without script."""

    def __init__(self, actor):
        self.client = Client()
        self.client.force_login(actor.staff)

    def get(self, path):
        return self.client.get(path)

    def post(self, path, **fields):
        return self.client.post(path, {name.replace("__", "."): value for name, value in fields.items()})

    def fields(self, number, **changes):
        """What the form of the step that is up sends once every reading is read where the keys begin."""
        page = self.get(f"/bay/{number}/")
        form = page.context["form"]
        begins = {name: str(row["start"]) if row["unit"] == "choice" else plain(row["start"], row["unit"])
                  for name, row in form.needs.items()}  # fmt: skip
        shown = {name: form[name].value() or begins[name] for name in form.needs}
        return {**shown, "once": form.key, "why_jump": "late", **changes}

    def done(self, order, **changes):
        """Press done at the step that is up, as the page shows it unless said otherwise."""
        step = bays.now(order)
        return self.post(f"/bay/{order.number}/{step.order}/done/", **self.fields(order.number, **changes))


def key_of(answer):
    """The once-key of the first form on a page."""
    return re.search(r'name="once" value="([^"]+)"', answer.content.decode()).group(1)


@pytest.fixture
def odo(cast):
    return Browser(cast.odo)


@pytest.fixture
def pilar(cast):
    return Browser(cast.pilar)


@pytest.fixture
def tobin(cast):
    return Browser(cast.tobin)


@pytest.fixture
def order(cast):
    """The example vehicle by option C, in bay North with Odo."""
    return bays.in_the_bay(cast)
