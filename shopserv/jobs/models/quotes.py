"""Quotes with versions, options and frozen lines, and the customer's consent."""

from __future__ import annotations

from django.conf import settings
from django.db import models

from shopserv.common.fields import LARGEST_CENTS, CentsField, EditionField
from shopserv.common.frozen import Guard
from shopserv.jobs.models.visits import Visit
from shopserv.registry.models import Customer, Vehicle
from shopserv.shop.models import Shop

LINE_KINDS = ("labor", "diagnosis", "fluid", "part", "core", "sublet", "supplies", "waste", "discount", "fee")


class Quote(models.Model):
    """A number under which versions are offered. Closes with its last version."""

    shop = models.ForeignKey(Shop, models.PROTECT, related_name="quotes")
    number = models.CharField(max_length=20)
    visit = models.ForeignKey(Visit, models.PROTECT, null=True, blank=True, related_name="quotes")
    vehicle = models.ForeignKey(Vehicle, models.PROTECT, related_name="quotes")
    customer = models.ForeignKey(Customer, models.PROTECT, related_name="quotes")
    purchase_order_number = models.CharField(max_length=40, blank=True)
    estimate_choice = models.CharField(max_length=80, blank=True)
    made_at = models.DateTimeField()
    edition = EditionField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["shop", "number"], name="quote_number_once")]

    def __str__(self) -> str:
        return self.number


class QuoteVersion(models.Model):
    """One version: up to four options, frozen when it is offered."""

    STATES = [(s, s) for s in ("draft", "offered", "agreed", "declined", "expired", "replaced")]

    shop = models.ForeignKey(Shop, models.PROTECT)
    quote = models.ForeignKey(Quote, models.PROTECT, related_name="versions")
    version = models.PositiveIntegerField()
    state = models.CharField(max_length=10, choices=STATES, default="draft")
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True)
    made_at = models.DateTimeField()
    offered_at = models.DateTimeField(null=True, blank=True)
    good_until = models.DateTimeField(null=True, blank=True)
    recommended = models.CharField(max_length=1, blank=True)
    why = models.CharField(max_length=300, blank=True, help_text="the sentence behind the recommendation")
    note = models.CharField(max_length=500, blank=True, help_text="words to the customer")
    is_addition = models.BooleanField(default=False, help_text="lists only what is added to an agreed option")
    adds_to = models.ForeignKey("Authorization", models.PROTECT, null=True, blank=True, related_name="additions")
    inputs = models.JSONField(default=dict, help_text="what the plan was computed from: unit, sheet version, edits")
    rules = models.JSONField(default=dict, help_text="terms in force: rates, mark-up, tax, tolerance, course numbers")
    snapshot_hash = models.CharField(max_length=64, blank=True)
    check_words = models.CharField(max_length=40, blank=True)
    calc_version = models.CharField(max_length=10, blank=True)
    edition = EditionField()

    FROZEN = (Guard(besides=("state", "edition"), while_sql="{row}.state = 'draft'"),)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["quote", "version"], name="quote_version_once"),
            models.UniqueConstraint(
                fields=["quote"], condition=models.Q(state="draft"), name="quote_version_one_draft"
            ),
            models.UniqueConstraint(
                fields=["quote"], condition=models.Q(state="offered"), name="quote_version_one_on_offer"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.quote.number} version {self.version}"


class Option(models.Model):
    """One priced way of doing the job."""

    KINDS = [(k, k) for k in ("work", "diagnosis", "teardown", "addition")]

    shop = models.ForeignKey(Shop, models.PROTECT)
    version = models.ForeignKey(QuoteVersion, models.PROTECT, related_name="options")
    letter = models.CharField(max_length=1)
    kind = models.CharField(max_length=10, choices=KINDS, default="work")
    method = models.CharField(max_length=60, blank=True)
    title = models.CharField(max_length=160)
    course = models.JSONField(default=dict, help_text="stages, levels, liters, fraction band (calc.courses)")
    tenths = models.PositiveIntegerField(default=0)
    net_cents = CentsField()
    tax_cents = CentsField()
    total_cents = CentsField(help_text="the high total where the fill is not known")
    low_total_cents = CentsField(help_text="equal to total unless the fill is a band")
    cost_cents = CentsField()
    fraction_low_ppm = models.PositiveIntegerField(null=True, blank=True)
    fraction_high_ppm = models.PositiveIntegerField(null=True, blank=True)
    bought = models.JSONField(default=dict, help_text="what the money buys (calc.forecast.bought)")
    not_included = models.CharField(max_length=300, blank=True)
    snapshot = models.JSONField(default=dict, help_text="calc.plan snapshot from which the sums can be made again")
    working = models.JSONField(default=dict)

    FROZEN = (
        Guard(
            while_sql="(SELECT v.state FROM jobs_quoteversion v WHERE v.id = {row}.version_id) = 'draft'", and_new=True
        ),
    )

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["version", "letter"], name="option_letter_once"),
            models.CheckConstraint(
                condition=models.Q(total_cents__gte=0, total_cents__lte=LARGEST_CENTS), name="option_total_in_range"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.version} option {self.letter}"


class Line(models.Model):
    """One line of an option, frozen with its version."""

    shop = models.ForeignKey(Shop, models.PROTECT)
    option = models.ForeignKey(Option, models.PROTECT, related_name="lines")
    order = models.PositiveIntegerField()
    kind = models.CharField(max_length=10, choices=[(k, k) for k in LINE_KINDS])
    number = models.CharField(max_length=40, blank=True, help_text="part or fluid code")
    text = models.CharField(max_length=200)
    quantity_thousandths = models.BigIntegerField(default=1000)
    unit = models.CharField(max_length=10, blank=True, help_text="h, L, piece")
    unit_price_cents = CentsField(null=True, blank=True)
    price_cents = CentsField()
    low_price_cents = CentsField(help_text="equal to price unless the fill is a band")
    cost_cents = CentsField(default=0)
    is_taxed = models.BooleanField(default=False)
    tax_rate_ppm = models.PositiveIntegerField(default=0)
    condition = models.CharField(max_length=10, blank=True, help_text="new, rebuilt, used")
    detail = models.JSONField(default=dict, help_text="packages, planned and bought mL, leftover, vendor")

    FROZEN = (
        Guard(
            while_sql="(SELECT v.state FROM jobs_quoteversion v JOIN jobs_option o ON o.version_id = v.id "
            "WHERE o.id = {row}.option_id) = 'draft'",
            and_new=True,
        ),
    )

    class Meta:
        constraints = [models.UniqueConstraint(fields=["option", "order"], name="line_order_once")]

    def __str__(self) -> str:
        return self.text

    @property
    def tenths(self) -> int | None:
        """Its own labor in tenths of an hour; none of a line without hours."""
        return self.quantity_thousandths // 100 if self.unit == "h" else None


class Authorization(models.Model):
    """The customer's yes: who, when, which version and option, how much, by which rule. Changed by moves alone."""

    STATES = [(s, s) for s in ("counted", "added to", "replaced", "taken back")]
    WAYS = [
        (w, w)
        for w in ("signature", "telephone", "e-mail", "page", "after-hours drop", "standing agreement", "in person")
    ]

    shop = models.ForeignKey(Shop, models.PROTECT)
    quote = models.ForeignKey(Quote, models.PROTECT, related_name="authorizations")
    option = models.ForeignKey(Option, models.PROTECT, related_name="authorizations")
    state = models.CharField(max_length=10, choices=STATES, default="counted")
    amount_cents = CentsField(help_text="new agreed total, tax included")
    tax_cents = CentsField(default=0)
    added_cents = CentsField(null=True, blank=True)
    added_text = models.CharField(max_length=500, blank=True)
    version_hash = models.CharField(max_length=64)
    check_words = models.CharField(max_length=40)
    person = models.CharField(max_length=120)
    capacity = models.CharField(max_length=40, default="keeper")
    designation = models.CharField(max_length=200, blank=True)
    way = models.CharField(max_length=20, choices=WAYS)
    contact_used = models.CharField(max_length=254, blank=True, help_text="telephone number or address used")
    words_read = models.TextField(blank=True)
    purchase_order_number = models.CharField(max_length=40, blank=True)
    old_parts_wanted = models.BooleanField(default=False)
    rule = models.JSONField(default=dict, help_text="the tolerance in force, in figures and words")
    recorded_by = models.CharField(max_length=120)
    at = models.DateTimeField()
    peer_address = models.CharField(max_length=64, blank=True)
    taken_back_at = models.DateTimeField(null=True, blank=True)
    taken_back_words = models.CharField(max_length=300, blank=True)

    FROZEN = (Guard(besides=("state", "taken_back_at", "taken_back_words")),)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["quote"], condition=models.Q(state="counted"), name="authorization_one_counted_per_quote"
            )
        ]

    def __str__(self) -> str:
        return f"authorization of {self.quote.number}"


class CustomerEvent(models.Model):
    """What a customer did on a link that counts for nothing but is kept: opened, a late yes, a second answer."""

    shop = models.ForeignKey(Shop, models.PROTECT)
    version = models.ForeignKey(QuoteVersion, models.PROTECT, related_name="events")
    what = models.CharField(max_length=40)
    detail = models.JSONField(default=dict)
    who = models.CharField(max_length=120)
    at = models.DateTimeField()

    def __str__(self) -> str:
        return self.what
