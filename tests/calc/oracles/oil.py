# ruff: noqa: E501  sources are long lines
"""Oil by temperature and weight, level errors and cooling: worked with 50 digits, apart from the program's own way."""

from __future__ import annotations

from mpmath import cos, log, mp, mpf, pi, sin
from mpmath import exp as e_to

from tests.calc.oracles.book import Book, figure

mp.dps = 50
API = "API MPMS Chapter 11.1 (2004), generalized lubricating oils: K0 = 0, K1 = 0.34878 per degF (0.6278 per degC at 15 degC), worked with 50 digits (mpmath 1.4.1)"
CUBIC = "ASTM D1250 Table 3 (15 degC, density to relative density at 60 degF): {} kg/m3 is {}; water at 60 degF 999.016 kg/m3; four places, made for fuels, so within 0.00015"
NEWTON = "Newton's law of cooling: T(t) = Ta + (T0 - Ta) exp(-k t), "
OPENSTAX = NEWTON + "worked example of OpenStax Calculus Volume 2, section 2.8 ({})"


def factor(density: object, celsius: object, base: str = "15 degC") -> object:
    """V(base) over V(T)."""
    rho, t = mpf(str(density)), mpf(str(celsius))
    metric, customary = mpf("0.6278") / rho * (t - 15), mpf("0.34878") / rho * (t * mpf(9) / 5 + 32 - 60)
    x = metric if base == "15 degC" else customary
    return e_to(-x - mpf(4) / 5 * x**2)


def write() -> None:
    """oil.json"""
    book = Book("oil", "Oil by temperature, weight, tilt and time")
    _factors(book)
    _volumes(book)
    _levels(book)
    _cooling(book)
    book.save()


def _factors(book: Book) -> None:
    for density in ("801", "823.4", "846", "862", "905", "1100"):
        for celsius in ("-38", "4.5", "66", "121"):
            given = {"density": f"{density} kg/m3", "temperature": f"{celsius} degC"}
            expect = figure(float(factor(density, celsius)), digits=15)
            book.value("oil_volume_correction", given, expect, API, "worked-example", rel="1e-13")
    for density, fahrenheit in (("7.05 lb/gal", 59), ("53.1 lb/ft3", 104), ("0.871 kg/L", 176), ("0.842 g/mL", -22)):
        kg = {"7.05 lb/gal": mpf("7.05") * mpf("0.45359237") / mpf("0.003785411784"),
              "53.1 lb/ft3": mpf("53.1") * mpf("0.45359237") / mpf("0.3048") ** 3,
              "0.871 kg/L": mpf(871), "0.842 g/mL": mpf(842)}[density]  # fmt: skip
        given = {"density": density, "temperature": f"{fahrenheit} degF", "base": "60 degF"}
        expect = figure(float(factor(kg, mpf(fahrenheit - 32) * 5 / 9, "60 degF")), digits=15)
        book.value("oil_volume_correction", given, expect, API, "worked-example", rel="1e-13")
    for density, relative in ((830, "0.8304"), (850, "0.8504"), (870, "0.8705"), (890, "0.8905")):
        # the same oil at 60 degF (15.556 degC) is lighter by this factor; the table gives it to four places
        expect = figure(float(mpf(relative) * mpf("999.016") / density), digits=8)
        given = {"density": f"{density} kg/m3", "temperature": "60 degF"}
        book.value("oil_volume_correction", given, expect, CUBIC.format(density, relative), "published", abs="0.00015")
    for given, name in (
        ({"density": "800.8 kg/m3", "temperature": "20 degC"}, "OutOfRange"),
        ({"density": "1163.6 kg/m3", "temperature": "20 degC"}, "OutOfRange"),
        ({"density": "850 kg/m3", "temperature": "-50.1 degC"}, "OutOfRange"),
        ({"density": "850 kg/m3", "temperature": "150.1 degC"}, "OutOfRange"),
        ({"density": "850 kg/m3", "temperature": "20 degC", "base": "20 degC"}, "UnknownChoice"),
    ):
        book.error(
            "oil_volume_correction",
            given,
            name,
            "API MPMS Chapter 11.1 (2004), generalized lubricating oils: limits (memory)",
            "memory",
        )


def _volumes(book: Book) -> None:
    for volume, unit, start, end, density in (
        ("6.35", "L", "21", "43", "848"), ("9.2", "qt", "88", "18", "862"), ("1.1", "gal", "-9", "40", "838"),
        ("437", "mL", "104", "25", "871.5"), ("3.3", "pt", "15", "95", "850.5"), ("0.83", "imp_gal", "42", "15", "845"),
    ):  # fmt: skip
        expect = figure(float(mpf(volume) * factor(density, start) / factor(density, end)), unit, 15)
        given = {
            "volume": f"{volume} {unit}",
            "from": f"{start} degC",
            "to": f"{end} degC",
            "density_15": f"{density} kg/m3",
        }
        book.value("oil_volume_at", given, expect, API, "worked-example", rel="1e-13")
    for kilogram, density, celsius in (
        ("5.4", "862", "42"),
        ("3.45", "846", "19"),
        ("0.777", "850", "-12"),
        ("11", "839", "101"),
    ):
        expect = figure(float(mpf(kilogram) / (mpf(density) * factor(density, celsius)) * 1000), "L", 15)
        given = {"mass": f"{kilogram} kg", "density_15": f"{density} kg/m3", "temperature": f"{celsius} degC"}
        book.value("weighed_volume", given, expect, API, "worked-example", rel="1e-13")
    out, into = [("6.115", "0.735"), ("4.02", "0.64")], [("5.2", "0.4"), ("4.31", "0.26"), ("0.33", "0.05")]
    litre = sum(mpf(g) - mpf(t) for g, t in into) / (846 * factor(846, 38)) - sum(mpf(g) - mpf(t) for g, t in out) / (
        862 * factor(862, 38)
    )
    given = {
        "removed": [{"gross": f"{g} kg", "tare": f"{t} kg"} for g, t in out],
        "added": [{"gross": f"{g} kg", "tare": f"{t} kg"} for g, t in into],
        "density_15_removed": "862 kg/m3", "density_15_added": "846 kg/m3", "temperature": "38 degC",
    }  # fmt: skip
    book.value("fluid_balance", given, figure(float(litre * 1000), "L", 15), API, "worked-example", abs="1e-12 L")
    same = given | {"removed": given["added"], "density_15_removed": "846 kg/m3"}
    book.value("fluid_balance", same, "0 L", "what goes in comes out", "identity", abs="1e-12 L")
    given = given | {"added": [{"gross": "0.3 kg", "tare": "0.4 kg"}]}
    book.error("fluid_balance", given, "TareExceedsGross", "no can weighs more empty")
    there = {"volume": "7.4 L", "to": "77 degC", "density_15": "852 kg/m3"}
    source = "the volume at one temperature does not depend on the way: hotter oil takes more room"
    temperatures = [f"{t} degF" for t in (-40, 0, 32, 60, 104, 200, 300)]
    book.along("oil_volume_at", "decreasing", there, "from", temperatures, source)
    back = {k: v for k, v in there.items() if k != "to"} | {"from": "77 degC"}
    book.along("oil_volume_at", "increasing", back, "to", temperatures, source)


def _levels(book: Book) -> None:
    for volume, density, correct, actual in (
        ("8.1 L", 855, 40, 33),
        ("7 qt", 847, 42.5, 61),
        ("950 mL", 860, 45, 44.5),
    ):
        number, unit = volume.split()
        expect = figure(float(mpf(number) * (factor(density, correct) / factor(density, actual) - 1)), unit, 13)
        given = {
            "volume": volume,
            "density_15": f"{density} kg/m3",
            "correct": f"{correct} degC",
            "actual": f"{actual} degC",
        }
        book.value("level_error_temperature", given, expect, API, "worked-example", rel="1e-10")
    for offset, area, degrees in (
        ("18 cm", "0.091 m2", "0.7"),
        ("-9 in", "120 in2", "2.25"),
        ("305 mm", "66000 mm2", "-1.4"),
        ("0.21 m", "810 cm2", "12"),
    ):
        mm = {"cm": 10, "in": mpf("25.4"), "mm": 1, "m": 1000}
        mm2 = {"m2": 10**6, "in2": mpf("645.16"), "mm2": 1, "cm2": 100}
        (length, unit), (size, unit2) = offset.split(), area.split()
        angle = mpf(degrees) * pi / 180
        ml = mpf(length) * mm[unit] * mpf(size) * mm2[unit2] * sin(angle) / cos(angle) / 1000
        given = {"offset": offset, "area": area, "tilt": f"{degrees} deg"}
        source = "plane geometry: a wedge of offset x tan(tilt) x area, worked with 50 digits (mpmath 1.4.1)"
        book.value("level_error_tilt", given, figure(float(ml), "mL", 15), source, "worked-example", rel="1e-12")
    for tilt in ("45 deg", "-45 deg"):
        book.error(
            "level_error_tilt",
            {"offset": "1 mm", "area": "1 mm2", "tilt": tilt},
            "OutOfRange",
            "the bound of the contract",
        )


def _cooling(book: Book) -> None:
    def example(t0: object, t1: object, minutes: object, air: object, goal: object, unit: str) -> tuple[dict, object]:
        a, b, air_, goal_ = (mpf(str(x)) for x in (t0, t1, air, goal))
        k = log((a - air_) / (b - air_)) / mpf(str(minutes))
        readings = [
            {"at": "0 min", "temperature": f"{t0} {unit}"},
            {"at": f"{minutes} min", "temperature": f"{t1} {unit}"},
        ]
        given = {"readings": readings, "ambient": f"{air} {unit}", "target": f"{goal} {unit}"}
        return given, log((b - air_) / (goal_ - air_)) / k

    given, _ = example(350, 325, 2, 75, 250, "degF")
    source = OPENSTAX.format("a pizza at 350 degF in a room of 75 degF, 325 degF after two minutes")
    book.value(
        "cool_down_time",
        given,
        figure(float(log(mpf(250) / 175) * 2 / log(mpf(275) / 250)), "min", 13),
        source + ", law from memory",
        "memory",
        rel="1e-11",
    )
    for one in (
        (96.5, 88.25, 7, 18.5, 42), (71, 63.5, 12, 6, 45), (84, 82, 1.5, 33, 40), (58, 47, 21, 29.5, 43.3), (130, 90, 30, -11, 45),
    ):  # fmt: skip
        given, after = example(*one, "degC")
        source = NEWTON + "worked with 50 digits (mpmath 1.4.1)"
        book.value("cool_down_time", given, figure(float(after), "min", 14), source, "worked-example", rel="1e-12")
    given, after = example(200, 180, 10, 70, 105, "degF")
    book.value(
        "cool_down_time",
        given,
        figure(float(after * 60), "s", 14),
        NEWTON + "in degrees Fahrenheit and seconds",
        "worked-example",
        rel="1e-12",
    )
    source = "colder air cools faster; a lower target takes longer"
    book.along("cool_down_time", "decreasing", given, "target", ["80 degF", "100 degF", "120 degF", "160 degF"], source)
    for change, name in (
        ({"target": "70 degF"}, "Unreachable"),
        ({"ambient": "180 degF"}, "OutOfRange"),
        (
            {"readings": [{"at": "0 s", "temperature": "80 degC"}, {"at": "9 s", "temperature": "80 degC"}]},
            "NotCooling",
        ),
    ):
        book.error("cool_down_time", given | change, name, "the law has no answer there")
