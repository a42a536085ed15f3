"""Vehicles, their plates and keepers, and how they are used."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from typing import Any

from django.db import IntegrityError, transaction

from shopserv.calc import errors, vin
from shopserv.common import clock
from shopserv.common.errors import Refusal, Stale
from shopserv.registry import search, selectors
from shopserv.registry.models import Customer, KeeperRecord, PlateRecord, UsePattern, Vehicle
from shopserv.registry.normal import plate_form
from shopserv.registry.services.customers import clean
from shopserv.shop import trail
from shopserv.shop.actors import Actor
from shopserv.shop.models import ClimatePlace

EDITABLE = frozenset(
    {
        "fleet_number",
        "year",
        "make",
        "model",
        "engine",
        "wheels_driven",
        "build_month",
        "in_service_on",
        "distance_unit",
        "home_climate",
    }
)
ALIKE = {"I": "1", "O": "0", "Q": "0"}
LOOK_LIKE_LATIN = dict(zip("АВЕКМНРСТУХ", "ABEKMHPCTYX", strict=True))


@dataclass(frozen=True, slots=True)
class VinRead:
    """A VIN as it was read off the vehicle: as typed, its normal form (none where there is none), and the check."""

    as_read: str
    vin: str | None
    check: str


def read_vin(typed: str, *, year: int | None = None, keep_because: str = "", none: bool = False) -> VinRead:
    """The VIN in `typed`, checked.

    keep_because   reason for keeping a VIN whose check digit differs; the page asks for it
    none           the vehicle has no VIN; `typed` is the business's own number
    raises         Refusal vin.length, vin.letter_not_allowed, vin.check_digit (may be confirmed with a reason)
    """
    if none or not typed.strip():
        return VinRead(typed.strip(), None, "")
    plain = vin.normal_form(typed)
    _look_at_signs(plain)
    try:
        check = vin.status(plain, year)
    except errors.BadVinLength as cause:
        raise Refusal(_length_words(plain), code="vin.length", field="vin") from cause
    except errors.BadVinCharacter as cause:
        raise Refusal(str(cause), code="vin.letter_not_allowed", field="vin") from cause
    if check == "check_digit_differs" and not keep_because.strip():
        raise Refusal(
            f"VIN {plain}: the check digit (position 9) is {plain[8]} and works out to {vin.check_digit(plain)}. "
            "Compare it with the plate; if it really reads so, say why you keep it.",
            code="vin.check_digit",
            field="vin",
            confirmable=True,
        )
    return VinRead(typed.strip(), plain, check)


def _look_at_signs(plain: str) -> None:
    for position, sign in enumerate(plain, start=1):
        if sign in ALIKE:
            mended = plain[: position - 1] + ALIKE[sign] + plain[position:]
            raise Refusal(
                f"VIN {plain}: the letter {sign} (position {position}) is never used in a VIN. Is it {mended}?",
                code="vin.letter_not_allowed",
                field="vin",
            )
        if sign in LOOK_LIKE_LATIN:
            mended = plain[: position - 1] + LOOK_LIKE_LATIN[sign] + plain[position:]
            raise Refusal(
                f"VIN {plain}: position {position} looks like {LOOK_LIKE_LATIN[sign]} but is not from the Latin "
                f"alphabet. Is it {mended}?",
                code="vin.letter_not_allowed",
                field="vin",
            )


def _length_words(plain: str) -> str:
    return f"VIN {plain}: {len(plain)} characters were given, 17 are needed; it stops after {plain[-4:]}."


@dataclass(frozen=True, slots=True)
class NewVehicle:
    """What is written down of a vehicle that was never here.

    vin_none      ticked "no VIN"; `vin` is then the business's own number, if any
    other_record  confirmed that it is not the vehicle one sign away
    """

    vin: str = ""
    vin_none: bool = False
    vin_kept_because: str = ""
    other_record: bool = False
    plate: str = ""
    plate_place: str = ""
    number: str = ""
    facts: dict[str, Any] = field(default_factory=dict)


@transaction.atomic
def add(new: NewVehicle, *, actor: Actor, keeper: Customer | None) -> Vehicle:
    """Write down a vehicle that was never here, with plate and keeper of today.

    raises  Refusal for its VIN (see read_vin), vin.duplicate (409) if the business has it, vin.near if one has a VIN
            one sign away and nobody said that this is another
    """
    actor.must("take in")
    shop = actor.house
    read = read_vin(new.vin, year=new.facts.get("year"), keep_because=new.vin_kept_because, none=new.vin_none)
    if read.vin:
        refuse_known(actor, read.vin, other_record=new.other_record)
    kept = read.check == "check_digit_differs"
    number = new.number or (read.as_read if new.vin_none else "") or _next_number()
    vehicle = Vehicle(
        number=number,
        vin_as_read=read.as_read,
        vin=read.vin,
        vin_check=read.check,
        vin_kept_because=new.vin_kept_because if kept else "",
        vin_kept_by=actor.staff if kept else None,
        vin_kept_at=clock.now() if kept else None,
        first_shop=shop,
        home_climate=shop.climate,
    )
    for name, value in _known(new.facts).items():
        setattr(vehicle, name, value)
    try:
        with transaction.atomic():
            vehicle.save()
    except IntegrityError as cause:
        raise _duplicate(read.vin or number) from cause
    today = clock.today(shop.time_zone)
    if new.plate.strip():
        PlateRecord.objects.create(
            vehicle=vehicle,
            plate=plate_form(new.plate),
            as_typed=clean(new.plate),
            place=new.plate_place,
            from_on=today,
        )
    KeeperRecord.objects.create(vehicle=vehicle, customer=keeper, from_on=today)
    search.index_vehicle(vehicle)
    trail.write(actor, "vehicle added", vehicle, vin=read.vin or "", check=read.check, keeper=str(keeper or ""))
    return vehicle


def refuse_known(actor: Actor, plain: str, *, other_record: bool) -> None:
    """Refuse a VIN that the business has, or one a sign away from one that it has.

    raises  Refusal vin.duplicate (409), vin.near (may be confirmed)
    """
    if selectors.by_vin(actor, plain):
        raise _duplicate(plain)
    around = [] if other_record else selectors.near_matches(actor, plain)
    if around:
        first = around[0]
        raise Refusal(
            f"VIN {plain} is one sign away from {first.vin}, {first.words} ({first.number}). Open that vehicle, "
            "or say that this is another one.",
            code="vin.near",
            field="vin",
            confirmable=True,
        )


def _duplicate(what: str) -> Refusal:
    return Refusal(
        f"{what} is on file already. Open that vehicle, or change its owner.",
        code="vin.duplicate",
        field="vin",
        status=409,
    )


@transaction.atomic
def change(vehicle: Vehicle, *, actor: Actor, edition: int, **fields: Any) -> Vehicle:
    """Change what is known of a vehicle.

    raises  Stale with what stands now, if somebody saved in between
    """
    actor.must("take in")
    fields = _known(fields)
    before = {name: getattr(vehicle, name) for name in fields}
    if not Vehicle.objects.filter(pk=vehicle.pk, edition=edition).update(**fields, edition=edition + 1):
        vehicle.refresh_from_db()
        raise Stale(
            f"{vehicle} was changed by somebody else in the meantime.",
            theirs={name: getattr(vehicle, name) for name in fields},
        )
    vehicle.refresh_from_db()
    search.index_vehicle(vehicle)
    trail.write(actor, "vehicle changed", vehicle, before=before, **fields)
    return vehicle


@transaction.atomic
def change_plate(vehicle: Vehicle, *, actor: Actor, plate: str, place: str = "", on: date | None = None) -> PlateRecord:
    """Note the plate from a day on (today, if none is given); an empty one means that it has none."""
    actor.must("take in")
    day = on or clock.today(actor.house.time_zone)
    before = selectors.plate_on(vehicle, day)
    row, _ = PlateRecord.objects.update_or_create(
        vehicle=vehicle,
        from_on=day,
        defaults={"plate": plate_form(plate) or None, "as_typed": clean(plate), "place": place},
    )
    search.index_vehicle(vehicle)
    trail.write(actor, "plate changed", vehicle, before={"plate": str(before or "")}, plate=str(row), from_on=day)
    return row


@transaction.atomic
def change_keeper(vehicle: Vehicle, *, actor: Actor, customer: Customer | None, on: date | None = None) -> KeeperRecord:
    """Note whose vehicle it is from a day on; nobody: not known.

    `reminders.services.letters` stops what was planned for the one before; call its deed where reminders may wait.

    raises  Refusal keeper.twice if the owner changed that day already
    """
    actor.must("take in")
    day = on or clock.today(actor.house.time_zone)
    before = selectors.keeper_on(vehicle, day)
    if before == customer and vehicle.keepers.exists():
        raise Refusal(f"{vehicle} is {before or 'nobody'}'s already.", code="keeper.same", field="keeper")
    try:
        with transaction.atomic():
            row = KeeperRecord.objects.create(vehicle=vehicle, customer=customer, from_on=day)
    except IntegrityError as cause:
        raise Refusal(
            f"The owner of {vehicle} was changed on {day:%B %-d, %Y} already. Take the next day.",
            code="keeper.twice",
            field="keeper",
        ) from cause
    trail.write(
        actor, "owner changed", vehicle, before={"keeper": str(before or "")}, keeper=str(customer or ""), from_on=day
    )
    return row


@transaction.atomic
def note_use(vehicle: Vehicle, *, actor: Actor, on: date | None = None, **shares: Any) -> UsePattern:
    """Note how the vehicle is used from a day on.

    shares   short_trip_ppm, towing_ppm, hill_ppm, idle_ppm, stored_months, temperatures
    raises   Refusal use.share outside 0 to 100 %
    """
    actor.must("take in")
    for name, value in shares.items():
        if name.endswith("_ppm") and not 0 <= value <= 1_000_000:
            raise Refusal(f"{value / 10_000:g} % is not between 0 and 100 %.", code="use.share", field=name)
    day = on or clock.today(actor.house.time_zone)
    row, _ = UsePattern.objects.update_or_create(vehicle=vehicle, from_on=day, defaults=shares)
    trail.write(actor, "use noted", vehicle, from_on=day, **shares)
    return row


def _known(facts: dict[str, Any]) -> dict[str, Any]:
    if unknown := facts.keys() - EDITABLE:
        raise ValueError(f"not changed here: {', '.join(sorted(unknown))}")
    if isinstance(facts.get("home_climate"), int):
        facts = {**facts, "home_climate": ClimatePlace.objects.get(pk=facts["home_climate"])}
    return {name: clean(value) if isinstance(value, str) else value for name, value in facts.items()}


def _next_number() -> str:
    """The next free V-number. Two at once: the second is refused by the unique number and may be sent again."""
    numbers = Vehicle.objects.filter(number__regex=r"^V-[0-9]+$").values_list("number", flat=True)
    return f"V-{max((int(number[2:]) for number in numbers), default=0) + 1:02d}"
