"""What the draft form says of wrong input: the field by its name, the cause, the mend, in our words."""

from __future__ import annotations

import pytest

from shopserv.web.counter.intake_form import IntakeForm
from tests.web.counter.test_flow import quoted, sheet_fields, tobin  # noqa: F401


@pytest.mark.parametrize(
    ("changes", "label", "said"),
    [
        ({"tenths_A": "1000"}, "A, labor, tenths", "More than 999 tenths of an hour is no labor of one option."),
        ({"tenths_B": "1.8"}, "B, labor, tenths", "That is no whole number. Type the tenths of an hour: 18 are 1.8 h."),
        (
            {"extra_kind": "discount", "extra_column": "A", "extra_text": "for the wait", "extra_price": "-20.00"},
            "price of the added line, $",
            "Type what comes off without a minus: a discount line takes it off by itself.",
        ),
        (
            {"extra_kind": "fee", "extra_column": "A", "extra_text": "for the wait", "extra_price": "-20.00"},
            "price of the added line, $",
            "a reduction goes in a discount line",
        ),
    ],
)
def test_wrong_input_is_said_by_field_in_our_words(tobin, changes, label, said):  # noqa: F811
    quote = quoted(tobin)

    answer = tobin.post(f"/counter/quote/{quote.number}/", sheet_fields(tobin, quote, act="save", **changes))

    text = answer.content.decode()
    assert answer.status_code == 422
    assert said in text
    assert label in text
    assert "Ensure this value" not in text
    assert "a whole number." not in text or "no whole number." in text
    assert all(
        f'value="{typed}"' in text for name, typed in changes.items() if name not in ("extra_kind", "extra_column")
    )


def test_a_discount_typed_without_minus_is_taken_off(tobin):  # noqa: F811
    quote = quoted(tobin)
    line = {"extra_kind": "discount", "extra_column": "A", "extra_text": "for the wait", "extra_price": "20.00"}

    tobin.post(f"/counter/quote/{quote.number}/", sheet_fields(tobin, quote, act="save", **line))

    assert quote.versions.get().options.get(letter="A").lines.get(kind="discount").price_cents == -2_000


def test_the_price_of_the_inspection_is_named():
    form = IntakeForm({"inspect_price": "-1"}, vehicle=None, customer=None)

    assert form["inspect_price"].label == "Price of the inspection (empty: free)"
    assert form.errors["inspect_price"]
