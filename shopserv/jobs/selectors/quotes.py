"""Quotes of the actor's shop, and the one version that a customer's link opens."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import FilteredRelation, Prefetch, Q, QuerySet
from django.http import Http404
from django.shortcuts import get_object_or_404

from shopserv.calc.authorization import tolerance
from shopserv.calc.money import amount, cents
from shopserv.common import clock
from shopserv.common.errors import NotYours
from shopserv.jobs import sums
from shopserv.jobs.findings import Standing
from shopserv.jobs.models import Authorization, Line, Option, Quote, QuoteVersion, Visit
from shopserv.jobs.selectors.visits import standing
from shopserv.shop.actors import Actor
from shopserv.shop.models import Shop, TrailEntry

DEEP = Prefetch(
    "options",
    Option.objects.order_by("letter").prefetch_related(Prefetch("lines", Line.objects.order_by("order"))),
)


@dataclass(frozen=True, slots=True)
class Column:
    """One option of the quote sheet, side by side with the others.

    margin_cents, margin_ppm   of the high total; none for who may not see them
    low_margin_cents           of the low end of the fill, where it is a band and they may be seen
    blank                      keys of lines whose price was left blank
    """

    option: Option
    lines: tuple[Line, ...]
    margin_cents: int | None
    margin_ppm: int | None
    blank: tuple[str, ...]
    low_margin_cents: int | None = None

    @property
    def low_tax_cents(self) -> int:
        """The tax of the low total, so that the low column adds up."""
        return self.option.low_total_cents - sum(line.low_price_cents for line in self.lines)


@dataclass(frozen=True, slots=True)
class QuoteSheet:
    """One version of a quote with all that its page shows.

    version         the draft if there is one, else the newest
    earlier         the other versions, newest first
    authorization   the one that counts
    """

    quote: Quote
    version: QuoteVersion
    columns: tuple[Column, ...]
    earlier: tuple[QuoteVersion, ...]
    findings: tuple[Standing, ...]
    authorization: Authorization | None


@dataclass(frozen=True, slots=True)
class Choice:
    """One option as the customer sees it: no cost, no margin.

    agreed_cents   what a yes agrees: the total, and what was agreed before where the version only adds
    over_cents     what the tolerance lets an invoice go beyond that without a new yes
    bought         what the money buys (jobs.bought.bought_by), empty where the clocks are not known
    """

    pk: int
    letter: str
    title: str
    lines: tuple[Line, ...]
    total_cents: int
    low_total_cents: int
    tax_cents: int
    agreed_cents: int
    over_cents: int
    fraction_low_ppm: int | None
    fraction_high_ppm: int | None
    course: dict[str, Any]
    bought: dict[str, Any]
    not_included: str
    is_recommended: bool

    @property
    def is_at_most(self) -> bool:
        """Whether the total is the upper end of a band."""
        return self.low_total_cents != self.total_cents


@dataclass(frozen=True, slots=True)
class Decision:
    """What the holder of a link is asked.

    state            offered (may be answered), agreed, declined, expired, replaced
    new_total_cents  of an addition: what is agreed before and this together
    changes          of a replaced version: at most three lines that say what differs in the newer one
    agreed           letter of the option that was agreed on this version
    yes              the authorization behind it; none where nothing was agreed on this version
    other_yes        the authorization that counts, where it was given to another version of the quote
    declined_at      of a declined version
    odometer         as read on the visit: "63,180 mi"; empty where it was not
    tolerance        how far an invoice may go beyond what is agreed, as the version froze it
    newer_totals     of a replaced version: letter -> total in cents on the newer one
    """

    shop: Shop
    quote_number: str
    version: int
    vehicle: str
    plate_number: str
    state: str
    offered_at: datetime | None
    good_until: datetime | None
    check_words: str
    version_hash: str
    choices: tuple[Choice, ...]
    why: str
    note: str
    findings: tuple[tuple[str, str], ...]
    tolerance: dict[str, Any]
    is_addition: bool
    agreed_before_cents: int | None
    agreed: str
    changes: tuple[str, ...]
    yes: Authorization | None
    other_yes: Authorization | None
    declined_at: datetime | None
    odometer: str
    old_parts_wanted: bool
    purchase_order_needed: bool
    is_fleet: bool
    newer_totals: dict[str, int]


def quotes_of(actor: Actor) -> QuerySet[Quote]:
    """Quotes of the actor's shop, newest first, with all that a list prints."""
    actor.must("see prices")
    rows = Quote.objects.filter(shop=actor.house).select_related("vehicle", "customer", "visit", "shop__business")
    return rows.prefetch_related(Prefetch("versions", QuoteVersion.objects.order_by("version"))).order_by("-pk")


def on_offer_for(actor: Actor, visit: Visit) -> QuoteVersion | None:
    """The newest version of a visit's quotes that is on offer, with its options; none: nothing was offered yet."""
    rows = versions_of(actor).filter(quote__visit=visit, state="offered")
    return rows.prefetch_related(DEEP).order_by("-pk").first()


def quotes_on(actor: Actor, visit: Visit) -> list[Quote]:
    """The quotes of one visit, newest first."""
    return list(quotes_of(actor).filter(visit=visit))


def quote_for(actor: Actor, number: str) -> Quote:
    """One quote of the actor's shop by its number; Http404 for any other."""
    return get_object_or_404(quotes_of(actor), number=number)


def versions_of(actor: Actor) -> QuerySet[QuoteVersion]:
    """The versions that the actor may read: those of the shop for writer and owner, the one that a link opens."""
    rows = QuoteVersion.objects.select_related(
        "quote__shop__business", "quote__vehicle", "quote__customer", "quote__visit__reading", "adds_to", "made_by"
    )
    if actor.link is not None:
        number, _, version = actor.link.subject.rpartition("/")
        if actor.link.opens != "quote version" or not version.isdecimal():
            return rows.none()
        return rows.filter(quote__number=number, version=int(version), shop=actor.house).exclude(state="draft")
    actor.must("see prices")
    return rows.filter(shop=actor.house)


def version_for(actor: Actor, number: str, version: int) -> QuoteVersion:
    """One version with its options and lines; Http404 for one that the actor may not read."""
    return get_object_or_404(versions_of(actor).prefetch_related(DEEP), quote__number=number, version=version)


def option_for(actor: Actor, pk: int) -> Option:
    """One option of a version that the actor may read; Http404 for any other."""
    rows = Option.objects.select_related("version__quote__shop__business", "version__quote__customer")
    return get_object_or_404(rows, pk=pk, version__in=versions_of(actor))


def quote_sheet(actor: Actor, number: str) -> QuoteSheet:
    """The quote sheet: the draft or the newest version; three queries, however many options and lines."""
    actor.must("see prices")
    counted = FilteredRelation("quote__authorizations", condition=Q(quote__authorizations__state="counted"))
    rows = versions_of(actor).filter(quote__number=number).annotate(counted=counted)
    rows = rows.select_related("counted__option__version__quote")  # type: ignore[misc]  # the plugin knows no relation that is annotated
    versions = list(rows.order_by("-version", "counted__pk"))
    if not versions:
        raise Http404("no such quote")
    version = versions[0]
    visit = version.quote.visit
    return QuoteSheet(
        quote=version.quote,
        version=version,
        columns=tuple(_column(actor, option, lines, version) for option, lines in _with_lines(version)),
        earlier=tuple({older.pk: older for older in versions if older.pk != version.pk}.values()),
        findings=standing(visit) if visit else (),
        authorization=getattr(version, "counted", None),
    )


def _with_lines(version: QuoteVersion) -> list[tuple[Option, tuple[Line, ...]]]:
    """The options of a version by letter, each with its lines in order; one query, options without a line included."""
    rows = version.options.annotate(line=FilteredRelation("lines")).select_related("line")  # type: ignore[misc]
    found: dict[int, tuple[Option, list[Line]]] = {}
    for option in rows.order_by("letter", "line__order"):
        lines = found.setdefault(option.pk, (option, []))[1]
        if line := getattr(option, "line", None):
            lines.append(line)
    return [(option, tuple(lines)) for option, lines in found.values()]


def _column(actor: Actor, option: Option, lines: tuple[Line, ...], version: QuoteVersion) -> Column:
    own = actor.may("see cost") or (actor.may("see own margin") and version.made_by == actor.staff)
    margin = option.net_cents - option.cost_cents
    return Column(
        option=option,
        lines=lines,
        margin_cents=margin if own else None,
        margin_ppm=margin * 1_000_000 // option.net_cents if own and option.net_cents > 0 else None,
        blank=tuple(line.text for line in lines if line.detail.get("blank")),
        low_margin_cents=_low_margin(option) if own and option.low_total_cents != option.total_cents else None,
    )


def _low_margin(option: Option) -> int:
    """The margin at the low end of the fill, priced again from what was frozen."""
    fluids = [{**row, "need_ml": row["low_need_ml"]} for row in option.snapshot.get("fluids", [])]
    return sums.price({**option.snapshot, "fluids": fluids}).margin_cents


def customer_decision(actor: Actor) -> Decision:
    """What the holder of a link is asked; Http404 unless the link opens a version."""
    if actor.link is None:
        raise NotYours("for the holder of a link")
    version = versions_of(actor).prefetch_related(DEEP).first()
    if version is None:
        raise Http404("no such version")
    return _decision(version)


def preview(actor: Actor, number: str, version: int) -> Decision:
    """The customer's page as the writer may look at it."""
    return _decision(version_for(actor, number, version))


def _decision(version: QuoteVersion) -> Decision:
    quote = version.quote
    past = version.state == "offered" and version.good_until is not None and version.good_until <= clock.now()
    given = list(quote.authorizations.order_by("-pk").select_related("option__version"))
    counted = next((one for one in given if one.option.version_id == version.pk), None)
    found = standing(quote.visit) if quote.visit else ()
    newer = _newer(version) if version.state == "replaced" else None
    reading = quote.visit.odometer if quote.visit else None
    return Decision(
        shop=quote.shop,
        quote_number=quote.number,
        version=version.version,
        vehicle=quote.vehicle.words,
        plate_number=quote.vehicle.number,
        state="expired" if past else version.state,
        offered_at=version.offered_at,
        good_until=version.good_until,
        check_words=version.check_words,
        version_hash=version.snapshot_hash,
        choices=tuple(_choice(option, version) for option in version.options.all()),
        why=version.why,
        note=version.note,
        findings=tuple((one.grade, one.customer_words) for one in found if one.stands),
        tolerance=version.rules["tolerance"],
        is_addition=version.is_addition,
        agreed_before_cents=version.adds_to.amount_cents if version.adds_to else None,
        agreed=counted.option.letter if counted else "",
        changes=tuple(what_changed(version, newer)[:3]) if newer else (),
        yes=counted,
        other_yes=next((one for one in given if one.state == "counted" and one.option.version_id != version.pk), None),
        declined_at=_declined_at(version) if version.state == "declined" else None,
        odometer=f"{reading.figure:,} {reading.unit}" if reading else "",
        old_parts_wanted=bool(quote.visit and quote.visit.old_parts_wanted),
        purchase_order_needed=quote.customer.purchase_order_needed and not quote.purchase_order_number,
        is_fleet=quote.customer.is_fleet,
        newer_totals={option.letter: option.total_cents for option in newer.options.all()} if newer else {},
    )


def _declined_at(version: QuoteVersion) -> datetime | None:
    rows = TrailEntry.objects.filter(subject_kind="quoteversion", subject_key=str(version.pk), what="quote declined")
    return rows.order_by("-pk").values_list("at", flat=True).first()


def _choice(option: Option, version: QuoteVersion) -> Choice:
    before = version.adds_to
    agreed = option.total_cents + (before.amount_cents if before else 0)
    tax = option.tax_cents + (before.tax_cents if before else 0)
    rule = sums.tolerance_rule(version.rules["tolerance"])
    return Choice(
        pk=option.pk,
        letter=option.letter,
        title=option.title,
        lines=tuple(option.lines.all()),
        total_cents=option.total_cents,
        low_total_cents=option.low_total_cents,
        tax_cents=option.tax_cents,
        agreed_cents=agreed,
        over_cents=cents(tolerance(rule, amount(agreed), amount(tax))),
        fraction_low_ppm=option.fraction_low_ppm,
        fraction_high_ppm=option.fraction_high_ppm,
        course=option.course,
        bought=option.bought or {},
        not_included=option.not_included,
        is_recommended=option.letter == version.recommended,
    )


def _newer(version: QuoteVersion) -> QuoteVersion | None:
    """The newest version after this one that a customer may see."""
    rows = version.quote.versions.filter(version__gt=version.version).exclude(state="draft")
    return rows.prefetch_related(DEEP).order_by("-version").first()


def what_changed(before: QuoteVersion, after: QuoteVersion) -> list[str]:
    """What differs between two versions, one sentence an option."""
    old = {option.letter: option for option in before.options.all()}
    new = {option.letter: option for option in after.options.all()}
    said = []
    for letter in sorted({*old, *new}):
        a, b = old.get(letter), new.get(letter)
        if a is None and b is not None:
            said.append(f"Option {letter} is new: {b.title}, ${b.total_cents / 100:,.2f}")
        elif b is None and a is not None:
            said.append(f"Option {letter} ({a.title}) is no longer offered")
        elif a is not None and b is not None and (a.title, a.total_cents) != (b.title, b.total_cents):
            said.append(_other(a, b))
        elif a is not None and b is not None and _said(a.lines.all()) != _said(b.lines.all()):
            said.append(f"Option {letter}: other parts or quantities for the same total")
    return said


def _other(a: Option, b: Option) -> str:
    before, after = f"${a.total_cents / 100:,.2f}", f"${b.total_cents / 100:,.2f}"
    if a.title != b.title:
        return f"Option {a.letter} was {a.title} for {before}, now {b.title} for {after}"
    return f"Option {a.letter} was {before}, now {after}"


def _said(lines: Iterable[Line]) -> list[tuple[str, str, int]]:
    return [(row.kind, row.text, row.quantity_thousandths) for row in sorted(lines, key=lambda row: row.order)]
