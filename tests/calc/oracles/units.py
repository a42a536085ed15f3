"""Conversions against NIST SP 811, Pint and scipy.constants."""

from __future__ import annotations

from fractions import Fraction

import pint
from scipy import constants

from tests.calc.oracles.book import Book, figure

NIST = "NIST Special Publication 811 (2008), Appendix B.9: {}, printed to seven digits"
MEMORY = {"in2", "psi", "lbf.ft", "lbf.in", "lb/ft3", "lb/gal"}  # factors written down from memory, the others as read
# unit of ours, factor as printed, SI unit, the entry
PRINTED = [
    ("gal", "3.785412e-3", "m3", "gallon (U.S.)"),
    ("imp_gal", "4.54609e-3", "m3", "gallon (Canadian and U.K.)"),
    ("qt", "9.463529e-4", "m3", "quart (U.S. liquid)"),
    ("pt", "4.731765e-4", "m3", "pint (U.S. liquid)"),
    ("fl_oz", "2.957353e-5", "m3", "ounce (U.S. fluid)"),
    ("lb", "4.535924e-1", "kg", "pound (avoirdupois)"),
    ("oz", "2.834952e-2", "kg", "ounce (avoirdupois)"),
    ("in", "2.54e-2", "m", "inch"),
    ("ft", "3.048e-1", "m", "foot"),
    ("mi", "1.609344e3", "m", "mile"),
    ("in2", "6.4516e-4", "m2", "square inch"),
    ("psi", "6.894757e3", "Pa", "pound-force per square inch"),
    ("bar", "1e5", "Pa", "bar"),
    ("lbf.ft", "1.355818", "N.m", "pound-force foot"),
    ("lbf.in", "1.129848e-1", "N.m", "pound-force inch"),
    ("lb/ft3", "1.601846e1", "kg/m3", "pound per cubic foot"),
    ("lb/gal", "1.198264e2", "kg/m3", "pound per gallon (U.S.)"),
    ("d", "8.64e4", "s", "day"),
    ("h", "3.6e3", "s", "hour"),
]
# value, unit of ours, Pint's name; and the target with its name
BY_PINT = [
    ("7.4", "L", "liter", "qt", "US_liquid_quart"),
    ("11.3", "qt", "US_liquid_quart", "L", "liter"),
    ("3", "imp_qt", "imperial_quart", "fl_oz", "US_fluid_ounce"),
    ("5.28", "gal", "US_liquid_gallon", "imp_gal", "imperial_gallon"),
    ("946", "mL", "milliliter", "pt", "US_pint"),
    ("13.7", "lb", "pound", "g", "gram"),
    ("41", "oz", "ounce", "kg", "kilogram"),
    ("846", "kg/m3", "kilogram/meter**3", "lb/gal", "pound/US_liquid_gallon"),
    ("7.1", "lb/gal", "pound/US_liquid_gallon", "g/mL", "gram/milliliter"),
    ("53", "lb/ft3", "pound/foot**3", "kg/L", "kilogram/liter"),
    ("61200", "mi", "mile", "km", "kilometer"),
    ("30", "in", "inch", "cm", "centimeter"),
    ("121", "in2", "inch**2", "cm2", "centimeter**2"),
    ("32", "psi", "psi", "bar", "bar"),
    ("1013.25", "hPa", "hectopascal", "psi", "psi"),
    ("80", "N.m", "newton*meter", "lbf.ft", "force_pound*foot"),
    ("97", "lbf.in", "force_pound*inch", "N.m", "newton*meter"),
    ("33", "lbf.ft", "force_pound*foot", "lbf.in", "force_pound*inch"),
    ("1.8", "h", "hour", "min", "minute"),
    ("90", "d", "day", "h", "hour"),
    ("42", "degC", "degC", "degF", "degF"),
    ("203", "degF", "degF", "degC", "degC"),
    ("-13", "degF", "degF", "K", "kelvin"),
    ("310.15", "K", "kelvin", "degF", "degF"),
]
PLAIN = [  # of scipy.constants: value, unit, scipy's name, target, scipy's name
    ("2.5", "gal", "gallon", "L", "liter"),
    ("16", "fl_oz", "fluid_ounce", "L", "liter"),
    ("1.9", "imp_gal", "gallon_imp", "gal", "gallon"),
    ("0.35", "lb", "pound", "kg", None),
    ("12", "oz", "ounce", "lb", "pound"),
    ("450", "psi", "psi", "bar", "bar"),
    ("250", "mi", "mile", "km", "kilo"),
    ("17", "ft", "foot", "in", "inch"),
]


def write() -> None:
    """units.json"""
    book = Book("units", "Conversions against published factors and two reference libraries")
    for unit, factor, target, entry in PRINTED:
        source = NIST.format(entry) + (" (from memory)" if unit in MEMORY else ", read in a reprint")
        kind = "memory" if unit in MEMORY else "published"
        if unit != "lbf.ft":  # the contract has it
            book.value("convert", {"value": f"1 {unit}", "to": target}, f"{factor} {target}", source, kind, rel="5e-7")
        back = figure(float(1 / Fraction(factor)), unit)
        book.value(
            "convert",
            {"value": f"1 {target}", "to": unit},
            back,
            source + ", reciprocal",
            kind,
            rel="5e-7",
        )
    registry = pint.UnitRegistry(autoconvert_offset_to_baseunit=True)
    for value, unit, theirs, target, their_target in BY_PINT:
        got = registry.Quantity(float(value), theirs).to(their_target).magnitude
        source = f"Pint {pint.__version__}: {theirs} to {their_target}"
        expect = figure(got, target, 14)
        book.value("convert", {"value": f"{value} {unit}", "to": target}, expect, source, "library", rel="1e-9")
    for value, unit, theirs, target, their_target in PLAIN:
        got = float(value) * getattr(constants, theirs) / (getattr(constants, their_target) if their_target else 1)
        source = f"scipy 1.17.1: constants.{theirs}" + (f" over {their_target}" if their_target else "")
        book.value(
            "convert", {"value": f"{value} {unit}", "to": target}, figure(got, target), source, "library", rel="1e-9"
        )
    for value, to, step in (("9", "delta_degF", Fraction(9, 5)), ("63 ", "K", Fraction(5, 9))):
        unit = "K" if to == "delta_degF" else "degF"
        expect = f"{float(Fraction(value.strip()) * step):g} {to}"
        source = "NIST Special Publication 811 (2008), section 4.2.1.1: a difference of 1 degree Fahrenheit is 5/9 K"
        book.value(
            "convert", {"value": f"{value.strip()} {unit}", "to": to, "kind": "difference"}, expect, source, "published"
        )
    _windows(book)
    book.save()


def _windows(book: Book) -> None:
    """The level window in mixed units; the edges are met exactly."""
    source = "exact: 104 degF is 40 degC and 113 degF is 45 degC (NIST SP 811, B.9, temperature)"
    for low, high in (("40 degC", "113 degF"), ("104 degF", "45 degC"), ("313.15 K", "318.15 K")):
        for at, where in (
            ("104 degF", "inside"),
            ("318.15 K", "inside"),
            ("103.999999 degF", "below"),
            ("45.000001 degC", "above"),
            ("108.5 degF", "inside"),
        ):
            given = {"temperature": at, "low": low, "high": high}
            book.value("level_window_status", given, where, source, "identity")
