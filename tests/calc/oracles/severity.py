# ruff: noqa: E501  sources are long lines
"""Severity, intervals, particle counts and used oil."""

from __future__ import annotations

from fractions import Fraction
from random import Random

from iapws.iapws97 import _PSat_T, _TSat_P
from mpmath import mp, mpf

from tests.calc.oracles.book import Book, figure

mp.dps = 50
DOUBLING = (
    "common practice, no source: wear doubles each step (20 degF above 175 degF), worked with 50 digits (mpmath 1.4.1)"
)
JUDGED = "iapws 1.5.5: humidity and boiling (IF97); the weights are a declared judgment without a source, worked from the definition"
EXACT = "exact fractions"
ISO = "ISO 4406:1999 scale numbers, as reprinted in a filter maker's handbook: more than {}, up to and including {} per mL"
LIMITS = [
    "0.01",
    "0.02",
    "0.04",
    "0.08",
    "0.16",
    "0.32",
    "0.64",
    "1.3",
    "2.5",
    "5",
    "10",
    "20",
    "40",
    "80",
    "160",
    "320",
    "640",
    "1300",
    "2500",
    "5000",
    "10000",
    "20000",
    "40000",
    "80000",
    "160000",
    "320000",
    "640000",
    "1300000",
    "2500000",
]
CFR_53 = '40 CFR 279.53(c): "greater than or equal to 1,000 ppm total halogens"'
CFR_63 = '40 CFR 279.63(c): "greater than or equal to 1,000 ppm total halogens"'
CFR_10 = '40 CFR 279.10(b)(1)(ii): "more than 1,000 ppm total halogens"'


def write() -> None:
    """severity.json"""
    book = Book("severity", "What heat and moisture leave of an interval; particles and used oil")
    _thermal(book)
    _moisture(book)
    _intervals(book)
    _particles(book)
    _used_oil(book)
    book.save()


def _thermal(book: Book) -> None:
    for bins, reference, step in (
        ([("0.55", "82"), ("0.30", "91"), ("0.15", "104.5")], "79.4", "11.1"), ([("1", "96")], "79.4", "11.1"),
        ([("0.4", "70"), ("0.35", "88"), ("0.25", "117")], "79.4", "11.1"), ([("0.125", "60"), ("0.875", "99")], "85", "9"),
        ([("0.2", "79.4"), ("0.8", "101.6")], "79.4", "11.1"),
    ):  # fmt: skip
        wear = sum(mpf(share) * mpf(2) ** ((mpf(t) - mpf(reference)) / mpf(step)) for share, t in bins)
        given: dict = {"bins": [{"share": share, "temperature": f"{t} degC"} for share, t in bins]}
        if (reference, step) != ("79.4", "11.1"):
            given |= {"reference": f"{reference} degC", "doubling_step": f"{step} K"}
        book.value(
            "thermal_factor",
            given,
            figure(float(max(mpf(1), wear)), digits=15),
            DOUBLING,
            "common-practice",
            rel="1e-13",
        )
    for t in ("175 degF", "60 degC", "-10 degC"):
        given = {"bins": [{"share": "100 %", "temperature": t}], "reference": "175 degF"}
        book.value("thermal_factor", given, "1", "no fluid lives longer than at the reference", "identity")
    given = {
        "bins": [{"share": "0.5", "temperature": "215 degF"}, {"share": "0.5", "temperature": "195 degF"}],
        "reference": "175 degF",
        "doubling_step": "20 delta_degF",
    }
    book.value(
        "thermal_factor", given, "3", "half of the time at four times, half at twice the wear", "identity", abs="1e-12"
    )
    hot = {"bins": [{"share": "0.5", "temperature": "80 degC"}, {"share": "0.5", "temperature": "80 degC"}]}
    over = [f"{t} degC" for t in (80, 85, 95, 110, 130)]
    book.along("thermal_factor", "increasing", hot, "bins.1.temperature", over, "hotter wears faster")
    book.error(
        "thermal_factor",
        {"bins": [{"share": "0.999", "temperature": "90 degC"}]},
        "SharesDoNotSumToOne",
        "a thousandth of the time is missing",
    )
    for moisture, thermal, expect in (
        ("1.37", "1.2", "1.644"),
        ("1.9", "1.5", "2.5"),
        ("1", "1", "1"),
        ("1.25", "2", "2.5"),
    ):
        book.value("combined_factor", {"moisture": moisture, "thermal": thermal}, expect, EXACT, "identity")


def climate(months: list[tuple[float, float]], short: float, stored: float, meters: float) -> float:
    """The definition once more, on another library's water."""
    gram = sum(rh * _PSat_T(t + 273.15) * 1e6 / 461.526 / (t + 273.15) for t, rh in months) / 12 * 1000
    mean = sum(rh for _, rh in months) / 12
    boils = [_TSat_P(0.101325 * (1 - 0.0065 * h / 288.15) ** 5.255876) - 273.15 for h in (meters, 0)]
    a, b, q = (min(1.0, max(0.0, x)) for x in ((gram - 5) / 15, (mean - 0.5) / 0.4, (boils[0] - 80) / (boils[1] - 80)))
    return min(2.2, 1 + 0.3 * a + 0.2 * b + 0.4 * short * q + 0.3 * stored * (1 + b) / 2)


def _moisture(book: Book) -> None:
    draw = Random(12)
    for short, stored, meters in (
        (0.35, 0.0, 0),
        (0.8, 0.1, 610),
        (0.0, 0.6, 1750),
        (1.0, 1.0, 3000),
        (0.5, 0.25, -120),
    ):
        months = [(draw.randint(5, 330) / 10, draw.randint(35, 98) / 100) for _ in range(12)]
        given: dict = {
            "months": [{"temperature": f"{t} degC", "relative_humidity": f"{rh}"} for t, rh in months],
            "short_trip_share": f"{short}", "storage_share": f"{stored}", "altitude": f"{meters} m",
        }  # fmt: skip
        book.value(
            "moisture_factor", given, figure(climate(months, short, stored, meters)), JUDGED, "library", abs="1e-9"
        )
    for t, rh, short in ((24.5, 0.81, 0.45), (6, 0.55, 0.9), (31, 0.30, 0.2)):
        given = {"annual": {"temperature": f"{t} degC", "relative_humidity": f"{rh}"}, "short_trip_share": f"{short}"}
        book.value(
            "moisture_factor", given, figure(climate([(t, rh)] * 12, short, 0, 0)), JUDGED, "library", abs="1e-9"
        )
    base = {"annual": {"temperature": "21 degC", "relative_humidity": "64 %"}, "short_trip_share": "0.3"}
    for vary, over in (
        ("short_trip_share", ["0", "0.2", "0.7", "1"]),
        ("storage_share", ["0", "5 %", "0.5", "1"]),
        ("annual.temperature", ["40 degF", "20 degC", "25 degC"]),
    ):
        book.along(
            "moisture_factor", "non_decreasing", base, vary, over, "harder use and moister air never lengthen a life"
        )
    heights = [f"{m} m" for m in (-500, 0, 800, 2400, 7000)]
    book.along(
        "moisture_factor",
        "non_increasing",
        base,
        "altitude",
        heights,
        "where water boils lower, short trips dry the fluid better",
    )
    for water, limit, expect in (
        ("250 ppm", "1000 ppm", "1.3"),
        ("0.09 %", "1200 ppm", "1.9"),
        ("3000 ppm", "1000 ppm", "2.2"),
        ("0", "1", "1"),
    ):
        book.value(
            "moisture_factor_measured",
            {"water": water, "limit": limit},
            expect,
            "common practice, no source: judgment, in " + EXACT,
            "common-practice",
        )


def _intervals(book: Book) -> None:
    for base, unit, moisture, thermal in (
        ("45000", "mi", "1.29", "1.41"),
        ("80000", "km", "1.533", "1"),
        ("60000", "mi", "2.2", "2.4"),
        ("30000", "mi", "1", "1"),
        ("700", "mi", "1.9", "1.2"),
    ):
        factor = min(Fraction(5, 2), Fraction(moisture) * Fraction(thermal))
        expect = max(500, Fraction(base) / factor // 500 * 500)
        given = {"base_distance": f"{base} {unit}", "moisture": moisture, "thermal": thermal, "report": "distance"}
        book.value("adjusted_interval", given, f"{expect} {unit}", EXACT + ", down to 500", "identity")
    for base, moisture in (("48 mo", "1.37"), ("5 yr", "2.2"), ("24 mo", "1"), ("1 mo", "1.8")):
        months = Fraction(base.split()[0]) * (12 if "yr" in base else 1)
        given = {"base_months": base, "moisture": moisture, "thermal": "1.7", "report": "months"}
        book.value(
            "adjusted_interval",
            given,
            f"{max(1, months / Fraction(moisture) // 1)} mo",
            EXACT + ", down to whole months",
            "identity",
        )
    factors = ["1", "1.1", "1.34", "1.7", "2.2"]
    for report, base in (("distance", {"base_distance": "60000 mi"}), ("months", {"base_months": "60 mo"})):
        given = base | {"thermal": "1.12", "report": report}
        book.along(
            "adjusted_interval",
            "non_increasing",
            given,
            "moisture",
            factors,
            "a milder exposure never shortens an interval",
        )
    for interval, age, fresh, expect in (
        ("45000 mi", "38000 mi", "0.62", "30560 mi"),
        ("30 mo", "5 yr", "50 %", "0 mo"),
        ("70000 km", "81000 km", "0.9", "61900 km"),
        ("40 mo", "12 mo", "0", "28 mo"),
    ):
        given = {"interval": interval, "age_before": age, "fresh_fraction": fresh}
        book.value(
            "partial_exchange_credit",
            given,
            expect,
            "mass balance: mean of a mixture, " + EXACT,
            "identity",
            abs=f"1e-9 {expect.split()[1]}",
        )


def _particles(book: Book) -> None:
    for n in range(2, 29):
        at, low, small = LIMITS[n], LIMITS[n - 1], LIMITS[n - 2]
        given = {"over_4um": f"{at} /mL", "over_6um": f"{low} /mL", "over_14um": f"{small} /mL"}
        book.value("iso4406_code", given, f"{n}/{n - 1}/{n - 2}", ISO.format(low, at), "published")
        above = {
            name: f"{float(Fraction(limit) * Fraction(10001, 10000)):.10g} /mL"
            for name, limit in (("over_4um", at), ("over_6um", low), ("over_14um", small))
        }
        code = "/".join(str(k + 1) if k < 28 else ">28" for k in (n, n - 1, n - 2))
        if n % 3 == 1:
            book.value(
                "iso4406_code",
                above,
                code,
                ISO.format(at, LIMITS[n + 1] if n < 28 else "beyond the table"),
                "published",
            )
    given = {"over_4um": "300000 /100mL", "over_6um": "50000 /100mL", "over_14um": "700 /100mL"}
    book.value(
        "iso4406_code",
        given,
        "19/16/10",
        "an instrument supplier's note on ISO 4406, worked example: 300 000, 50 000 and 700 in 100 mL",
        "worked-example",
    )
    book.error(
        "iso4406_code",
        {"over_4um": "100 /mL", "over_6um": "100 /mL", "over_14um": "100.1 /mL"},
        "BadCounts",
        "ISO 4406:1999: each count includes the larger particles",
        "published",
    )


def _used_oil(book: Book) -> None:
    for role, at, source in (("generator", False, CFR_10), ("processor", True, CFR_53), ("burner", True, CFR_63)):
        for halogens, expect in (
            ("999.9 ppm", False),
            ("0.1 %", at),
            ("0.0010001", True),
            ("0.42 %", True),
            ("0", False),
        ):
            book.value("used_oil_presumption", {"total_halogens": halogens, "role": role}, expect, source, "published")
    for on in ("aboveground_tank", "underground_fill_pipe"):
        book.value(
            "used_oil_label", {"on": on}, "Used Oil", '40 CFR 279.22(c): marked with the words "Used Oil"', "published"
        )
    book.error(
        "used_oil_label",
        {"on": "truck"},
        "UnknownChoice",
        "40 CFR 279.22(c): names containers, tanks and fill pipes",
        "published",
    )
