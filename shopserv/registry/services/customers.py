"""Customers, their contact points, and what they permit."""

from __future__ import annotations

import unicodedata
from typing import Any

from django.db import IntegrityError, transaction

from shopserv.common import clock
from shopserv.common.errors import Refusal, Stale
from shopserv.outbox.models import Letter
from shopserv.registry import search
from shopserv.registry.models import ContactPoint, Customer, MessageConsent
from shopserv.registry.normal import phone_form
from shopserv.shop import trail
from shopserv.shop.actors import Actor

EDITABLE = frozenset(
    {
        "name",
        "language",
        "preferred_way",
        "address",
        "note",
        "purchase_order_needed",
        "terms_days",
        "contact_name",
        "designation_text",
    }
)


@transaction.atomic
def add(
    *,
    actor: Actor,
    name: str,
    kind: str = "person",
    phone: str = "",
    email: str = "",
    language: str = "en",
    **more: Any,
) -> Customer:
    """Write down a new customer with the contact points that were given.

    raises  Refusal for an empty name, an unreadable telephone number or address
    """
    actor.must("take in")
    customer = Customer(number=_next_number(), kind=kind, name=clean(name), language=language)
    if not customer.name:
        raise Refusal("Give the customer's name.", code="required", field="name")
    for field in EDITABLE & more.keys():
        setattr(customer, field, more[field])
    customer.save()
    for point_kind, typed in (("phone", phone), ("e-mail", email)):
        if typed.strip():
            _point(customer, point_kind, typed)
    search.index_customer(customer)
    trail.write(actor, "customer added", customer, number=customer.number, name=customer.name)
    return customer


@transaction.atomic
def change(customer: Customer, *, actor: Actor, edition: int, **fields: Any) -> Customer:
    """Change what is known of a customer.

    raises  Stale with what stands now, if somebody saved in between
    """
    actor.must("take in")
    fields = {name: clean(value) if isinstance(value, str) else value for name, value in fields.items()}
    if unknown := fields.keys() - EDITABLE:
        raise ValueError(f"not changed here: {', '.join(sorted(unknown))}")
    before = {name: getattr(customer, name) for name in fields}
    if not Customer.objects.filter(pk=customer.pk, edition=edition).update(**fields, edition=edition + 1):
        customer.refresh_from_db()
        raise Stale(
            f"{customer.name} was changed by somebody else in the meantime.",
            theirs={name: getattr(customer, name) for name in fields},
        )
    customer.refresh_from_db()
    search.index_customer(customer)
    trail.write(actor, "customer changed", customer, before=before, **fields)
    return customer


@transaction.atomic
def add_contact_point(customer: Customer, *, actor: Actor, kind: str, typed: str) -> ContactPoint:
    """Write down one more telephone number, e-mail or postal address.

    raises  Refusal for one that cannot be, or that is there already
    """
    actor.must("take in")
    point = _point(customer, kind, typed)
    search.index_customer(customer)
    trail.write(actor, "contact point added", customer, kind=kind, value=point.value)
    return point


@transaction.atomic
def permit(
    point: ContactPoint, *, actor: Actor, purpose: str, given: bool, how: str, words: str = ""
) -> MessageConsent:
    """Note that messages for `purpose` are permitted at `point`, or no longer; letters that wait are canceled at once.

    raises  Refusal for a purpose that there is not
    """
    actor.must("consent to messages")
    if actor.link is not None and actor.link.customer_key != point.customer_id:
        raise Refusal("This link is not for that address.", code="not.yours")
    if purpose not in dict(MessageConsent.PURPOSES):
        raise Refusal(f"There is no purpose “{purpose}”.", code="permission.purpose", field="purpose")
    consent = MessageConsent.objects.create(
        contact_point=point, purpose=purpose, given=given, at=clock.now(), how=how, words=words, by=actor.staff
    )
    canceled = 0
    if not given:
        waiting = Letter.objects.filter(contact_point_key=point.pk, purpose=purpose, state="waiting")
        canceled = waiting.update(state="canceled", why="permission withdrawn")
    what = "permission given" if given else "permission withdrawn"
    trail.write(actor, what, point.customer, purpose=purpose, at=point.kind, how=how, canceled=canceled)
    return consent


def clean(text: str) -> str:
    """A name as it is kept: composed letters, no control or format signs, single blanks."""
    composed = unicodedata.normalize("NFC", text)
    return " ".join("".join(c for c in composed if unicodedata.category(c)[0] != "C" or c.isspace()).split())


def _point(customer: Customer, kind: str, typed: str) -> ContactPoint:
    value = _normal(kind, typed)
    try:
        with transaction.atomic():
            return ContactPoint.objects.create(customer=customer, kind=kind, value=value, as_typed=typed.strip())
    except IntegrityError as cause:
        raise Refusal(f"{customer.name} has “{value}” already.", code="contact.twice", field=kind) from cause


def _normal(kind: str, typed: str) -> str:
    if kind == "phone":
        return phone_form(typed)
    value = clean(typed)
    if kind == "e-mail":
        value = value.lower()
        name, at, place = value.partition("@")
        if not (name and at and "." in place) or " " in value:
            raise Refusal(f"“{typed}” is not an e-mail address.", code="email.invalid", field="email")
    return value


def _next_number() -> str:
    """The next free C-number. Two at once: the second is refused by the unique number and may be sent again."""
    numbers = Customer.objects.filter(number__regex=r"^C-[0-9]+$").values_list("number", flat=True)
    return f"C-{max((int(number[2:]) for number in numbers), default=0) + 1:03d}"
