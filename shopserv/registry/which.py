"""Which unit a vehicle has: the candidates, what speaks for and against each, and what to look at next. Reads only."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from django.db.models import Count

from shopserv.calc import identify
from shopserv.calc.identify import Question, Seen, WrongCost
from shopserv.catalog import seen as catalog
from shopserv.catalog.models import Fitment, IdentifyRule, Sighting, Unit
from shopserv.common import clock, formats
from shopserv.registry import which_looks
from shopserv.registry.models import Identification, Vehicle
from shopserv.registry.selectors import identification_of
from shopserv.registry.which_looks import Asked
from shopserv.shop.actors import Actor

MILLION = 1_000_000


@dataclass(frozen=True, slots=True)
class Said:
    """One piece of evidence.

    sighting   the record that holds it; none: it is on file of the vehicle
    says       code of a candidate -> fits, may be, speaks against
    """

    words: str
    says: dict[str, str]
    sighting: Sighting | None = None


@dataclass(frozen=True, slots=True)
class Candidate:
    """One unit that it may be. known: vehicles of this model in which the shop has identified it."""

    unit: Unit
    weight: Fraction
    known: int


@dataclass(frozen=True, slots=True)
class Next:
    """One question that is left, with what it would do; `is_best` is the one to ask."""

    asked: Asked
    after: identify.After
    is_best: bool


@dataclass(frozen=True, slots=True)
class Which:
    """Where it stands.

    missing   why nothing can be weighed, in words; then the rest is empty
    grade     as which the heaviest may be noted; empty: it may not, something speaks against it
    unseen    looks that showed nothing
    on_file   the identification that counts or is in doubt; none: there is none
    questions every one that may still be answered, whether it parts them or not
    """

    missing: str = ""
    rule: IdentifyRule | None = None
    ranking: identify.Ranking | None = None
    candidates: tuple[Candidate, ...] = ()
    evidence: tuple[Said, ...] = ()
    unseen: tuple[Sighting, ...] = ()
    next: tuple[Next, ...] = ()
    grade: str = ""
    questions: tuple[Asked, ...] = ()
    on_file: Identification | None = None

    @property
    def lead(self) -> Candidate:
        """The heaviest candidate."""
        return self.candidates[0]

    @property
    def best(self) -> Next | None:
        """The one best question; none where no look parts the candidates."""
        return self.next[0] if self.next else None


@dataclass(frozen=True, slots=True)
class Doubt:
    """Why the unit on file is likely not the one in the vehicle.

    words          what is known, and what it gives either unit
    look           what to look at next; empty: no look parts them
    may_be_asked   whether a person may go on with a reason, because a tag was read
    """

    words: str
    look: str
    may_be_asked: bool


def doubted(actor: Actor, vehicle: Vehicle) -> Doubt | None:
    """Whether what is known gives the unit on file too little, and no look since speaks for it; none: it stands.

    Too little is less than the house's confidence; for one that is only assumed, and so priced as a band, less than
    another has. One test for the quote sheet, the offer and the clearing of work.
    """
    on_file = identification_of(vehicle)
    if on_file is None or not actor.may("identify unit"):
        return None
    found = which_unit(actor, vehicle)
    if not found.candidates or found.rule is None:
        return None
    weights = {one.unit.pk: one.weight for one in found.candidates}
    now = weights.get(on_file.unit_id, Fraction(0))
    is_enough = on_file.grade != "assumed" and now >= Fraction(found.rule.confidence_ppm, MILLION)
    leads = found.lead.weight <= now
    if is_enough or (on_file.grade == "assumed" and leads) or _is_seen(found, on_file.unit):
        return None
    shares = [formats.percent(round(share * MILLION)) for share in (found.lead.weight, now)]
    words = f"{on_file.unit.name} is {on_file.grade}, and what is known gives it {shares[1]}"
    if not leads:
        words += f": {found.lead.unit.name} has {shares[0]}"
    look = found.best.asked.question.words if found.best else ""
    return Doubt(words, look, on_file.grade == "read from tag")


def _is_seen(found: Which, unit: Unit) -> bool:
    """Whether a look was noted that speaks for `unit` and against another, and none that speaks against it."""
    looks = [one.says for one in found.evidence if one.sighting]
    if any(says.get(unit.code) == identify.AGAINST for says in looks):
        return False
    return any(says.get(unit.code) == identify.FITS and identify.AGAINST in says.values() for says in looks)


def which_unit(actor: Actor, vehicle: Vehicle) -> Which:
    """What the unit of `vehicle` may be after all that is on file and was seen. Eleven queries, whatever there is."""
    actor.must("identify unit")
    rule = catalog.identify_rule(clock.today(actor.house.time_zone))
    if rule is None:
        return Which("The house has no rule yet by which a transmission counts as decided. Note below how it is known.")
    sightings = catalog.sightings_on(actor, vehicle.number)
    tagged = catalog.units_with_tags()
    fitments = catalog.fitments_named(vehicle.make, vehicle.model, (vehicle.vin or "")[:3])
    units = {row.unit.code: row.unit for row in fitments}
    units |= {unit.code: unit for unit in tagged for one in sightings if which_looks.names(unit, one)}
    if not units:
        return Which(
            "No list says which transmissions stand in such a vehicle. Read the tag, and note below what it says."
        )
    return _weighed(actor, vehicle, rule, units, fitments, sightings)


def _weighed(
    actor: Actor,
    vehicle: Vehicle,
    rule: IdentifyRule,
    units: dict[str, Unit],
    fitments: Sequence[Fitment],
    sightings: Sequence[Sighting],
) -> Which:
    rows = which_looks.best_rows(vehicle, fitments)
    on_file = which_looks.facts(vehicle, rows, Fraction(rule.file_error_ppm, MILLION))
    sheets = catalog.sheet_values(units.values(), clock.today(actor.house.time_zone))
    asked = which_looks.questions(catalog.looks_in_use(), units, rows, sheets)
    by_code = {one.question.code: one for one in asked}
    known = _identified(vehicle, units)
    fits = {
        code: max((Fraction(row.weight_ppm, MILLION) for row in rows.get(code, ())), default=_UNLISTED)
        for code in units
    }
    weights = identify.prior(known, fits)
    evidence = [Said(words, _says(seen, units), None) for words, seen in on_file]
    seen = [one for _, one in on_file]
    answered, unseen = set(), []
    for one in sightings:
        answered.add(one.question)
        question = by_code.get(one.question)
        answer = which_looks.answer_of(question, one, units) if question else ""
        if not one.answer:
            unseen.append(one)
        elif question and answer:
            seen.append(Seen(question.question, answer))
            evidence.append(Said(str(one), _says(seen[-1], units), one))
    left = [one for one in asked if one.question.code not in answered]
    fresh = [one for one in left if not which_looks.is_on_file(one.look, vehicle)]
    ranking = _ranked(weights, seen, fresh, rule)
    if ranking.verdict in (identify.AGAINST_LEAD, identify.NONE_FITS):
        ranking = _ranked(weights, seen, left, rule)  # look again, too, at what is only on file
    return Which(
        rule=rule,
        ranking=ranking,
        candidates=tuple(Candidate(units[code], weight, known[code]) for code, weight in ranking.ranked),
        evidence=tuple(evidence),
        unseen=tuple(unseen),
        next=tuple(Next(by_code[one.question.code], one, at == 0) for at, one in enumerate(ranking.asks)),
        grade=_grade(ranking, evidence),
        questions=tuple(left),
        on_file=identification_of(vehicle),
    )


_UNLISTED = Fraction(1, 100)  # weight of a unit that a tag names and no list has: common practice, no source


def _ranked(
    weights: identify.Weights, seen: Sequence[Seen], asked: Sequence[Asked], rule: IdentifyRule
) -> identify.Ranking:
    pairs = {(row["true"], row["taken"]): Fraction(row["cents"]) for row in rule.pairs}
    cost = WrongCost(Fraction(rule.wrong_cents), pairs)
    questions: list[Question] = [one.question for one in asked]
    return identify.rank(weights, seen, questions, cost, Fraction(rule.confidence_ppm, MILLION))


def _identified(vehicle: Vehicle, units: dict[str, Unit]) -> dict[str, int]:
    """In how many other vehicles of this model each unit was identified, better than assumed."""
    rows = Identification.objects.filter(
        state="counted", grade__in=["read from tag", "by evidence"], vehicle__make__iexact=vehicle.make,
        vehicle__model__iexact=vehicle.model,
    ).exclude(vehicle=vehicle)  # fmt: skip
    counts = dict(rows.values_list("unit__code").annotate(n=Count("pk")).values_list("unit__code", "n"))
    return {code: counts.get(code, 0) for code in units}


def _says(seen: Seen, units: dict[str, Unit]) -> dict[str, str]:
    return {code: seen.says(code) for code in units}


def _grade(ranking: identify.Ranking, evidence: Sequence[Said]) -> str:
    """By what the heaviest may be noted: lists and files alone never make it more than assumed."""
    if ranking.verdict in (identify.AGAINST_LEAD, identify.NONE_FITS):
        return ""
    looked = [one for one in evidence if one.sighting and one.says[ranking.lead] == identify.FITS]
    if ranking.verdict == identify.OPEN or not looked:
        return "assumed"
    return "read from tag" if any(one.sighting.look.reads == "tag" for one in looked if one.sighting) else "by evidence"
