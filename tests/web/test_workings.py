"""The pages of sums: every figure that is marked leads to its sum, for who may see it, and the same as JSON."""

from __future__ import annotations

import json
import re
from datetime import date
from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from shopserv.billing.services import issue
from shopserv.calc.working import Change, From, Given, Step, Working
from shopserv.jobs.models import Option
from shopserv.jobs.selectors.workings import workings_of
from shopserv.jobs.services import quotes
from shopserv.registry.models import ContactPoint
from shopserv.web import workings
from tests.jobs import bay_stage, stage

COST = ("costs us", "mark-up on", "mark-up slice", "cost of")


def signed_in(actor: Any) -> Client:
    client = Client()
    client.force_login(actor.staff)
    return client


def page(client: Client, path: str) -> str:
    answer = client.get(path)
    assert answer.status_code == 200
    return answer.content.decode()


def anchors(path: str, text: str) -> set[str]:
    return set(re.findall(rf'href="{re.escape(path)}#([^"]+)"', text))


def floats_of_money(value: Any) -> list[Any]:
    """Every float that stands beside a currency."""
    if isinstance(value, list):
        return [found for each in value for found in floats_of_money(each)]
    if not isinstance(value, dict):
        return []
    mine = [each for each in value.values() if isinstance(each, float)] if "USD" in value.get("unit", "") else []
    return mine + [found for each in value.values() for found in floats_of_money(each)]


@pytest.mark.django_db
def test_every_mark_of_a_quote_sheet_leads_to_its_sum(cast):
    version = stage.offered(cast)
    tobin, number = signed_in(cast.tobin), version.quote.number
    sheet = page(tobin, reverse("counter:quote", args=[number]))

    for letter in "ABCD":
        path = reverse("counter:working", args=[number, 1, letter])
        sums = page(tobin, path)
        marked = anchors(path, sheet)
        assert {"course", "labor", "fluid", "tax", "total", "bought", "margin"} <= marked
        assert marked <= set(re.findall(r'<section id="([^"]+)"', sums))
    assert anchors(reverse("counter:working", args=[number, 1, "C"]), sheet) >= {"per", "bought"}
    assert "<math" in sums
    assert sums.count("style=") == 0


@pytest.mark.django_db
def test_cost_is_for_the_owner_and_the_margin_for_who_wrote_it(cast):
    version = stage.offered(cast)
    path = reverse("counter:working", args=[version.quote.number, 1, "C"])

    by_owner, by_writer = page(signed_in(cast.maren), path), page(signed_in(cast.tobin), path)

    assert all(word in by_owner for word in COST)
    assert [word for word in COST if word in by_writer.replace("what it costs us", "")] == []
    assert 'id="margin"' in by_writer
    assert signed_in(cast.odo).get(path).status_code == 403
    assert signed_in(cast.lise).get(path).status_code == 404


@pytest.mark.django_db
def test_a_customer_sees_the_own_option_without_cost_and_margin(cast, client):
    version = stage.offered(cast)
    contact = ContactPoint.objects.filter(customer=version.quote.customer).first()
    token = quotes.give_link(version, actor=cast.tobin, contact=contact)
    path = reverse("customer:sums", args=[token, "C"])

    decision = page(client, reverse("customer:decision", args=[token]))
    sums = page(client, path)
    said = json.loads(page(client, f"{path}?as=json"))

    assert f'href="{path}"' in decision
    assert "$442.95" in sums
    assert [word for word in COST if word in sums or word in json.dumps(said)] == []
    assert "margin" not in said["figures"]
    assert said["figures"]["total"]["value"] == "442.95"
    assert client.get(reverse("customer:sums", args=[token, "Z"])).status_code == 404


@pytest.mark.django_db
def test_the_sums_of_an_option_are_exact_and_say_what_moves_them(cast):
    stage.offered(cast)
    option = Option.objects.select_related("version__quote__shop__business").get(
        letter="C", version__quote__vehicle__number="V-01"
    )

    found = workings_of(option, with_margin=True, with_cost=True)

    assert found["labor"].value + found["fluid"].value + found["part"].value == Decimal("403.13")
    assert (found["tax"].value, found["total"].value) == (Decimal("8.32"), Decimal("442.95"))
    assert found["course"].low == Fraction(option.fraction_low_ppm, 1_000_000)
    # 1.8 h of 150.00 moved by a fifth: 1.4 and 2.2 h, or 120.00 and 180.00; and 5 % of that for supplies
    assert found["total"].changes[:2] == (
        Change("time sold, in whole tenths", Decimal("379.95"), Decimal("505.95"), Decimal("63.00"), "USD"),
        Change("rate an hour", Decimal("386.25"), Decimal("499.65"), Decimal("56.70"), "USD"),
    )
    moved = [change.moved for change in found["total"].changes]
    assert moved == sorted(moved, reverse=True)
    assert found["bought"].changes[0].words.startswith("share of new fluid")
    assert found["course"].changes[0].words == "total fill"


@pytest.mark.django_db
def test_every_figure_of_a_job_and_its_invoice_leads_to_its_sum(cast):
    order = bay_stage.closed_out(cast)
    odo, tobin = signed_in(cast.odo), signed_in(cast.tobin)
    path = reverse("bay:sums", args=[order.number])
    close_out, sums = page(odo, reverse("bay:close_out", args=[order.number])), page(odo, path)

    assert anchors(path, close_out) == {"level", "balance"}
    assert {"level", "balance", "flow"} <= set(re.findall(r'<section id="([^"]+)"', sums))
    assert "$" not in sums.partition("<main")[2]
    said = json.loads(page(odo, f"{path}?as=json"))["figures"]
    assert said["level"]["value"] > 0
    assert said["balance"]["inputs"]

    bill = reverse("counter:work_sums", args=[order.number])
    before = page(tobin, bill)
    assert anchors(bill, page(tobin, reverse("counter:work", args=[order.number]))) == {"lines", "tax", "total"}
    assert "The sums of the invoice to come" in before
    bay_stage.look(cast, order)
    order.refresh_from_db()
    issue(order, actor=cast.tobin, edition=order.edition)
    quote = order.visit.quotes.get().number
    option = reverse("counter:working", args=[quote, 1, "C"])
    assert anchors(option, page(tobin, reverse("counter:room", args=[quote]))) == {"limit", "room"}
    assert anchors(option, page(tobin, reverse("counter:version", args=[quote, 1]))) >= {"labor", "tax", "total"}
    room = json.loads(page(tobin, f"{option}?as=json"))["figures"]["room"]
    assert (room["value"], room["steps"][1]["value"], room["steps"][2]["value"]) == ("44.29", 2, "12.79")
    after = json.loads(page(tobin, f"{bill}?as=json"))
    assert set(after["figures"]) == {"lines", "tax", "total", "balance-due", "limit"}
    assert after["figures"]["balance-due"]["value"] == "442.95"
    assert after["figures"]["limit"]["value"] == "487.24"
    assert floats_of_money(after) == []
    assert odo.get(bill).status_code == 403


@pytest.mark.django_db
def test_the_due_day_says_what_would_move_it_most(cast):
    path = reverse("records:due_sums", args=["V-01"])

    said = json.loads(page(signed_in(cast.tobin), f"{path}?as=json"))["figures"]
    text = page(signed_in(cast.tobin), path)

    assert set(said) >= {"age", "distance", "due", "interval", "months"}
    moved = [row["moved"] for row in said["due"]["changes"] if row["moved"] is not None]
    assert moved[0] > 30
    assert moved == sorted(moved, reverse=True)
    assert said["interval"]["value"] == "33000"
    assert said["work-value"]["value"] == "427.48"  # what it costs to bring it in, for who may plan it
    assert text.partition("<main")[2].count("$427.48") == 2  # in the list of sums, and at its own
    assert signed_in(cast.odo).get(path).status_code == 403
    assert signed_in(cast.tobin).get(reverse("records:due_sums", args=["V-99"])).status_code == 404


def test_a_working_is_laid_out_figure_by_figure():
    made = Working(
        figure="share",
        value=Fraction(1, 2),
        unit="share",
        low=Fraction(1, 4),
        high=Fraction(3, 4),
        given=(
            Given("C", "fill", 7_400, "mL", From.UNIT_SHEET, "unit sheet AL640", 7_200, 7_600),
            Given("", "said", Decimal("2.50"), "USD", From.TYPED, "quote sheet"),
        ),
        steps=(Step("half", r"\frac12", Fraction(1, 2), ""),),
        changes=(Change("fill", None, 3, 3, "days", "lowered: too small"),),
    )

    (one,) = workings.shown({"a": made})

    assert one.told == "0.5 (50 %); 0.25 (25 %) to 0.75 (75 %)"
    assert (
        one.given[0].figure.replace("\N{NO-BREAK SPACE}", " ")
        == "7,400 mL (7.8 qt); 7,200 mL (7.6 qt) to 7,600 mL (8.0 qt)"
    )
    assert (one.given[0].source, one.given[0].is_typed) == ("unit sheet AL640", False)
    assert (one.given[1].figure, one.given[1].source, one.given[1].is_typed) == ("$2.50", "typed: quote sheet", True)
    assert (one.changes[0].less, one.changes[0].more, one.changes[0].note) == ("–", "3 days", "lowered: too small")


@pytest.mark.parametrize(
    ("value", "unit", "said"),
    [
        (None, "L", "–"),
        (date(2026, 11, 24), "", "Nov 24, 2026"),
        ("2026-11-24", "", "Nov 24, 2026"),
        ("not known", "mL", "not known mL"),
        ("", "mL", ""),
        (Decimal("150"), "USD/h", "$150.00/h"),
        (Fraction(1, 3), "USD", "0.3333 USD"),
        ("37/5", "L", "7.4 L"),
        (0.000123456, "", "0.0001235"),
        (33_000, "mi", "33,000 mi"),
        (12345.678, "mi", "12,345.7 mi"),
        (99, "mL", "99 mL"),
        (100, "mL", "100 mL (0.1 qt)"),
        (40, "°C", "40 °C (104.0 °F)"),
        (Fraction(179, 10), "months", "17.9 months"),
        (Fraction(-3, 2), "", "−1.5"),
    ],
)
def test_figures_are_told_as_people_read_them(value, unit, said):
    assert workings.figure(value, unit).replace("\N{NO-BREAK SPACE}", " ") == said
