"""The customer's yes: counted once, written up as a work order, taken back."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any
from zoneinfo import ZoneInfo

from django.db import IntegrityError, transaction
from django.http import Http404

from shopserv.common import clock, formats
from shopserv.common.errors import Refusal, StateRefusal
from shopserv.common.moves import move
from shopserv.jobs import check_words
from shopserv.jobs.models import Authorization, CustomerEvent, Option, Quote, QuoteVersion, WorkOrder
from shopserv.jobs.services import write_up
from shopserv.jobs.snapshots.authorization import authorization_paper
from shopserv.jobs.snapshots.quote import in_order
from shopserv.jobs.states import AUTHORIZATION_MOVES, VERSION_MOVES
from shopserv.papers.filing import file_paper
from shopserv.registry import selectors as registry
from shopserv.registry.models import Customer
from shopserv.reminders.models import Forecast
from shopserv.shop import trail
from shopserv.shop.actors import Actor

WAYS = tuple(way for way, _ in Authorization.WAYS)
OVER = ("replaced", "expired", "declined")


@dataclass(frozen=True, slots=True)
class Consent:
    """A yes as it was given.

    way            one of WAYS
    capacity       keeper, driver, fleet contact
    amount_cents   what was said or shown: the new agreed total, tax included
    check_words    as read back; needed on the telephone
    version_hash   of the version that was looked at; the page sends it along
    contact_used   telephone number or address used
    """

    person: str
    way: str
    amount_cents: int
    capacity: str = "keeper"
    contact_used: str = ""
    words_read: str = ""
    check_words: str = ""
    version_hash: str = ""
    purchase_order_number: str = ""
    old_parts_wanted: bool = False
    designation: str = ""
    peer_address: str = ""


class LateYes(StateRefusal):
    """A yes to a version that is no longer on offer: it counts for nothing and is kept as an event."""

    def __init__(self, version: QuoteVersion, message: str) -> None:
        super().__init__(message, code=f"quote.{version.state if version.state in OVER else 'expired'}")
        self.version = version


def answer(option: Option, *, actor: Actor, consent: Consent) -> WorkOrder | CustomerEvent:
    """Take a yes as a page does: the work order where it counts, the kept event where it comes too late.

    Nothing is rolled back for a late yes, so it may run inside the page's own transaction.
    """
    try:
        with transaction.atomic():
            return _authorize(option, actor, consent)
    except LateYes as late:
        return keep_late_yes(late.version, option, actor=actor, consent=consent)


def authorize(option: Option, *, actor: Actor, consent: Consent) -> WorkOrder:
    """Count the customer's yes to `option` and write up the work order, or lengthen the one that it adds to.

    One yes counts per quote; another option after a yes replaces the first, an addition adds to it.

    raises  LateYes if the version is no longer on offer (the yes is kept as an event first), StateRefusal if a yes
            counts already; Refusal consent.person, consent.way, consent.amount, consent.check_words, consent.hash,
            consent.limit, consent.agreement, consent.purchase_order; NotYours, Http404
    """
    try:
        with transaction.atomic():
            return _authorize(option, actor, consent)
    except LateYes as late:
        keep_late_yes(late.version, option, actor=actor, consent=consent)
        raise


@transaction.atomic
def keep_late_yes(version: QuoteVersion, option: Option, *, actor: Actor, consent: Consent) -> CustomerEvent:
    """Keep a yes that counts for nothing."""
    _gate(option, actor)
    event = CustomerEvent.objects.create(
        shop=version.shop,
        version=version,
        what="late yes",
        detail={"letter": option.letter, "amount_cents": consent.amount_cents, "way": consent.way},
        who=consent.person or actor.name,
        at=clock.now(),
    )
    trail.write(actor, "late yes kept", version, letter=option.letter, state=version.state, person=consent.person)
    return event


def _gate(option: Option, actor: Actor) -> None:
    """Staff of the shop, or the holder of the link to this very version."""
    actor.must("decide" if actor.link else "record consent")
    version = option.version
    if option.shop_id != actor.house.pk:
        raise Http404("no such option")
    mine = f"{version.quote.number}/{version.version}"
    if actor.link is not None and (actor.link.opens != "quote version" or actor.link.subject != mine):
        raise Http404("no such option")


def _authorize(option: Option, actor: Actor, consent: Consent) -> WorkOrder:
    _gate(option, actor)
    version = QuoteVersion.objects.select_related("quote__shop__business", "quote__customer", "adds_to").get(
        pk=option.version_id
    )
    option.version = version
    _refuse_over(version)
    _check(option, version, consent)
    designation = _designation(version.quote, actor, consent, new_total(option, version))
    authorization, before = _count(option, version, actor, consent, designation)
    order = write_up.work_order_for(authorization, before, actor=actor)
    earlier = list(version.quote.authorizations.exclude(pk=authorization.pk).select_related("option__version"))
    file_paper(
        "authorization",
        version.shop,
        version.quote.number,
        authorization_number(authorization),
        authorization_paper(authorization, earlier=sorted(earlier, key=lambda one: one.pk)),
        visit_number=version.quote.visit.number if version.quote.visit else "",
        language=version.quote.customer.language,
    )
    trail.write(
        actor,
        "consent counted",
        authorization,
        before={"replaced": before.pk if before else None},
        work_order=order.number,
        version=version.version,
        letter=option.letter,
        amount_cents=authorization.amount_cents,
        way=consent.way,
        person=consent.person,
    )
    return order


def authorization_number(authorization: Authorization) -> int:
    """Which of the quote's authorizations it is, from 1; the version under which its record is filed."""
    return authorization.quote.authorizations.filter(pk__lte=authorization.pk).count()


def new_total(option: Option, version: QuoteVersion) -> int:
    """What is agreed by a yes to `option`: its total, and what was agreed before where it only adds."""
    return option.total_cents + (version.adds_to.amount_cents if version.adds_to else 0)


def _refuse_over(version: QuoteVersion) -> None:
    if version.state == "agreed":
        raise agreed_already(version.quote)
    past = version.state == "offered" and version.good_until is not None and version.good_until <= clock.now()
    if version.state in OVER or past:
        said = {"replaced": "was replaced by a newer one", "declined": "was declined"}.get(version.state, "has expired")
        raise LateYes(version, f"Quote {version.quote} version {version.version} {said}. This yes counts for nothing.")
    if version.state != "offered":
        raise StateRefusal(f"{version} is not on offer yet.", code="quote.draft")


def agreed_already(quote: Quote) -> StateRefusal:
    """Who recorded the authorization that counts, and when."""
    one = quote.authorizations.filter(state="counted").order_by("-pk").first()
    if one is None:
        return StateRefusal(f"A yes to quote {quote} was counted and taken back. Offer it anew.", code="quote.agreed")
    local = one.at.astimezone(ZoneInfo(quote.shop.time_zone))
    order = one.work_orders.order_by("-pk").first()
    return StateRefusal(
        f"{one.recorded_by.split(' ')[0]} recorded the authorization for quote {quote} at {local:%-I:%M %p}."
        + (f" Go on with work order {order}." if order else ""),
        code="quote.agreed",
    )


def _check(option: Option, version: QuoteVersion, consent: Consent) -> None:
    if not consent.person.strip():
        raise Refusal("Whose yes is it? Give the name.", code="consent.person", field="person")
    if consent.way not in WAYS:
        raise Refusal(f"“{consent.way}” is no way to say yes.", code="consent.way", field="way")
    total = new_total(option, version)
    if consent.amount_cents != total:
        raise Refusal(
            f"Option {option.letter} is ${total / 100:,.2f}, not ${consent.amount_cents / 100:,.2f}.",
            code="consent.amount",
            field="amount",
        )
    said = consent.check_words
    if (consent.way == "telephone" and not said.strip()) or (
        said.strip() and not check_words.agree(said, version.snapshot_hash)
    ):
        raise Refusal(
            "The check words do not agree with this version. Is the customer looking at another one?"
            if said.strip()
            else "Let the customer read the two check words back.",
            code="consent.check_words",
            field="check_words",
        )
    if consent.version_hash and consent.version_hash != version.snapshot_hash:
        raise Refusal("This is not the version that was looked at.", code="consent.hash", field="version_hash")
    if version.quote.customer.purchase_order_needed and not _purchase_order(version.quote, consent):
        raise Refusal(
            f"{version.quote.customer.name} needs a purchase order number; nothing begins without it.",
            code="consent.purchase_order",
            field="purchase_order_number",
        )


def _purchase_order(quote: Quote, consent: Consent) -> str:
    visit = quote.visit.purchase_order_number if quote.visit else ""
    return consent.purchase_order_number.strip() or quote.purchase_order_number or visit


def _designation(quote: Quote, actor: Actor, consent: Consent, total: int) -> str:
    """What stands behind the person: nothing for the owner, the designation of a contact, a standing agreement.

    The holder of a link is told neither who may agree nor up to how much.

    raises  Refusal consent.limit, consent.designation, consent.agreement
    """
    customer = quote.customer
    if consent.way == "standing agreement":
        return _agreement(customer, quote, total)
    if not customer.contact_name:
        return consent.designation
    limit = customer.contact_may_authorize_cents
    may = f"up to ${limit / 100:,.2f}" if limit else "nothing"
    is_named = consent.person.strip().casefold() == customer.contact_name.casefold()
    if actor.link is not None and (not is_named or limit is None or total > limit):
        raise Refusal(
            "This yes cannot be taken here: it takes the person whom your company has named to us for it. "
            f"Call {quote.shop.name}, {quote.shop.phone}.",
            code="consent.designation",
            field="person",
        )
    if not is_named:
        raise Refusal(
            f"For {customer.name} only {customer.contact_name} may agree, {may}; "
            f"{consent.person} is not designated. Ask {customer.contact_name}.",
            code="consent.designation",
            field="person",
        )
    if limit is None or total > limit:
        raise Refusal(
            f"{consent.person} may agree {may}; this is ${total / 100:,.2f}.", code="consent.limit", field="person"
        )
    return consent.designation or customer.designation_text


def _agreement(customer: Customer, quote: Quote, total: int) -> str:
    agreement = registry.agreement_on(customer, clock.today(quote.shop.time_zone))
    if agreement is None or total > agreement.up_to_cents:
        covers = f"covers ${agreement.up_to_cents / 100:,.2f}" if agreement else "is not there"
        raise Refusal(
            f"The standing agreement of {customer.name} {covers}; this is ${total / 100:,.2f}. Ask for a yes.",
            code="consent.agreement",
            field="way",
        )
    today = clock.today(quote.shop.time_zone)
    forecast = Forecast.objects.filter(vehicle=quote.vehicle, is_current=True).first()
    if forecast is None or forecast.due_on is None or forecast.due_on > today:
        due = f"due about {formats.day(forecast.due_on)}" if forecast and forecast.due_on else "not known to be due"
        raise Refusal(
            f"The standing agreement covers due service; {quote.vehicle} is {due}. "
            f"Ask {customer.contact_name or customer.name} for a yes.",
            code="consent.agreement",
            field="way",
        )
    return f"standing agreement signed by {agreement.signed_by} from {agreement.from_on}: {agreement.covers}"


def _count(
    option: Option, version: QuoteVersion, actor: Actor, consent: Consent, designation: str
) -> tuple[Authorization, Authorization | None]:
    """Count the yes: the version agreed first, which one of two at once can do; the unique row stands behind it."""
    quote = version.quote
    _or_agreed(quote, lambda: move(version, "agree", VERSION_MOVES, actor))
    before = quote.authorizations.filter(state="counted").select_related("option__version").first()
    if version.is_addition and (before is None or before.pk != version.adds_to_id):
        raise StateRefusal(
            f"What {version} adds to is no longer what counts. Write the addition anew.", code="quote.base_changed"
        )
    if before is not None:
        move(before, "be added to" if version.is_addition else "be replaced", AUTHORIZATION_MOVES, actor)
    total = new_total(option, version)
    row = Authorization(
        shop=version.shop,
        quote=quote,
        option=option,
        amount_cents=total,
        tax_cents=option.tax_cents + (before.tax_cents if before and version.is_addition else 0),
        added_cents=option.total_cents if version.is_addition else None,
        added_text=_added(option) if version.is_addition else "",
        version_hash=version.snapshot_hash,
        check_words=version.check_words,
        person=consent.person.strip(),
        capacity=consent.capacity,
        designation=designation[:200],
        way=consent.way,
        contact_used=consent.contact_used,
        words_read=consent.words_read,
        purchase_order_number=_purchase_order(quote, consent),
        old_parts_wanted=consent.old_parts_wanted,
        rule=version.rules["tolerance"],
        recorded_by=actor.name,
        at=clock.now(),
        peer_address=consent.peer_address,
    )
    _or_agreed(quote, row.save)
    return row, before


def _or_agreed(quote: Quote, act: Callable[[], Any]) -> None:
    """Do it, or say who was faster."""
    try:
        with transaction.atomic():
            act()
    except (IntegrityError, StateRefusal) as cause:
        raise agreed_already(quote) from cause


def _added(option: Option) -> str:
    return "; ".join(line.text for line in in_order(option))[:500]


@transaction.atomic
def take_back(authorization: Authorization, *, actor: Actor, words: str) -> Authorization:
    """Take a counted yes back before anything is invoiced; the work order goes on hold.

    raises  StateRefusal if it does not count any more, or the work order is closed
    """
    actor.must("decide" if actor.link else "record consent")
    if authorization.shop_id != actor.house.pk:
        raise Http404("no such authorization")
    version = authorization.option.version
    if actor.link is not None and actor.link.subject != f"{authorization.quote.number}/{version.version}":
        raise Http404("no such authorization")
    _refuse_invoiced(authorization)
    move(
        authorization,
        "take back",
        AUTHORIZATION_MOVES,
        actor,
        taken_back_at=clock.now(),
        taken_back_words=words[:300],
    )
    _refuse_invoiced(authorization)  # an invoice that holds the row may have been waited for just now
    held = write_up.hold_for_word(authorization, actor=actor)
    trail.write(actor, "consent taken back", authorization, words=words, held=held)
    return authorization


def _refuse_invoiced(authorization: Authorization) -> None:
    if authorization.work_orders.filter(state="closed").exists():
        raise StateRefusal("It is invoiced already. A credit note is the way.", code="consent.invoiced")
