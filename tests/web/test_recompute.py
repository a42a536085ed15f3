"""Every frozen figure computed again: nothing differs after a job, and what was planted is named."""

from __future__ import annotations

import json
from io import StringIO

import pytest
from django.core.management import call_command

from shopserv import calc
from shopserv.billing import recomputed as bills
from shopserv.billing.models import Invoice
from shopserv.billing.services import issue
from shopserv.common.frozen import lift_guards, set_guards
from shopserv.common.recomputed import Again, report
from shopserv.jobs.models import Authorization, Line, Option, WorkOrder
from shopserv.jobs.selectors import recomputed as jobs
from shopserv.papers.recomputed import paper_of
from shopserv.reminders import recomputed as reminders
from shopserv.reminders.models import Forecast
from tests.jobs import bay_stage


def invoiced(cast) -> Invoice:
    """V-01 from intake to invoice."""
    order = bay_stage.closed_out(cast)
    bay_stage.look(cast, order)
    order.refresh_from_db()
    return issue(order, actor=cast.tobin, edition=order.edition)


def run(*arguments: str) -> tuple[list[str], int]:
    """What the command says, line by line, and how it ends."""
    out, status = StringIO(), 0
    try:
        call_command("recompute", *arguments, stdout=out)
    except SystemExit as ended:
        status = int(ended.code or 0)
    return out.getvalue().splitlines(), status


def differing(again: Again) -> dict[str, tuple[object, object]]:
    return {one.figure: (one.stored, one.computed) for one in again.differences()}


@pytest.mark.django_db
def test_nothing_differs_after_a_job_and_what_was_planted_is_named(cast):
    invoiced(cast)
    before, status = run()

    assert status == 0
    assert len(before) == 1
    assert before[0].endswith(" rows recomputed, 0 differ")
    assert int(before[0].split()[0]) > 500

    option = Option.objects.get(letter="C", version__quote__vehicle__number="V-01")
    lift_guards()
    Option.objects.filter(pk=option.pk).update(total_cents=44_296)
    set_guards()
    after, status = run()

    assert status == 1
    assert f"quote {option}, total_cents: stored 44296, computed 44295" in after
    yes = [line for line in after if line.startswith(f"authorization of {option.version.quote.number}, ")]
    assert [line.partition(": ")[2] for line in yes] == ["stored 44295, computed 44296"]
    assert after[-1].endswith(f" rows recomputed, {len(after) - 1} differ")


@pytest.mark.django_db
def test_the_report_as_json_has_every_difference(cast):
    bay_stage.written_up(cast)
    row = Forecast.objects.filter(is_current=True, vehicle__number="V-01").get()
    Forecast.objects.filter(pk=row.pk).update(governs="distance" if row.governs == "months" else "months")

    (line,), status = run("--json")

    said = json.loads(line)
    assert status == 1
    assert [(one["figure"], one["computed"]) for one in said["differences"]] == [("governs", row.governs)]
    assert said["cannot"] == []


@pytest.mark.django_db
def test_each_kind_of_row_is_computed_from_what_it_keeps(cast):
    invoice = invoiced(cast)
    order = WorkOrder.objects.get(pk=invoice.work_order_id)
    option = Option.objects.select_related("version__quote").get(letter="C", version__quote__vehicle__number="V-01")
    yes = Authorization.objects.select_related("option__version__adds_to", "quote").get(option=option)
    level, balance = order.level_records.get(), order.balance
    forecast = Forecast.objects.select_related("vehicle").get(vehicle__number="V-01", is_current=True)

    assert differing(jobs.of_option(option)) == {}
    option.fraction_low_ppm += 1
    option.bought = {**option.bought, "governs": "distance"}
    option.course = {**option.course, "levels_ml": [0, *option.course["levels_ml"][1:]]}
    assert {"share of new fluid", "bought governs", "course, levels"} <= set(differing(jobs.of_option(option)))

    paper = paper_of("quote", yes.quote.number, 1)
    assert differing(jobs.of_version(option.version, paper)) == {}
    paper["options"][2]["total_cents"] = 1
    assert set(differing(jobs.of_version(option.version, paper))) == {"snapshot_hash", "total of C"}
    assert jobs.of_version(option.version, None).cannot == {"hash and totals": "its paper is missing"}

    yes.amount_cents -= 1
    assert differing(jobs.of_authorization(yes)) == {"amount_cents": (44_294, 44_295)}

    level.budget_ml_tenths += 5
    assert set(differing(jobs.of_level(level))) == {"budget_ml_tenths"}
    balance.difference_ml_tenths += 5
    assert set(differing(jobs.of_balance(balance))) == {"difference_ml_tenths"}

    invoice.tax_cents += 1
    assert differing(bills.of_invoice(invoice, {})) == {"tax_cents": (833, 832)}
    printed = {"net_cents": 43_463, "tax_cents": 832, "total_cents": 44_294}
    assert differing(bills.of_invoice(invoice, {}, printed))["total_cents on paper"] == (44_294, 44_295)
    line = invoice.lines.get(order=1)
    agreed = Line(price_cents=line.price_cents - 100, low_price_cents=line.price_cents - 200)
    assert set(differing(bills.of_invoice(invoice, {line.billed_line: agreed}))) == {"tax_cents", "line 1"}

    forecast.left_m += 1
    forecast.working = {**forecast.working, "heat": 9}
    assert set(differing(reminders.of_forecast(forecast))) == {"left_m", "heat"}


@pytest.mark.django_db
def test_what_kept_no_inputs_agrees_with_nothing_and_is_counted_apart(cast):
    order = bay_stage.at_the_level(cast)
    option = Option.objects.select_related("version__quote").get(letter="C", version__quote__vehicle__number="V-01")
    level = order.level_records.get()
    forecast = Forecast.objects.select_related("vehicle").get(vehicle__number="V-01", is_current=True)
    option.version.inputs = {"unit": "AL640", "sheet_version": 1}
    level.budget = {**level.budget, "working": {}}
    forecast.working = {name: value for name, value in forecast.working.items() if name != "place"}
    older = Forecast(vehicle=forecast.vehicle, made_at=forecast.made_at, calc_version="0", working=forecast.working)
    older.inputs_hash = forecast.inputs_hash

    found = [
        jobs.of_option(option),
        jobs.of_level(level),
        reminders.of_forecast(forecast),
        reminders.of_forecast(older),
    ]

    assert [set(again.cannot) for again in found] == [
        {"course and share of new fluid", "what the money buys"},
        {"error budget"},
        {"days and rates"},
        {"days and rates"},
    ]
    assert found[3].cannot["days and rates"] == f"made by calculation 0; this is calculation {calc.VERSION}"
    assert [differing(again) for again in found] == [{}, {}, {}, {}]
    assert "share of new fluid" not in found[0].computed


def test_a_report_counts_figures_and_names_what_only_one_side_has():
    found = report([Again("a", {"x": 1, "y": 2}, {"x": 1}), Again("b", {}, {}, {"all": "not kept"})])

    assert (found.rows, found.figures) == (2, 2)
    assert [str(one) for one in found.differences] == ["a, y: stored 2, computed None"]
    assert found.cannot == (("b", "all", "not kept"),)
