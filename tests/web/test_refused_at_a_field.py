"""What a deed says at a field does not say the name of the field again that stands before it."""

from __future__ import annotations

import pytest
from django import forms

from shopserv.common.errors import Refusal
from shopserv.web.forms import PageForm


class Dwell(PageForm):
    dwell_s = forms.IntegerField(label="Dwell in each position, s", required=False)


@pytest.mark.parametrize(
    ("said", "shown"),
    [
        ("dwell in each position: too short, the sheet says 3 s: hold it.", "Too short, the sheet says 3 s: hold it."),
        ("dwell: too short.", "dwell: too short."),
        ("Too short.", "Too short."),
    ],
)
@pytest.mark.parametrize("field", ["dwell_s", "elsewhere"])
def test_the_name_of_the_field_is_said_once(said, shown, field):
    form = Dwell({"once": "key"})

    form.refuse(Refusal(said, code="a.code", field=field))

    assert form.errors == ({field: [shown]} if field == "dwell_s" else {"__all__": [said]})
