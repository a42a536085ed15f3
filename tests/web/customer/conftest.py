"""A version on offer with its link, and browsers that have no cookie yet."""

from __future__ import annotations

import pytest
from django.core.cache import cache
from django.test import Client

from shopserv.jobs.models import Visit
from shopserv.jobs.services import quotes
from tests.jobs.stage import draft

YES = {"option": "C", "person": "Ansel Thornby", "old_parts": "keep"}


class Link:
    """Ansel's link to version 1 of his quote, with four options."""

    def __init__(self, cast):
        self.cast = cast
        version = draft(cast)
        contact = cast.customer("C-001").contact_points.get(kind="e-mail")
        offer = quotes.offer(version, actor=cast.tobin, edition=version.edition, contact=contact)
        self.version, self.token = offer.version, offer.token
        self.home = f"/c/{self.token}/"

    def replace(self):
        """A newer version of the same quote, offered by Tobin."""
        quote = self.version.quote
        visit = Visit.objects.get(pk=quote.visit_id)
        plan = quotes.plan_for(self.cast.tobin, visit.vehicle, visit=visit)
        newer = quotes.write(plan, actor=self.cast.tobin, quote=quote)
        return quotes.offer(newer, actor=self.cast.tobin, edition=newer.edition).version

    def yes(self, client=None, **more):
        """Press yes, each time from a page opened anew."""
        client = client or Client()
        page = client.get(self.home)
        form = page.context["form"] if page.context and "form" in page.context else None
        key = form.key if form else "some key"
        said = {"once": key, "version_hash": self.version.snapshot_hash, **YES, **more}
        return client.post(f"{self.home}yes/", {name: value for name, value in said.items() if value is not None})


@pytest.fixture
def link(cast):
    cache.clear()
    return Link(cast)
