"""What people type, read strictly: one parser per kind, a sentence with cause and mend for what is not taken."""

from shopserv.common.parsing.amounts import (
    Quantity,
    Reading,
    money,
    odometer,
    percent,
    quantity,
    tax_rate,
    temperature,
    whole,
)
from shopserv.common.parsing.days import day, moment, near_day, time_of_day, time_zone, timestamp
from shopserv.common.parsing.doubts import UnitDoubt, doubt_of, temperature_doubt, volume_doubt
from shopserv.common.parsing.numbers import FieldError
from shopserv.common.parsing.phones import Phone, phone, phone_words
from shopserv.common.parsing.text import without_turning

__all__ = [
    "FieldError",
    "Phone",
    "Quantity",
    "Reading",
    "UnitDoubt",
    "day",
    "doubt_of",
    "moment",
    "money",
    "near_day",
    "odometer",
    "percent",
    "phone",
    "phone_words",
    "quantity",
    "tax_rate",
    "temperature",
    "temperature_doubt",
    "time_of_day",
    "time_zone",
    "timestamp",
    "volume_doubt",
    "whole",
    "without_turning",
]
