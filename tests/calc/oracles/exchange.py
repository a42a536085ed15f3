# ruff: noqa: E501  sources are long lines
"""Exchange of the fluid: against closed forms, special functions and integration of the same balances by scipy."""

from __future__ import annotations

import math
from fractions import Fraction

import numpy as np
from mpmath import mp, mpf
from scipy.integrate import solve_ivp
from scipy.optimize import brentq
from scipy.special import gammaincc

from tests.calc.oracles.book import Book, figure

mp.dps = 50
TANKS = "Levenspiel, Chemical Reaction Engineering: chapter 14, tanks in series, mean over the tanks of the regularized gamma function Q(i, n u), scipy 1.17.1 gammaincc"
MASS = "mass balance: exact fractions"
IVP = "scipy 1.17.1: solve_ivp (DOP853, rtol 1e-12) on the balances of sump and rest, the plug-flow rest cut into 20,000 slices"


def fresh_in_tanks(turns: float, tanks: int) -> float:
    """1 - mean old share."""
    return 1 - float(np.mean([gammaincc(i, tanks * turns) for i in range(1, tanks + 1)]))


def write() -> None:
    """exchange.json"""
    book = Book("exchange", "How much of the fluid is fresh")
    _passes(book)
    _flow(book)
    _mixtures(book)
    _staged(book)
    book.save()


def _passes(book: Book) -> None:
    for capacity, drained, start in (
        ("9.1", ["3.8"], "0"), ("6.9", ["2.4", "2.2", "2.6"], "0"), ("11.5", ["4", "4", "4", "4", "4"], "0.1"),
        ("8", ["8"], "0.3"), ("7.4", ["1.85", "3.7"], "0.25"), ("5.5", ["0", "1.1"], "0"),
    ):  # fmt: skip
        old = 1 - Fraction(start)
        for one in drained:
            old *= 1 - Fraction(one) / Fraction(capacity)
        given = {"capacity": f"{capacity} L", "drained": [f"{one} L" for one in drained], "start": start}
        book.value("fresh_fraction_passes", given, figure(float(1 - old), digits=16), MASS, "worked-example")
    for capacity, drained, target in (
        ("8.8", "4.4", "0.96875"),
        ("6.9", "2.3", "0.8"),
        ("12", "3", "0.683"),
        ("10", "1", "0.9"),
    ):
        kept, n = 1 - Fraction(drained) / Fraction(capacity), 0
        while 1 - kept**n < Fraction(target) - Fraction(1, 10**9):
            n += 1
        given = {"capacity": f"{capacity} qt", "drained": f"{drained} qt", "target": target}
        book.value("passes_needed", given, n, MASS + ", counted up one by one", "worked-example")
    given = {"capacity": "8 L", "drained": ["2 L", "2 L"]}
    book.along(
        "fresh_fraction_passes",
        "increasing",
        given,
        "drained.0",
        ["0 L", "1 pt", "1 L", "3 L", "2 gal"],
        "more out, more fresh in",
    )
    book.error(
        "fresh_fraction_passes",
        given | {"drained": ["8.001 L"]},
        "DrainExceedsCapacity",
        "no unit gives more than it holds",
    )
    book.error(
        "passes_needed",
        {"capacity": "8 L", "drained": "0 L", "target": "0.5"},
        "Unreachable",
        "nothing out, nothing fresh",
    )


def _flow(book: Book) -> None:
    for capacity, volume in (("7.4", "11.1"), ("9.5", "3.3"), ("6.2", "18.6")):
        given = {"capacity": f"{capacity} L", "volume": f"{volume} L", "model": "stirred"}
        expect = figure(float(1 - mp.exp(-mpf(volume) / mpf(capacity))), digits=16)
        source = "Levenspiel, Chemical Reaction Engineering: chapter 11, ideal stirred vessel, washout exp(-V/C), 50 digits (mpmath 1.4.1)"
        book.value("fresh_fraction_exchange", given, expect, source, "worked-example", rel="1e-13")
    for capacity, volume, n in (
        ("7.4", "7.4", 2),
        ("7.4", "10.2", 5),
        ("9.5", "6.4", 12),
        ("6.2", "6.2", 40),
        ("8", "9.6", 133),
        ("8", "8", 200),
    ):
        given = {"capacity": f"{capacity} L", "volume": f"{volume} L", "model": "tanks", "tanks": n}
        expect = figure(fresh_in_tanks(float(volume) / float(capacity), n), digits=13)
        book.value("fresh_fraction_exchange", given, expect, TANKS, "library", abs="1e-11")
    for capacity, target, n in (("7.4", 0.8, 2), ("9.5", 0.95, 6), ("8", 0.5, 25)):
        turns = brentq(lambda u, n=n, target=target: fresh_in_tanks(u, n) - target, 0, 20, xtol=1e-14)
        given = {"capacity": f"{capacity} L", "target": f"{target}", "model": "tanks", "tanks": n}
        expect = figure(turns * float(capacity), "L", 13)
        book.value("exchange_volume_needed", given, expect, TANKS + ", inverted by brentq", "library", rel="1e-10")
    for capacity, target in (("9.5", "0.9"), ("6.2", "0.333"), ("11", "0.999")):
        expect = figure(float(-mpf(capacity) * mp.log(1 - mpf(target))), "qt", 15)
        given = {"capacity": f"{capacity} qt", "target": target, "model": "stirred"}
        book.value(
            "exchange_volume_needed",
            given,
            expect,
            "Levenspiel, Chemical Reaction Engineering: chapter 11, C ln(1/(1 - f)), 50 digits (mpmath 1.4.1)",
            "worked-example",
            rel="1e-13",
        )
    for capacity, volume, spread in (("8.2", "9", "15 %"), ("6.6", "12", "0")):
        low, high = (
            float(1 - mp.exp(-mpf(volume) / (mpf(capacity) * (1 + s * mpf(spread.split()[0]) / 100)))) for s in (1, -1)
        )
        given = {"capacity": f"{capacity} L", "volume": f"{volume} L", "model": "stirred", "spread": spread}
        expect = [figure(low, digits=15), figure(high, digits=15)]
        book.value(
            "fresh_fraction_band",
            given,
            expect,
            "Levenspiel, Chemical Reaction Engineering: chapter 11, 1 - exp(-V/C) at both ends",
            "worked-example",
            rel="1e-13",
        )
    base = {"capacity": "7.4 L", "model": "tanks", "tanks": 1}
    book.along(
        "fresh_fraction_exchange",
        "increasing",
        base,
        "volume",
        ["0 L", "1 qt", "1 gal", "7.4 L", "3 gal"],
        "more through, more fresh",
    )
    given = base | {"volume": "7.4 L"}
    book.along(
        "fresh_fraction_exchange",
        "increasing",
        given,
        "tanks",
        [1, 2, 3, 10, 60, 200],
        "the more tanks, the nearer to plug flow, which is best at one turn",
    )
    book.along(
        "fresh_fraction_exchange",
        "bounded",
        given,
        "tanks",
        [1, 7, 200],
        "never better than plug flow",
        bounds=["0.632", "1"],
    )
    book.against(
        "fresh_fraction_exchange",
        "equal_to",
        given,
        ("fresh_fraction_exchange", given | {"model": "stirred"}),
        "one tank is one stirred vessel",
    )


def _mixtures(book: Book) -> None:
    source = "mass balance: mean of a mixture in exact fractions"
    for share, before, new in (
        ("0.37", "48000 mi", "1200 mi"),
        ("0.815", "92500 km", "0 km"),
        ("62.5 %", "52 mo", "3 mo"),
    ):
        fraction = Fraction(share.split()[0]) / (100 if "%" in share else 1)
        old, unit = before.split()
        expect = figure(float((1 - fraction) * int(old) + fraction * int(new.split()[0])), unit, 15)
        given = {"fresh_fraction": share, "age_before": before, "age_new": new}
        book.value("fluid_age_after", given, expect, source, "worked-example", rel="1e-14")
    for share, before, new, expect in (
        ("0.6", "900 ppm", "40 ppm", "384 ppm"),
        ("0.15", "0.11 %", "0.006 %", "0.0944 %"),
        ("1", "1500 ppm", "55 ppm", "55 ppm"),
    ):
        book.value(
            "water_after_exchange",
            {"fresh_fraction": share, "before": before, "new": new},
            expect,
            source,
            "worked-example",
        )
    for start, added, end, expect in (
        ("0.2 L", ["1 L", "2.5 L"], "-0.45 L", "4.15 L"),
        (None, ["2 qt", "3 qt", "1 pt"], "0.5 qt", "5 qt"),
        ("-1 qt", ["1 gal"], "0 qt", "3 qt"),
    ):
        given = {"added": added, "end_level": end} | ({"start_level": start} if start else {})
        book.value(
            "bucket_volume",
            given,
            expect,
            "mass balance: what went in and did not stay came out",
            "worked-example",
            abs="1e-9 L",
        )
    book.error(
        "bucket_volume",
        {"added": ["1 L"], "end_level": "1.1 L"},
        "OutOfRange",
        "less than nothing cannot have come out",
    )


# The staged exchange


def integrate(dry: float, sump: float, pickup: float, stages: list[dict]) -> tuple[float, float]:
    """Fresh share at the end, stirred and plug, by plain integration; volumes in liters."""
    rest = dry - sump
    held, old, stirred = sump, 1.0, 1.0
    pipe = [(rest, 1.0)]  # slices of the plug-flow rest, the oldest first
    for stage in stages:
        op = stage["op"]
        if op == "add":
            old *= held / (held + stage["v"])
            held += stage["v"]
        elif op == "drain":
            held = min(held, sump + stage["to"])
        else:
            fall = held - (sump + pickup + stage.get("margin", 0))
            pumped = fall + stage["v"]
            start = held

            def balance(
                q: float, y: np.ndarray, s: float = start, d: float = fall, p: float = pumped, v: float = stage["v"]
            ) -> list[float]:
                level = s - d * q / p
                return [-y[0] * (v / p) / level, (y[0] - y[1]) / rest]

            edges = np.linspace(0, pumped, 20_001)
            found = solve_ivp(
                balance, (0, pumped), [old, stirred], method="DOP853", rtol=1e-12, atol=1e-14, t_eval=edges
            )
            leaves = (found.y[0][1:] + found.y[0][:-1]) / 2
            pipe += [(pumped / 20_000, o) for o in leaves]
            old, stirred = found.y[0][-1], found.y[1][-1]
            held -= fall
            pipe = _last(pipe, rest)
    return tuple(1 - (old * held + mass) / (held + rest) for mass in (stirred * rest, sum(v * o for v, o in pipe)))


def _last(pipe: list[tuple[float, float]], rest: float) -> list[tuple[float, float]]:
    """The slices nearest to the sump that fill the pipe."""
    kept, room = [], rest
    for volume, old in reversed(pipe):
        inside = min(room, volume)
        kept.append((inside, old))
        room -= inside
        if room <= 0:
            break
    return kept[::-1]


def _staged(book: Book) -> None:
    """Courses on invented units."""
    add, pump = "add", "pump"
    courses = [
        ((8.6, 4.1, -2.0), [(add, 2.0), (pump, 0, 0), (add, 2.0), (pump, 0, 0), (add, 2.0)]),
        ((8.6, 4.1, -2.0), [(pump, 6.5, 0.4), (add, 1.6)]),
        ((6.9, 2.6, -1.1), [("drain", -1.9), (add, 3.4), (pump, 0, 0.2), (add, 0.9)]),
        ((6.9, 2.6, -1.1), [(add, 1.5), (pump, 4.0, 1.1)]),
        ((11.2, 5.0, -2.4), [("drain", -3.1), (add, 3.1), (pump, 9.0, 2.4)]),
        ((11.2, 5.0, -2.4), [(pump, 0, 0), (add, 2.4), (pump, 0, 0), (add, 2.4), (pump, 3.3, 0.7), (add, 1.7)]),
    ]
    for (dry, sump, pickup), course in courses:
        plain, given = [], []
        for op, volume, *margin in course:
            if op == add:
                plain.append({"op": op, "v": volume})
                given.append({"op": op, "volume": f"{volume} L"})
            elif op == "drain":
                plain.append({"op": op, "to": volume})
                given.append({"op": op, "to": f"{volume} L"})
            else:
                plain.append({"op": op, "v": volume, "margin": margin[0]})
                given.append({"op": op, "add": f"{volume} L", "stop_margin": f"{margin[0]} L"})
        unit = {
            "dry_capacity": f"{dry} L",
            "sump_capacity": f"{sump} L",
            "pickup_level": f"{pickup} L",
            "stages": given,
        }
        stirred, plug = integrate(dry, sump, pickup, plain)
        book.value(
            "staged_exchange", unit | {"report": "fresh_stirred"}, figure(stirred, digits=9), IVP, "library", abs="1e-7"
        )
        book.value(
            "staged_exchange", unit | {"report": "fresh_plug"}, figure(plug, digits=9), IVP, "library", abs="1e-6"
        )
        poured = sum(Fraction(str(s["v"])) for s in plain if "v" in s)
        book.value(
            "staged_exchange",
            unit | {"report": "new_used"},
            figure(float(poured), "L"),
            "mass balance: sum of what is poured",
            "identity",
            abs="1e-9 L",
        )
        level = Fraction(0)
        for s in plain:
            low = Fraction(str(pickup)) + Fraction(str(s.get("margin", 0)))
            level = (
                level + Fraction(str(s["v"]))
                if s["op"] == add
                else min(level, Fraction(str(s["to"])))
                if s["op"] == "drain"
                else low
            )
        source = "mass balance: what was poured and does not stand above full came out"
        book.value(
            "staged_exchange",
            unit | {"report": "removed"},
            figure(float(poured - level), "L"),
            source,
            "identity",
            abs="1e-9 L",
        )
    mixed = {"dry_capacity": "9 L", "sump_capacity": "4 L", "pickup_level": "-2 L", "report": "fresh_plug"}
    stages = [{"op": "drain", "to": "-3 L"}, {"op": "add", "volume": "3 L"}, {"op": "mix"}] * 3
    for report in ("fresh_plug", "fresh_stirred"):
        expect = figure(float(1 - Fraction(6, 9) ** 3), digits=15)
        source = "drain, fill and drive: 1 - (1 - d/C)^3, whatever the rest does"
        book.value(
            "staged_exchange", mixed | {"report": report, "stages": stages}, expect, source, "identity", abs="1e-12"
        )
    assert math.isclose(integrate(9, 4, -2, [{"op": "drain", "to": -3}, {"op": "add", "v": 3}])[0], 3 / 9)
    none = mixed | {"sump_capacity": "9 L", "stages": [{"op": "pump", "add": "9 L", "stop_margin": "2 L"}]}
    for report in ("fresh_plug", "fresh_stirred"):
        expect = figure(1 - math.exp(-1), digits=15)
        book.value(
            "staged_exchange",
            none | {"report": report},
            expect,
            "a unit that is all sump is one stirred vessel: 1 - 1/e",
            "identity",
            abs="1e-12",
        )
