"""The parts that pages are made of: what they say, and that a strict policy lets them through."""

import re

import pytest
from django import forms
from django.template.loader import render_to_string

from shopserv.common.errors import Refusal, Stale
from shopserv.web import fields
from shopserv.web.forms import PageForm
from shopserv.web.sides import Side, sides_of

pytestmark = pytest.mark.once


class Intake(PageForm):
    odometer = fields.OdometerField(label="Odometer")
    towed = forms.BooleanField(label="Towed in", required=False)
    way = forms.ChoiceField(
        label="Way", choices=[("phone", "by telephone"), ("here", "here")], widget=forms.RadioSelect
    )
    words = forms.CharField(label="In the customer’s words", widget=forms.Textarea, help_text="As they were said.")


def part(name, **context):
    return re.sub(r"\s+", " ", render_to_string(f"parts/{name}.html", context)).strip()


def test_a_field_shows_its_label_with_its_unit():
    html = part("field", field=Intake()["odometer"], last="63,102 on Nov 2")

    assert '<label for="id_odometer">Odometer, mi</label>' in html
    assert '<p class="last-figure">63,102 on Nov 2</p>' in html
    assert "aria-invalid" not in html


def test_a_wrong_field_keeps_what_was_typed_and_names_field_cause_and_mend():
    html = part("field", field=Intake({"odometer": "-12"})["odometer"])

    assert 'class="field field-wrong"' in html
    assert 'value="-12"' in html
    assert 'aria-invalid="true"' in html
    assert 'aria-describedby="id_odometer_error"' in html
    assert (
        '<div id="id_odometer_error"> <p class="what-is-wrong"><b>Odometer:</b> A reading cannot be below zero.' in html
    )


def test_what_a_deed_refuses_can_be_confirmed_at_its_field():
    form = Intake({"odometer": "912400", "way": "here", "words": "whines"})
    form.is_valid()
    form.refuse(Refusal("A digit too many?", code="odometer.jump", field="odometer", confirmable=True))

    html = part("field", field=form["odometer"])

    assert "<b>Odometer:</b> A digit too many?" in html
    assert '<input type="checkbox" name="confirm" value="odometer.jump">' in html


def test_choices_stand_in_a_fieldset_and_a_tick_box_before_its_words():
    form = Intake()

    assert "<legend>Way</legend>" in part("field", field=form["way"])
    tick = part("field", field=form["towed"])
    assert re.search(r'<label class="tick" for="id_towed"><input type="checkbox"[^>]*> Towed in</label>', tick)


def test_help_is_tied_to_its_field():
    html = part("field", field=Intake()["words"])

    assert 'aria-describedby="id_words_helptext"' in html
    assert '<p class="help" id="id_words_helptext">As they were said.</p>' in html


def test_the_summary_leads_to_each_wrong_field():
    form = Intake({"odometer": "-12", "way": "here", "words": "whines"})
    form.refuse(Refusal("The shop is closed.", code="shop.closed"))

    html = part("error_summary", form=form)

    assert "Nothing was stored: 2 things are to be mended." in html
    assert '<a href="#id_odometer">Odometer</a>: A reading cannot be below zero.' in html
    assert "<li>The shop is closed.</li>" in html


def test_a_form_in_order_has_no_summary():
    assert part("error_summary", form=Intake()) == ""


def test_a_form_carries_its_keys_unseen():
    html = part("form_keys", form=Intake({"once": "abc", "edition": "7"}))

    assert '<input type="hidden" name="once" value="abc">' in html
    assert '<input type="hidden" name="edition" value="7">' in html


def test_the_main_act_has_its_key_inside():
    html = part("main_act", words="Offer version 3", form="quote")

    assert 'type="submit" data-key="Enter" form="quote"' in html
    assert 'Offer version 3 <span class="key" aria-hidden="true">Enter</span></button>' in html


def test_a_refused_act_says_why():
    html = part("main_act", words="Offer", refused="The price of the filter is blank.")

    assert "disabled" in html
    assert "The price of the filter is blank." in html
    assert "data-key" not in html


def test_a_stale_form_shows_both_sides():
    form = Intake({"odometer": "63180", "words": "whines", "way": "here"})
    theirs = {"odometer": "63181", "words": "whines"}
    refusal = Stale("Maren saved this at 10:42 AM.", theirs=theirs)

    sides = sides_of(form, refusal.theirs)
    html = part("side_by_side", refusal=refusal, sides=sides)

    assert sides == [Side("Odometer", "63180", "63181"), Side("In the customer’s words", "whines", "whines")]
    assert '<tr class="differs"><th scope="row">Odometer</th>' in html
    assert html.count("differs") == 1
    assert "Maren saved this at 10:42 AM." in html


def test_both_sides_say_a_choice_in_its_words_and_agreeing_ones_say_so():
    form = Intake({"odometer": "63180", "words": "whines", "way": "here"})

    sides = sides_of(form, {"way": "phone"})

    assert sides == [Side("Way", "here", "by telephone")]
    assert "<table" not in part("side_by_side", refusal=Stale("Maren saved this."), sides=[])


def test_what_people_typed_is_escaped():
    html = part("field", field=Intake({"odometer": "<b>1</b>"})["odometer"])

    assert "<b>1</b>" not in html


def test_a_working_ends_with_its_sum():
    rows = [
        {"what": "fluid", "how": "2 jugs", "figure": "$97.64"},
        {"what": "total", "figure": "$97.64", "is_sum": True},
    ]

    html = part("working", rows=rows, source="invented")

    assert '<tr class="sum"> <th scope="row">total</th>' in html
    assert html.count("$97.64") == 2


def test_a_caution_is_one_bar_of_text():
    assert part("caution", words="Hot fluid burns.") == '<p class="caution" role="note">Hot fluid burns.</p>'
