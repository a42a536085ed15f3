"""Who is found, and what is known of a vehicle or a customer on a day.

Vehicles, customers and unit sheets belong to the business: the staff of every shop may read them, a customer only
what the link opens. The facts "on a day" take a row that its reader has already come by through one of these gates.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import OuterRef, Q, QuerySet, Subquery
from django.http import Http404
from django.shortcuts import get_object_or_404

from shopserv.common import clock
from shopserv.common.errors import Refusal
from shopserv.registry import search
from shopserv.registry.models import (
    ContactPoint,
    Customer,
    ExemptionCertificate,
    Identification,
    KeeperRecord,
    MessageConsent,
    PlateRecord,
    SearchKey,
    StandingAgreement,
    UsePattern,
    Vehicle,
)
from shopserv.registry.normal import folded, number_form
from shopserv.shop.actors import Actor


@dataclass(frozen=True, slots=True)
class Match:
    """A vehicle that was found.

    by        what was found, in words: "plate SAL 2100"
    keeper    name as the actor may see it: in full, the first name alone for a technician, else empty
    is_near   one sign away from what was typed; shown under a rule, never merged by itself
    """

    pk: int
    number: str
    words: str
    vin: str
    plate: str
    keeper: str
    by: str
    is_near: bool
    is_disputed: bool


def vehicles_of(actor: Actor) -> QuerySet[Vehicle]:
    """The vehicles that the actor may read: all of the business's for staff, the one that a link opens."""
    if actor.link is not None:
        if actor.link.opens != "vehicle":
            return Vehicle.objects.none()
        return Vehicle.objects.filter(number=actor.link.subject)
    return Vehicle.objects.all() if actor.roles else Vehicle.objects.none()


def vehicle_for(actor: Actor, number: str) -> Vehicle:
    """One vehicle by its own number; Http404 for one that the actor may not read."""
    rows = vehicles_of(actor).select_related("home_climate", "first_shop", "merged_into")
    return get_object_or_404(rows, number=number)


def customers_of(actor: Actor) -> QuerySet[Customer]:
    """The customers that the actor may read: the business's for writer and owner, oneself for a link."""
    if actor.link is not None:
        return Customer.objects.filter(pk=actor.link.customer_key or 0)
    return Customer.objects.all() if actor.may("see people") else Customer.objects.none()


def customer_for(actor: Actor, number: str) -> Customer:
    """One customer by number; Http404 for one that the actor may not read."""
    return get_object_or_404(customers_of(actor).prefetch_related("contact_points"), number=number)


def customers_called(actor: Actor, typed: str) -> list[Customer]:
    """The customers that `typed` names exactly: by number, or by the whole name, accents and case aside."""
    named = SearchKey.objects.filter(kind="name", key=folded(typed)[:80], vehicle__isnull=True).values("customer")
    rows = customers_of(actor).filter(Q(number=number_form(typed)) | Q(pk__in=named)).exclude(state="blanked")
    return list(rows.order_by("number")[:10])


def find(actor: Actor, typed: str, *, only: QuerySet[Vehicle] | Collection[int] | None = None) -> list[Match]:
    """Vehicles that `typed` may mean (plate, VIN or its end, name, telephone, number), exact ones first.

    A sign or two find nothing yet. When nothing fits, or a whole VIN was typed, vehicles one sign away follow.
    Printed numbers are found in their own shop alone; names and telephones only by who may see them. Three queries.

    only      the vehicles that the actor's role is limited to (a technician's own jobs)
    raises    Refusal search.too_long over 100 characters
    """
    actor.must("open file")
    if len(typed) > search.LONGEST:
        raise Refusal("Search for at most 100 characters.", code="search.too_long", field="q", status=400)
    personal = actor.may("see people")
    hits = search.exact(typed, actor.shop.pk if actor.shop else None, personal=personal)
    if not hits or any(hit.kind == "vin" and len(typed.strip()) >= 17 for hit in hits):
        hits += search.near(typed)
    return _matches(actor, hits, only)


def near_matches(actor: Actor, vin: str, *, besides: int | None = None) -> list[Match]:
    """Vehicles whose VIN is one sign away from `vin`, but not the row `besides`; asked before a second is made."""
    actor.must("open file")
    return [m for m in _matches(actor, search.near(vin), None) if m.pk != besides]


def _matches(actor: Actor, hits: list[search.Hit], only: QuerySet[Vehicle] | Collection[int] | None) -> list[Match]:
    by_vehicle = {h.vehicle: h for h in reversed(hits) if h.vehicle is not None}
    by_customer = {h.customer: h for h in reversed(hits) if h.vehicle is None and h.customer is not None}
    kept = KeeperRecord.objects.filter(customer__in=by_customer).values_list("vehicle_id", flat=True)
    keys = {*by_vehicle, *(kept[:200] if by_customer else [])}
    if not keys:
        return []
    rows = with_keeper_and_plate(vehicles_of(actor).filter(pk__in=keys), clock.now().date())
    if only is not None:
        rows = rows.filter(pk__in=only)
    found = []
    for row in rows.exclude(state="merged").order_by("number")[:50]:
        hit = by_vehicle.get(row.pk) or by_customer.get(row.keeper_pk)
        if hit is None:  # the vehicle was this customer's once
            continue
        found.append(
            Match(
                pk=row.pk,
                number=row.number,
                words=row.words,
                vin=row.vin or row.vin_as_read,
                plate=row.plate_typed or "",
                keeper=_as_seen(actor, row.keeper_name or ""),
                by=f"{hit.kind} {hit.shown}" if hit.kind != "name" else hit.shown,
                is_near=hit.is_near,
                is_disputed=row.is_disputed,
            )
        )
    return sorted(found, key=lambda match: match.is_near)


def _as_seen(actor: Actor, name: str) -> str:
    """A customer's name in full, the first name alone for a technician, nothing for who may see neither."""
    if actor.may("see people"):
        return name
    return name.split(" ")[0] if actor.may("bay work") else ""


def with_keeper_and_plate(rows: QuerySet[Vehicle], day: date) -> QuerySet[Any]:
    """`rows` with keeper_pk, keeper_name and plate_typed of `day`, for lists."""
    keeper = KeeperRecord.objects.filter(vehicle=OuterRef("pk"), from_on__lte=day).order_by("-from_on")
    plate = PlateRecord.objects.filter(vehicle=OuterRef("pk"), from_on__lte=day).order_by("-from_on")
    return rows.annotate(
        keeper_pk=Subquery(keeper.values("customer_id")[:1]),
        keeper_name=Subquery(keeper.values("customer__name")[:1]),
        plate_typed=Subquery(plate.values("as_typed")[:1]),
    )


def keeper_on(vehicle: Vehicle, day: date) -> Customer | None:
    """Whose vehicle it is on `day`; none where that is not known."""
    row = vehicle.keepers.filter(from_on__lte=day).select_related("customer").order_by("-from_on").first()
    return row.customer if row else None


def plate_on(vehicle: Vehicle, day: date) -> PlateRecord | None:
    """The plate of `day`; none where it has none."""
    row = vehicle.plates.filter(from_on__lte=day).order_by("-from_on").first()
    return row if row and row.plate else None


def use_on(vehicle: Vehicle, day: date) -> UsePattern | None:
    """How the vehicle is used on `day`; none where nobody has said."""
    return vehicle.uses.filter(from_on__lte=day).order_by("-from_on").first()


def identification_of(vehicle: Vehicle) -> Identification | None:
    """The identification that counts or is disputed; none where the unit is not known."""
    return vehicle.identifications.filter(state__in=["counted", "disputed"]).select_related("unit__successor").first()


def is_superseded(identification: Identification, build_month: str) -> bool:
    """Whether another unit follows the identified one from a month not later than `build_month`."""
    unit = identification.unit
    return bool(unit.successor_id and build_month and build_month >= unit.successor_from_build)


def permission_at(point: ContactPoint, purpose: str) -> bool:
    """Whether the newest word about `purpose` at this contact point is yes; no word is no."""
    newest = MessageConsent.objects.filter(contact_point=point, purpose=purpose).order_by("-pk").first()
    return bool(newest and newest.given and point.state == "good")


def permitted_points(customer: Customer, purpose: str, kind: str = "") -> list[ContactPoint]:
    """The contact points of `customer` (of one kind, if given) at which `purpose` is permitted now."""
    newest = MessageConsent.objects.filter(contact_point=OuterRef("pk"), purpose=purpose).order_by("-pk")
    rows = customer.contact_points.filter(state="good").annotate(yes=Subquery(newest.values("given")[:1]))
    rows = rows.filter(yes=True).order_by("pk")
    return list(rows.filter(kind=kind) if kind else rows)


def own_addresses(actor: Actor, purpose: str) -> list[tuple[ContactPoint, bool]]:
    """The good e-mail addresses of the holder of a link, each with whether `purpose` is permitted there now."""
    if actor.link is None:
        return []
    newest = MessageConsent.objects.filter(contact_point=OuterRef("pk"), purpose=purpose).order_by("-pk")
    rows = ContactPoint.objects.filter(customer__in=customers_of(actor), kind="e-mail", state="good")
    return [(row, bool(row.yes)) for row in rows.annotate(yes=Subquery(newest.values("given")[:1])).order_by("pk")]


def exemption_on(customer: Customer, day: date) -> ExemptionCertificate | None:
    """The certificate by which `customer` pays no tax on `day`; none where none is valid that day."""
    rows = customer.exemptions.filter(state="valid", from_on__lte=day)
    return next((row for row in rows.order_by("-from_on") if row.to_on is None or row.to_on >= day), None)


def agreement_on(customer: Customer, day: date) -> StandingAgreement | None:
    """The standing agreement in force on `day`, or none."""
    rows = customer.agreements.filter(from_on__lte=day).order_by("-from_on")
    return next((row for row in rows if row.to_on is None or row.to_on >= day), None)


def by_vin(actor: Actor, vin: str) -> Vehicle | None:
    """The one vehicle of the business with this VIN, wherever it was seen; none where there is none."""
    return vehicles_of(actor).filter(vin=vin, is_disputed=False).first()


def vehicle_by_key(actor: Actor, pk: int) -> Vehicle:
    """One vehicle by its row; Http404 for one that the actor may not read."""
    try:
        return vehicles_of(actor).get(pk=pk)
    except Vehicle.DoesNotExist as cause:
        raise Http404 from cause
