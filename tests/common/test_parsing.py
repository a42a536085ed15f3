"""What people type, by the rows of the project's catalog of bad inputs (B009 to B047)."""

from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopserv.common import parsing
from shopserv.common.parsing import FieldError, Phone, Quantity, Reading

pytestmark = pytest.mark.once
NEW_YORK = "America/New_York"


def refused(parser, typed, **how):
    with pytest.raises(FieldError) as caught:
        parser(typed, **how)
    return caught.value.code, caught.value.message


ROWS = [  # row, parser, how, typed, code, words that the sentence must hold
    ("B009", parsing.odometer, {}, "-12", "odometer.range", ["below zero"]),
    ("B012", parsing.odometer, {}, "91.240", "odometer.ambiguous", ["91,240 or 91 "]),
    ("B012", parsing.odometer, {"sign": ","}, "91,240", "odometer.ambiguous", ["91.240 or 91 "]),
    ("B013", parsing.odometer, {}, "9.1e4", "odometer.format", ["9.1e4", "digits only"]),
    ("B014", parsing.odometer, {}, "99999999999999999999", "odometer.range", ["9,999,999"]),
    ("B015", parsing.odometer, {}, "٩١٢٤٠", "odometer.format", ["0-9"]),
    ("B017", parsing.quantity, {"unit": "L"}, "12 gt", "quantity.unit", ["“gt” is not a unit", "qt"]),
    ("B018", parsing.quantity, {"unit": "L"}, "7,4", "quantity.ambiguous", ["7.4 or 74 "]),
    ("B019", parsing.quantity, {}, "7.4", "quantity.unit_missing", ["qt, L or mL"]),
    ("B020", parsing.quantity, {"unit": "L"}, "NaN", "quantity.format", ["A number is needed"]),
    ("B021", parsing.quantity, {"unit": "L"}, "Infinity", "quantity.format", ["A number is needed"]),
    ("B021", parsing.quantity, {"unit": "L"}, "-Infinity", "quantity.format", ["A number is needed"]),
    ("B022", parsing.quantity, {"unit": "L"}, "1e400", "quantity.range", ["largest quantity is 200 L"]),
    ("B022", parsing.quantity, {}, "1e99999999999999999999 L", "quantity.range", ["largest quantity is 200 L"]),
    ("B022", parsing.quantity, {}, "200.001 L", "quantity.range", ["largest quantity is 200 L"]),
    ("B023", parsing.quantity, {}, "1E-30 L", "quantity.range", ["smallest step is 1 mL (0.001 L)"]),
    ("B023", parsing.quantity, {}, "0.4 mL", "quantity.range", ["smallest step is 1 mL (0.001 L)"]),
    ("B024", parsing.quantity, {}, "0 L", "quantity.range", ["above zero", "line is to be removed"]),
    ("B025", parsing.quantity, {}, "-3 qt", "quantity.range", ["part return line"]),
    ("B026", parsing.quantity, {}, "7.40000000000000000000000000000001 L", "quantity.places", ["more than 3 places"]),
    ("B027", parsing.quantity, {}, "12 qt / 11.4 L", "quantity.format", ["One value is needed"]),
    ("B028", parsing.money, {}, "1.234,56", "money.format", ["1.234,56", "1,234.56"]),
    ("B029", parsing.money, {}, "10.005", "money.places", ["two places", "not rounded"]),
    ("B030", parsing.money, {}, "-50.00", "money.range", ["discount line with a reason"]),
    ("B031", parsing.money, {}, "99999999999.99", "money.range", ["9,999,999.99"]),
    ("B031", parsing.money, {}, "10000000.00", "money.range", ["9,999,999.99"]),
    ("B032", parsing.money, {"currency": "EUR"}, "10 USD", "money.currency", ["bills in EUR"]),
    ("B032", parsing.money, {"currency": "EUR"}, "$10", "money.currency", ["bills in EUR"]),
    ("B034", parsing.tax_rate, {}, "825", "tax.range", ["0 and 60 %", "8.25"]),
    ("B035", parsing.percent, {}, "500 %", "discount.range", ["0 and 100 %"]),
    ("B036", parsing.day, {}, "2026-02-29", "date.invalid", ["2026 has no February 29"]),
    ("B038", parsing.day, {}, "03/04/26", "date.ambiguous", ["Mar 4, 2026", "Apr 3, 2026"]),
    ("B039", parsing.day, {}, "10000-01-01", "date.range", ["1900 and 2100"]),
    ("B039", parsing.day, {}, "0000-00-00", "date.range", ["1900 and 2100"]),
    ("B040", parsing.day, {"latest": date(2026, 11, 24)}, "2026-11-25", "date.future", ["lies ahead", "Nov 24, 2026"]),
    ("B043", parsing.time_zone, {}, "Mars/Kell", "timezone.unknown", ["Mars/Kell", "list"]),
    ("B044", parsing.timestamp, {}, "2026-11-25T10:00:00", "time.zone_missing", ["offset", "RFC 3339"]),
    ("B045", parsing.phone, {}, "555-01", "phone.invalid", ["Too short", "US", "as given"]),
    ("B047", parsing.phone, {}, "tel:+1;drop", "phone.invalid", ["Allowed are digits"]),
]  # fmt: skip


@pytest.mark.parametrize(("row", "parser", "how", "typed", "code", "words"), ROWS)
def test_what_the_catalog_refuses_is_refused_with_cause_and_mend(row, parser, how, typed, code, words):
    found, message = refused(parser, typed, **how)

    assert found == code
    assert [word for word in words if word not in message] == []


@pytest.mark.parametrize(
    ("row", "parser", "how", "typed", "value"),
    [
        ("B012", parsing.odometer, {"sign": ","}, "91.240", Reading(91_240, "mi", "91.240")),
        ("B016", parsing.odometer, {}, "91240 km", Reading(91_240, "km", "91240 km")),
        ("B018", parsing.quantity, {"unit": "L", "sign": ","}, "7,4", Quantity(7_400, Decimal("7.4"), "L", "7,4")),
        ("B019", parsing.quantity, {"unit": "L"}, "7.4", Quantity(7_400, Decimal("7.4"), "L", "7.4")),
        ("B028", parsing.money, {"sign": ","}, "1.234,56", 123_456),
        ("B038", parsing.day, {"order": "mdy"}, "03/04/26", date(2026, 3, 4)),
        ("B038", parsing.day, {"order": "dmy"}, "03/04/26", date(2026, 4, 3)),
        ("B040", parsing.day, {"latest": date(2026, 11, 24)}, "2026-11-24", date(2026, 11, 24)),
        ("B046", parsing.phone, {}, "+49 (0)30 901820 ext. 12", Phone("+4930901820", "12", "+49 (0)30 901820 ext. 12")),
    ],
)
def test_what_the_catalog_takes_is_taken_as_it_says(row, parser, how, typed, value):
    assert parser(typed, **how) == value


def test_b033_three_times_a_tenth_is_exactly_thirty_cents():
    assert sum(parsing.money("0.1") for _ in range(3)) == 30


def test_b041_a_time_that_the_clocks_skip_is_refused_with_its_neighbors():
    """2027-03-14, 2 to 3 AM, is skipped in New York (Energy Policy Act of 2005)."""
    with pytest.raises(FieldError) as caught:
        parsing.moment(date(2027, 3, 14), time(2, 30), NEW_YORK)

    assert caught.value.code == "time.gap"
    assert "2:30 AM does not exist on Mar 14, 2027" in caught.value.message
    assert "1:30 AM or 3:30 AM" in caught.value.message


def test_b042_a_time_that_comes_twice_is_asked_about_and_counted_as_answered():
    """2026-11-01, 1 to 2 AM, comes twice in New York; a job begun 00:45 took 45 or 105 minutes."""
    on, begun = date(2026, 11, 1), parsing.moment(date(2026, 11, 1), time(0, 45), NEW_YORK)

    with pytest.raises(FieldError) as caught:
        parsing.moment(on, time(1, 30), NEW_YORK)
    minutes = [(parsing.moment(on, time(1, 30), NEW_YORK, fold=n) - begun) / timedelta(minutes=1) for n in (0, 1)]

    assert caught.value.code == "time.fold"
    assert minutes == [45, 105]


@pytest.mark.parametrize(
    ("typed", "value"),
    [
        ("63180", 63_180),
        ("63,180", 63_180),
        ("63 180", 63_180),
        ("63\u00a0180 mi", 63_180),
        ("0", 0),
        ("9,999,999", 9_999_999),
    ],
)
def test_readings_may_be_grouped(typed, value):
    assert parsing.odometer(typed).figure == value


@pytest.mark.parametrize(
    ("typed", "code"),
    [
        ("", "odometer.missing"),
        ("63,18", "odometer.ambiguous"),
        ("63180.5", "odometer.places"),
        ("63180 km/h", "odometer.unit"),
        ("about 60000", "odometer.format"),
        ("6" * 61, "odometer.format"),
        ("63180 64000", "odometer.format"),
        ("0x10", "odometer.format"),
    ],
)
def test_a_reading_is_never_guessed(typed, code):
    assert refused(parsing.odometer, typed)[0] == code


@pytest.mark.parametrize(
    ("typed", "ml"),
    [("3.4 qt", 3_218), ("1 gal", 3_785), ("10.0 L", 10_000), ("500 mL", 500), ("2 pints", 946), ("200 L", 200_000)],
)
def test_volumes_become_whole_milliliters(typed, ml):
    """US quart 946.352946 mL (NIST SP 811)."""
    assert parsing.quantity(typed).ml == ml


@pytest.mark.parametrize(
    ("typed", "how", "mdegc"),
    [
        ("107.6", {}, 42_000),
        ("107.6 °F", {}, 42_000),
        ("42 C", {}, 42_000),
        ("42.0", {"unit": "degC"}, 42_000),
        ("−40", {}, -40_000),
    ],
)
def test_temperatures_become_thousandths_of_a_degree_celsius(typed, how, mdegc):
    assert parsing.temperature(typed, **how) == mdegc


@pytest.mark.parametrize(
    ("typed", "code"),
    [
        ("1076", "temperature.range"),
        ("107.65", "temperature.places"),
        ("107,6", "temperature.ambiguous"),
        ("300 K", "temperature.unit"),
        ("1e2", "temperature.format"),
        ("warm", "temperature.format"),
    ],
)
def test_a_temperature_is_never_guessed(typed, code):
    assert refused(parsing.temperature, typed)[0] == code


@pytest.mark.parametrize(
    ("typed", "cents"),
    [
        ("442.95", 44_295),
        ("$442.95", 44_295),
        ("1,234.56", 123_456),
        ("15", 1_500),
        ("15 USD", 1_500),
        (".5", 50),
    ],
)
def test_amounts_become_whole_cents(typed, cents):
    assert parsing.money(typed) == cents


@pytest.mark.parametrize("typed", ["NaN", "1e3", "12,50", "1,23,456.00", "12 each", "$ten", "--5", "5 5"])
def test_an_amount_in_another_form_is_refused(typed):
    assert refused(parsing.money, typed)[0] == "money.format"


def test_a_return_may_be_below_zero_where_it_is_asked_for():
    assert parsing.money("-12.00", may_be_negative=True) == -1_200


@given(st.integers(0, 999_999_999))
def test_an_amount_reads_back_as_it_was_printed(cents):
    assert parsing.money(f"{cents // 100:,}.{cents % 100:02d}") == cents


PARSERS = [
    parsing.odometer,
    parsing.quantity,
    parsing.temperature,
    parsing.money,
    parsing.tax_rate,
    parsing.day,
    parsing.time_of_day,
    parsing.time_zone,
    parsing.timestamp,
    parsing.phone,
]


@pytest.mark.parametrize("parser", PARSERS)
@given(text=st.text(max_size=80) | st.text("0123456789.,-+eE'$%/: LqtFCaPMx()", max_size=24))
def test_any_text_is_read_or_refused_in_a_sentence(parser, text):
    said = "."
    try:
        parser(text)
    except FieldError as error:
        said = error.message

    assert said[-1] in ".?"


@pytest.mark.parametrize(
    ("typed", "ppm"), [("6.25", 62_500), ("6.25 %", 62_500), ("0", 0), ("60", 600_000), ("8.875%", 88_750)]
)
def test_rates_become_parts_per_million(typed, ppm):
    assert parsing.tax_rate(typed) == ppm


@pytest.mark.parametrize(
    "typed", ["2026-11-24", "Nov 24, 2026", "November 24 2026", "24 Nov 2026", "11/24/2026", "24.11.2026", "11/24/26"]
)
def test_a_day_may_be_written_in_any_way_that_says_one_day(typed):
    assert parsing.day(typed) == date(2026, 11, 24)


@pytest.mark.parametrize(
    ("typed", "code"),
    [("", "date.missing"), ("tomorrow", "date.format"), ("2026-13-01", "date.invalid"), ("13/13/2026", "date.invalid")],
)
def test_a_day_is_never_guessed(typed, code):
    assert refused(parsing.day, typed)[0] == code


@pytest.mark.parametrize(
    ("typed", "value"),
    [
        ("2:30 PM", time(14, 30)),
        ("14:30", time(14, 30)),
        ("2 pm", time(14)),
        ("12 AM", time(0)),
        ("12:05 p.m.", time(12, 5)),
    ],
)
def test_times_come_with_12_or_24_hours(typed, value):
    assert parsing.time_of_day(typed) == value


@pytest.mark.parametrize("typed", ["25:00", "2:60 PM", "13 PM", "noon", "230"])
def test_what_is_no_time_is_refused(typed):
    assert refused(parsing.time_of_day, typed)[0] == "time.format"


def test_a_timestamp_with_offset_is_kept_in_utc():
    assert parsing.timestamp("2026-11-25T10:00:00-05:00") == datetime(2026, 11, 25, 15, tzinfo=UTC)


def test_a_number_of_the_country_needs_no_code_and_reads_back_in_its_form():
    assert parsing.phone("(202) 555-0111").e164 == "+12025550111"
    assert parsing.phone_words("+12025550111") == "(202) 555-0111"
    assert parsing.phone_words("+4930901820") == "+49 30 901820"


def test_tenths_are_whole_numbers_within_their_range():
    assert parsing.whole("18", kind="labor", most=999) == 18
    assert refused(parsing.whole, "1.8", kind="labor", most=999)[0] == "labor.places"
    assert refused(parsing.whole, "1800", kind="labor", most=999)[0] == "labor.range"
