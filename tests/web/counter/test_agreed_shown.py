"""Once work is agreed, the pages show what was agreed and invoiced, and nothing that no longer counts."""

from __future__ import annotations

import pytest

from shopserv.billing import services as billing
from shopserv.common.errors import StateRefusal
from shopserv.common.formats import money
from shopserv.jobs.services import quotes, visits, work
from shopserv.jobs.services.authorize import authorize
from tests.jobs import bay_stage, stage
from tests.web.counter.test_flow import key_of, tobin  # noqa: F401

pytestmark = pytest.mark.django_db


def text(client, path):
    return client.get(path).content.decode()


def replaced(cast):
    """A agreed, then B in its place."""
    first = stage.offered(cast)
    order = authorize(stage.option(first, "A"), actor=cast.tobin, consent=stage.by_telephone(stage.option(first, "A")))
    version = quotes.revise(first.quote, actor=cast.tobin)
    version = quotes.offer(version, actor=cast.tobin, edition=version.edition).version
    option = stage.option(version, "B")
    authorize(option, actor=cast.tobin, consent=stage.by_telephone(option))
    order.refresh_from_db()
    return order, stage.option(first, "A"), option


def test_a_replaced_yes_is_no_longer_called_agreed(tobin, cast):  # noqa: F811
    order, old, new = replaced(cast)

    page = text(tobin, f"/counter/work/{order.number}/")

    assert f"Agreed: <b>B</b> {new.title}" in page
    assert "Agreed: <b>A</b>" not in page
    assert f"No longer agreed: A {old.title}" in page


def test_the_visit_shows_what_was_agreed_in_place_of_the_plan(tobin, cast):  # noqa: F811
    order, _, new = replaced(cast)

    page = text(tobin, f"/counter/visit/{order.visit.number}/")

    assert f"{new.title}, {money(new.total_cents)}." in page
    assert "we recommend" not in page
    assert "We recommend" not in page


@pytest.mark.control
def test_before_the_yes_the_plan_is_shown(tobin, cast):  # noqa: F811
    visit = stage.take_in(cast, "V-01")

    page = text(tobin, f"/counter/visit/{visit.number}/")

    assert "we recommend" in page
    assert "Agreed:" not in page


def test_after_the_invoice_the_visit_shows_it(tobin, cast):  # noqa: F811
    order = bay_stage.closed_out(cast)
    bay_stage.look(cast, order)
    order.refresh_from_db()
    invoice = billing.issue(order, actor=cast.tobin, edition=order.edition)

    page = text(tobin, f"/counter/visit/{order.visit.number}/")

    assert f"Invoice {invoice.number}: {money(invoice.total_cents)}." in page
    assert "we recommend" not in page


def test_what_left_is_not_cleared_any_more(tobin, cast):  # noqa: F811
    order = bay_stage.written_up(cast)
    before = tobin.get(f"/counter/work/{order.number}/")
    visits.leave(order.visit, actor=cast.tobin, words="took it home")
    order.refresh_from_db()

    after = text(tobin, f"/counter/work/{order.number}/")
    said = {"act": "clear", "bay": bay_stage.north(cast).pk, "technician": cast.odo.staff.pk, "once": key_of(before)}
    answer = tobin.post(f"/counter/work/{order.number}/", said)

    assert "Clear the work" in before.content.decode()
    assert "Clear the work" not in after
    assert answer.status_code == 409
    assert "the vehicle is not here" in answer.content.decode()
    with pytest.raises(StateRefusal) as told:
        work.clear(order, actor=cast.tobin)
    assert told.value.code == "work.not_here"
