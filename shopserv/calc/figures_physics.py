"""Evaluators of the reference checks: units, oil volume, exchange, water, severity, vehicle numbers."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from typing import Any

from shopserv.calc import errors, exchange, fluid, intervals, measures, moisture, stages, vin
from shopserv.calc.figures_values import CURRENCY, Given, Value, dimension_of, number, of, parse_any

AGES = ("distance", "months")


def _unit_name(name: object) -> str:
    if not isinstance(name, str) or name not in measures.UNITS:
        if isinstance(name, str) and CURRENCY.fullmatch(name):
            raise errors.CurrencyMismatch(f"{name}: amounts are in USD here.")
        raise errors.UnknownUnit(f"{name!r} is no unit that is known here.")
    return name


# Units and level window


def convert(given: Given) -> Value:
    magnitude, source = parse_any(given.raw("value"))
    target = _unit_name(given.raw("to"))
    is_difference = given.choice("kind", ("absolute", "difference"), "absolute") == "difference"
    unit, _ = measures.common_units(source, target, is_difference=is_difference)
    measures.convert(magnitude, source, target, is_difference=is_difference)  # refuses what is below absolute zero
    return Value(measures.to_base(magnitude, unit), unit.dimension, target)


def level_window_status(given: Given) -> str:
    return measures.level_window_status(*(given.exact(name, "temperature") for name in ("temperature", "low", "high")))


# Oil volume


def _density(given: Given, name: str = "density_15") -> Fraction:
    return given.value(name, "density").exact


def oil_volume_correction(given: Given) -> Value:
    base = given.choice("base", ("15 degC", "60 degF"), "15 degC")
    return number(fluid.oil_volume_correction(given.celsius("temperature"), _density(given, "density"), base))


def oil_volume_at(given: Given) -> Value:
    volume = given.exact("volume", "volume")
    return Value(fluid.oil_volume_at(volume, given.celsius("from"), given.celsius("to"), _density(given)), "volume")


def weighed_volume(given: Given) -> Value:
    mass = given.exact("mass", "mass")
    return of(fluid.weighed_volume(mass, _density(given), given.celsius("temperature")), "L", "volume")


def _weighings(given: Given, name: str) -> list[tuple[Fraction, Fraction]]:
    return [(one.exact("gross", "mass"), one.exact("tare", "mass", "0 kg")) for one in given.objects(name)]


def fluid_balance(given: Given) -> Value:
    balance = fluid.fluid_balance(
        _weighings(given, "removed"),
        _weighings(given, "added"),
        density_15_removed=_density(given, "density_15_removed"),
        density_15_added=_density(given, "density_15_added"),
        temperature_c=given.celsius("temperature"),
    )
    return of(balance, "L", "volume")


def level_error_temperature(given: Given) -> Value:
    error = fluid.level_error_temperature(
        given.exact("volume", "volume"), _density(given), given.celsius("correct"), given.celsius("actual")
    )
    return Value(error, "volume")


def level_error_tilt(given: Given) -> Value:
    offset = given.value("offset", "distance").in_unit("mm")
    area = given.value("area", "area").in_unit("mm2")
    return Value(fluid.level_error_tilt(offset, area, given.exact("tilt", "angle")), "volume")


def cool_down_time(given: Given) -> Value:
    readings = [(one.exact("at", "time"), one.exact("temperature", "temperature")) for one in given.objects("readings")]
    ambient, target = given.exact("ambient", "temperature"), given.exact("target", "temperature")
    if len(readings) != 2:
        raise errors.OutOfRange(f"{len(readings)} readings were given; it takes two.")
    return Value(fluid.cool_down_time(readings[0], readings[1], ambient, target), "time")


# Exchange


def fresh_fraction_passes(given: Given) -> Value:
    drained = [one.exact for one in given.values("drained", "volume")]
    return number(fluid.fresh_fraction_passes(given.exact("capacity", "volume"), drained, given.fraction("start", "0")))


def passes_needed(given: Given) -> int:
    return fluid.passes_needed(
        given.exact("capacity", "volume"), given.exact("drained", "volume"), given.exact("target")
    )


def _model(given: Given) -> tuple[str, int | None]:
    """The model and its number of tanks; a number that cannot be is OutOfRange, here a half tank."""
    model = given.choice("model", exchange.MODELS)
    if model != "tanks":
        return model, None
    if isinstance(given.raw("tanks"), float):
        raise errors.OutOfRange(f"{given.raw('tanks')} tanks cannot be; it takes a whole number.")
    return model, given.count("tanks")


def fresh_fraction_exchange(given: Given) -> Value:
    capacity, volume = given.exact("capacity", "volume"), given.exact("volume", "volume")
    return number(fluid.fresh_fraction_exchange(capacity, volume, *_model(given)))


def fresh_fraction_band(given: Given) -> list[Value]:
    capacity, volume = given.exact("capacity", "volume"), given.exact("volume", "volume")
    spread = given.exact("spread", default="20 %")
    return [number(one) for one in fluid.fresh_fraction_band(capacity, volume, *_model(given), spread)]


def exchange_volume_needed(given: Given) -> Value:
    capacity, target = given.exact("capacity", "volume"), given.exact("target")
    return Value(fluid.exchange_volume_needed(capacity, target, *_model(given)), "volume")


def fluid_age_after(given: Given) -> Value:
    share = given.fraction("fresh_fraction")
    dimension = dimension_of(given.raw("age_before"), *AGES)
    before, new = given.exact("age_before", dimension), Fraction(0)
    if given.has("age_new"):
        new = given.exact("age_new", dimension)
    return Value(fluid.fluid_age_after(share, before, new), dimension)


def water_after_exchange(given: Given) -> Value:
    share = given.fraction("fresh_fraction")
    return number(fluid.water_after_exchange(share, given.exact("before"), given.exact("new")))


def bucket_volume(given: Given) -> Value:
    added = [one.exact for one in given.values("added", "volume")]
    start, end = given.exact("start_level", "volume", "0 L"), given.exact("end_level", "volume")
    return Value(exchange.bucket_volume(added, end, start), "volume")


def _stage(given: Given) -> stages.Stage:
    op = given.choice("op", ("add", "drain", "pump", "batches", "mix"))
    if op == "add":
        return stages.Add(given.exact("volume", "volume"))
    if op == "drain":
        return stages.Drain(given.exact("to", "volume"))
    if op == "mix":
        return stages.Mix()
    margin = given.exact("stop_margin", "volume", "0 L")
    if op == "pump":
        return stages.Pump(given.exact("add", "volume", "0 L"), margin)
    return stages.Batches(given.count("count"), given.exact("volume", "volume"), margin)


def staged_exchange(given: Given) -> Value | list[Value]:
    report = given.choice("report", ("levels", "new_used", "over_at_end", "removed", "fresh_stirred", "fresh_plug"))
    layout = stages.UnitLayout(
        *(given.exact(name, "volume") for name in ("dry_capacity", "sump_capacity", "pickup_level"))
    )
    found = stages.staged_exchange(layout, [_stage(one) for one in given.objects("stages")])
    if report == "levels":
        return [Value(level, "volume") for level in found.levels_ml]
    if report.startswith("fresh"):
        return number(found.fresh_stirred if report == "fresh_stirred" else found.fresh_plug)
    volumes = {"new_used": found.new_used_ml, "over_at_end": found.over_at_end_ml, "removed": found.removed_ml}
    return Value(volumes[report], "volume")


# Water


def saturation_vapor_pressure(given: Given) -> Value:
    return Value(moisture.saturation_vapor_pressure(given.celsius("temperature")), "pressure")


def boiling_point(given: Given) -> Value:
    if given.only_one("altitude", "pressure") == "altitude":
        return of(moisture.boiling_point(altitude_m=given.exact("altitude", "distance")), "degC", "temperature")
    return of(moisture.boiling_point(pressure_pa=given.exact("pressure", "pressure")), "degC", "temperature")


def relative_humidity(given: Given) -> Value:
    return number(moisture.relative_humidity(given.celsius("temperature"), given.celsius("dew_point")))


def dew_point(given: Given) -> Value:
    humidity = given.fraction("relative_humidity")
    return of(moisture.dew_point(given.celsius("temperature"), humidity), "degC", "temperature")


def absolute_humidity(given: Given) -> Value:
    humidity = given.fraction("relative_humidity")
    return Value(moisture.absolute_humidity(given.celsius("temperature"), humidity), "density")


# Severity and interval


def _climate(given: Given) -> tuple[Fraction, Fraction]:
    return given.celsius("temperature"), given.fraction("relative_humidity")


def moisture_factor(given: Given) -> Value:
    if given.only_one("months", "annual") == "annual":
        months = [_climate(given.object("annual"))] * 12
    else:
        months = [_climate(one) for one in given.objects("months")]
    factor = moisture.moisture_factor(
        months,
        given.fraction("short_trip_share"),
        storage_share=given.fraction("storage_share", "0"),
        altitude_m=given.exact("altitude", "distance", "0 m"),
    )
    return number(factor)


def moisture_factor_measured(given: Given) -> Value:
    return number(moisture.moisture_factor_measured(given.exact("water"), given.exact("limit")))


def thermal_factor(given: Given) -> Value:
    bins = [(one.exact("share"), one.celsius("temperature")) for one in given.objects("bins")]
    reference = given.value("reference", "temperature", "79.4 degC").in_unit("degC")
    step = given.exact("doubling_step", "temperature difference", "11.1 K")
    return number(intervals.thermal_factor(bins, reference, step))


def combined_factor(given: Given) -> Value:
    return number(intervals.combined_factor(given.exact("moisture"), given.exact("thermal")))


def adjusted_interval(given: Given) -> Value:
    report = given.choice("report", AGES)
    factor, thermal = given.exact("moisture"), given.exact("thermal", default="1")
    if report == "months":
        return of(intervals.adjusted_months(given.exact("base_months", "months"), factor), "mo", "months")
    base = given.value("base_distance", "distance")
    return of(intervals.adjusted_distance(base.in_unit(base.unit), factor, thermal), base.unit, "distance")


def partial_exchange_credit(given: Given) -> Value:
    dimension = dimension_of(given.raw("interval"), *AGES)
    interval, age = given.exact("interval", dimension), given.exact("age_before", dimension)
    return Value(intervals.partial_exchange_credit(interval, age, given.fraction("fresh_fraction")), dimension)


# Vehicle numbers


def _vin(given: Given) -> str:
    typed = given.raw("vin")
    if not isinstance(typed, str):
        raise errors.BadVinCharacter(f"{typed!r} is no text.")
    return typed


def vin_check_digit(given: Given) -> str:
    return vin.check_digit(_vin(given))


def vin_model_years(given: Given) -> list[int]:
    return vin.model_years(_vin(given), given.choice("vehicle_class", vin.CLASSES))


def vin_status(given: Given) -> str:
    return vin.status(_vin(given), given.count("model_year") if given.has("model_year") else None)


EVALUATORS: dict[str, Callable[[Given], Any]] = {
    evaluator.__name__: evaluator
    for evaluator in (
        convert,
        level_window_status,
        oil_volume_correction,
        oil_volume_at,
        weighed_volume,
        fluid_balance,
        level_error_temperature,
        level_error_tilt,
        cool_down_time,
        fresh_fraction_passes,
        passes_needed,
        fresh_fraction_exchange,
        fresh_fraction_band,
        exchange_volume_needed,
        fluid_age_after,
        water_after_exchange,
        bucket_volume,
        staged_exchange,
        saturation_vapor_pressure,
        boiling_point,
        relative_humidity,
        dew_point,
        absolute_humidity,
        moisture_factor,
        moisture_factor_measured,
        thermal_factor,
        combined_factor,
        adjusted_interval,
        partial_exchange_credit,
        vin_check_digit,
        vin_model_years,
        vin_status,
    )
}
