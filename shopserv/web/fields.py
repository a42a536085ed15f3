"""Form fields on the strict parsers: what they refuse stays in the field, with the parser's sentence."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from shopserv.common import parsing
from shopserv.common.parsing import FieldError
from shopserv.common.parsing.doubts import Span


class TypedField(forms.CharField):
    """A text that one parser reads.

    unit_shown   what stands beside the field ("qt", "°F", "$")
    clean()      gives what the parser returns; None where an optional field is empty
    doubt()      asks for the unit where the figure makes sense only in another than the one beside the field; the form
                 shows the question and takes the answer
    """

    def __init__(
        self, parser: Callable[..., Any], *, unit_shown: str = "", numeric: bool = True, how: Any = None, **kwargs: Any
    ) -> None:
        kwargs.setdefault("strip", True)
        super().__init__(**kwargs)
        self.parser, self.unit_shown, self.how = parser, unit_shown, dict(how or {})
        self.widget.attrs.setdefault("autocomplete", "off")
        if numeric:
            self.widget.attrs.setdefault("inputmode", "decimal")

    def clean(self, value: Any) -> Any:
        """The parsed value; the parser's sentence where it refuses."""
        text = super().clean(value)
        if text in self.empty_values:
            return None
        try:
            return self.parser(text, **self.how)
        except FieldError as error:
            raise ValidationError(error.message, code=error.code) from error

    def doubt(self, text: str) -> parsing.UnitDoubt | None:
        """What is to be asked of a figure without unit; nothing where the field expects nothing in particular."""
        return None


class OdometerField(TypedField):
    """A reading in the unit of the instrument or in the one typed; gives `parsing.Reading`."""

    def __init__(self, *, unit: str = "mi", **kwargs: Any) -> None:
        super().__init__(parsing.odometer, unit_shown=unit, how={"unit": unit}, **kwargs)

    def keep_unit(self, unit: str) -> None:
        """Expect the unit of this vehicle's instrument."""
        self.unit_shown, self.how = unit, self.how | {"unit": unit}


class QuantityField(TypedField):
    """A volume in the unit shown beside it or in the one typed; gives `parsing.Quantity`.

    expects   (low, high) in mL of what makes sense here; a figure that does so only in the other unit is asked
    """

    def __init__(self, *, unit: str = "qt", expects: Span = (None, None), **kwargs: Any) -> None:
        super().__init__(parsing.quantity, unit_shown=unit, how={"unit": unit}, **kwargs)
        self.expects = expects

    def doubt(self, text: str) -> parsing.UnitDoubt | None:
        """Quarts that may be liters, or the other way round."""
        return parsing.volume_doubt(text, unit=self.how["unit"], expected=self.expects)


class TemperatureField(TypedField):
    """A temperature; gives thousandths of a °C.

    expects   (low, high) in thousandths of a °C of what makes sense here
    """

    def __init__(self, *, unit: str = "degF", expects: Span = (None, None), **kwargs: Any) -> None:
        shown = {"degF": "°F", "degC": "°C"}[unit]
        super().__init__(parsing.temperature, unit_shown=shown, how={"unit": unit}, **kwargs)
        self.expects = expects

    def doubt(self, text: str) -> parsing.UnitDoubt | None:
        """°F that may be °C, or the other way round."""
        return parsing.temperature_doubt(text, unit=self.how["unit"], expected=self.expects)


class MoneyField(TypedField):
    """An amount in the currency of the business; gives whole cents."""

    def __init__(self, *, currency: str = "USD", may_be_negative: bool = False, **kwargs: Any) -> None:
        how = {"currency": currency, "may_be_negative": may_be_negative}
        super().__init__(parsing.money, unit_shown="$" if currency == "USD" else currency, how=how, **kwargs)


class PercentField(TypedField):
    """A percentage; gives parts per million. `kind` begins its codes: discount, tax, share."""

    def __init__(self, *, kind: str = "discount", most: int = 100, **kwargs: Any) -> None:
        super().__init__(parsing.percent, unit_shown="%", how={"kind": kind, "most": most}, **kwargs)


class WholeField(TypedField):
    """A whole number, such as tenths of an hour; gives int. `kind` begins its codes."""

    def __init__(self, *, kind: str, least: int = 0, most: int = 9_999_999, unit: str = "", **kwargs: Any) -> None:
        super().__init__(parsing.whole, unit_shown=unit, how={"kind": kind, "least": least, "most": most}, **kwargs)


class DayField(TypedField):
    """A calendar day; gives date. `latest` is the shop's today where the day must not lie ahead."""

    def __init__(self, *, latest: date | None = None, order: str = "", **kwargs: Any) -> None:
        super().__init__(parsing.day, numeric=False, how={"latest": latest, "order": order}, **kwargs)

    def not_after(self, today: date) -> None:
        """Refuse a day that lies ahead of `today`."""
        self.how = self.how | {"latest": today}


class TimeField(TypedField):
    """A time on the wall of the shop; gives time."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(parsing.time_of_day, numeric=False, **kwargs)


class PhoneField(TypedField):
    """A telephone number; gives `parsing.Phone`."""

    def __init__(self, *, country: str = "US", **kwargs: Any) -> None:
        super().__init__(parsing.phone, numeric=False, how={"country": country}, **kwargs)
        self.widget.attrs["inputmode"] = "tel"
