"""How a figure is timed: program and floor in alternating blocks, medians, the spread of the blocks, noise named.

A time says little; the ratio to a floor on the same machine in the same minute says what the program adds.
"""

from __future__ import annotations

import gc
import itertools
import resource
import statistics
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

WARM_UP = 5
BLOCKS = 10
NOISE = 0.10  # two runs of the floor may differ by less than this
TRIES = 3
CLOCKS: dict[str, Callable[[], int]] = {
    "processor": time.process_time_ns,  # for what neither waits nor asks: other programs do not count
    "wall": time.perf_counter_ns,
}


class Disagree(AssertionError):
    """Program and floor give different results; nothing was timed."""


@dataclass(frozen=True)
class Figure:
    """One thing to measure.

    id         short and lasting: results are compared by it
    work       what the program does, in words
    floor      what the bare side does, in words
    data       on what, in words
    hard       the ratio that must hold
    extreme    the ratio we aim at
    program    does the work and returns its result
    bare       does the same work, no less and no more, and returns its result
    agree      whether the two results are the same; raises or returns False where not
    clock      processor, or wall where the work waits for something
    """

    id: str
    work: str
    floor: str
    data: str
    hard: float
    extreme: float
    program: Callable[[], Any]
    bare: Callable[[], Any]
    agree: Callable[[Any, Any], bool] = field(default=lambda program, bare: bool(program == bare))
    clock: str = "processor"


@dataclass(frozen=True)
class Measured:
    """What came of a figure; times in ms."""

    figure: Figure
    rounds: int
    program_ms: float
    program_p95_ms: float
    bare_ms: float
    bare_p95_ms: float
    lowest: float
    ratio: float
    highest: float
    floor_differs: float
    tries: int
    peak_kb: int

    @property
    def is_noisy(self) -> bool:
        """Whether two runs of the floor differ too much for a verdict."""
        return self.floor_differs >= NOISE

    @property
    def verdict(self) -> str:
        """extreme, hard, missed, or noisy."""
        if self.is_noisy:
            return "noisy"
        if self.ratio <= self.figure.extreme:
            return "extreme"
        return "hard" if self.ratio <= self.figure.hard else "missed"

    def as_dict(self) -> dict[str, Any]:
        """As it is stored."""
        one = self.figure
        return {
            "id": one.id,
            "work": one.work,
            "floor": one.floor,
            "data": one.data,
            "clock": one.clock,
            "rounds": self.rounds,
            "program_ms": {"median": round(self.program_ms, 4), "p95": round(self.program_p95_ms, 4)},
            "floor_ms": {"median": round(self.bare_ms, 4), "p95": round(self.bare_p95_ms, 4)},
            "ratio": {
                "lowest": round(self.lowest, 3),
                "median": round(self.ratio, 3),
                "highest": round(self.highest, 3),
            },
            "goal": {"hard": one.hard, "extreme": one.extreme},
            "verdict": self.verdict,
            "floor_differs": round(self.floor_differs, 4),
            "tries": self.tries,
            "queries": 0,
            "peak_kb": self.peak_kb,
        }


def check(figure: Figure) -> None:
    """See that both sides give the same result.

    raises   Disagree
    """
    if not figure.agree(figure.program(), figure.bare()):
        raise Disagree(f"{figure.id}: program and floor give different results.")


def rounds_for(seconds: float) -> int:
    """How many rounds a thing of this length is timed."""
    if seconds < 0.020:
        return 200
    return 30 if seconds < 1 else 5


def measure(figure: Figure) -> Measured:
    """Compare the results, then time both sides; again while the floor is noisy, at most three times.

    raises   Disagree
    """
    check(figure)
    clock = CLOCKS[figure.clock]
    for _ in range(WARM_UP):
        _timed(figure.program, clock)
        longest = _timed(figure.bare, clock)
    rounds = rounds_for(max(longest, _timed(figure.program, clock)) / 1e9)
    for tries in range(1, TRIES + 1):
        found = _once(figure, rounds, clock, tries)
        if not found.is_noisy:
            break
    return found


def _timed(work: Callable[[], Any], clock: Callable[[], int]) -> int:
    begun = clock()
    work()
    return clock() - begun


def _once(figure: Figure, rounds: int, clock: Callable[[], int], tries: int) -> Measured:
    blocks = min(BLOCKS, rounds)
    program: list[list[int]] = []
    bare: list[list[int]] = []
    assert gc.isenabled()
    for _ in range(blocks):
        program.append([_timed(figure.program, clock) for _ in range(rounds // blocks)])
        bare.append([_timed(figure.bare, clock) for _ in range(rounds // blocks)])
    ratios = [statistics.median(a) / statistics.median(b) for a, b in zip(program, bare, strict=True)]
    half = blocks // 2
    first, second = (statistics.median(itertools.chain(*part)) for part in (bare[:half], bare[half:]))
    all_program, all_bare = sorted(itertools.chain(*program)), sorted(itertools.chain(*bare))
    return Measured(
        figure=figure,
        rounds=len(all_bare),
        program_ms=statistics.median(all_program) / 1e6,
        program_p95_ms=_p95(all_program) / 1e6,
        bare_ms=statistics.median(all_bare) / 1e6,
        bare_p95_ms=_p95(all_bare) / 1e6,
        lowest=min(ratios),
        ratio=statistics.median(all_program) / statistics.median(all_bare),
        highest=max(ratios),
        floor_differs=abs(first - second) / min(first, second),
        tries=tries,
        peak_kb=resource.getrusage(resource.RUSAGE_SELF).ru_maxrss,
    )


def _p95(times: list[int]) -> float:
    return times[min(len(times) - 1, -(-len(times) * 95 // 100) - 1)]
