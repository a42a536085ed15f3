"""Versions offered, declined and expired. What is on offer never changes; a newer version replaces it."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django.db import transaction
from django.http import Http404

from shopserv.common import clock
from shopserv.common.errors import Refusal, StateRefusal
from shopserv.common.moves import move
from shopserv.jobs import check_words, courses
from shopserv.jobs.models import Option, QuoteVersion
from shopserv.jobs.selectors import house_terms
from shopserv.jobs.selectors import visits as visit_selectors
from shopserv.jobs.services import methods
from shopserv.jobs.services.drafts import stale
from shopserv.jobs.services.plan_data import edits_of
from shopserv.jobs.services.plans import plan_for
from shopserv.jobs.snapshots.quote import hash_of, quote_paper, with_check_words
from shopserv.jobs.states import VERSION_MOVES
from shopserv.papers.filing import file_paper
from shopserv.registry import which
from shopserv.registry.models import ContactPoint
from shopserv.shop import terms, trail
from shopserv.shop.actors import Actor
from shopserv.shop.links import make_link


@dataclass(frozen=True, slots=True)
class Offer:
    """A version on offer; the token opens the customer's page and cannot be read again (empty: no link was made)."""

    version: QuoteVersion
    token: str


@transaction.atomic
def offer(
    version: QuoteVersion,
    *,
    actor: Actor,
    edition: int,
    contact: ContactPoint | None = None,
    confirmed: Collection[str] = (),
    below_floor_because: str = "",
) -> Offer:
    """Put a draft on offer: freeze it, draw its check words, file the paper, replace what was on offer before.

    contact     a contact point of the customer: then a link to the page is made for its holder
    confirmed   codes of what the writer was told and goes on with
    raises      Stale; StateRefusal; Refusal quote.row (blank price, zero tenths), quote.barred, quote.sheet_changed,
                quote.terms_changed, quote.recommendation, quote.margin_floor,
                quote.exemption_ended, quote.drain_labor (both may be confirmed), quote.unlikely_unit (may be, where a
                tag was read)
    """
    actor.must("offer quote")
    _own(actor, version)
    version.refresh_from_db()
    if version.state != "draft":
        raise StateRefusal(f"{version} is {version.state} already.", code="state.changed")
    if version.edition != edition:
        raise stale(version)
    _refuse_unsound(version, actor, confirmed, below_floor_because)
    now = clock.now()
    good_until = _good_until(version, now)
    version = QuoteVersion.objects.select_related("quote__shop__business", "adds_to").get(pk=version.pk)
    paper = quote_paper(version, offered_at=now, good_until=good_until)
    version_hash = hash_of(paper)
    words = check_words.check_words(version_hash)
    for older in version.quote.versions.filter(state="offered"):
        move(older, "be replaced", VERSION_MOVES, actor)
    move(
        version,
        "offer",
        VERSION_MOVES,
        actor,
        offered_at=now,
        good_until=good_until,
        snapshot_hash=version_hash,
        check_words=words,
    )
    quote = version.quote
    file_paper(
        "quote",
        quote.shop,
        quote.number,
        version.version,
        with_check_words(paper, version_hash, words),
        visit_number=quote.visit.number if quote.visit else "",
        language=quote.customer.language,
    )
    token = _link(version, actor, contact, good_until - now) if contact else ""
    told: dict[str, Any] = {"went_on_over": sorted(confirmed)} if confirmed else {}
    trail.write(
        actor,
        "quote offered",
        version,
        hash=version_hash,
        good_until=good_until,
        below_floor=below_floor_because,
        **told,
    )
    return Offer(version, token)


@transaction.atomic
def give_link(version: QuoteVersion, *, actor: Actor, contact: ContactPoint) -> str:
    """Make a link to a version on offer for a contact point of the customer; its token is told this once.

    raises  StateRefusal if the version is no longer on offer; Refusal quote.contact
    """
    actor.must("make link")
    _own(actor, version)
    version.refresh_from_db()
    now = clock.now()
    if version.state != "offered" or version.good_until is None or version.good_until <= now:
        state = "expired" if version.state == "offered" else version.state
        raise StateRefusal(f"{version} is {state}: only what is on offer gets a link.", code="quote.not_on_offer")
    return _link(version, actor, contact, version.good_until - now)


def _own(actor: Actor, version: QuoteVersion) -> None:
    if version.shop_id != actor.house.pk:
        raise Http404("no such version")


def _good_until(version: QuoteVersion, now: datetime) -> datetime:
    """The end of the shop's day, so many days ahead as the house rule says."""
    zone = ZoneInfo(version.quote.shop.time_zone)
    day = now.astimezone(zone).date() + timedelta(days=version.rules["good_days"])
    return datetime.combine(day, time(23, 59, 59), zone)


def _link(version: QuoteVersion, actor: Actor, contact: ContactPoint, lasts: timedelta) -> str:
    customer = version.quote.customer
    if contact.customer_id != customer.pk:
        raise Refusal("This address is not the customer's.", code="quote.contact", field="contact")
    _, token = make_link(
        actor=actor,
        opens="quote version",
        subject=f"{version.quote.number}/{version.version}",
        holder=customer.contact_name or customer.name,
        customer_key=customer.pk,
        expires_at=clock.real_now() + lasts,
    )
    return token


def _refuse_unsound(version: QuoteVersion, actor: Actor, confirmed: Collection[str], because: str) -> None:
    quote = version.quote
    day = clock.today(quote.shop.time_zone)
    _refuse_old_terms(version, day)
    options = list(version.options.order_by("letter"))
    for option in options:
        for row, words in option.working.get("faults", []):
            code = "quote.barred" if row == "method" else "quote.row"
            raise Refusal(f"Option {option.letter}: {words}.", code=code, field=f"{option.letter}.{row}")
        _refuse_barred(version, option)
        _refuse_unanswered(option, confirmed)
    _refuse_old_reason(version, actor)
    _refuse_unlikely_unit(version, actor, confirmed)
    ended = version.rules["tax"]["ended"]
    if ended and "quote.exemption_ended" not in confirmed:
        raise Refusal(
            f"{ended} Offer it with tax?",
            code="quote.exemption_ended",
            field="tax",
            confirmable=True,
            tick_words="The customer was told that tax is charged.",
        )
    floor = version.rules["margin_floor_ppm"]
    for option in options:
        margin = _margin_ppm(option)
        if margin < floor and not (actor.may("offer under floor") and because.strip()):
            raise Refusal(
                f"Option {option.letter} leaves {margin / 10_000:.1f} % margin; the floor is {floor / 10_000:g} %. "
                + ("Say why." if actor.may("offer under floor") else "The shop owner may offer it."),
                code="quote.margin_floor",
                field=f"{option.letter}.margin",
            )


def _refuse_unanswered(option: Option, confirmed: Collection[str]) -> None:
    """What was asked of an option is answered before it is offered."""
    for what in option.snapshot.get("asked", ()):
        if "quote.drain_labor" not in confirmed:
            raise Refusal(
                f"Option {option.letter}: not on the price list: {what}. Add a labor line or more tenths, "
                "or say that it takes none.",
                code="quote.drain_labor",
                field=f"tenths_{option.letter}",
                confirmable=True,
                tick_words="What the courses open besides takes no more labor.",
            )


def _margin_ppm(option: Option) -> int:
    if option.net_cents <= 0:
        return 0
    return (option.net_cents - option.cost_cents) * 1_000_000 // option.net_cents


def _refuse_old_terms(version: QuoteVersion, day: date) -> None:
    """A draft is priced by the terms of its day; on another day they may be others."""
    now = house_terms.terms_on(version.quote.shop, version.quote.customer, day)
    if {**now, "day": ""} != {**version.rules, "day": ""}:
        raise Refusal(
            "Rates or rules have changed since this draft was saved. Save it again to price it anew.",
            code="quote.terms_changed",
        )


def _refuse_unlikely_unit(version: QuoteVersion, actor: Actor, confirmed: Collection[str]) -> None:
    """Nothing is priced firm for a unit that what is known speaks against; a tag that was read may stand, if asked."""
    doubt = which.doubted(actor, version.quote.vehicle)
    if doubt is None or (doubt.may_be_asked and "quote.unlikely_unit" in confirmed):
        return
    next_look = f" What parts them: {doubt.look}" if doubt.look else ""
    how = "Was the tag of this very vehicle read?" if doubt.may_be_asked else "Then save the draft again."
    raise Refusal(
        f"{doubt.words}. Its prices are not firm: look at the vehicle, and note what you see.{next_look} {how}",
        code="quote.unlikely_unit",
        confirmable=doubt.may_be_asked,
        tick_words="The tag of this vehicle was read, and it stands.",
    )


def _refuse_old_reason(version: QuoteVersion, actor: Actor) -> None:
    """The sentence that we worked out is read by the customer, so it has to hold today."""
    quote, edits = version.quote, edits_of(version)
    plan = plan_for(
        actor, quote.vehicle, visit=quote.visit, customer=quote.customer, edits=edits, adds_to=version.adds_to
    )
    if (plan.recommended, plan.why) == (version.recommended, version.why):
        return
    raise Refusal(
        f"The draft recommends {version.recommended or 'nothing'} ({version.why or 'no reason'}); worked out today it "
        f"is {plan.recommended or 'nothing'} ({plan.why or 'no reason'}). Save the draft again, or choose the option "
        "and write the reason yourself.",
        code="quote.recommendation",
        field="recommended",
    )


def _refuse_barred(version: QuoteVersion, option: Option) -> None:
    if option.kind != "work":
        return
    kept = version.inputs
    sheet = methods.sheet_now(kept["unit"], clock.today(version.quote.shop.time_zone))
    if sheet is None or sheet.version != kept["sheet_version"]:
        raise Refusal(
            f"The unit sheet of {kept['unit']} has changed since this draft was saved. Save it again.",
            code="quote.sheet_changed",
        )
    found = visit_selectors.standing(version.quote.visit) if version.quote.visit else ()
    rules = terms.house_rules(version.quote.shop, clock.today(version.quote.shop.time_zone))
    reason = methods.why_barred(
        sheet, option.method, found, methods.sheet_facts(sheet), courses.HouseNumbers(**rules.course_numbers)
    )
    if reason:
        raise Refusal(
            f"Option {option.letter}: {option.title}: {reason}.", code="quote.barred", field=f"{option.letter}.method"
        )


@transaction.atomic
def decline(version: QuoteVersion, *, actor: Actor, person: str = "", words: str = "") -> QuoteVersion:
    """Note that the customer wants none of the options."""
    actor.must("decide" if actor.link else "record consent")
    _own(actor, version)
    if actor.link is not None and actor.link.subject != f"{version.quote.number}/{version.version}":
        raise Http404("no such version")
    move(version, "decline", VERSION_MOVES, actor)
    trail.write(actor, "quote declined", version, person=person or actor.name, words=words)
    return version


@transaction.atomic
def expire(version: QuoteVersion, *, actor: Actor) -> QuoteVersion:
    """Let a version expire whose good-until is past; time alone does this."""
    actor.must("tick")
    if version.good_until is None or version.good_until > clock.now():
        raise Refusal(f"{version} is good until {version.good_until}.", code="quote.still_good")
    move(version, "expire", VERSION_MOVES, actor)
    trail.write(actor, "quote expired", version, good_until=version.good_until)
    return version


def expire_due(*, actor: Actor) -> int:
    """Let every version expire whose good-until is past, each in a transaction of its own; how many."""
    actor.must("tick")
    rows = QuoteVersion.objects.filter(state="offered", good_until__lte=clock.now()).select_related("quote__shop")
    count = 0
    for version in rows.order_by("pk"):
        try:
            expire(version, actor=replace(actor, shop=version.quote.shop))
        except StateRefusal:  # answered in the meantime
            continue
        count += 1
    return count
