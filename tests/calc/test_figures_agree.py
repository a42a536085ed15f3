"""When a check agrees and when it must not. Source: the contract of the reference checks."""

from __future__ import annotations

import pytest

from shopserv.calc import figures

QT = {"quantity": "convert", "given": {"value": "1 qt", "to": "mL"}}  # 946.352946 mL
BOILING = {"quantity": "boiling_point", "given": {"pressure": "0.1 MPa"}}  # 99.605919 degC
TENTHS = {"quantity": "labor_tenths", "given": {"time": "31 min"}}  # 6
CONSENT = {
    "quantity": "used_oil_presumption",
    "given": {"total_halogens": "1001 ppm"},
}  # true
CHARGE = {"quantity": "labor_charge", "given": {"time": "1.5 h", "rate": "96 USD/h"}}  # 144 USD
LABEL = {"quantity": "used_oil_label", "given": {"on": "container"}}
DUE = {"quantity": "due_date_months", "given": {"date": "2026-11-24", "interval": "1 mo"}}
COUNTS = {
    "quantity": "package_choice",
    "given": {"need": "2 L", "packages": [{"name": "error", "size": "1 L", "cost": "1 USD"}], "report": "counts"},
}  # {"error": 2}
YEARS = {"quantity": "vin_model_years", "given": {"vin": "0AB01C5205K000123", "vehicle_class": "other"}}
HALVES = {"quantity": "document_discount", "given": {"taxables": ["2 USD", "4 USD"], "percent": "50 %"}}
BAD = {"quantity": "labor_tenths", "given": {"time": "-1 min"}}
DIFFERENCE = {"quantity": "convert", "given": {"value": "18 degF", "to": "degC", "kind": "difference"}}
DRIP = {"quantity": "convert", "given": {"value": "1000000.0000005 L", "to": "L"}}


def lines_of(check):
    return figures.run_checks({"contract": 1, "checks": [{"id": "one", **check}]}).lines()


def agrees(check):
    return lines_of(check) == ["1 of 1 agree"]


@pytest.mark.parametrize(
    ("check", "expect", "tolerance"),
    [
        (QT, "0.946352946 L", None),
        (QT, "32 fl_oz", None),
        (QT, "946 mL", {"abs": "0.4 mL"}),
        (QT, "946 mL", {"abs": "0.0004 L"}),
        (QT, "946 mL", {"abs": "0.4"}),
        (QT, "946 mL", {"rel": "0.001"}),
        (QT, "946 mL", {"rel": "0.1 %"}),
        (DRIP, "1000000 L", None),
        (BOILING, "99.6 degC", {"abs": "0.01 K"}),
        (BOILING, "99.6 degC", {"abs": "0.01 degC"}),  # as a tolerance it can only be a step
        (BOILING, "211.29 degF", {"abs": "0.02 delta_degF"}),
        (BOILING, "372.756 K", {"abs": "0.002 delta_degF"}),
        (BOILING, "99.6 degC", {"rel": "0.001"}),
        (TENTHS, 6, None),
        (TENTHS, 5, {"abs": "1"}),
        (CONSENT, True, None),
        (CHARGE, "144.00 USD", None),
        (CHARGE, "144 USD", None),
        (CHARGE, "144.01 USD", {"abs": "0.01 USD"}),
        (LABEL, "Used Oil", None),
        (DUE, "2026-12-24", None),
        (COUNTS, {"error": 2}, None),
        (YEARS, [2005, 2035], None),
        (HALVES, ["1 USD", "2 USD"], None),
        (HALVES, ["1.01 USD", "1.99 USD"], {"abs": "0.01 USD"}),
        (BAD, {"error": "OutOfRange"}, None),
        (DIFFERENCE, "10 degC", None),
        (DIFFERENCE, "18 delta_degF", None),
        ({"quantity": "combined_factor", "given": {"moisture": "1", "thermal": "1"}}, 1, None),
    ],
)
def test_what_is_expected_agrees(check, expect, tolerance):
    assert agrees({**check, "expect": expect, **({"tolerance": tolerance} if tolerance else {})})


@pytest.mark.parametrize(
    ("check", "expect", "tolerance"),
    [
        (QT, "0.946352946003 L", None),
        (QT, "946.352946 L", None),
        (QT, "946.352946", None),
        (QT, "0.946352946 kg", None),
        (QT, "0.946352946 quark", None),
        (QT, "about a liter", None),
        (QT, 946, None),
        (QT, None, None),
        (QT, ["946.352946 mL"], None),
        (QT, {"error": "OutOfRange"}, None),
        (QT, "946 mL", {"abs": "0.3 mL"}),
        (QT, "946 mL", {"abs": "0.4 K"}),
        (QT, "946 mL", {"rel": "0.0001"}),
        (QT, "946 mL", {"rel": "0.4 mL"}),
        (QT, "946 mL", {"abs": "0.4 mL", "rel": "1"}),
        (QT, "946 mL", {"within": "0.4 mL"}),
        (QT, "946 mL", "0.4 mL"),
        (QT, "946 mL", {}),
        (BOILING, "99.6 degC", {"abs": "0.001 K"}),
        (TENTHS, 5, None),
        (TENTHS, "6", None),
        (TENTHS, 6.0, None),
        (TENTHS, 4, {"abs": "1"}),
        (CONSENT, 1, None),
        (CONSENT, "true", None),
        (CHARGE, "144.01 USD", None),
        (CHARGE, "144.000 USD", None),
        (CHARGE, "144 EUR", None),
        (CHARGE, "144", None),
        (CHARGE, 144, None),
        (LABEL, "used oil", None),
        (DUE, "2026-12-25", None),
        (COUNTS, {"error": "OutOfRange"}, None),
        (COUNTS, {"error": 3}, None),
        (COUNTS, {"error": True}, None),
        (COUNTS, {}, None),
        (YEARS, [2005], None),
        (YEARS, [2035, 2005], None),
        (YEARS, 2005, None),
        (HALVES, ["1 USD", "2.01 USD"], None),
        (BAD, {"error": "NegativeMoney"}, None),
        (BAD, 0, None),
        (DIFFERENCE, "283.15 L", None),
        ({"quantity": "used_oil_label", "given": {"on": "container"}}, {"error": "UnknownChoice"}, None),
    ],
)
def test_anything_else_fails_the_check(check, expect, tolerance):
    assert not agrees({**check, "expect": expect, **({} if tolerance is None else {"tolerance": tolerance})})


PRICE = {"quantity": "labor_charge", "given": {"rate": "96 USD/h"}, "vary": "time"}
WARMTH = {"quantity": "convert", "given": {"to": "degC"}, "vary": "value"}
WINDOW = {"quantity": "level_window_status", "given": {"low": "40 degC", "high": "45 degC"}, "vary": "temperature"}
TIERS = {"quantity": "document_discount", "given": {"taxables": ["2 USD", "4 USD"]}, "vary": "percent"}
MONTHS = {"quantity": "due_date_months", "given": {"date": "2026-11-24"}, "vary": "interval"}
TANKS = {
    "quantity": "fresh_fraction_exchange",
    "given": {"capacity": "8 L", "volume": "9 L", "model": "tanks"},
    "vary": "tanks",
}
JOBS = {"quantity": "payback_count", "given": {"equipment": "100 USD"}, "vary": "saving_per_job"}


@pytest.mark.parametrize(
    ("check", "name", "over", "more"),
    [
        (PRICE, "increasing", ["0 h", "6 min", "0.2 h"], {}),
        (PRICE, "non_decreasing", ["6 min", "0.1 h", "0.2 h"], {}),
        (PRICE, "decreasing", ["2 h", "1 h"], {}),
        (PRICE, "non_increasing", ["2 h", "120 min", "1 h"], {}),
        (PRICE, "constant", ["1 h", "60 min", "3600 s"], {}),
        (PRICE, "bounded", ["1 h", "2 h"], {"bounds": ["96 USD", "192.00 USD"]}),
        (WARMTH, "constant", ["104 degF", "40 degC"], {}),
        (WARMTH, "bounded", ["104 degF", "40 degC"], {"bounds": ["313.15 K", "104 degF"]}),
        (WINDOW, "constant", ["40 degC", "45 degC"], {}),
        (WINDOW, "bounded", ["40 degC"], {"bounds": ["inside", "inside"]}),
        (TIERS, "decreasing", ["10 %", "0.5"], {}),
        (TIERS, "constant", ["10 %", "0.1"], {}),
        (TIERS, "bounded", ["10 %", "50 %"], {"bounds": ["1 USD", "4 USD"]}),
        (MONTHS, "increasing", ["1 mo", "1 yr"], {}),
        (TANKS, "increasing", [1, 2, 40], {}),
        (TANKS, "bounded", [1, 2], {"bounds": [0, 1]}),
        (JOBS, "non_increasing", ["9 USD", "9.50 USD", "10 USD"], {}),
        (JOBS, "bounded", ["9 USD", "10 USD"], {"bounds": [10, "12"]}),
    ],
)
def test_a_property_that_holds_passes(check, name, over, more):
    assert agrees({**check, "property": name, "over": over, **more})


@pytest.mark.parametrize(
    ("check", "name", "over", "more"),
    [
        (PRICE, "increasing", ["6 min", "0.1 h"], {}),
        (PRICE, "decreasing", ["6 min", "0.2 h"], {}),
        (PRICE, "decreasing", ["6 min", "0.1 h"], {}),
        (PRICE, "non_decreasing", ["0.2 h", "0.1 h"], {}),
        (PRICE, "non_increasing", ["0.1 h", "0.2 h"], {}),
        (PRICE, "constant", ["1 h", "1.1 h"], {}),
        (PRICE, "bounded", ["1 h", "2 h"], {"bounds": ["96 USD", "191.99 USD"]}),
        (PRICE, "bounded", ["1 h", "2 h"], {"bounds": ["96.01 USD", "200 USD"]}),
        (PRICE, "bounded", ["1 h"], {"bounds": ["0 L", "200 L"]}),
        (PRICE, "bounded", ["1 h"], {"bounds": "96 USD"}),
        (PRICE, "bounded", ["1 h"], {}),
        (PRICE, "increasing", [], {}),
        (PRICE, "increasing", None, {}),
        (PRICE, "increasing", ["1 h", "1.05 h"], {}),  # NotTenths is no result
        (PRICE, "rising", ["1 h", "2 h"], {}),
        (WARMTH, "bounded", ["104 degF"], {"bounds": ["41 degC", "50 degC"]}),
        (WINDOW, "constant", ["40 degC", "46 degC"], {}),
        (WINDOW, "bounded", ["46 degC"], {"bounds": ["inside", "inside"]}),
        (WINDOW, "bounded", ["46 degC"], {"bounds": [1, 2]}),
        (TIERS, "constant", ["10 %", "20 %"], {}),
        (JOBS, "bounded", ["9 USD", "10 USD"], {"bounds": [11, 12]}),
    ],
)
def test_a_property_that_does_not_hold_fails(check, name, over, more):
    assert not agrees({**check, "property": name, "over": over, **more})


def than(quantity, **given):
    return {"than": {"quantity": quantity, "given": given}}


@pytest.mark.parametrize(
    ("check", "name", "more", "holds"),
    [
        (QT, "greater_than", than("convert", value="1 pt", to="L"), True),
        (QT, "greater_than", than("convert", value="2 pt", to="L"), False),
        (QT, "equal_to", than("convert", value="2 pt", to="L"), True),
        (QT, "equal_to", than("convert", value="1 L", to="L"), False),
        (QT, "equal_to", {**than("convert", value="1 L", to="L"), "tolerance": {"abs": "54 mL"}}, True),
        (QT, "equal_to", {**than("convert", value="1 L", to="L"), "tolerance": {"abs": "53 mL"}}, False),
        (QT, "equal_to", {**than("convert", value="1 L", to="L"), "tolerance": {"rel": "0.06"}}, True),
        (QT, "equal_to", than("convert", value="1 kg", to="kg"), False),
        (QT, "greater_than", than("labor_tenths", time="1 h"), False),
        (CHARGE, "equal_to", than("labor_charge", time="90 min", rate="96.00 USD/h"), True),
        (CHARGE, "greater_than", than("labor_charge", time="84 min", rate="96.00 USD/h"), True),
        (TENTHS, "equal_to", than("labor_tenths", time="36 min"), True),
        (TENTHS, "equal_to", {**than("labor_tenths", time="42 min"), "tolerance": {"abs": "1"}}, True),
        (TENTHS, "greater_than", than("labor_tenths", time="36 min"), False),
        (LABEL, "equal_to", than("used_oil_label", on="aboveground_tank"), True),
        (LABEL, "equal_to", {**than("used_oil_label", on="container"), "tolerance": {"abs": "1"}}, True),
        (CONSENT, "equal_to", than("used_oil_presumption", total_halogens="1 %"), True),
        (CONSENT, "equal_to", than("used_oil_presumption", total_halogens="0"), False),
        (YEARS, "equal_to", than("vin_model_years", vin="0AB01CD205K000123", vehicle_class="other"), True),
        (YEARS, "equal_to", than("vin_model_years", vin="0AB01CD205K000123", vehicle_class="light"), False),
        (
            HALVES,
            "equal_to",
            {
                **than("document_discount", taxables=["2 USD", "4 USD"], amount="2.99 USD"),
                "tolerance": {"abs": "0.01 USD"},
            },
            True,
        ),
        (QT, "equal_to", than("convert", value="1 L"), False),
        (QT, "equal_to", {}, False),
    ],
)
def test_two_results_are_held_against_each_other(check, name, more, holds):
    assert agrees({**check, "property": name, **more}) is holds


def test_the_line_of_a_failure_says_expected_and_got_in_the_unit_expected():
    assert lines_of({**QT, "expect": "1 L"}) == ['one: expected "1 L", got 0.946352946 L', "0 of 1 agree"]
    assert lines_of({**CHARGE, "expect": "1 USD"})[0] == 'one: expected "1 USD", got 144.00 USD'
    assert lines_of({**HALVES, "expect": ["1 USD"]})[0] == 'one: expected ["1 USD"], got [1.00 USD, 2.00 USD]'
    assert lines_of({**TENTHS, "expect": True})[0] == "one: expected true, got 6"
    assert lines_of({**BAD, "expect": 5})[0].startswith("one: expected 5, got OutOfRange: ")
    assert lines_of({**QT, "expect": {"error": "OutOfRange"}})[0] == (
        'one: expected {"error": "OutOfRange"}, got 946.352946 mL'
    )


def test_a_figure_beyond_all_floats_is_shown_in_full():
    line = lines_of({"quantity": "convert", "given": {"value": "1e400 L", "to": "L"}, "expect": "1 L"})[0]

    assert line == f'one: expected "1 L", got 1{"0" * 400} L'


@pytest.mark.parametrize(
    "check",
    [
        "no check",
        {},
        {"id": 7, "quantity": "convert"},
        {"id": "a\nb", "quantity": ["convert"], "given": 5, "expect": "1 L"},
        {**QT, "property": ["increasing"]},
        {**QT, "property": "increasing", "over": ["1 qt"]},
        {**QT, "property": "increasing", "vary": "value.deeper", "over": ["1 qt"]},
        {**QT, "property": "greater_than", "than": "convert"},
        {"quantity": "convert", "given": {"value": {"deep": [1]}, "to": "L"}, "expect": "1 L"},
        {**QT, "expect": "946 mL", "tolerance": {"abs": ["1 mL"]}},
    ],
)
def test_no_check_stops_the_run_and_each_failure_is_one_line(check):
    report = figures.run_checks({"checks": [check, {"id": "fine", **TENTHS, "expect": 6}]})

    assert (report.total, report.agreed) == (2, 1)
    assert all("\n" not in line for line in report.lines())


def test_a_fault_of_the_calculation_is_a_failed_check(monkeypatch):
    def faulty(_given):
        raise ZeroDivisionError("a bug")

    monkeypatch.setitem(figures.REGISTRY, "labor_tenths", faulty)

    assert lines_of({**TENTHS, "expect": 6})[0] == "one: expected 6, got ZeroDivisionError: a bug"
    assert lines_of({**TENTHS, "expect": {"error": "ZeroDivisionError"}})[-1] == "0 of 1 agree"


def test_an_unknown_quantity_agrees_only_where_just_that_is_expected():
    assert agrees({"quantity": "nothing", "given": {}, "expect": {"error": "UnknownQuantity"}})
    assert not agrees({"quantity": "nothing", "given": {}, "expect": "1 L"})
    assert not agrees({"quantity": "nothing", "property": "constant", "vary": "x", "over": ["1", "1"]})


@pytest.mark.parametrize(
    "text",
    [
        "{",
        b"\xff\xfe",
        '{"contract": 1, "checks": [NaN]}',
        "[" * 100_000,
        "[]",
        '{"contract": "1", "checks": []}',
        '{"contract": 1.0, "checks": []}',
        '{"contract": true, "checks": []}',
        '{"checks": []}',
        '{"contract": 1, "checks": {}}',
    ],
)
def test_what_is_no_document_of_checks_is_refused(text):
    with pytest.raises(figures.BadDocument):
        figures.load(text)


def test_a_document_without_checks_agrees_as_a_whole():
    assert figures.run_checks(figures.load('{"contract": 1, "checks": []}')).lines() == ["0 of 0 agree"]


def test_an_input_inside_lists_and_objects_can_vary_without_touching_the_check():
    given = {"readings": [{"at": "0 min"}], "rule": {}}

    assert figures.varied(given, "readings.0.at", "1 min") == {"readings": [{"at": "1 min"}], "rule": {}}
    assert figures.varied(given, "readings.0", 5)["readings"] == [5]
    assert figures.varied(given, "annual.temperature", "1 K")["annual"] == {"temperature": "1 K"}
    assert given == {"readings": [{"at": "0 min"}], "rule": {}}
