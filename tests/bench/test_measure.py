"""The measuring itself: both sides agree before anything is timed, and what a run says follows from its numbers."""

from __future__ import annotations

from dataclasses import replace

import pytest

from bench import measure, report
from bench.__main__ import figures
from bench.measure import Disagree, Figure, Measured

pytestmark = pytest.mark.once


def figure(**given) -> Figure:
    made = {"id": "T1", "work": "w", "floor": "f", "data": "d", "hard": 2.0, "extreme": 1.2}
    return Figure(**{**made, "program": lambda: 1, "bare": lambda: 1, **given})


def measured(ratio: float, floor_differs: float = 0.0) -> Measured:
    return Measured(figure(), 200, ratio, ratio, 1.0, 1.0, ratio, ratio, ratio, floor_differs, 1, 1)


@pytest.mark.parametrize("one", figures(is_small=True), ids=lambda one: one.id)
def test_program_and_floor_give_the_same_result(one):
    measure.check(one)


def test_each_figure_has_an_id_of_its_own():
    ids = [one.id for one in figures(is_small=True)]

    assert len(set(ids)) == len(ids)
    assert "P8 packages" in ids


def test_a_floor_that_does_something_else_is_refused_before_timing(monkeypatch):
    monkeypatch.setattr(measure, "_once", lambda *_: pytest.fail("it was timed"))

    with pytest.raises(Disagree, match="T1"):
        measure.measure(figure(bare=lambda: 2))


@pytest.mark.parametrize(("seconds", "rounds"), [(0.019, 200), (0.02, 30), (0.999, 30), (1.0, 5), (60, 5)])
def test_short_things_are_timed_more_often(seconds, rounds):
    assert measure.rounds_for(seconds) == rounds


def test_program_and_floor_alternate_and_the_ratio_is_that_of_their_medians(monkeypatch):
    now, order = [0], []

    def work(name: str, takes: int):
        def done() -> int:
            order.append(name)
            now[0] += takes
            return 1

        return done

    monkeypatch.setitem(measure.CLOCKS, "processor", lambda: now[0])
    found = measure.measure(figure(program=work("A", 60_000_000), bare=work("F", 40_000_000)))

    assert (found.rounds, found.ratio, found.lowest, found.highest) == (30, 1.5, 1.5, 1.5)
    assert (found.program_ms, found.bare_ms, found.program_p95_ms, found.bare_p95_ms) == (60, 40, 60, 40)
    assert "".join(order[-60:]) == "AAAFFF" * 10
    assert (found.floor_differs, found.tries, found.verdict) == (0, 1, "hard")


def test_a_noisy_floor_is_measured_three_times_and_gets_no_verdict(monkeypatch):
    now, calls = [0], [0]

    def bare() -> int:
        calls[0] += 1
        now[0] += int(30_000_000 * 1.02 ** calls[0])
        return 1

    monkeypatch.setitem(measure.CLOCKS, "processor", lambda: now[0])
    found = measure.measure(figure(program=lambda: 1, bare=bare))

    assert found.is_noisy
    assert (found.verdict, found.tries) == ("noisy", 3)


@pytest.mark.parametrize(("ratio", "verdict"), [(1.2, "extreme"), (1.201, "hard"), (2.0, "hard"), (2.001, "missed")])
def test_the_verdict_follows_from_the_ratio(ratio, verdict):
    assert measured(ratio).verdict == verdict
    assert measured(ratio, floor_differs=0.0999).verdict == verdict
    assert measured(ratio, floor_differs=0.1).verdict == "noisy"


def test_a_missed_goal_and_a_ratio_worse_than_stored_by_more_than_15_percent_fail():
    def said(ratio: float, before: float | None, floor_differs: float = 0.0) -> list[str]:
        row = measured(ratio, floor_differs).as_dict() | {"ratio_before": before}
        return report.faults([row])

    assert said(2.1, None) == ["T1: ratio 2.10, and 2 must hold."]
    assert said(1.16, 1.0) == ["T1: ratio 1.16, 16% worse than the stored 1.00."]
    assert said(1.15, 1.0) == []
    assert said(2.1, 1.0, floor_differs=0.2) == []


def test_a_stored_result_says_where_and_on_what_it_was_made():
    before = {"figures": [{"id": "T1", "ratio": {"median": 1.4}}]}
    made = report.document([measured(1.5), replace(measured(1.5), figure=figure(id="T2"))], before)

    assert [row["ratio_before"] for row in made["figures"]] == [1.4, None]
    assert {"date", "commit", "machine", "versions", "has_changes"} <= made.keys()
    assert made["machine"]["cores"] >= 1
    assert made["machine"]["fsync_us_median"] > 0
    assert report.table(made["figures"]).splitlines()[1].split() == (
        ["T1", "1.500", "1.000", "1.50", "1.50..1.50", "2", "1.2", "hard", "1.40"]
    )
