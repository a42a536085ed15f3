"""Options, authorizations, levels and balances computed again from what was frozen with them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from fractions import Fraction
from typing import Any

from shopserv.calc import bench, errors, measures
from shopserv.calc.balance import balance
from shopserv.common.recomputed import Again
from shopserv.jobs import arguments, check_words, courses, measured_course, sums
from shopserv.jobs.bought import bought_by
from shopserv.jobs.models import Authorization, LevelRecord, Line, MassBalance, Option, QuoteVersion, WorkOrder
from shopserv.jobs.snapshots.quote import hash_of, in_order
from shopserv.jobs.workings.lasting import ages_of
from shopserv.papers.recomputed import paper_of
from shopserv.shop.actors import Actor

MONEY = ("net_cents", "tax_cents", "total_cents", "low_total_cents", "cost_cents")
LINE = ("kind", "number", "price_cents", "low_price_cents", "cost_cents", "is_taxed", "tax_rate_ppm")
NOT_KEPT = "its inputs were not kept by the version of that time"


def recomputed(actor: Actor) -> Iterator[Again]:
    """Every frozen row of quotes and work orders; for the clock, which stands in no shop."""
    actor.must("tick")
    versions = QuoteVersion.objects.exclude(state="draft").select_related("quote").prefetch_related("options")
    for version in versions.order_by("pk").iterator(chunk_size=200):
        yield of_version(version, paper_of("quote", version.quote.number, version.version))
    options = Option.objects.exclude(version__state="draft").select_related("version__quote")
    for option in options.prefetch_related("lines").order_by("pk").iterator(chunk_size=200):
        yield of_option(option)
    yes = Authorization.objects.select_related("quote", "option__version__adds_to").order_by("pk")
    for one in yes.iterator(chunk_size=200):
        yield of_authorization(one)
    for record in LevelRecord.objects.select_related("work_order").order_by("pk").iterator(chunk_size=200):
        yield of_level(record)
    rows = MassBalance.objects.select_related("work_order", "set_aside_of").order_by("pk")
    for kept in rows.iterator(chunk_size=200):
        yield of_balance(kept)
    closed = WorkOrder.objects.filter(close_out__fluid__has_key="share_ppm").order_by("pk")
    for order in closed.iterator(chunk_size=200):
        yield of_course_done(order)


def of_course_done(order: WorkOrder) -> Again:
    """A course as it was measured: its share of new fluid from the liters and the sheet kept with the close-out."""
    kept = order.close_out["fluid"]
    made = measured_course.share(kept)
    return Again(
        f"measured course of {order}",
        {"share of new fluid": kept["share_ppm"]},
        {"share of new fluid": list(made) if made else None},
    )


def of_version(version: QuoteVersion, paper: Mapping[str, Any] | None) -> Again:
    """A version on offer: the hash by which it was agreed and its check words, and the totals that its paper shows."""
    row = f"quote {version}"
    totals = {f"total of {option.letter}": option.total_cents for option in version.options.all()}
    stored = {"check_words": version.check_words, **totals, "snapshot_hash": version.snapshot_hash}
    computed: dict[str, Any] = {"check_words": check_words.check_words(version.snapshot_hash)}
    if paper is None:
        return Again(row, {"check_words": version.check_words}, computed, {"hash and totals": "its paper is missing"})
    shown = {name: value for name, value in paper.items() if name not in ("version_hash", "check_words")}
    computed |= {f"total of {option['letter']}": option["total_cents"] for option in paper["options"]}
    return Again(row, stored, computed | {"snapshot_hash": hash_of(shown)})


def of_option(option: Option) -> Again:
    """An option: lines, tax and totals from its inputs, the course from its stages, what it buys from the ages."""
    again = sums.price(option.snapshot)
    stored: dict[str, Any] = {name: getattr(option, name) for name in MONEY}
    computed: dict[str, Any] = {name: getattr(again, name) for name in MONEY}
    stored["tenths"], computed["tenths"] = option.tenths, option.snapshot["labor"].get("tenths") or 0
    lines = in_order(option)
    stored["number of lines"], computed["number of lines"] = len(lines), len(again.lines)
    for line, made in zip(lines, again.lines, strict=False):
        stored |= _line(line, line.order)
        computed |= _line(made, line.order)
    cannot: dict[str, str] = {}
    _course(option, stored, computed, cannot)
    _bought(option, stored, computed, cannot)
    return Again(f"quote {option}", stored, computed, cannot)


def _line(line: Line | sums.PricedLine, order: int) -> dict[str, Any]:
    values = {name: getattr(line, name) for name in LINE}
    cents = ("price_cents", "low_price_cents")
    return {f"line {order} {name}": (value or 0) if name in cents else value for name, value in values.items()}


def _course(option: Option, stored: dict[str, Any], computed: dict[str, Any], cannot: dict[str, str]) -> None:
    if not option.course:
        return
    kept = [option.course, *([option.course["low"]] if option.course.get("low") else [])]
    try:
        made = [_replayed(option, one) for one in kept]
    except (courses.CannotPlan, errors.CalcError, KeyError, TypeError) as cause:
        cannot["course and share of new fluid"] = f"{NOT_KEPT} ({type(cause).__name__})"
        return
    for name, one, again in zip(("course", "course at the low fill"), kept, made, strict=False):
        stored[f"{name}, levels"], computed[f"{name}, levels"] = one["levels_ml"], list(again.levels_ml)
    if option.course.get("over") is not None:  # the share of the course that is done; before, of two courses
        made = made[:1]
    shares = [(again.fraction_low_ppm, again.fraction_high_ppm) for again in made if again.fraction_low_ppm is not None]
    stored["share of new fluid"] = [option.fraction_low_ppm, option.fraction_high_ppm]
    computed["share of new fluid"] = (
        [min(low or 0 for low, _ in shares), max(high or 0 for _, high in shares)] if shares else [None, None]
    )


def _replayed(option: Option, kept: dict[str, Any]) -> courses.Course:
    inputs = option.version.inputs
    if sheet := inputs.get("sheet"):
        facts = courses.facts_from(sheet)
    else:
        layout = inputs["layout"]
        names = ("sump_ml", "pickup_below_full_ml", "dips_above_full_ml")
        facts = courses.SheetFacts(**{name: layout[name] for name in names})
        if kept["fill_ml"] is None and kept["fraction_low_ppm"] is not None:
            raise KeyError("total_fill_ml")
    if kept["kind"] == "sumps":
        house = courses.HouseNumbers(**option.version.rules["course_numbers"])
        return courses.default_course(option.method, facts, house, kept["fill_ml"])
    course = courses.replayed(
        option.method, kept["stages"], facts, kept["fill_ml"], kept["new_ml"], is_edited=kept["is_edited"]
    )
    return course if kept.get("over") is None else courses.banded(course, facts)


def _bought(option: Option, stored: dict[str, Any], computed: dict[str, Any], cannot: dict[str, str]) -> None:
    if not option.bought or option.fraction_low_ppm is None or option.fraction_high_ppm is None:
        return
    ages = ages_of(option)
    if ages is None:
        cannot["what the money buys"] = NOT_KEPT
        return
    made = bought_by(ages, option.total_cents, (option.fraction_low_ppm, option.fraction_high_ppm))
    stored |= {f"bought {name}": value for name, value in option.bought.items()}
    # Versions of an earlier program kept fewer figures.
    computed |= {f"bought {name}": value for name, value in made.items() if name in option.bought}


def of_authorization(one: Authorization) -> Again:
    """An authorization: amount and tax of its option, with what was agreed before where it only adds."""
    option, version = one.option, one.option.version
    before = version.adds_to
    return Again(
        f"authorization of {one.quote.number}, {one.at:%Y-%m-%d}",
        {
            "amount_cents": one.amount_cents,
            "tax_cents": one.tax_cents,
            "added_cents": one.added_cents,
            "rule": one.rule,
            "version_hash": one.version_hash,
        },
        {
            "amount_cents": option.total_cents + (before.amount_cents if before else 0),
            "tax_cents": option.tax_cents + (before.tax_cents if before else 0),
            "added_cents": option.total_cents if version.is_addition else None,
            "rule": version.rules["tolerance"],
            "version_hash": version.snapshot_hash,
        },
    )


def of_level(record: LevelRecord) -> Again:
    """A level record: its error budget from the readings, the sheet and the instruments of that day."""
    row = f"level {record.attempt} of {record.work_order}"
    given = record.budget.get("working", {}).get("arguments")
    if not given:
        return Again(row, {}, {}, {"error budget": NOT_KEPT})
    made = bench.level_budget(**arguments.made(given))
    kept = record.budget
    items = [[one["what"], one["words"], one["ml_tenths"]] for one in kept["items"]]
    return Again(
        row,
        {
            "budget_ml_tenths": record.budget_ml_tenths,
            "items": items,
            "limit_ml": kept["limit_ml"],
            "passes": kept["passes"],
            "verdict": kept["verdict"],
        },
        {
            "budget_ml_tenths": measures.whole(Fraction(made.root_sum_square_ml) * 10),
            "items": [[one.what, one.words, measures.whole(Fraction(one.ml) * 10)] for one in made.items],
            "limit_ml": None if made.limit_ml is None else measures.whole(Fraction(made.limit_ml)),
            "passes": made.passes,
            "verdict": made.verdict,
        },
    )


def of_balance(kept: MassBalance) -> Again:
    """A balance: in, out, difference and band from what was weighed and read."""
    row = str(kept)
    given = kept.working.get("arguments")
    if not given:
        return Again(row, {}, {}, {"balance": NOT_KEPT})
    made = balance(**arguments.made(given))
    names = ("in_ml", "out_ml", "difference_ml_tenths", "band_ml_tenths", "is_inside", "verdict")
    return Again(
        row,
        {name: getattr(kept, name) for name in names},
        {
            "in_ml": measures.whole(Fraction(made.in_ml)),
            "out_ml": measures.whole(Fraction(made.out_ml)),
            "difference_ml_tenths": measures.whole(Fraction(made.difference_ml) * 10),
            "band_ml_tenths": measures.whole(Fraction(made.band_ml) * 10),
            "is_inside": made.is_inside,
            "verdict": made.verdict[:200],
        },
    )
