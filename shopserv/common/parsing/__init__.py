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
from shopserv.common.parsing.numbers import FieldError
from shopserv.common.parsing.phones import Phone, phone, phone_words
from shopserv.common.parsing.text import without_turning

__all__ = [
    "FieldError",
    "Phone",
    "Quantity",
    "Reading",
    "day",
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
    "time_of_day",
    "time_zone",
    "timestamp",
    "whole",
    "without_turning",
]
