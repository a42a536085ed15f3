"""No figure counts that nobody read: measurements stand empty, planned amounts are taken by an act of their own."""

from __future__ import annotations

import re

import pytest

from shopserv.common.errors import Refusal
from shopserv.jobs.services import bay
from shopserv.web.bay.figures import plain
from tests.jobs import bay_stage as bays

pytestmark = pytest.mark.django_db


def text_of(answer):
    return answer.content.decode()


def once(page):
    return page.context["form"].key


def standing(page):
    """What the fields of the readings hold when the page comes."""
    form = page.context["form"]
    return [form[what].value() for what in form.needs]


@pytest.mark.parametrize(
    ("code", "what", "named"),
    [
        ("flow_proof", "flow_g", "net weight of 15 s"),
        ("levelness", "tilt_fore_aft", "tilt fore-aft"),
        ("sweep", "dwell_s", "dwell in each position"),
    ],
)
def test_a_measurement_stands_empty_and_done_without_it_names_it(odo, order, cast, code, what, named):
    step = bays.up_to(cast, order, code)
    page = odo.get(f"/bay/{order.number}/")

    answer = odo.post(f"/bay/{order.number}/{step.order}/done/", once=once(page), as_shown=what)

    assert set(standing(page)) == {""}
    assert "I read the same" not in text_of(page)
    assert answer.status_code == 422
    assert f"Still missing: {named}." in text_of(answer)
    assert bays.now(order) == step
    assert not step.events.exists()


def test_a_planned_amount_is_shown_as_expected_and_counts_only_when_it_is_taken(odo, order, cast):
    step = bays.up_to(cast, order, "pump")
    page = odo.get(f"/bay/{order.number}/")
    path = f"/bay/{order.number}/{step.order}/done/"

    unread = odo.post(path, once=once(page))
    before = step.events.count()
    taken = odo.post(path, once=once(page), as_shown="out_ml")

    assert standing(page) == [""]
    expected = plain(step.needs[0]["start"], "0.1 qt")
    assert f"expected {expected}, not read yet" in text_of(page)
    assert re.search(r'<button class="touch touch-main" type="submit" form="done">Done<', text_of(page))
    assert re.search(rf'name="as_shown" value="out_ml"[^>]*>I read the same: {expected} qt<', text_of(page))
    assert (unread.status_code, before, taken.status_code) == (422, 0, 302)
    assert step.events.get(what="out_ml").as_typed == f"{expected} qt"


def test_a_figure_that_stands_typed_is_not_taken_for_the_one_on_the_key(odo, order, cast):
    step = bays.up_to(cast, order, "pump")
    page = odo.get(f"/bay/{order.number}/")

    answer = odo.post(f"/bay/{order.number}/{step.order}/done/", once=once(page), as_shown="out_ml", out_ml="1.6")

    assert answer.status_code == 422
    assert f"“1.6” stands in the field, the key said {plain(step.needs[0]['start'], '0.1 qt')}." in text_of(answer)
    assert 'value="1.6"' in text_of(answer)
    assert not step.events.exists()


def test_the_next_reading_comes_up_only_behind_one_that_was_read(odo, order, cast):
    step = bays.up_to(cast, order, "flow_proof")
    page = odo.get(f"/bay/{order.number}/")
    path = f"/bay/{order.number}/{step.order}/press/"

    answer = odo.post(path, once=once(page), big="flow_g", next="temp_mdegc")

    assert answer.status_code == 422
    assert answer.context["big"].what == "flow_g"
    assert "Still missing: net weight of 15 s." in text_of(answer)


def test_a_planned_amount_before_another_is_taken_and_the_other_comes_up(odo, order, cast):
    step = bays.up_to(cast, order, "pump")
    poured = order.steps.filter(code="add").first().needs  # a stage that pours while it pumps asks for both
    order.steps.filter(pk=step.pk).update(needs=[*step.needs, *poured])
    page = odo.get(f"/bay/{order.number}/")

    answer = odo.post(f"/bay/{order.number}/{step.order}/press/", once=once(page), as_shown="out_ml")
    following = odo.get(answer.headers["Location"])

    assert list(step.events.values_list("what", flat=True)) == ["out_ml"]
    assert following.context["big"].what == "in_ml"


def test_a_key_begins_where_it_makes_sense_and_keeps_what_it_made(odo, order, cast):
    step = bays.up_to(cast, order, "flow_proof")
    page = odo.get(f"/bay/{order.number}/")

    odo.post(f"/bay/{order.number}/{step.order}/press/", once=once(page), key="flow_g:5")

    assert step.events.get().as_typed == "505 g"


def test_the_deed_itself_refuses_a_press_without_a_reading(cast):
    order = bays.in_the_bay(cast)
    step = bays.up_to(cast, order, "pump")

    with pytest.raises(Refusal) as told:
        bay.press(step, bay.Press("out_ml", None, "0.1 qt", "k"), actor=cast.odo)

    assert (told.value.code, told.value.field) == ("bay.needs", "out_ml")
    assert not step.events.exists()


def test_what_is_wrong_brings_its_own_reading_to_the_keys_with_the_question(odo, order, cast):
    step = bays.up_to(cast, order, "levelness")
    path = f"/bay/{order.number}/{step.order}/done/"

    answer = odo.post(path, **odo.fields(order.number, tilt_side="0.9"))
    held = odo.post(path, **odo.fields(order.number, tilt_side="0.9", confirm="bay.outside"))

    order.refresh_from_db()
    assert answer.status_code == 422
    assert answer.context["big"].what == "tilt_side"
    assert 'name="confirm" value="bay.outside"' in text_of(answer)
    assert (held.status_code, order.state) == (302, "on hold")
