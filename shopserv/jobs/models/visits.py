"""One stay of one vehicle, what the customer said, and what was found."""

from __future__ import annotations

from django.db import models

from shopserv.common.fields import CentsField, EditionField
from shopserv.common.frozen import Guard
from shopserv.logbook.models import OdometerReading
from shopserv.logbook.selectors import standing
from shopserv.registry.models import Customer, Vehicle
from shopserv.shop.models import Shop

VISIT_STATES = (
    "expected", "here", "waiting on word", "in work", "ready", "held for payment", "gone", "turned away",
)  # fmt: skip
OPEN_VISIT = ("here", "waiting on word", "in work", "ready", "held for payment")


class Visit(models.Model):
    """One stay of one vehicle; its number stands on every paper of the stay."""

    shop = models.ForeignKey(Shop, models.PROTECT, related_name="visits")
    number = models.CharField(max_length=20)
    vehicle = models.ForeignKey(Vehicle, models.PROTECT, related_name="visits")
    customer = models.ForeignKey(Customer, models.PROTECT, related_name="visits")
    state = models.CharField(max_length=20, choices=[(s, s) for s in VISIT_STATES], default="expected")
    state_since = models.DateTimeField()
    brought_by = models.CharField(max_length=120, blank=True)
    arrival = models.CharField(
        max_length=12, default="driven", choices=[("driven", "driven"), ("towed in", "towed in")]
    )
    expected_at = models.DateTimeField(null=True, blank=True)
    came_at = models.DateTimeField(null=True, blank=True)
    left_at = models.DateTimeField(null=True, blank=True)
    promised_from = models.DateTimeField(null=True, blank=True)
    promised_at = models.DateTimeField(null=True, blank=True)
    reading = models.ForeignKey(OdometerReading, models.PROTECT, null=True, blank=True, related_name="visits")
    fuel_eighths = models.PositiveIntegerField(null=True, blank=True)
    body_damage = models.CharField(max_length=300, blank=True)
    key_tag = models.CharField(max_length=20, blank=True)
    parking_place = models.CharField(max_length=40, blank=True)
    inspect_ok = models.BooleanField(default=False, help_text="consent to lift, drive and inspect")
    inspect_cents = CentsField(default=0, help_text="price of the inspection, 0 = free")
    old_parts_wanted = models.BooleanField(default=False)
    estimate_choice = models.CharField(max_length=80, blank=True)
    purchase_order_number = models.CharField(max_length=40, blank=True)
    storage_terms = models.JSONField(default=dict)
    answers_reminder = models.BigIntegerField(null=True, blank=True, help_text="row of reminders that it answers")
    whose_move = models.CharField(max_length=20, default="ours", help_text="ours, customer's, parts'")
    edition = EditionField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["shop", "number"], name="visit_number_once"),
            models.UniqueConstraint(
                fields=["vehicle"], condition=models.Q(state__in=OPEN_VISIT), name="visit_one_open_per_vehicle"
            ),
        ]
        indexes = [models.Index(fields=["shop", "state"])]

    def __str__(self) -> str:
        return self.number

    @property
    def odometer(self) -> OdometerReading | None:
        """What stands as read at intake: that reading, or the one it was found to have been meant for."""
        return standing(self.reading)


class Complaint(models.Model):
    """The customer's own words."""

    shop = models.ForeignKey(Shop, models.PROTECT)
    visit = models.ForeignKey(Visit, models.PROTECT, related_name="complaints")
    order = models.PositiveIntegerField(default=1)
    words = models.TextField(max_length=2000)
    lamps = models.CharField(max_length=200, blank=True)
    since = models.CharField(max_length=120, blank=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["visit", "order"], name="complaint_order_once")]

    def __str__(self) -> str:
        return self.words[:60]


class Finding(models.Model):
    """Something found, by its code of `jobs.findings.FINDINGS`. Append only: "not confirmed" is a second row."""

    STATES = [(s, s) for s in ("suspected", "confirmed", "not confirmed", "overridden")]

    shop = models.ForeignKey(Shop, models.PROTECT)
    visit = models.ForeignKey(Visit, models.PROTECT, related_name="findings")
    work_order_number = models.CharField(max_length=40, blank=True)
    code = models.CharField(max_length=6)
    state = models.CharField(max_length=14, choices=STATES)
    signs = models.JSONField(default=list, help_text="what was seen: pink milk, glycol strip positive")
    words = models.CharField(max_length=500, blank=True)
    by = models.CharField(max_length=120)
    at = models.DateTimeField()

    FROZEN = (Guard(),)

    class Meta:
        indexes = [models.Index(fields=["visit", "code", "id"])]

    def __str__(self) -> str:
        return f"{self.code} {self.state}"
