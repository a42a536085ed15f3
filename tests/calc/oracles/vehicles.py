# ruff: noqa: E501  sources are long lines
"""Vehicle numbers, dates and distances against 49 CFR 565.15, vininfo, dateutil, numpy and scipy."""

from __future__ import annotations

from datetime import date, timedelta
from random import Random

import numpy as np
from dateutil.relativedelta import relativedelta
from scipy.stats import theilslopes
from vininfo import Vin

from tests.calc.oracles.book import Book, figure

CFR = "49 CFR 565.15(c), Table {}"
YEARS = "ABCDEFGHJKLMNPRSTVWXY123456789"  # 49 CFR 565.15(d)(1), Table VII: 1980 to 2009, then again
VALUES = {"A": 1, "B": 2, "C": 3, "D": 4, "E": 5, "F": 6, "G": 7, "H": 8, "J": 1, "K": 2, "L": 3, "M": 4, "N": 5,
          "P": 7, "R": 9, "S": 2, "T": 3, "U": 4, "V": 5, "W": 6, "X": 7, "Y": 8, "Z": 9}  # fmt: skip
WEIGHTS = [8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2]
DATEUTIL = "dateutil 4.0.0: relativedelta"
ANSCOMBE = (
    "Anscombe, American Statistician 27 (1973) 17-21: data set {} (data from memory), slope by scipy 1.17.1 theilslopes"
)
X123 = [10, 8, 13, 9, 11, 14, 6, 4, 12, 7, 5]
QUARTET = [
    (X123, [8.04, 6.95, 7.58, 8.81, 8.33, 9.96, 7.24, 4.26, 10.84, 4.82, 5.68]),
    (X123, [9.14, 8.14, 8.74, 8.77, 9.26, 8.10, 6.13, 3.10, 9.13, 7.26, 4.74]),
    (X123, [7.46, 6.77, 12.74, 7.11, 7.81, 8.84, 6.08, 5.39, 8.15, 6.42, 5.73]),
    ([8, 8, 8, 8, 8, 8, 8, 19, 8, 8, 8], [6.58, 5.76, 7.71, 8.84, 8.47, 7.04, 5.25, 12.50, 5.56, 7.91, 6.89]),
]


def write() -> None:
    """vehicles.json"""
    book = Book("vehicles", "Vehicle numbers, distances and dates")
    _vins(book)
    _dates(book)
    _slopes(book)
    _readings(book)
    book.save()


def _remainder(total: int) -> str:
    return "X" if total % 11 == 10 else str(total % 11)


def _vins(book: Book) -> None:
    for letter, value in VALUES.items():
        given = {"vin": f"00{letter}00000*00000000"}
        source = CFR.format("III") + f": {letter} = {value}, alone at position 3 with weight 6"
        book.value("vin_check_digit", given, _remainder(6 * value), source, "published")
    for place, weight in enumerate(WEIGHTS):
        number = "".join("1" if i == place else "0" for i in range(17))
        source = CFR.format("IV") + f": position {place + 1} has weight {weight}"
        book.value("vin_check_digit", {"vin": number}, _remainder(weight), source, "published")
    draw = Random(565)
    letters = "ABCDEFGHJKLMNPRSTUVWXYZ0123456789"
    for _ in range(8):
        number = "0" + "".join(draw.choice(letters) for _ in range(16))
        digit = next(d for d in "0123456789X" if Vin(number[:8] + d + number[9:]).verify_checksum(check_year=False))
        source = "vininfo 1.11: verify_checksum on a number drawn at random"
        book.value("vin_check_digit", {"vin": number}, digit, source, "library")
        whole = number[:8] + digit + number[9:]
        book.value("vin_status", {"vin": whole.lower()}, "ok", source, "library")
        other = number[:8] + ("1" if digit != "1" else "2") + number[9:]
        assert not Vin(other).verify_checksum(check_year=False)
        book.value("vin_status", {"vin": other}, "check_digit_differs", source, "library")
    for place, code in enumerate(YEARS):
        source = f"49 CFR 565.15(d)(1), Table VII: {code} at position 10; position 7 a letter from 2010 on"
        given = {"vin": f"0AB01CD20{code}K000777", "vehicle_class": "light"}
        assert 1980 + place in Vin(given["vin"]).years  # vininfo knows no year to come
        book.value("vin_model_years", given, [2010 + place], source, "published")
    for code in "AKY19":
        first = 1980 + YEARS.index(code)
        given = {"vin": f"0AB01C320{code}K000777"}
        source = f"49 CFR 565.15(d)(1), Table VII: {code} at position 10"
        book.value("vin_model_years", given | {"vehicle_class": "other"}, [first, first + 30], source, "published")
        if code != "A":  # public.json has it
            book.value("vin_model_years", given | {"vehicle_class": "light"}, [first], source, "published")
    for code in "Z0":
        given = {"vin": f"0AB01CD20{code}K000777", "vehicle_class": "other"}
        book.error(
            "vin_model_years",
            given,
            "BadYearCode",
            "49 CFR 565.15(d)(1), Table VII: I, O, Q, U, Z and 0 are not used",
            "published",
        )
    for letter in "IOQ":
        book.error(
            "vin_status",
            {"vin": f"0AB01{letter}D20AK000777"},
            "BadVinCharacter",
            f"49 CFR 565.15: {letter} is not used",
            "published",
        )


def _dates(book: Book) -> None:
    for start, months in (
        ("2027-01-31", 1), ("2027-01-31", 13), ("2024-02-29", 48), ("2024-02-29", 11), ("2025-08-30", 6), ("2026-12-31", 2),
        ("2026-10-31", 25), ("2099-11-30", 3), ("1999-05-17", 360), ("2000-03-31", 107),
    ):  # fmt: skip
        expect = (date.fromisoformat(start) + relativedelta(months=months)).isoformat()
        unit = f"{months} mo" if months % 12 else f"{months // 12} yr"
        book.value("due_date_months", {"date": start, "interval": unit}, expect, DATEUTIL, "library")
    for start, years in (
        ("2024-02-29", 2),
        ("2024-02-29", 4),
        ("2096-02-29", 4),
        ("2026-03-01", 7),
        ("2025-12-31", 1),
        ("2026-06-30", 0),
    ):
        expect = (date.fromisoformat(start) + relativedelta(years=years)).isoformat()
        book.value("retention_until", {"date": start, "years": years}, expect, DATEUTIL, "library")
    for distance, time in (("2027-03-01", "2027-02-28"), ("2027-02-28", "2027-03-01"), ("2028-02-29", "2028-02-29")):
        first = min(distance, time)
        given = {"distance_due": distance, "time_due": time}
        book.value("governing_clock", given | {"report": "date"}, first, "the earlier of two dates", "identity")
        clock = "distance" if distance < time else "time"
        book.value(
            "governing_clock", given | {"report": "clock"}, clock, "the earlier of two dates, a tie to time", "identity"
        )


def _slopes(book: Book) -> None:
    for number, (x, y) in enumerate(QUARTET, 1):
        expect = figure(theilslopes(y, x).slope)
        given = {"x": [str(one) for one in x], "y": [str(one) for one in y]}
        book.value("theil_sen_slope", given, expect, ANSCOMBE.format(number), "dataset", abs="1e-12")
    draw = Random(1968)
    for count in (5, 8, 12):
        x = sorted(draw.sample(range(0, 400), count))
        y = [round(3.2 * one + draw.gauss(0, 60), 1) for one in x]
        expect = figure(theilslopes(y, x).slope)
        given = {"x": [str(one) for one in x], "y": [str(one) for one in y]}
        book.value(
            "theil_sen_slope",
            given,
            expect,
            "scipy 1.17.1: theilslopes, numbers drawn at random",
            "library",
            abs="1e-10",
        )


def _readings(book: Book) -> None:
    """Invented readings; quantiles of the pair slopes by numpy, dates by datetime."""
    draw = Random(2026)
    for unit, count in (("mi", 4), ("km", 6), ("mi", 9)):
        day, at, rows = date(2025, 2, 3), 40_250, []
        for _ in range(count):
            rows.append((day, at))
            step = draw.randint(21, 120)
            day, at = day + timedelta(days=step), at + step * draw.randint(18, 47)
        readings = [{"date": d.isoformat(), "odometer": f"{a} {unit}"} for d, a in rows]
        slopes = [(b - a) / (e - d).days for i, (d, a) in enumerate(rows) for e, b in rows[i + 1 :]]
        source = "scipy 1.17.1: theilslopes on invented readings"
        slope = theilslopes([a for _, a in rows], [d.toordinal() for d, _ in rows]).slope
        given = {"readings": draw.sample(readings, len(readings))}
        book.value("mileage_rate", given, figure(slope, f"{unit}/d"), source, "library", rel="1e-10")
        service, interval = rows[1], 22_000
        last = {"date": service[0].isoformat(), "odometer": f"{service[1]} {unit}"}
        for report, share in (("due", 0.5), ("early", 0.9), ("late", 0.1)):
            days = (service[1] + interval - rows[-1][1]) / float(np.quantile(slopes, share))
            assert abs(days % 1 - 0.5) > 1e-6
            expect = (rows[-1][0] + timedelta(days=round(days))).isoformat()
            given = {"readings": readings, "last_service": last, "interval": f"{interval} {unit}", "report": report}
            source = "numpy 2.4.6: quantile (linear) of the pair slopes, dates by Python's datetime, invented readings"
            book.value("due_date_distance", given, expect, source, "library")
    intervals = [f"{m} mi" for m in (1000, 5000, 9999, 30000)]
    rows = [{"date": "2026-01-01", "odometer": "10 mi"}, {"date": "2026-03-02", "odometer": "1510 mi"}]
    given = {"readings": rows, "last_service": rows[0], "report": "due"}
    for miles in intervals:
        days = max(0, round((10 + int(miles.split()[0]) - 1510) / 25))
        expect = (date(2026, 3, 2) + timedelta(days=days)).isoformat()
        source = "Python's datetime: 25 mi a day, counted on"
        book.value("due_date_distance", given | {"interval": miles}, expect, source, "worked-example")
    previous = {"date": "2026-04-01", "odometer": "99400 km"}
    for odometer, days, expect in (
        ("104800 km", 91, "ok"), ("99400 km", 0, "ok"), ("500 km", 60, "rollover"), ("63000 km", 60, "unit_mixup"),
        ("160700 km", 60, "unit_mixup"), ("98000 km", 60, "rollback"), ("140000 km", 60, "implausible"),
    ):  # fmt: skip
        new = {"date": (date(2026, 4, 1) + timedelta(days=days)).isoformat(), "odometer": odometer}
        given = {"previous": previous, "new": new, "rate": "40 km/d", "digits": 5}
        source = "common practice, no source: plausible is 0 to 4 x rate x days + 1,000"
        book.value("odometer_check", given, expect, source, "common-practice")
