"""Form fields on the strict parsers."""

from datetime import date

import pytest
from django import forms

from shopserv.common.parsing import Phone, Reading
from shopserv.web import fields
from shopserv.web.forms import PageForm

pytestmark = pytest.mark.once


class Intake(PageForm):
    odometer = fields.OdometerField()
    amount = fields.QuantityField(required=False)
    price = fields.MoneyField(required=False)
    warm = fields.TemperatureField(required=False)
    discount = fields.PercentField(required=False)
    tenths = fields.WholeField(kind="labor", most=999, required=False)
    on = fields.DayField(latest=date(2026, 11, 24), required=False)
    at = fields.TimeField(required=False)
    phone = fields.PhoneField(required=False)


def test_what_is_typed_comes_out_as_whole_units():
    form = Intake(
        {
            "odometer": "63,180",
            "amount": "3.4",
            "price": "442.95",
            "warm": "107.6",
            "discount": "5",
            "tenths": "18",
            "on": "Nov 24, 2026",
            "phone": "(202) 555-0111",
        }
    )

    assert form.is_valid(), form.errors
    assert form.cleaned_data["odometer"] == Reading(63_180, "mi", "63,180")
    assert form.cleaned_data["amount"].ml == 3_218
    assert [form.cleaned_data[name] for name in ("price", "warm", "discount", "tenths")] == [44_295, 42_000, 50_000, 18]
    assert form.cleaned_data["on"] == date(2026, 11, 24)
    assert form.cleaned_data["phone"] == Phone("+12025550111", "", "(202) 555-0111")
    assert form.cleaned_data["at"] is None


def test_every_wrong_field_has_its_code_and_keeps_its_text():
    form = Intake({"odometer": "-12", "amount": "7,4", "price": "10.005", "on": "2026-11-25"})

    assert form.is_valid() is False
    assert {name: errors[0]["code"] for name, errors in form.errors.get_json_data().items()} == {
        "odometer": "odometer.range",
        "amount": "quantity.ambiguous",
        "price": "money.places",
        "on": "date.future",
    }
    assert form["amount"].value() == "7,4"
    assert 'value="7,4"' in str(form["amount"])


def test_a_required_field_that_is_empty_says_so():
    form = Intake({})

    assert form.errors["odometer"] == ["Nothing was typed. Type it, or go back without it."]


def test_a_required_choice_that_is_not_made_says_so():
    class Way(PageForm):
        way = forms.ChoiceField(choices=[("d", "driven"), ("t", "towed")], widget=forms.RadioSelect)

    assert Way({}).errors["way"] == ["Nothing was chosen. Choose one, or go back without it."]


def test_the_unit_of_the_instrument_can_be_set_for_a_vehicle():
    form = Intake({"odometer": "91240"})
    form.fields["odometer"].keep_unit("km")

    assert form.fields["odometer"].unit_shown == "km"
    assert form.is_valid()
    assert form.cleaned_data["odometer"].unit == "km"
