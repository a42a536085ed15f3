"""Customers with contact points, permissions, certificate and agreement."""

from __future__ import annotations

from datetime import date
from typing import Any

from shopserv.demo.rows import Tally, day, noon, scenario, the_day
from shopserv.registry.models import ContactPoint, Customer, ExemptionCertificate, MessageConsent, StandingAgreement
from shopserv.registry.normal import phone_form
from shopserv.shop.models import Staff

ASKED_ON = date(2024, 1, 8)
WITHDRAWN_ON = date(2025, 4, 28)  # the last visit before which C-011 took every permission back
PURPOSES = ("status", "reminder")


def load_customers(tally: Tally, staff: dict[str, Staff]) -> dict[str, Customer]:
    """Customers by their number."""
    data = scenario()["customers"]
    rows = tally.ensure(Customer, ("number",), [_customer(one) for one in data])
    customers = {key[0]: row for key, row in rows.items()}
    points = [point for one in data for point in _contact_points(customers[one["no"]], one)]
    known = tally.ensure(ContactPoint, ("customer", "kind", "value"), points)
    consents = [
        consent
        for one in data
        for (customer, _, _), point in known.items()
        if customer == customers[one["no"]].pk
        for consent in _consents(point, one, staff["TA"])
    ]
    tally.ensure(MessageConsent, ("contact_point", "purpose", "given", "at"), consents)
    _load_fleet_papers(tally, customers, data)
    return customers


def _customer(one: dict[str, Any]) -> Customer:
    contact, designation = one.get("contact", {}), one.get("designation", {})
    return Customer(
        number=one["no"],
        kind=one["kind"],
        is_fleet=one["kind"] == "firm",
        name=one["name"],
        language=one["language"],
        preferred_way=one["preferred"],
        address=[one["town"]],
        tax_state=one.get("tax_state", "taxed"),
        terms_days=one.get("terms_days", 0),
        credit_limit_cents=one.get("credit_limit_cents"),
        purchase_order_needed=one.get("po_needed", False),
        contact_name=contact.get("name", ""),
        contact_may_authorize_cents=contact.get("may_authorize_cents"),
        designation_text=(
            f"{designation['names']}, {contact['capacity']}, designated by {designation['signed_by']} "
            f"from {designation['from']}"
            if designation
            else ""
        ),
        note=one.get("note", ""),
    )


def _contact_points(customer: Customer, one: dict[str, Any]) -> list[ContactPoint]:
    contact = one.get("contact", {})
    phones = [one["phone"], *filter(None, [contact.get("phone")])]
    mails = [one["email"], *filter(None, [contact.get("email")])]
    return [
        ContactPoint(customer=customer, kind="phone", value=phone_form(typed), as_typed=typed) for typed in phones
    ] + [ContactPoint(customer=customer, kind="e-mail", value=typed.lower(), as_typed=typed) for typed in mails]


def _consents(point: ContactPoint, one: dict[str, Any], by: Staff) -> list[MessageConsent]:
    def row(purpose: str, given: bool, on: date) -> MessageConsent:
        how = "asked at the counter" if given else "withdrawn at the counter"
        return MessageConsent(contact_point=point, purpose=purpose, given=given, at=noon(on), how=how, by=by)

    if one["consents"]:
        return [row(purpose, True, ASKED_ON) for purpose in one["consents"]]
    return [row(p, True, ASKED_ON) for p in PURPOSES] + [row(p, False, WITHDRAWN_ON) for p in PURPOSES]


def _load_fleet_papers(tally: Tally, customers: dict[str, Customer], data: list[dict[str, Any]]) -> None:
    certificates = [
        ExemptionCertificate(
            customer=customers[one["no"]],
            number=one["exemption"]["number"],
            from_on=the_day(one["exemption"]["from"]),
            to_on=day(one["exemption"]["to"]),
        )
        for one in data
        if "exemption" in one
    ]
    tally.ensure(ExemptionCertificate, ("customer", "number"), certificates)
    agreements = [
        StandingAgreement(
            customer=customers[one["no"]],
            signed_by=one["designation"]["signed_by"],
            from_on=the_day(one["standing_agreement"]["from"]),
            to_on=day(one["standing_agreement"]["to"]),
            covers=one["standing_agreement"]["covers"],
            up_to_cents=one["standing_agreement"]["up_to_cents"],
        )
        for one in data
        if "standing_agreement" in one
    ]
    tally.ensure(StandingAgreement, ("customer", "from_on"), agreements)
