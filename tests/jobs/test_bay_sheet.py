"""The bay line and the bay sheet, as a technician, the counter and a stranger read them."""

from __future__ import annotations

import dataclasses
import json

import pytest
from django.forms.models import model_to_dict
from django.http import Http404

from shopserv.common import clock
from shopserv.common.errors import NotYours
from shopserv.jobs.models import Visit, WorkOrder
from shopserv.jobs.selectors import bay as selectors
from shopserv.jobs.services import bay
from tests.jobs import bay_stage as bays


def test_the_line_has_own_jobs_and_those_nobody_has(cast):
    order = bays.in_the_bay(cast)

    mine = selectors.bay_line(cast.odo)
    other = selectors.bay_line(cast.pilar)

    assert [(row.number, row.state, row.is_mine, row.step, row.steps) for row in mine] == [
        (order.number, "in the bay", True, 1, 36)
    ]
    assert (mine[0].bay, mine[0].technician, mine[0].whose_move) == ("North", "Odo", "ours")
    assert other == ()


@pytest.mark.parametrize("who", ["pilar", "sam"])
def test_a_sheet_is_not_opened_by_another_technician_or_the_shelf(cast, who):
    order = bays.in_the_bay(cast)

    with pytest.raises(NotYours):
        selectors.bay_sheet(getattr(cast, who), order.number)


def test_another_shop_has_no_such_sheet_and_no_such_row(cast):
    order = bays.in_the_bay(cast)

    with pytest.raises(Http404):
        selectors.bay_sheet(cast.jory, order.number)
    with pytest.raises(Http404):
        selectors.second_look_for(cast.jory, order.number)
    assert selectors.bay_line(cast.jory) == ()


def test_the_writer_looks_in_and_does_not_press(cast):
    order = bays.in_the_bay(cast)

    sheet = selectors.bay_sheet(cast.tobin, order.number)

    assert (sheet.may_press, selectors.bay_sheet(cast.odo, order.number).may_press) == (False, True)


def test_the_sheet_says_where_the_level_stands_and_what_is_in_and_out(cast):
    order = bays.in_the_bay(cast)
    bays.up_to(cast, order, "pump")
    bays.finish(cast, order)

    sheet = selectors.bay_sheet(cast.odo, order.number)

    assert (sheet.up.code, sheet.place, sheet.unit_known_by) == ("add", 11, "read from tag")
    assert (sheet.level_ml, sheet.put_in_ml, sheet.out_ml) == (-1_230, 0, 1_230)
    assert (sheet.pickup_ml, sheet.dips_ml) == (1_600, 1_200)
    assert sheet.balance_now.way == "by volume"
    assert (sheet.balance, sheet.levels, sheet.looks, sheet.coolant) == (None, (), (), None)
    assert [item.code for item in sheet.items][:3] == ["leftovers", "lines_home", "clips"]
    assert sheet.step(1).code == "lift"


def test_a_key_pressed_twice_corrects_and_another_vessel_adds(cast):
    order = bays.in_the_bay(cast)
    step = bays.up_to(cast, order, "pump")
    for number, (value, words) in enumerate([(10, ""), (11, ""), (3, "dish")]):
        bay.press(step, bay.Press("out_ml", value, "0.1 qt", f"k{number}", words=words), actor=cast.odo)

    sheet = selectors.bay_sheet(cast.odo, order.number)

    assert sheet.out_ml == 1_041 + 284
    assert len([event for event in sheet.events if event.pk not in sheet.counting]) == 1


@pytest.mark.parametrize("rows", [1, 300])
def test_the_line_takes_four_queries_however_many_jobs(cast, rows, django_assert_num_queries):
    now, vehicle, customer = clock.now(), cast.vehicle("V-01"), cast.customer("C-001")
    visits = Visit.objects.bulk_create(
        Visit(shop=cast.brw, number=f"BRW-V-X{n}", vehicle=vehicle, customer=customer, state="gone", state_since=now)
        for n in range(rows)
    )
    WorkOrder.objects.bulk_create(
        WorkOrder(
            shop=cast.brw, number=f"BRW-W-X{n}", visit=visit, state="cleared", state_since=now, bay=bays.north(cast)
        )
        for n, visit in enumerate(visits)
    )
    actor = cast.odo

    with django_assert_num_queries(4):
        found = selectors.bay_line(actor)

    assert len(found) == rows


@pytest.mark.parametrize("who", ["odo", "tobin"])
def test_the_sheet_says_no_price_no_cost_and_no_telephone(cast, who):
    order = bays.in_the_bay(cast)
    bays.up_to(cast, order, "pump")
    bays.finish(cast, order)
    actor = getattr(cast, who)

    sheet = selectors.bay_sheet(actor, order.number)
    said = json.dumps(
        [
            [dataclasses.asdict(row) for row in selectors.bay_line(actor)],
            [model_to_dict(step) for step in sheet.steps],
            [model_to_dict(event) for event in sheet.events],
            [order.facts, order.rules, order.close_out, sheet.level],
        ],
        default=str,
    )

    total = order.authorizations.get().option.total_cents
    phone = order.visit.customer.contact_points.get(kind="phone").as_typed
    assert (total, phone) == (44_295, "+1 202 555 0111")  # there to be hidden
    for secret in (str(total), "442.95", "cents", "price", "margin_ppm", phone):
        assert secret not in said
    assert "Alder" in repr(sheet.unit)
