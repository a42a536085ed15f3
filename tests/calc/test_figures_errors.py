"""Every error of every quantity, one thing wrong at a time. Source: the contract of the reference checks."""

from __future__ import annotations

import copy

import pytest

from shopserv.calc import errors, figures

READINGS = [{"date": "2026-01-05", "odometer": "61200 mi"}, {"date": "2026-03-16", "odometer": "63310 mi"}]
STANDING = [{"date": "2026-01-05", "odometer": "100 mi"}, {"date": "2026-03-16", "odometer": "100 mi"}]
CLIMATE = {"temperature": "18 degC", "relative_humidity": "75 %"}
JUG = {"name": "jug", "size": "4 L", "cost": "20.00 USD"}
BANDS = [{"above": "0 USD", "markup": "50 %"}, {"above": "5 USD", "markup": "20 %"}]
RULE = {"kind": "greater_of", "percent": "10 %", "amount": "10 USD", "cap": "50 USD"}
VIN = "0AB01CD22AK000123"

# inputs that are fine; every row below spoils one of them
FINE = {
    "convert": {"value": "1 qt", "to": "L"},
    "level_window_status": {"temperature": "42 degC", "low": "40 degC", "high": "113 degF"},
    "oil_volume_correction": {"density": "850 kg/m3", "temperature": "40 degC"},
    "oil_volume_at": {"volume": "1 L", "from": "20 degC", "to": "80 degC", "density_15": "850 kg/m3"},
    "weighed_volume": {"mass": "1 kg", "density_15": "850 kg/m3", "temperature": "20 degC"},
    "fluid_balance": {
        "removed": [{"gross": "2 kg", "tare": "1 kg"}],
        "added": [{"gross": "1 kg"}],
        "density_15_removed": "850 kg/m3",
        "density_15_added": "850 kg/m3",
        "temperature": "40 degC",
    },
    "level_error_temperature": {
        "volume": "7 L",
        "density_15": "850 kg/m3",
        "correct": "40 degC",
        "actual": "50 degC",
    },
    "level_error_tilt": {"offset": "-240 mm", "area": "780 cm2", "tilt": "1 deg"},
    "cool_down_time": {
        "readings": [{"at": "0 min", "temperature": "80 degC"}, {"at": "10 min", "temperature": "70 degC"}],
        "ambient": "20 degC",
        "target": "45 degC",
    },
    "fresh_fraction_passes": {"capacity": "8 L", "drained": ["2 L", "2 qt"]},
    "passes_needed": {"capacity": "8 L", "drained": "2 L", "target": "0.5"},
    "fresh_fraction_exchange": {"capacity": "8 L", "volume": "8 L", "model": "tanks", "tanks": 3},
    "fresh_fraction_band": {"capacity": "8 L", "volume": "8 L", "model": "stirred"},
    "exchange_volume_needed": {"capacity": "8 L", "target": "0.5", "model": "tanks", "tanks": 3},
    "fluid_age_after": {"fresh_fraction": "0.5", "age_before": "60 mo", "age_new": "1 yr"},
    "water_after_exchange": {"fresh_fraction": "0.5", "before": "1200 ppm", "new": "80 ppm"},
    "bucket_volume": {"added": ["4 L"], "end_level": "-1 L"},
    "staged_exchange": {
        "dry_capacity": "7.4 L",
        "sump_capacity": "3.4 L",
        "pickup_level": "-1.6 L",
        "stages": [{"op": "add", "volume": "1 L"}, {"op": "pump"}, {"op": "batches", "count": 1, "volume": "1 L"}],
        "report": "levels",
    },
    "saturation_vapor_pressure": {"temperature": "20 degC"},
    "boiling_point": {"altitude": "0 m"},
    "relative_humidity": {"temperature": "20 degC", "dew_point": "10 degC"},
    "dew_point": {"temperature": "20 degC", "relative_humidity": "50 %"},
    "absolute_humidity": {"temperature": "20 degC", "relative_humidity": "50 %"},
    "moisture_factor": {"annual": CLIMATE, "short_trip_share": "0.4"},
    "moisture_factor_measured": {"water": "600 ppm", "limit": "1200 ppm"},
    "thermal_factor": {"bins": [{"share": "1", "temperature": "80 degC"}]},
    "combined_factor": {"moisture": "1.2", "thermal": "1.1"},
    "adjusted_interval": {"base_distance": "60000 mi", "moisture": "1.2", "report": "distance"},
    "partial_exchange_credit": {"interval": "60 mo", "age_before": "4 yr", "fresh_fraction": "0.5"},
    "theil_sen_slope": {"x": ["1", "2"], "y": ["1", "3"]},
    "mileage_rate": {"readings": READINGS},
    "odometer_check": {"previous": READINGS[0], "new": READINGS[1], "rate": "30 mi/d"},
    "due_date_distance": {
        "readings": READINGS,
        "last_service": READINGS[1],
        "interval": "30000 mi",
        "report": "due",
    },
    "due_date_months": {"date": "2026-11-24", "interval": "33 mo"},
    "governing_clock": {"distance_due": "2029-12-01", "time_due": "2029-08-24", "report": "clock"},
    "vin_check_digit": {"vin": VIN},
    "vin_model_years": {"vin": VIN, "vehicle_class": "light"},
    "vin_status": {"vin": VIN},
    "package_choice": {"need": "10 L", "packages": [JUG], "report": "counts"},
    "markup_price": {"cost": "5 USD", "bands": BANDS},
    "labor_tenths": {"time": "31 min"},
    "labor_charge": {"time": "1.5 h", "rate": "96 USD/h"},
    "tax_by_rate": {"lines": [{"amount": "-1 USD", "rate": "8 %"}], "report": "total_tax"},
    "shop_supplies": {"base": "20 USD", "percent": "5 %", "minimum": "2 USD", "cap": "9 USD"},
    "document_discount": {"taxables": ["10 USD", "20 USD"], "amount": "3 USD"},
    "quote_total": {
        "parts": [{"quantity": "1", "unit_price": "10 USD"}],
        "labor": [{"time": "0.5 h", "rate": "100 USD/h"}],
        "supplies": {"percent": "5 %", "on": "both"},
        "discount": {"percent": "10 %"},
        "tax_rate": "6.25 %",
        "report": "total",
    },
    "gross_margin": {"price": "20 USD", "cost": "10 USD", "report": "percent"},
    "balance_due": {"total": "20 USD", "deposits": ["5 USD"]},
    "credit_note_tax": {"invoice_taxable": "20 USD", "rate": "5 %", "credits": ["5 USD", "15 USD"]},
    "payback_count": {"equipment": "100 USD", "saving_per_job": "9.50 USD"},
    "diy_break_even": {"tools": "100 USD", "own_cost": "120 USD", "shop_price": "250 USD"},
    "authorization_limit": {
        "authorized_total": "442.95 USD",
        "rule": RULE,
        "proposed": "450 USD",
        "report": "needs_consent",
    },
    "retention_until": {"date": "2026-11-24", "years": 3},
    "iso4406_code": {"over_4um": "2000 /mL", "over_6um": "50000 /100mL", "over_14um": "50 /mL"},
    "used_oil_presumption": {"total_halogens": "1001 ppm"},
    "used_oil_label": {"on": "container"},
}
OPTIONAL = {
    ("fluid_age_after", "age_new"),
    ("shop_supplies", "minimum"),
    ("shop_supplies", "cap"),
    ("quote_total", "parts"),
    ("quote_total", "labor"),
    ("quote_total", "supplies"),
    ("quote_total", "discount"),
    ("balance_due", "deposits"),
    ("governing_clock", "distance_due"),
    ("governing_clock", "time_due"),
}


def error_of(quantity, given):
    try:
        figures.evaluate(quantity, given)
    except errors.CalcError as error:
        return error.name
    return None


def spoiled(quantity, path, value):
    return figures.varied(FINE[quantity], path, value)


def test_the_fine_inputs_are_fine_and_complete():
    assert {quantity: error_of(quantity, given) for quantity, given in FINE.items()} == dict.fromkeys(figures.REGISTRY)


@pytest.mark.parametrize(
    ("quantity", "name"), [(q, name) for q, given in FINE.items() for name in given if (q, name) not in OPTIONAL]
)
@pytest.mark.parametrize("absent", ["left out", "null"])
def test_each_required_input_is_missed(quantity, name, absent):
    given = copy.deepcopy(FINE[quantity])
    if absent == "null":
        given[name] = None
    else:
        del given[name]

    assert error_of(quantity, given) == "MissingInput"


ROWS = """
convert               value                 12 quarks      UnknownUnit
convert               to                    quart          UnknownUnit
convert               to                    kg             DimensionMismatch
convert               value                 12,5 L         BadNumber
convert               value                 nan L          BadNumber
convert               value                 1 EUR          CurrencyMismatch
convert               to                    EUR            CurrencyMismatch
convert               value                 1.005 USD      BadNumber
convert               kind                  relative       UnknownChoice
level_window_status   low                   45 degC        OutOfRange
level_window_status   low                   46 degC        OutOfRange
level_window_status   temperature           10 delta_degC  DimensionMismatch
level_window_status   temperature           -1 K           OutOfRange
oil_volume_correction density               800.8 kg/m3    OutOfRange
oil_volume_correction density               1163.6 kg/m3   OutOfRange
oil_volume_correction temperature           -50.1 degC     OutOfRange
oil_volume_correction temperature           302.1 degF     OutOfRange
oil_volume_correction base                  68 degF        UnknownChoice
oil_volume_at         volume                -1 L           OutOfRange
oil_volume_at         volume                1 kg           DimensionMismatch
oil_volume_at         to                    151 degC       OutOfRange
weighed_volume        mass                  -1 g           OutOfRange
fluid_balance         removed.0.tare        3 kg           TareExceedsGross
fluid_balance         added.0.gross         -1 kg          OutOfRange
fluid_balance         added.0.gross         1 L            DimensionMismatch
fluid_balance         removed.0.gross       0.5 kg         TareExceedsGross
level_error_temperature volume              -1 L           OutOfRange
level_error_tilt      tilt                  45 deg         OutOfRange
level_error_tilt      tilt                  -45 deg        OutOfRange
level_error_tilt      area                  -1 mm2         OutOfRange
level_error_tilt      tilt                  0.5            DimensionMismatch
cool_down_time        readings.1.at         0 s            DateOrder
cool_down_time        ambient               70 degC        OutOfRange
cool_down_time        readings.1.temperature 80 degC       NotCooling
cool_down_time        target                68 degF        Unreachable
fresh_fraction_passes drained.0             8.1 L          DrainExceedsCapacity
fresh_fraction_passes drained.0             -1 L           OutOfRange
fresh_fraction_passes capacity              0 L            OutOfRange
fresh_fraction_passes start                 1.1            OutOfRange
passes_needed         target                1.01           OutOfRange
passes_needed         capacity              -1 L           OutOfRange
passes_needed         drained               -1 L           OutOfRange
passes_needed         drained               9 L            DrainExceedsCapacity
passes_needed         drained               0 L            Unreachable
passes_needed         target                100 %          Unreachable
fresh_fraction_exchange model               swirled        UnknownChoice
fresh_fraction_exchange capacity            0 L            OutOfRange
fresh_fraction_exchange volume              -1 L           OutOfRange
fresh_fraction_band   spread                100 %          OutOfRange
fresh_fraction_band   spread                -1 %           OutOfRange
exchange_volume_needed target               1              Unreachable
exchange_volume_needed target               1.1            OutOfRange
exchange_volume_needed target               -0.1           OutOfRange
exchange_volume_needed capacity             0 L            OutOfRange
fluid_age_after       age_new               100 mi         DimensionMismatch
fluid_age_after       age_before            5 L            DimensionMismatch
fluid_age_after       age_before            -1 mo          OutOfRange
fluid_age_after       fresh_fraction        1.01           OutOfRange
water_after_exchange  before                -1 ppm         OutOfRange
water_after_exchange  new                   -1 ppm         OutOfRange
bucket_volume         end_level             5 L            OutOfRange
staged_exchange       dry_capacity          0 L            BadUnitLayout
staged_exchange       sump_capacity         0 L            BadUnitLayout
staged_exchange       sump_capacity         8 L            BadUnitLayout
staged_exchange       pickup_level          0.1 L          BadUnitLayout
staged_exchange       pickup_level          -3.5 L         BadUnitLayout
staged_exchange       stages.0.volume       -1 L           OutOfRange
staged_exchange       stages.0.op           spill          UnknownChoice
staged_exchange       stages.1.add          -1 L           OutOfRange
staged_exchange       stages.1.stop_margin  -1 L           OutOfRange
staged_exchange       stages.1.stop_margin  4 L            PumpCannotReach
staged_exchange       stages.2.count        two            BadNumber
staged_exchange       report                level          UnknownChoice
saturation_vapor_pressure temperature       -46 degC       OutOfRange
saturation_vapor_pressure temperature       474 K          OutOfRange
boiling_point         altitude              11001 m        OutOfRange
boiling_point         altitude              -501 m         OutOfRange
boiling_point         pressure              100 kPa        ConflictingInput
relative_humidity     dew_point             20.1 degC      DewPointAboveTemperature
dew_point             relative_humidity     0 %            OutOfRange
dew_point             relative_humidity     101 %          OutOfRange
dew_point             relative_humidity     0.0001         OutOfRange
absolute_humidity     relative_humidity     -1 %           OutOfRange
moisture_factor       altitude              -501 m         OutOfRange
moisture_factor       short_trip_share      1.1            OutOfRange
moisture_factor       storage_share         -0.1           OutOfRange
moisture_factor       annual.relative_humidity 1.1         OutOfRange
moisture_factor       annual.temperature    -46 degC       OutOfRange
moisture_factor_measured water              -1 ppm         OutOfRange
moisture_factor_measured limit              0 ppm          OutOfRange
thermal_factor        bins.0.share          0.99           SharesDoNotSumToOne
thermal_factor        bins.0.share          -1             OutOfRange
thermal_factor        doubling_step         0 K            OutOfRange
thermal_factor        doubling_step         20 degF        DimensionMismatch
combined_factor       moisture              0.99           OutOfRange
combined_factor       thermal               0.99           OutOfRange
adjusted_interval     base_distance         0 mi           OutOfRange
adjusted_interval     report                miles          UnknownChoice
adjusted_interval     base_distance         60 mo          DimensionMismatch
partial_exchange_credit age_before          4000 mi        DimensionMismatch
partial_exchange_credit fresh_fraction      1.1            OutOfRange
partial_exchange_credit interval            60 d           DimensionMismatch
theil_sen_slope       x.0                   2              InsufficientReadings
theil_sen_slope       x.0                   2 L            DimensionMismatch
mileage_rate          readings.0.date       2026-02-30     BadDate
mileage_rate          readings.0.date       2026-3-16      BadDate
mileage_rate          readings.0.date       2026-03-16     InsufficientReadings
mileage_rate          readings.0.odometer   -1 mi          OutOfRange
mileage_rate          readings.0.odometer   1 mi/d         DimensionMismatch
odometer_check        previous.date         2026-03-17     DateOrder
odometer_check        previous.odometer     61200 km       DimensionMismatch
odometer_check        rate                  30 mi          DimensionMismatch
due_date_distance     report                soon           UnknownChoice
due_date_distance     readings.0.date       2026-03-16     InsufficientReadings
due_date_distance     interval              33 mo          DimensionMismatch
due_date_distance     last_service.date     today          BadDate
due_date_distance     last_service.odometer -1 mi          OutOfRange
due_date_months       interval              1.5 mo         OutOfRange
due_date_months       interval              0 mo           OutOfRange
due_date_months       interval              30 d           DimensionMismatch
governing_clock       time_due              2029-13-01     BadDate
governing_clock       report                both           UnknownChoice
vin_check_digit       vin                   0AB01CD22AK00012  BadVinLength
vin_check_digit       vin                   0AB01CQ22AK000123 BadVinCharacter
vin_model_years       vin                   0AB01CD220K000123 BadYearCode
vin_model_years       vin                   0AB01CD22AK00012  BadVinLength
vin_model_years       vin                   0AB01CO22UK000123 BadVinCharacter
vin_model_years       vehicle_class         heavy          UnknownChoice
vin_status            vin                   0AB01CD2*AK000123 BadVinCharacter
vin_status            vin                   0AB01          BadVinLength
package_choice        need                  -1 L           OutOfRange
package_choice        packages.0.size       0 L            OutOfRange
package_choice        packages.0.size       1 kg           DimensionMismatch
package_choice        packages.0.cost       1 GBP          CurrencyMismatch
package_choice        packages.0.stock      one            BadNumber
package_choice        report                names          UnknownChoice
markup_price          cost                  -0.01 USD      NegativeMoney
markup_price          cost                  5.001 USD      BadNumber
markup_price          cost                  5 CAD          CurrencyMismatch
markup_price          cost                  5              DimensionMismatch
markup_price          bands.0.above         1 USD          BadBands
markup_price          bands.0.above         -1 USD         BadBands
markup_price          bands.1.above         0 USD          BadBands
markup_price          bands.1.markup        -1 %           BadBands
labor_tenths          time                  -1 min         OutOfRange
labor_tenths          time                  1 mo           DimensionMismatch
labor_charge          time                  1.25 h         NotTenths
labor_charge          rate                  96 USD         DimensionMismatch
labor_charge          rate                  96 EUR/h       CurrencyMismatch
labor_charge          rate                  96.001 USD/h   BadNumber
tax_by_rate           lines.0.rate          -1 %           OutOfRange
tax_by_rate           method                page           UnknownChoice
tax_by_rate           report                tax            UnknownChoice
shop_supplies         base                  -1 USD         NegativeMoney
document_discount     percent               10 %           ConflictingInput
document_discount     taxables.0            -1 USD         NegativeMoney
document_discount     amount                30.01 USD      DiscountExceedsTotal
quote_total           discount.amount       1 USD          ConflictingInput
quote_total           parts.0.quantity      -1             OutOfRange
quote_total           labor.0.time          0.55 h         NotTenths
quote_total           supplies.on           waste          UnknownChoice
quote_total           report                net            UnknownChoice
quote_total           tax_rate              6.25 USD       DimensionMismatch
gross_margin          price                 0 USD          OutOfRange
gross_margin          price                 -5 USD         OutOfRange
gross_margin          report                share          UnknownChoice
balance_due           deposits.0            -5 USD         NegativeMoney
credit_note_tax       credits.1             15.01 USD      OverCredit
credit_note_tax       credits.0             -1 USD         NegativeMoney
payback_count         equipment             -1 USD         NegativeMoney
payback_count         saving_per_job        0 USD          NeverPaysBack
payback_count         saving_per_job        -1 USD         NeverPaysBack
diy_break_even        tools                 -1 USD         NegativeMoney
diy_break_even        own_cost              250 USD        NeverBreaksEven
diy_break_even        shop_price            119.99 USD     NeverBreaksEven
authorization_limit   rule.kind             whim           UnknownChoice
authorization_limit   rule.base             net            UnknownChoice
authorization_limit   authorized_total      -1 USD         NegativeMoney
authorization_limit   authorized_tax        -1 USD         NegativeMoney
authorization_limit   report                room           UnknownChoice
retention_until       date                  2026-11-31     BadDate
iso4406_code          over_6um              2001 /mL       BadCounts
iso4406_code          over_14um             -1 /mL         OutOfRange
iso4406_code          over_4um              2000           DimensionMismatch
used_oil_presumption  total_halogens        -1 ppm         OutOfRange
used_oil_presumption  role                  carrier        UnknownChoice
used_oil_label        on                    bucket         UnknownChoice
"""


def rows():
    for line in ROWS.strip().splitlines():
        quantity, path, rest = line.split(None, 2)
        value, name = rest.rsplit(None, 1)
        yield pytest.param(quantity, path, value.strip(), name, id=f"{quantity}-{path}-{value.strip()}")


@pytest.mark.parametrize(("quantity", "path", "value", "name"), list(rows()))
def test_one_thing_wrong_has_this_name(quantity, path, value, name):
    assert error_of(quantity, spoiled(quantity, path, value)) == name


@pytest.mark.parametrize(
    ("quantity", "path", "value", "name"),
    [
        ("fresh_fraction_exchange", "tanks", 0, "OutOfRange"),
        ("fresh_fraction_exchange", "tanks", 201, "OutOfRange"),
        ("fresh_fraction_exchange", "tanks", 2.5, "OutOfRange"),
        ("exchange_volume_needed", "tanks", 0, "OutOfRange"),
        ("fresh_fraction_exchange", "tanks", "3", "BadNumber"),
        ("fresh_fraction_exchange", "tanks", True, "BadNumber"),
        ("odometer_check", "digits", 0, "OutOfRange"),
        ("odometer_check", "digits", "6", "BadNumber"),
        ("retention_until", "years", -1, "OutOfRange"),
        ("retention_until", "years", 2.0, "BadNumber"),
        ("vin_status", "model_year", "1972", "BadNumber"),
        ("vin_status", "vin", 17, "BadVinCharacter"),
        ("package_choice", "packages", [], "NoPackage"),
        ("package_choice", "packages.0.stock", 2, "NoPackage"),
        ("package_choice", "packages.0.stock", -1, "OutOfRange"),
        ("package_choice", "packages.0.name", 7, "UnknownChoice"),
        ("markup_price", "bands", [], "BadBands"),
        ("thermal_factor", "bins", [], "SharesDoNotSumToOne"),
        ("moisture_factor", "months", [CLIMATE] * 12, "ConflictingInput"),
        ("cool_down_time", "readings", [{"at": "0 min", "temperature": "80 degC"}], "OutOfRange"),
        ("staged_exchange", "stages.2.count", -1, "OutOfRange"),
        ("staged_exchange", "stages.0", {"op": "drain", "to": "-3.5 L"}, "DrainBelowEmpty"),
        ("theil_sen_slope", "x", ["1", "2", "3"], "OutOfRange"),
        ("theil_sen_slope", "x", "1", "BadNumber"),
        ("theil_sen_slope", "x", [1, 2], "BadNumber"),
        ("mileage_rate", "readings", ["2026-01-05"], "BadNumber"),
        ("quote_total", "parts.0.taxable", "yes", "UnknownChoice"),
        ("quote_total", "discount", {}, "MissingInput"),
        ("used_oil_label", "on", 1, "UnknownChoice"),
        ("convert", "to", 7, "UnknownUnit"),
        ("convert", "value", 7, "BadNumber"),
        ("due_date_distance", "readings", STANDING, "NotMoving"),
    ],
)
def test_one_thing_of_another_kind_has_this_name(quantity, path, value, name):
    assert error_of(quantity, spoiled(quantity, path, value)) == name


def test_eleven_months_are_no_year():
    assert error_of("moisture_factor", {"months": [CLIMATE] * 11, "short_trip_share": "0"}) == "OutOfRange"


def test_neither_clock_is_a_missing_input():
    assert error_of("governing_clock", {"distance_due": None, "report": "clock"}) == "MissingInput"


def test_without_tanks_no_number_of_them_is_needed():
    given = {"capacity": "8 L", "volume": "8 L", "model": "stirred", "tanks": 0}

    assert error_of("fresh_fraction_exchange", given) is None


def test_odometers_read_miles_or_kilometers():
    feet = {"date": "2026-01-05", "odometer": "61200 ft"}

    assert error_of("odometer_check", {"previous": feet, "new": feet, "rate": "30 mi/d"}) == "DimensionMismatch"


def test_the_errors_of_cooling_come_in_their_order():
    bad = {
        "readings": [{"at": "10 min", "temperature": "20 degC"}, {"at": "10 min", "temperature": "20 degC"}],
        "ambient": "20 degC",
        "target": "10 degC",
    }

    assert error_of("cool_down_time", bad) == "DateOrder"
    assert error_of("cool_down_time", figures.varied(bad, "readings.1.at", "11 min")) == "OutOfRange"
    warm = figures.varied(figures.varied(bad, "readings.1.at", "11 min"), "ambient", "10 degC")
    assert error_of("cool_down_time", warm) == "NotCooling"


@pytest.mark.parametrize("quantity", ["no_such_quantity", "", "Convert", None, 7, []])
def test_what_is_no_quantity_is_unknown(quantity):
    assert error_of(quantity, {}) == "UnknownQuantity"


def test_inputs_must_be_an_object():
    assert error_of("convert", ["1 qt"]) == "BadNumber"


def test_a_volume_beyond_all_floats_is_out_of_range():
    assert error_of("oil_volume_at", spoiled("oil_volume_at", "volume", "1e400 L")) == "OutOfRange"
    assert error_of("oil_volume_at", spoiled("oil_volume_at", "volume", "1e999999 L")) == "OutOfRange"


def test_every_error_says_something_to_a_person():
    for quantity, path, value, _ in (row.values for row in rows()):
        with pytest.raises(errors.CalcError, match=r"\w+ \w+"):
            figures.evaluate(quantity, spoiled(quantity, path, value))
