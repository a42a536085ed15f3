"""The facts on file and the looks of the house as questions to the candidates. Plain values; no table is asked."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from fnmatch import fnmatchcase
from fractions import Fraction

from shopserv.calc.identify import Question, Seen
from shopserv.catalog.models import Fitment, Look, Sighting, Unit
from shopserv.catalog.sheets import MAY_BE_NOT_FITTED, Value
from shopserv.common import formats
from shopserv.registry.models import Vehicle

MILLION = 1_000_000
ANOTHER = "another"  # a tag that none of the candidates has
FITS, NOT = "fits", "does not fit"
COLUMN = {"wheels": "wheels_driven", "engine": "engine", "market": "market"}  # of a fitment, by what a look reads

Rows = Mapping[str, Sequence[Fitment]]  # by unit
_Says = Callable[[Fitment], bool | None]  # how a fitment takes one fact; none: it does not say


@dataclass(frozen=True, slots=True)
class Asked:
    """One question as it is put: the look it belongs to, its answers as [(code, words)]; none: what the tag reads."""

    look: Look
    question: Question
    answers: tuple[tuple[str, str], ...]

    def words_of(self, answer: str) -> str:
        """An answer in words."""
        return dict(self.answers).get(answer, answer)


def fits_tag(pattern: str, read: str) -> bool:
    """Whether what was read off a tag has the form of a unit's tags; # stands for a digit."""
    form = "".join("[0-9]" if sign == "#" else re.escape(sign) for sign in pattern)
    return re.fullmatch(form, read.strip(), re.IGNORECASE) is not None


def names(unit: Unit, sighting: Sighting) -> bool:
    """Whether a tag was read that has the form of this unit's."""
    return sighting.look.reads == "tag" and bool(sighting.answer) and fits_tag(unit.tag_pattern, sighting.answer)


def best_rows(vehicle: Vehicle, fitments: Iterable[Fitment]) -> dict[str, list[Fitment]]:
    """Of each unit the fitments that agree best with what is on file of the vehicle."""
    by_unit: dict[str, list[Fitment]] = {}
    for row in fitments:
        by_unit.setdefault(row.unit.code, []).append(row)
    return {code: _best(vehicle, rows) for code, rows in by_unit.items()}


def _best(vehicle: Vehicle, rows: Sequence[Fitment]) -> list[Fitment]:
    def agrees(row: Fitment) -> int:
        said = [says(row) for _, says in _aspects(vehicle)]
        return sum(one is True for one in said) - sum(one is False for one in said)

    most = max(agrees(row) for row in rows)
    return [row for row in rows if agrees(row) == most]


def _aspects(vehicle: Vehicle) -> list[tuple[str, _Says]]:
    """What is on file of the vehicle, each with how a fitment takes it: True, False, or none where it does not say."""
    found: list[tuple[str, _Says]] = []
    if year := vehicle.year:
        found.append((f"model year {year}, on file", lambda row: row.year_from <= year <= row.year_to))
    if len(vehicle.vin or "") == 17:
        middle = str(vehicle.vin)[3:8]
        found.append(
            (
                f"VIN, places 4 to 8: {middle}",
                lambda row: fnmatchcase(middle, row.descriptor) if row.descriptor else None,
            )
        )
    if engine := vehicle.engine:
        found.append((f"engine {engine}, on file", lambda row: _same(row.engine, engine)))
    if wheels := vehicle.wheels_driven:
        found.append((f"driven wheels: {wheels}, on file", lambda row: _same(row.wheels_driven, wheels)))
    if built := vehicle.build_month:
        found.append((f"built {month_words(built)}, on file", lambda row: _built(row, built)))
    return found


def _same(listed: str, on_file: str) -> bool | None:
    return listed.casefold() == on_file.casefold() if listed else None


def _built(row: Fitment, month: str) -> bool | None:
    if not row.build_from and not row.build_to:
        return None
    return (not row.build_from or row.build_from <= month) and (not row.build_to or month <= row.build_to)


def facts(vehicle: Vehicle, rows: Rows, error: Fraction) -> list[tuple[str, Seen]]:
    """What is on file of the vehicle as evidence, in words; what no list speaks of is left out."""
    found = []
    for words, says in _aspects(vehicle):
        shows = {}
        for code, fitments in rows.items():
            said = [FITS if says(row) else NOT for row in fitments if says(row) is not None]
            if len(said) == len(fitments):
                shows[code] = shares(said)
        if shows:
            found.append((words, Seen(Question(words, words, (FITS, NOT), shows, error), FITS)))
    return found


def shares(said: Sequence[str]) -> dict[str, Fraction]:
    """How often each answer stands among `said`."""
    return {answer: Fraction(said.count(answer), len(said)) for answer in dict.fromkeys(said)}


def is_on_file(look: Look, vehicle: Vehicle) -> bool:
    """Whether what the look asks stands on file of the vehicle already."""
    if look.reads == "build month":
        return bool(vehicle.build_month)
    column = COLUMN.get(look.reads, "")
    return column in ("wheels_driven", "engine") and bool(getattr(vehicle, column))


def questions(
    looks: Iterable[Look], units: Mapping[str, Unit], rows: Rows, sheets: Mapping[str, Mapping[str, Value]]
) -> list[Asked]:
    """Every question that the looks put to these candidates; one without two answers is none."""
    found: list[Asked] = []
    for look in looks:
        if look.reads == "build month":
            found += _months(look, rows)
        elif look.reads == "tag":
            found.append(_tag(look, units))
        elif look.reads == "sheet":
            found += _question(look, _of_sheets(look, sheets))
        elif look.reads == "feature":
            seen = {row.unit.code: [row.answer] for row in look.features.all() if row.unit.code in units}
            found += _question(look, seen)
        else:
            listed = {code: [getattr(row, COLUMN[look.reads]) for row in fitments] for code, fitments in rows.items()}
            found += _question(look, {code: said for code, said in listed.items() if all(said)})
    return found


def _question(look: Look, said: Mapping[str, Sequence[str]]) -> list[Asked]:
    """One question whose candidates show what stands in `said`; the answers of the data beside those of the look."""
    answers = dict(look.answers)
    for shown in said.values():
        answers |= {answer: answer for answer in shown if answer not in answers}
    if len(answers) < 2:
        return []
    shows = {code: shares(shown) for code, shown in said.items()}
    return [_asked(look, look.code, look.words, tuple(answers.items()), shows)]


def _asked(
    look: Look,
    code: str,
    words: str,
    answers: tuple[tuple[str, str], ...],
    shows: Mapping[str, Mapping[str, Fraction]],
) -> Asked:
    codes = tuple(answer for answer, _ in answers)
    error = min(Fraction(look.error_ppm, MILLION), 1 - Fraction(1, len(codes)))
    unseen = Fraction(look.unseen_ppm, MILLION)
    return Asked(look, Question(code, words, codes, shows, error, look.minutes, unseen), answers)


def _tag(look: Look, units: Mapping[str, Unit]) -> Asked:
    """What the tag reads: one of the candidates, or another unit."""
    shows = {code: {code: Fraction(1)} for code, unit in units.items() if unit.tag_pattern}
    answers = (*((code, unit.name) for code, unit in units.items()), (ANOTHER, "another"))
    return _asked(look, look.code, look.words, answers, shows)


def _of_sheets(look: Look, sheets: Mapping[str, Mapping[str, Value]]) -> dict[str, list[str]]:
    """What the unit sheets say of `look.of`: its text, or whether a plug is fitted."""
    found = {}
    for code, values in sheets.items():
        value = values.get(look.of)
        if value is not None and look.of in MAY_BE_NOT_FITTED:
            found[code] = ["yes" if value.is_fitted else "no"]
        elif value is not None and value.text:
            found[code] = [value.text[:60]]
    return found


def _months(look: Look, rows: Rows) -> list[Asked]:
    """One question for each month in which one candidate ends or begins."""
    every = [row for fitments in rows.values() for row in fitments]
    edges = {row.build_from for row in every} | {_next_month(row.build_to) for row in every}
    found = []
    for month in sorted(edges - {""}):
        shows = {}
        for code, fitments in rows.items():
            said = [_side(row, month) for row in fitments]
            if all(said):
                shows[code] = shares(said)
        words = look.words % {"month": month_words(month)}
        found.append(_asked(look, f"{look.code} {month}", words, tuple(map(tuple, look.answers)), shows))
    return found


def _side(row: Fitment, month: str) -> str:
    """Whether all of such vehicles were built before `month`, or none; empty: the list does not say."""
    if row.build_to and row.build_to < month:
        return "yes"
    return "no" if row.build_from and row.build_from >= month else ""


def _next_month(month: str) -> str:
    if not month:
        return ""
    year, number = int(month[:4]), int(month[5:])
    return f"{year + number // 12}-{number % 12 + 1:02}"


def month_words(month: str) -> str:
    """ "2021-07" in words: July 2021; as it stands where it is no month."""
    try:
        return formats.month(date.fromisoformat(f"{month}-01"))
    except ValueError:
        return month


def answer_of(asked: Asked, sighting: Sighting, units: Mapping[str, Unit]) -> str:
    """The answer that a record gives to a question as it is put now; empty where it has none any more."""
    if asked.look.reads == "tag":
        if not sighting.answer:
            return ""
        fits = [
            code for code, unit in units.items() if unit.tag_pattern and fits_tag(unit.tag_pattern, sighting.answer)
        ]
        return fits[0] if fits else ANOTHER
    return sighting.answer if sighting.answer in asked.question.answers else ""
