# ruff: noqa: E501  sources are long lines
"""Water: vapor pressure, boiling, dew point and humidity, against tables and three reference libraries."""

from __future__ import annotations

import ambiance
import CoolProp
import psychrolib
from CoolProp.CoolProp import PropsSI
from iapws import __version__ as iapws_version
from iapws.iapws97 import _PSat_T, _TSat_P
from mpmath import exp as mp_exp
from mpmath import mp, mpf

from tests.calc.oracles.book import Book, figure

IAPWS = f"iapws {iapws_version}: IF97 region 4"
COOLPROP = f"CoolProp {CoolProp.__version__}: IAPWS-95 (another formulation, so within 0.03 %)"
PSYCHRO = "PsychroLib 2.5.0: ASHRAE Handbook Fundamentals (2017) chapter 1, equation 6 (another formulation, so within 0.05 %)"
STEAM = "Saturated water, temperature table of a printed set of steam tables: row {} degC; older formulation and temperature scale, so within 0.08 %"
ISO_2533 = "ISO 2533:1975 Table 5: pressure at the geopotential altitude of {} m, read in a reprint; both boil the same"
# degC, kPa, as printed
STEAM_ROWS = [
    (5, "0.8721"), (10, "1.2276"), (15, "1.7051"), (25, "3.169"), (30, "4.246"), (35, "5.628"), (40, "7.384"),
    (45, "9.593"), (50, "12.349"), (55, "15.758"), (60, "19.94"), (65, "25.03"), (70, "31.19"), (75, "38.58"),
    (80, "47.39"), (85, "57.83"), (90, "70.14"), (95, "84.55"), (100, "101.35"), (105, "120.82"), (110, "143.27"),
    (115, "169.06"), (120, "198.53"), (125, "232.1"), (130, "270.1"), (140, "361.3"), (150, "475.8"), (160, "617.8"),
    (170, "791.7"), (180, "1002.1"),
]  # fmt: skip
# m, hPa, as printed
ISO_ROWS = [
    (-500, "1074.78"), (-250, "1043.65"), (-100, "1025.32"), (50, "1007.26"), (150, "995.359"), (1100, "887.898"),
    (1250, "871.824"), (1500, "845.560"), (1600, "835.235"), (1750, "819.940"), (1900, "804.872"), (2200, "775.409"),
    (2500, "746.825"), (2750, "723.663"), (3200, "683.437"),
]  # fmt: skip
BELOW_ZERO = (-44.5, -37, -30, -21.5, -14, -6.5, -0.5)


def write() -> None:
    """water.json"""
    book = Book("water", "Water in air and where it boils, against tables and reference libraries")
    source = "IAPWS R7-97(2012), region 4, Table 36: 1 MPa gives 453.035632 K"
    book.value("boiling_point", {"pressure": "1 MPa"}, "453.035632 K", source, "published", abs="0.000001 K")
    _vapor(book)
    _boiling(book)
    _humidity(book)
    book.save()


def _vapor(book: Book) -> None:
    for celsius, kpa in STEAM_ROWS:
        given = {"temperature": f"{celsius} degC"}
        book.value("saturation_vapor_pressure", given, f"{kpa} kPa", STEAM.format(celsius), "published", rel="8e-4")
    for celsius in (3, 12.5, 22, 37, 62, 88, 117, 155, 199):
        expect = figure(_PSat_T(celsius + 273.15) * 1e6, "Pa")
        given = {"temperature": f"{celsius} degC"}
        book.value("saturation_vapor_pressure", given, expect, IAPWS, "library", rel="1e-9")
    for fahrenheit in (33.5, 41, 77, 100, 150, 212, 300):
        expect = figure(PropsSI("P", "T", (fahrenheit + 459.67) / 1.8, "Q", 0, "Water"), "Pa")
        given = {"temperature": f"{fahrenheit} degF"}
        book.value("saturation_vapor_pressure", given, expect, COOLPROP, "library", rel="3e-4")
    psychrolib.SetUnitSystem(psychrolib.SI)
    for celsius in (1, 18, 27.5, 34, 48):
        expect = figure(psychrolib.GetSatVapPres(celsius), "Pa")
        given = {"temperature": f"{celsius} degC"}
        book.value("saturation_vapor_pressure", given, expect, PSYCHRO, "library", rel="5e-4")
    mp.dps = 50
    for celsius in BELOW_ZERO:
        t = mpf(str(celsius))
        expect = figure(float(mpf("611.2") * mp_exp(mpf("17.62") * t / (mpf("243.12") + t))), "Pa", 14)
        source = "WMO-No. 8 (2008), Annex 4.B: over water, worked with 50 digits (mpmath 1.4.1)"
        given = {"temperature": f"{celsius} degC"}
        book.value("saturation_vapor_pressure", given, expect, source, "worked-example", rel="1e-12")
    for given, name in (
        ({"temperature": "-45.1 degC"}, "OutOfRange"),
        ({"temperature": "200.1 degC"}, "OutOfRange"),
        ({"temperature": "-460 degF"}, "OutOfRange"),
        ({"temperature": "20"}, "DimensionMismatch"),
        ({}, "MissingInput"),
    ):
        book.error(
            "saturation_vapor_pressure",
            given,
            name,
            "WMO-No. 8 from -45 degC, ours to 200 degC",
        )


def _boiling(book: Book) -> None:
    for meters, hpa in ISO_ROWS:
        than = ("boiling_point", {"pressure": f"{hpa} hPa"})
        given = {"altitude": f"{meters} m"}
        book.against(
            "boiling_point",
            "equal_to",
            given,
            than,
            ISO_2533.format(meters),
            "published",
            tolerance={"abs": "0.0005 K"},
        )
    for feet in (-900, 1200, 2800, 5280, 7400, 10000, 14100, 29000):
        # the library takes geometric heights
        meters = feet * 0.3048
        geometric = ambiance.Atmosphere.geop2geom_height(meters)
        pascal = float(ambiance.Atmosphere(geometric).pressure[0])
        expect = figure(_TSat_P(pascal / 1e6), "K", 10)
        source = f"ambiance 1.3.1: ICAO Doc 7488, the same air as ISO 2533, then {IAPWS}"
        book.value("boiling_point", {"altitude": f"{feet} ft"}, expect, source, "library", abs="0.0001 K")
    for kpa in (10, 15, 33, 70, 95, 101.325, 140, 250, 420, 735, 999):
        expect = figure(_TSat_P(kpa / 1e3), "K", 13)
        book.value("boiling_point", {"pressure": f"{kpa} kPa"}, expect, IAPWS, "library", abs="1e-6 K")
    for psi in (2, 11.3, 29, 88):
        expect = figure(PropsSI("T", "P", psi * 6894.757293168361, "Q", 0, "Water"), "K")
        book.value("boiling_point", {"pressure": f"{psi} psi"}, expect, COOLPROP, "library", abs="0.02 K")
    for given in ({"altitude": "-501 m"}, {"altitude": "11001 m"}, {"pressure": "9.99 kPa"}, {"pressure": "10.01 bar"}):
        book.error("boiling_point", given, "OutOfRange", "the troposphere and the range of the contract")
    heights = [f"{m} m" for m in (-500, -1, 0, 250, 2700, 6000, 11000)]
    book.along("boiling_point", "decreasing", {}, "altitude", heights, "water boils lower on a mountain")


def _humidity(book: Book) -> None:
    for t, dew in ((35, 21), (24, 3), (10.5, 9), (61, 40), (8, 1.5)):
        expect = figure(_PSat_T(dew + 273.15) / _PSat_T(t + 273.15))
        given = {"temperature": f"{t} degC", "dew_point": f"{dew} degC"}
        book.value("relative_humidity", given, expect, IAPWS, "library", rel="1e-9")
    for t, dew in ((-3, -8), (-20, -25.5), (5, -7)):
        expect = figure(psychrolib_over_water(dew) / psychrolib_over_water(t))
        source = "Sonntag 1990, vapor pressure over supercooled water (memory): another formulation, so within 0.5 %"
        given = {"temperature": f"{t} degC", "dew_point": f"{dew} degC"}
        book.value("relative_humidity", given, expect, source, "memory", rel="5e-3")
    psychrolib.SetUnitSystem(psychrolib.SI)
    for t, share in ((19, 0.63), (27, 0.41), (38, 0.87), (12, 0.94), (31, 0.22), (45, 0.15)):
        given = {"temperature": f"{t} degC", "relative_humidity": figure(share * 100, "%")}
        expect = figure(psychrolib.GetTDewPointFromRelHum(t, share), "degC")
        source = "PsychroLib 2.5.0: dew point from relative humidity (another formulation)"
        book.value("dew_point", given, expect, source, "library", abs="0.02 K")
        pascal = share * PropsSI("P", "T", t + 273.15, "Q", 0, "Water")
        source = f"{COOLPROP}; ideal gas with 461.526 J/(kg K)"
        expect = figure(pascal / 461.526 / (t + 273.15) * 1e3, "g/m3")
        book.value("absolute_humidity", given, expect, source, "library", rel="3e-4")
    for t, share in ((21, 0.34), (33, 0.71), (16, 0.99)):
        given = {"temperature": f"{t} degC", "relative_humidity": f"{share}"}
        expect = figure(_TSat_P(share * _PSat_T(t + 273.15)), "K", 13)
        book.value("dew_point", given, expect, IAPWS, "library", abs="1e-6 K")
    for t, gram in ((0, "4.85"), (10, "9.4"), (25, "23.0"), (30, "30.3"), (40, "51.1")):
        given = {"temperature": f"{t} degC", "relative_humidity": "1"}
        source = f"tables of saturated air in textbooks (memory): {t} degC"
        book.value("absolute_humidity", given, f"{gram} g/m3", source, "memory", rel="8e-3")
    airs = [f"{rh} %" for rh in (1, 20, 40, 60, 80, 99)]
    for quantity in ("dew_point", "absolute_humidity"):
        for t in ("22 degC", "50 degF"):
            source = "moister air holds more water and mists sooner"
            book.along(quantity, "increasing", {"temperature": t}, "relative_humidity", airs, source)
    book.error(
        "dew_point",
        {"temperature": "-44 degC", "relative_humidity": "50 %"},
        "OutOfRange",
        "below -45 degC no formula holds",
    )
    book.error(
        "dew_point", {"temperature": "10 degC", "relative_humidity": "0"}, "OutOfRange", "dry air has no dew point"
    )
    given = {"temperature": "68 degF", "dew_point": "20.01 degC"}
    book.error(
        "relative_humidity", given, "DewPointAboveTemperature", "68 degF are 20 degC; air holds no more than saturation"
    )


def psychrolib_over_water(celsius: float) -> float:
    """Sonntag 1990 over water, in Pa; PsychroLib itself turns to ice below the triple point."""
    from math import exp, log

    t = celsius + 273.15
    return 100 * exp(-6096.9385 / t + 16.635794 - 2.711193e-2 * t + 1.673952e-5 * t * t + 2.433502 * log(t))
