"""The index by which vehicles are found: one table of normal forms, read by prefix ranges on one index.

A key is found from its beginning. What people know by its end (the last six of a VIN, a telephone number) is kept
reversed as well. A range is `key >= x and key < x + the last character there is`, the same on both engines.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import pairwise

from django.db import transaction
from django.db.models import Q, QuerySet

from shopserv.registry.models import Customer, SearchKey, Vehicle
from shopserv.registry.normal import digits, folded, number_form, plate_form

LAST = "\U0010ffff"
LONGEST = 100
EACH = 10  # rows a range may give
ALPHABET = "ABCDEFGHJKLMNPRSTUVWXYZ0123456789"  # a VIN has no I, O, Q
PERSONAL = frozenset({"name", "phone"})
Row = tuple[str, str, int | None, int | None]


@dataclass(frozen=True, slots=True)
class Hit:
    """A key that was found. is_near: one sign away from what was typed."""

    kind: str
    shown: str
    vehicle: int | None
    customer: int | None
    is_near: bool = False


def vehicle_keys(vehicle: Vehicle, plates: Iterable[tuple[str | None, str]]) -> Iterator[SearchKey]:
    """The keys of one vehicle: VIN from both ends, own and fleet number, every plate it has had."""
    if vehicle.vin:
        yield SearchKey(kind="vin", key=vehicle.vin, shown=vehicle.vin, vehicle=vehicle)
        yield SearchKey(kind="vin tail", key=vehicle.vin[::-1], shown=vehicle.vin, vehicle=vehicle)
    for number in {vehicle.number, vehicle.fleet_number} - {""}:
        yield SearchKey(kind="number", key=number_form(number), shown=number, vehicle=vehicle)
    for plate, typed in dict(plates).items():
        if plate:
            yield SearchKey(kind="plate", key=plate, shown=typed or plate, vehicle=vehicle)


def customer_keys(customer: Customer, phones: Iterable[str]) -> Iterator[SearchKey]:
    """The keys of one customer: the name begun at each of its words, telephone numbers from both ends."""
    for name in {customer.name, customer.contact_name} - {""}:
        words = folded(name).split(" ")
        for start in range(len(words)):
            key = " ".join(words[start:] + words[:start])
            yield SearchKey(kind="name", key=key[:80], shown=name, customer=customer)
    for phone in phones:
        figures = digits(phone)
        national = figures[1:] if len(figures) == 11 and figures.startswith("1") else figures
        yield SearchKey(kind="phone", key=national[:80], shown=phone, customer=customer)
        yield SearchKey(kind="phone", key="r" + figures[::-1][:79], shown=phone, customer=customer)


@transaction.atomic
def index_vehicle(vehicle: Vehicle) -> None:
    """Make the keys of `vehicle` anew inside the deed that changed it; printed numbers stay."""
    own = Q(kind__in=["vin", "vin tail", "plate"]) | Q(kind="number", shop__isnull=True)
    SearchKey.objects.filter(own, vehicle=vehicle).delete()
    _save(vehicle_keys(vehicle, vehicle.plates.values_list("plate", "as_typed")))


@transaction.atomic
def index_customer(customer: Customer) -> None:
    """Make the keys of `customer` anew inside the deed that changed them."""
    SearchKey.objects.filter(customer=customer, vehicle__isnull=True).delete()
    phones = customer.contact_points.filter(kind="phone").exclude(state="withdrawn")
    _save(customer_keys(customer, phones.values_list("value", flat=True)))


def index_number(number: str, vehicle: Vehicle, shop_key: int) -> None:
    """Let `vehicle` be found by a printed number of one shop, and by nobody of another."""
    _save([SearchKey(kind="number", key=number_form(number), shown=number, vehicle=vehicle, shop_id=shop_key)])


@transaction.atomic
def index_all() -> int:
    """Make the keys of every vehicle and customer; how many keys there are."""
    vehicles = Vehicle.objects.exclude(state="merged").prefetch_related("plates")
    _save(key for v in vehicles for key in vehicle_keys(v, [(p.plate, p.as_typed) for p in v.plates.all()]))
    customers = Customer.objects.exclude(state="blanked").prefetch_related("contact_points")
    _save(
        key
        for c in customers
        for key in customer_keys(c, [p.value for p in c.contact_points.all() if p.kind == "phone"])
    )
    return SearchKey.objects.count()


def _save(keys: Iterable[SearchKey]) -> None:
    SearchKey.objects.bulk_create(keys, batch_size=1000, ignore_conflicts=True)


def ranges(typed: str) -> list[tuple[str, str]]:
    """The (kind, beginning of a key) that `typed` may mean; empty for what is too short to mean anything."""
    plain, figures = plate_form(typed), digits(typed)
    found: list[tuple[str, str]] = []
    if len(plain) >= 2:
        found += [("plate", plain), ("vin", plain), ("number", number_form(typed))]
    if len(plain) >= 4:
        found.append(("vin tail", plain[::-1]))
    if len(folded(typed)) >= 2 and not figures:
        found.append(("name", folded(typed)))
    if len(figures) >= 4 and not any(sign.isalpha() for sign in typed):
        national = figures[1:] if len(figures) == 11 and figures.startswith("1") else figures
        found += [("phone", national), ("phone", "r" + figures[::-1])]
    return found


def exact(typed: str, shop_key: int | None, *, personal: bool) -> list[Hit]:
    """What `typed` is the beginning (or the end) of, in one query.

    personal   whether names and telephone numbers are searched
    """
    parts = [_range(kind, beginning, shop_key) for kind, beginning in ranges(typed) if personal or kind not in PERSONAL]
    if not parts:
        return []
    rows = parts[0] if len(parts) == 1 else parts[0].union(*parts[1:], all=True)
    return [Hit(*row) for row in rows]


def _range(kind: str, beginning: str, shop_key: int | None) -> QuerySet[SearchKey, Row]:
    rows = SearchKey.objects.filter(kind=kind, key__gte=beginning, key__lt=beginning + LAST)
    if kind == "number":
        rows = rows.filter(Q(shop__isnull=True) | Q(shop=shop_key))
    # A sub-query of its own, since SQLite takes no LIMIT inside a UNION branch otherwise.
    keys = rows.order_by("key").values("pk")[:EACH]
    return SearchKey.objects.filter(pk__in=keys).order_by().values_list("kind", "shown", "vehicle_id", "customer_id")


def near(typed: str) -> list[Hit]:
    """Vehicles whose VIN or plate is one sign away from `typed`: mistyped, left out, one too many, or two turned round.

    All neighbors are asked for by name in one query on the index; a VIN has some eleven hundred of them.
    """
    plain = plate_form(typed)
    kind = "vin" if 16 <= len(plain) <= 18 else "plate"
    if not 4 <= len(plain) <= 18:
        return []
    around = neighbors(plain, ALPHABET if kind == "vin" else ALPHABET + "IOQ")
    rows = SearchKey.objects.filter(kind=kind, key__in=around).order_by("key")[:EACH]
    return [Hit(*row, is_near=True) for row in rows.values_list("kind", "shown", "vehicle_id", "customer_id")]


def neighbors(text: str, alphabet: str) -> set[str]:
    """Every text one sign away from `text`, without itself."""
    cuts = [(text[:i], text[i:]) for i in range(len(text) + 1)]
    changed = {left + sign + right[1:] for left, right in cuts if right for sign in alphabet}
    longer = {left + sign + right for left, right in cuts for sign in alphabet}
    shorter = {left + right[1:] for left, right in cuts if right}
    turned = {text[:i] + second + first + text[i + 2 :] for i, (first, second) in enumerate(pairwise(text))}
    return (changed | longer | shorter | turned) - {text}
