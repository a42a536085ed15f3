"""What the reference checks ask of each quantity beyond its arithmetic: defaults, mixed units, exact edges.

Source: the contract of the reference checks; figures by identity or worked by hand from its definitions.
"""

from __future__ import annotations

import pytest

from shopserv.calc import figures
from tests.calc.test_figures_errors import BANDS, FINE, JUG, READINGS, RULE


def differs(quantity, given, expect, tolerance=None):
    """The lines of a report on one check; a check that agrees gives only the last."""
    check = {"id": "one", "quantity": quantity, "given": given, "expect": expect}
    if tolerance:
        check["tolerance"] = tolerance
    return figures.run_checks({"checks": [check]}).lines()[:-1]


def spoiled(quantity, **changes):
    return {**FINE[quantity], **changes}


SHELF = {"need": "10 L", "packages": [{**JUG, "stock": 1}, {"name": "can", "size": "1 gal", "cost": "30 USD"}]}
TAXED = [
    {"amount": "3.05 USD", "rate": "8 %"},
    {"amount": "1 USD", "rate": "0"},
    {"amount": "3.05 USD", "rate": "0.08"},
]
QUOTE = {
    "parts": [{"quantity": "2.5", "unit_price": "4.37 USD"}, {"quantity": "1", "unit_price": "-2 USD"}],
    "labor": [{"time": "30 min", "rate": "98 USD/h", "taxable": True}],
    "tax_rate": "10 %",
}
LAYOUT = {"dry_capacity": "7.4 L", "sump_capacity": "3400 mL", "pickup_level": "-1.6 L"}


@pytest.mark.parametrize(
    ("quantity", "given", "expect"),
    [
        ("convert", {"value": "300 K", "to": "degC"}, "26.85 degC"),
        ("convert", {"value": "10 K", "to": "K"}, "10 K"),
        ("convert", {"value": "10 K", "to": "delta_degF"}, "18 delta_degF"),
        ("convert", {"value": "10 K", "to": "degF", "kind": "difference"}, "18 degF"),
        ("convert", {"value": "-300 degC", "to": "K", "kind": "difference"}, "-300 K"),
        ("convert", {"value": "-5 delta_degC", "to": "K"}, "-5 K"),
        ("convert", {"value": "50 %", "to": ""}, "0.5"),
        ("convert", {"value": "1200 ppm", "to": "%"}, "0.12 %"),
        ("convert", {"value": "365 mi/yr", "to": "mi/d"}, "1 mi/d"),
        ("convert", {"value": "10 /mL", "to": "/100mL"}, "1000 /100mL"),
        ("convert", {"value": "12.50 USD", "to": "USD"}, "12.5 USD"),
        ("convert", {"value": "96 USD/h", "to": "USD/h"}, "96.00 USD/h"),
        ("convert", {"value": "1e-30 L", "to": "mL"}, "1e-27 mL"),
        ("convert", {"value": "+.5e1 d", "to": "h"}, "120 h"),
        ("convert", {"value": "90 deg", "to": "deg"}, "90 deg"),
        ("convert", {"value": "1 lbf.ft", "to": "lbf.in"}, "12 lbf.in"),
        ("convert", {"value": "-459.67 degF", "to": "K"}, "0 K"),
        ("level_window_status", {"temperature": "113 degF", "low": "313.15 K", "high": "45 degC"}, "inside"),
        ("level_window_status", {"temperature": "113.0000000001 degF", "low": "313.15 K", "high": "45 degC"}, "above"),
        ("oil_volume_correction", {"density": "870 kg/m3", "temperature": "60 degF", "base": "60 degF"}, "1"),
        ("oil_volume_correction", {"density": "7 lb/gal", "temperature": "288.15 K"}, "1"),
        ("level_error_tilt", {"offset": "1 ft", "area": "100 in2", "tilt": "0 deg"}, "0 fl_oz"),
        ("cool_down_time", spoiled("cool_down_time", target="1000 degF"), "0 h"),
        ("fresh_fraction_passes", {"capacity": "1 gal", "drained": ["1 qt", "2 pt"]}, "0.4375"),
        ("fresh_fraction_passes", {"capacity": "8 L", "drained": []}, "0"),
        ("fresh_fraction_passes", {"capacity": "8 L", "drained": [], "start": "25 %"}, "0.25"),
        ("passes_needed", {"capacity": "1 gal", "drained": "1 qt", "target": "43.75 %"}, 2),
        ("passes_needed", {"capacity": "1 gal", "drained": "1 qt", "target": "0.4375000011"}, 3),
        ("fresh_fraction_exchange", {"capacity": "1 gal", "volume": "2 qt", "model": "plug"}, "50 %"),
        ("fresh_fraction_band", {"capacity": "8 L", "volume": "4.8 L", "model": "plug"}, ["0.5", "0.75"]),
        ("fresh_fraction_band", {**FINE["fresh_fraction_exchange"], "spread": "0", "volume": "0 L"}, ["0", "0"]),
        ("exchange_volume_needed", {"capacity": "8 L", "target": "0", "model": "stirred"}, "0 L"),
        ("exchange_volume_needed", {"capacity": "1 gal", "target": "1", "model": "plug"}, "4 qt"),
        ("fluid_age_after", {"fresh_fraction": "0.25", "age_before": "100 mi", "age_new": "160.9344 km"}, "100 mi"),
        ("fluid_age_after", {"fresh_fraction": "0.25", "age_before": "2 yr"}, "18 mo"),
        ("water_after_exchange", {"fresh_fraction": "50 %", "before": "0.1 %", "new": "200 ppm"}, "600 ppm"),
        ("bucket_volume", {"added": ["1 qt"], "end_level": "1 pt"}, "1 pt"),
        ("bucket_volume", {"added": [], "end_level": "0 L"}, "0 L"),
        ("relative_humidity", {"temperature": "68 degF", "dew_point": "20 degC"}, "1"),
        ("dew_point", {"temperature": "-10 degC", "relative_humidity": "1"}, "14 degF"),
        ("absolute_humidity", {"temperature": "-45 degC", "relative_humidity": "0"}, "0 lb/ft3"),
        (
            "moisture_factor",
            {"annual": {"temperature": "-5 degC", "relative_humidity": "0.5"}, "short_trip_share": "0"},
            "1",
        ),
        ("moisture_factor_measured", {"water": "0.12 %", "limit": "1000 ppm"}, "2.2"),
        ("moisture_factor_measured", {"water": "0", "limit": "1"}, "1"),
        ("thermal_factor", {"bins": [{"share": "1", "temperature": "90.5 degC"}]}, "2"),
        ("thermal_factor", {"bins": [{"share": "100 %", "temperature": "0 degC"}]}, "1"),
        (
            "thermal_factor",
            {"bins": [{"share": "1", "temperature": "100 degC"}], "reference": "80 degC", "doubling_step": "20 K"},
            "2",
        ),
        ("combined_factor", {"moisture": "110 %", "thermal": "1.1"}, "1.21"),
        ("adjusted_interval", spoiled("adjusted_interval", base_distance="100 km"), "500 km"),
        ("adjusted_interval", spoiled("adjusted_interval", moisture="2", thermal="2"), "24000 mi"),
        ("adjusted_interval", {"base_months": "5 yr", "moisture": "1.2", "thermal": "9", "report": "months"}, "50 mo"),
        ("adjusted_interval", {"base_months": "0.5 mo", "moisture": "1", "report": "months"}, "1 mo"),
        (
            "partial_exchange_credit",
            {"interval": "100 mi", "age_before": "160.9344 km", "fresh_fraction": "0.5"},
            "50 mi",
        ),
        ("theil_sen_slope", {"x": ["0", "1", "2"], "y": ["0", "100 %", "3"]}, "1.5"),
        ("mileage_rate", {"readings": READINGS[::-1]}, "30.142857142857142 mi/d"),
        ("odometer_check", spoiled("odometer_check", rate="0 km/yr"), "implausible"),
        ("odometer_check", spoiled("odometer_check", rate="17618 km/yr"), "ok"),
        ("due_date_months", {"date": "2024-02-29", "interval": "1 yr"}, "2025-02-28"),
        ("due_date_months", {"date": "2026-11-24", "interval": "0.5 yr"}, "2027-05-24"),
        ("governing_clock", {"distance_due": "2029-12-01", "report": "date"}, "2029-12-01"),
        ("governing_clock", {"distance_due": "2029-12-01", "time_due": None, "report": "clock"}, "distance"),
        ("vin_check_digit", {"vin": " 0ab01cd2-*ak000123 "}, "2"),
        ("vin_model_years", {"vin": "0AB01C520AK000123", "vehicle_class": "other"}, [1980, 2010]),
        ("vin_status", {"vin": "0ab-01", "model_year": 1980}, "pre_1981_short"),
        ("vin_status", {"vin": "0AB01CD22AK000123", "model_year": 1960}, "ok"),
        ("package_choice", {**SHELF, "report": "counts"}, {"jug": 1, "can": 2}),
        ("package_choice", {**SHELF, "report": "cost"}, "80.00 USD"),
        ("package_choice", {**SHELF, "report": "surplus"}, "1570.823568 mL"),
        ("package_choice", {"need": "0 L", "packages": [], "report": "cost"}, "0 USD"),
        ("markup_price", {"cost": "6 USD", "bands": BANDS}, "8.70 USD"),
        ("markup_price", {"cost": "0.01 USD", "bands": [{"above": "0 USD", "markup": "50 %"}]}, "0.02 USD"),
        ("labor_tenths", {"time": "0.30000000000000000001 h"}, 4),
        ("labor_tenths", {"time": "1 d"}, 240),
        ("labor_charge", {"time": "30 min", "rate": "98.01 USD/h"}, "49.01 USD"),
        ("labor_charge", {"time": "360 s", "rate": "0.05 USD/h"}, "0.01 USD"),
        ("tax_by_rate", {"lines": TAXED, "report": "by_rate"}, ["0 USD", "0.49 USD"]),
        ("tax_by_rate", {"lines": TAXED, "report": "total_tax", "method": "line"}, "0.48 USD"),
        ("tax_by_rate", {"lines": TAXED, "report": "total_with_tax"}, "7.59 USD"),
        ("tax_by_rate", {"lines": [], "report": "by_rate"}, []),
        ("shop_supplies", {"base": "0.10 USD", "percent": "5 %"}, "0.01 USD"),
        ("shop_supplies", {"base": "0.01 USD", "percent": "0", "minimum": "4 USD"}, "4 USD"),
        ("document_discount", {"taxables": ["0 USD"], "percent": "100 %"}, ["0 USD"]),
        ("document_discount", {"taxables": ["0.05 USD"], "percent": "50 %"}, ["0.02 USD"]),
        ("quote_total", {**QUOTE, "report": "subtotal"}, "57.93 USD"),
        ("quote_total", {**QUOTE, "report": "tax"}, "5.79 USD"),
        ("quote_total", {**QUOTE, "report": "discount"}, "0 USD"),
        ("quote_total", {**QUOTE, "report": "total", "discount": {"amount": "7.93 USD"}}, "55.00 USD"),
        (
            "quote_total",
            {**QUOTE, "report": "taxable", "supplies": {"percent": "10 %", "on": "labor", "taxable": True}},
            "62.83 USD",
        ),
        (
            "quote_total",
            {**QUOTE, "report": "taxable", "supplies": {"percent": "10 %", "on": "both", "minimum": "9 USD"}},
            "57.93 USD",
        ),
        (
            "quote_total",
            {"tax_rate": "0", "report": "subtotal", "supplies": {"percent": "5 %", "on": "both", "minimum": "2 USD"}},
            "0 USD",
        ),
        ("gross_margin", {"price": "-5 USD", "cost": "1 USD", "report": "amount"}, "-6 USD"),
        ("gross_margin", {"price": "3 USD", "cost": "4 USD", "report": "percent"}, "-33.3 %"),
        ("gross_margin", {"price": "8 USD", "cost": "6.996 USD", "report": "amount"}, {"error": "BadNumber"}),
        ("gross_margin", {"price": "2000 USD", "cost": "1999 USD", "report": "percent"}, "0.1 %"),
        ("balance_due", {"total": "20 USD"}, "20 USD"),
        ("balance_due", {"total": "20 USD", "credits": ["5 USD"], "refunds": ["1 USD"], "payments": []}, "16 USD"),
        ("credit_note_tax", {"invoice_taxable": "1 USD", "rate": "5 %", "credits": []}, []),
        (
            "credit_note_tax",
            {"invoice_taxable": "0.30 USD", "rate": "5 %", "credits": ["0.10 USD"] * 3},
            ["0.01 USD", "0 USD", "0.01 USD"],
        ),
        ("payback_count", {"equipment": "0 USD", "saving_per_job": "1 USD"}, 0),
        ("diy_break_even", {"tools": "0.01 USD", "own_cost": "0 USD", "shop_price": "0.01 USD"}, 1),
        ("authorization_limit", {"authorized_total": "442.95 USD", "rule": RULE, "report": "tolerance"}, "44.29 USD"),
        (
            "authorization_limit",
            {
                "authorized_total": "100 USD",
                "authorized_tax": "8 USD",
                "rule": {**RULE, "base": "before_tax"},
                "report": "limit",
            },
            "102.00 USD",
        ),
        (
            "authorization_limit",
            {"authorized_total": "100 USD", "rule": {"kind": "none"}, "proposed": "100 USD", "report": "needs_consent"},
            False,
        ),
        ("retention_until", {"date": "2024-02-29", "years": 1}, "2025-02-28"),
        (
            "iso4406_code",
            {"over_4um": "250000 /100mL", "over_6um": "320 /mL", "over_14um": "40.0000001 /mL"},
            "18/15/13",
        ),
        ("used_oil_presumption", {"total_halogens": "0.1 %", "role": "burner"}, True),
        ("used_oil_label", {"on": "underground_fill_pipe"}, "Used Oil"),
        ("staged_exchange", {**LAYOUT, "stages": [], "report": "levels"}, []),
        ("staged_exchange", {**LAYOUT, "stages": [{"op": "pump"}], "report": "levels"}, ["-1600 mL"]),
        ("staged_exchange", {**LAYOUT, "stages": [{"op": "pump", "add": "1 L"}], "report": "removed"}, "2.6 L"),
        (
            "staged_exchange",
            {
                **LAYOUT,
                "stages": [{"op": "drain", "to": "-3.4 L"}, {"op": "add", "volume": "3.4 L"}, {"op": "mix"}],
                "report": "fresh_plug",
            },
            "0.4594594594594595",
        ),
        (
            "staged_exchange",
            {**LAYOUT, "stages": [{"op": "batches", "count": 2, "volume": "0 L"}], "report": "over_at_end"},
            "-1.6 L",
        ),
        (
            "staged_exchange",
            {**LAYOUT, "stages": [{"op": "batches", "count": 0, "volume": "1 L"}], "report": "new_used"},
            "0 L",
        ),
    ],
    ids=lambda value: value if isinstance(value, str) else None,
)
def test_the_quantity_is_that_of_the_contract(quantity, given, expect):
    assert differs(quantity, given, expect) == []


def test_early_due_and_late_stand_each_by_itself():
    """A vehicle that stood for most of the pairs: no likely date, no late edge, and yet an early one."""
    standing = [("2026-01-01", "0 mi"), ("2026-01-02", "0 mi"), ("2026-01-03", "0 mi"), ("2026-01-04", "30 mi")]
    readings = [{"date": day, "odometer": miles} for day, miles in standing]
    given = {"readings": readings, "last_service": readings[0], "interval": "60 mi"}

    assert differs("due_date_distance", {**given, "report": "late"}, "none") == []
    assert differs("due_date_distance", {**given, "report": "due"}, "2026-01-10") == []
    still = {**given, "readings": [*readings[:3], {"date": "2025-01-01", "odometer": "0 mi"}, readings[3]]}
    assert differs("due_date_distance", {**still, "report": "due"}, {"error": "NotMoving"}) == []
    assert differs("due_date_distance", {**still, "report": "early"}, "2026-01-06") == []
    assert differs("due_date_distance", {**still, "report": "late"}, "none") == []


def test_a_year_of_months_alike_is_one_year():
    month = {"temperature": "18 degC", "relative_humidity": "75 %"}
    over = {"quantity": "moisture_factor", "given": {"months": [month] * 12, "short_trip_share": "0.4"}}
    check = {
        "id": "same",
        "property": "equal_to",
        "quantity": "moisture_factor",
        "given": {"annual": month, "short_trip_share": "40 %", "altitude": "0 ft", "storage_share": "0 %"},
        "than": over,
    }

    assert figures.run_checks({"checks": [check]}).lines() == ["1 of 1 agree"]
