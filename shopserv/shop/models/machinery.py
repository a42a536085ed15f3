"""Number series, once-keys, kept drafts, links and the trail."""

from __future__ import annotations

from django.conf import settings
from django.db import models

from shopserv.common.frozen import Guard
from shopserv.shop.models.house import Shop


class NumberSeries(models.Model):
    """A counter a shop and kind: moves up by one inside the transaction that uses the number."""

    shop = models.ForeignKey(Shop, models.PROTECT, related_name="series")
    kind = models.CharField(max_length=20)
    year = models.PositiveIntegerField(default=0, help_text="0 = never begins again")
    next = models.PositiveIntegerField(default=1)

    class Meta:
        verbose_name_plural = "number series"
        constraints = [models.UniqueConstraint(fields=["shop", "kind", "year"], name="number_series_once")]

    def __str__(self) -> str:
        return f"{self.shop} {self.kind} {self.year or ''}".strip()


class OnceKey(models.Model):
    """A request that was answered, so that its repeat gets the same answer."""

    shop = models.ForeignKey(Shop, models.PROTECT, null=True, blank=True)
    who = models.CharField(max_length=80)
    route = models.CharField(max_length=120)
    key = models.CharField(max_length=255)
    request_hash = models.CharField(max_length=64)
    answer = models.JSONField(null=True, blank=True)
    at = models.DateTimeField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["who", "route", "key"], name="once_key_once")]

    def __str__(self) -> str:
        return f"{self.who} {self.route}"


class KeptDraft(models.Model):
    """What somebody typed on a page and has not saved."""

    staff = models.ForeignKey(settings.AUTH_USER_MODEL, models.CASCADE, related_name="drafts")
    shop = models.ForeignKey(Shop, models.CASCADE)
    page = models.CharField(max_length=60)
    subject = models.CharField(max_length=60, blank=True)
    fields = models.JSONField(default=dict)
    at = models.DateTimeField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["staff", "page", "subject"], name="kept_draft_once")]

    def __str__(self) -> str:
        return f"{self.staff} {self.page}"


class CustomerLink(models.Model):
    """A link that opens one thing; only the hash of its token is kept."""

    OPENS = [(k, k) for k in ("quote version", "vehicle", "fleet", "dates")]

    shop = models.ForeignKey(Shop, models.PROTECT, related_name="links")
    holder = models.CharField(max_length=120, help_text="name of the person it was given to")
    customer_key = models.BigIntegerField(null=True, blank=True)
    opens = models.CharField(max_length=20, choices=OPENS)
    subject = models.CharField(max_length=60, help_text="printed number and version: BRW-Q-118/3")
    token_hash = models.CharField(max_length=64, unique=True)
    made_at = models.DateTimeField()
    expires_at = models.DateTimeField()
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    last_used_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        indexes = [models.Index(fields=["subject"])]

    def __str__(self) -> str:
        return f"{self.opens} {self.subject}"


class TrailEntry(models.Model):
    """What was done to the records, by whom; append only, sealed into a chain of hashes."""

    shop = models.ForeignKey(Shop, models.PROTECT, null=True, blank=True)
    staff = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True)
    who = models.CharField(max_length=120)
    what = models.CharField(max_length=60)
    subject_kind = models.CharField(max_length=40)
    subject_key = models.CharField(max_length=40)
    subject = models.CharField(max_length=160)
    before = models.JSONField(default=dict)
    after = models.JSONField(default=dict)
    at = models.DateTimeField()
    from_where = models.CharField(max_length=80, blank=True)
    request_id = models.CharField(max_length=40, blank=True)
    previous_hash = models.CharField(max_length=64, blank=True)
    own_hash = models.CharField(max_length=64, blank=True)

    FROZEN = (
        Guard(besides=("previous_hash", "own_hash")),
        Guard(columns=("previous_hash", "own_hash"), while_sql="{row}.own_hash = ''"),
    )

    class Meta:
        verbose_name_plural = "trail entries"
        indexes = [
            models.Index(fields=["subject_kind", "subject_key"]),
            models.Index(fields=["shop", "id"]),
            models.Index(fields=["own_hash"], name="trail_unsealed", condition=models.Q(own_hash="")),
        ]

    def __str__(self) -> str:
        return f"{self.who}: {self.what} {self.subject}"
