"""Which vehicles got fluid of one batch, and how much of it is still inside."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from shopserv.calc.age import still_inside
from shopserv.calc.working import From, Given, Step, Working
from shopserv.logbook.models import ServiceRecord
from shopserv.registry.models import ContactPoint, KeeperRecord, Vehicle
from shopserv.registry.selectors import vehicles_of
from shopserv.shop.actors import Actor

MILLION = 1_000_000
KNOWN = 6  # marks that are named where one is not known


@dataclass(frozen=True, slots=True)
class Inside:
    """A vehicle that got the batch.

    got         days on which it got it, oldest first
    low, high   share of the batch in what is inside now: its share when poured, less what later jobs took out
    after       jobs since the last time it got it
    shares      (day, is of the batch, low, high) of each counted job since the first time
    """

    vehicle: Vehicle
    got: tuple[date, ...]
    product: str
    low: Fraction
    high: Fraction
    after: int
    shares: tuple[tuple[date, bool, Fraction, Fraction], ...]


def batch_inside(actor: Actor, mark: str) -> list[Inside]:
    """The vehicles that the actor may read and that got the batch, the largest share still inside first. Two queries.

    A job without a batch, a top-up and one done elsewhere take out like any other; one corrected later does not count.
    """
    actor.must("batches")
    counted = ServiceRecord.objects.filter(corrected_by=None, vehicle__in=vehicles_of(actor))
    vehicles = list(counted.filter(batch_mark__iexact=mark).values_list("vehicle", flat=True).distinct())
    rows = counted.filter(vehicle__in=vehicles).select_related("vehicle").order_by("done_on", "pk")
    by_vehicle: dict[int, list[ServiceRecord]] = defaultdict(list)
    for row in rows:
        by_vehicle[row.vehicle_id].append(row)
    found = [_inside(own, mark.casefold()) for own in by_vehicle.values()]
    return sorted(found, key=lambda one: (-one.high, -one.low, one.vehicle.number))


def _inside(rows: Sequence[ServiceRecord], mark: str) -> Inside:
    is_of = [row.batch_mark.casefold() == mark for row in rows]
    first, last = is_of.index(True), len(rows) - 1 - is_of[::-1].index(True)
    shares = tuple(
        (row.done_on, of, Fraction(row.fraction_low_ppm, MILLION), Fraction(row.fraction_high_ppm, MILLION))
        for row, of in zip(rows[first:], is_of[first:], strict=True)
    )
    return Inside(
        vehicle=rows[first].vehicle,
        got=tuple(row.done_on for row, of in zip(rows, is_of, strict=True) if of),
        product=rows[last].fluid_code,
        low=_total([(of, low if of else high) for _on, of, low, high in shares]),
        high=_total([(of, high if of else low) for _on, of, low, high in shares]),
        after=len(rows) - 1 - last,
        shares=shares,
    )


def _total(shares: Sequence[tuple[bool, Fraction]]) -> Fraction:
    """The batch in what is inside now, over each time that it was poured."""
    later = [share for _of, share in shares]
    parts = [still_inside(share, later[i + 1 :]) for i, (of, share) in enumerate(shares) if of]
    return sum(parts, Fraction(0))


def owners_told(actor: Actor, vehicles: Sequence[Vehicle]) -> dict[int, str]:
    """Owner and telephones of each vehicle by its key, for who may see people; else nothing. Two queries."""
    if not actor.may("see people"):
        return {}
    kept = KeeperRecord.objects.filter(vehicle__in=vehicles).select_related("customer").order_by("from_on")
    newest = {row.vehicle_id: row.customer for row in kept}
    owners = {vehicle: owner for vehicle, owner in newest.items() if owner is not None}
    phones: dict[int, list[str]] = defaultdict(list)
    good = ContactPoint.objects.filter(customer__in=owners.values(), kind="phone", state="good").order_by("pk")
    for customer, typed in good.values_list("customer", "as_typed"):
        phones[customer].append(typed)
    return {vehicle: ", ".join([owner.name, *phones[owner.pk]]) for vehicle, owner in owners.items()}


def known_batches(actor: Actor) -> list[str]:
    """The batches that were poured last, the newest first."""
    actor.must("batches")
    rows = ServiceRecord.objects.filter(vehicle__in=vehicles_of(actor)).exclude(batch_mark="")
    marks = rows.order_by("-done_on", "-pk").values_list("batch_mark", flat=True)[: 10 * KNOWN]
    return list(dict.fromkeys(marks))[:KNOWN]


def batch_working(mark: str, found: Sequence[Inside]) -> Working:
    """The sum of a batch: of each vehicle what is still inside, step by step."""
    steps = []
    for one in found:
        steps.append(Step(f"{one.vehicle.number}, at most", r"\sum f \prod (1 - f_k)", one.high, "share"))
        if one.low != one.high:
            steps.append(Step(f"{one.vehicle.number}, at least", r"\sum f \prod (1 - f_k)", one.low, "share"))
    return Working(
        figure=f"vehicles that got batch {mark}",
        value=len(found),
        unit="",
        formula="the share of the batch when it was poured, times what each later job left inside",
        formulas=(r"b = \sum_i f_i \prod_{k > i} (1 - f_k)",),
        given=tuple(
            Given(
                "f_i" if of else "f_k",
                f"{one.vehicle.number}, {'of the batch' if of else 'later job'}, {on.isoformat()}",
                high,
                "share",
                From.MODELED,
                "share of new fluid in the logbook",
                low if low != high else None,
                high if low != high else None,
            )
            for one in found
            for on, of, low, high in one.shares
        ),
        steps=tuple(steps),
        sources=("mean of a mixture",),
        assumptions=(
            "only jobs whose batch stands in the logbook",
            "the most where the batch did well and later jobs little",
        ),
    )
