"""What the shop charges and allows, each from a day on. Spans by their beginnings."""

from __future__ import annotations

from django.db import models

from shopserv.common.fields import CentsField
from shopserv.shop.models.house import Business, Shop


class FromDay(models.Model):
    """A term in force from a day until the next of its kind begins."""

    from_on = models.DateField()
    source = models.CharField(max_length=200, blank=True, help_text="empty: look up before use")

    class Meta:
        abstract = True


class HouseRules(FromDay):
    """The rules of the house: margins, days, second look, course numbers, guarantee, storage."""

    SECOND_LOOK = [(x, x) for x in ("off", "exchanges", "all")]

    business = models.ForeignKey(Business, models.PROTECT, related_name="house_rules")
    version = models.PositiveIntegerField(default=1)
    margin_floor_ppm = models.PositiveIntegerField(default=450_000)
    quote_good_days = models.PositiveIntegerField(default=14)
    reminder_lead_days = models.JSONField(default=list)
    second_look = models.CharField(max_length=10, choices=SECOND_LOOK, default="all")
    leftover_first = models.BooleanField(default=False)
    distance_line_m = models.BigIntegerField(default=241_401_600)
    course_numbers = models.JSONField(default=dict, help_text="house numbers of the course templates, mL and counts")
    included_work = models.JSONField(default=dict, help_text="operation -> {work that is in it: tenths of an hour}")
    severity = models.JSONField(default=dict)
    guarantee = models.JSONField(default=dict)
    storage_terms = models.JSONField(default=dict)
    pay_period = models.JSONField(default=dict)

    class Meta:
        verbose_name_plural = "house rules"
        constraints = [models.UniqueConstraint(fields=["business", "from_on"], name="house_rules_one_a_day")]

    def __str__(self) -> str:
        return f"house rules {self.version}"


class RateCard(FromDay):
    """What an hour is sold for and what it costs."""

    shop = models.ForeignKey(Shop, models.PROTECT, related_name="rate_cards")
    sold_per_hour_cents = CentsField()
    cost_per_hour_cents = CentsField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["shop", "from_on"], name="rate_card_one_a_day"),
            models.CheckConstraint(condition=models.Q(sold_per_hour_cents__gt=0), name="rate_card_sold_above_zero"),
        ]

    def __str__(self) -> str:
        return f"{self.shop} {self.from_on}"


class MarkupTable(FromDay):
    """Marginal mark-up bands on the cost of a whole line."""

    business = models.ForeignKey(Business, models.PROTECT, related_name="markup_tables")
    customer_group = models.CharField(max_length=20, default="all")
    bands = models.JSONField(help_text="[{above_cents, markup_ppm}], rising")

    class Meta:
        constraints = [models.UniqueConstraint(fields=["customer_group", "from_on"], name="markup_one_a_day")]

    def __str__(self) -> str:
        return f"mark-up {self.from_on}"


class SuppliesRule(FromDay):
    """The supplies charge of a place, or that none may be billed."""

    KINDS = [(k, k) for k in ("none", "share of labor")]

    shop = models.ForeignKey(Shop, models.PROTECT, related_name="supplies_rules")
    code = models.CharField(max_length=30)
    kind = models.CharField(max_length=20, choices=KINDS)
    share_ppm = models.PositiveIntegerField(default=0)
    cap_cents = CentsField(null=True, blank=True)
    sentence = models.CharField(max_length=300, blank=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["shop", "from_on"], name="supplies_rule_one_a_day")]

    def __str__(self) -> str:
        return self.code


class WasteRule(FromDay):
    """What is charged for taking the used fluid."""

    shop = models.ForeignKey(Shop, models.PROTECT, related_name="waste_rules")
    code = models.CharField(max_length=30)
    kind = models.CharField(max_length=30)
    cents_per_liter = CentsField(default=0)
    sentence = models.CharField(max_length=300, blank=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["shop", "from_on"], name="waste_rule_one_a_day")]

    def __str__(self) -> str:
        return self.code


class TaxRate(FromDay):
    """One jurisdiction's rate and the kinds of line it falls on; a shop's rate is their sum."""

    shop = models.ForeignKey(Shop, models.PROTECT, related_name="tax_rates")
    jurisdiction = models.CharField(max_length=40)
    category = models.CharField(max_length=20, default="standard")
    rate_ppm = models.PositiveIntegerField(help_text="5.5 % is 55,000")
    applies_to = models.JSONField(help_text="line kind -> true or false")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["shop", "jurisdiction", "category", "from_on"], name="tax_rate_one_a_day"),
            models.CheckConstraint(condition=models.Q(rate_ppm__lte=600_000), name="tax_rate_at_most_60_percent"),
        ]

    def __str__(self) -> str:
        return f"{self.shop} {self.jurisdiction}"


class ToleranceRule(FromDay):
    """How far an invoice may pass the agreed total without a new yes."""

    KINDS = [(k, k) for k in ("none", "percent", "amount", "lesser_of", "greater_of")]

    shop = models.ForeignKey(Shop, models.PROTECT, related_name="tolerance_rules")
    code = models.CharField(max_length=30)
    kind = models.CharField(max_length=12, choices=KINDS, default="none")
    percent_ppm = models.PositiveIntegerField(null=True, blank=True)
    amount_cents = CentsField(null=True, blank=True)
    cap_cents = CentsField(null=True, blank=True)
    base = models.CharField(max_length=12, default="total")
    words = models.CharField(max_length=200)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["shop", "from_on"], name="tolerance_rule_one_a_day")]

    def __str__(self) -> str:
        return self.code
