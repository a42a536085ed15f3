"""Stored forecasts and the reminders made from them."""

from __future__ import annotations

from datetime import date

from django.db import models
from django.db.models.functions import Coalesce

from shopserv.common.fields import CentsField
from shopserv.registry.models import Customer, Vehicle
from shopserv.shop.models import Shop

# Where a forecast stands on a list: what is past by distance stands on the day that the readings ran through it.
STANDS_ON = Coalesce("crossed_on", "due_on")


class Forecast(models.Model):
    """When a vehicle is due, by two clocks. The newest counts; older ones are kept."""

    vehicle = models.ForeignKey(Vehicle, models.PROTECT, related_name="forecasts")
    shop = models.ForeignKey(Shop, models.PROTECT, help_text="whose due list it stands on: the shop that saw it last")
    keeper = models.ForeignKey(Customer, models.PROTECT, null=True, blank=True)
    made_at = models.DateTimeField()
    is_current = models.BooleanField(default=True)
    due_on = models.DateField(null=True, help_text="likely: the earlier clock")
    early_on = models.DateField(null=True)
    late_on = models.DateField(null=True, help_text="null: no late edge (the vehicle hardly moves)")
    distance_due_on = models.DateField(null=True)
    months_due_on = models.DateField(null=True)
    crossed_on = models.DateField(
        null=True, help_text="where distance governs and is past: the day the readings ran through it"
    )
    governs = models.CharField(max_length=10, blank=True, help_text="distance or months")
    rate_low_m_day = models.BigIntegerField(null=True)
    rate_m_day = models.BigIntegerField(null=True, help_text="likely, meters a day")
    rate_high_m_day = models.BigIntegerField(null=True)
    left_m = models.BigIntegerField(null=True, help_text="distance left on the fluid, negative when past")
    months_left_thousandths = models.IntegerField(null=True)
    last_reading_on = models.DateField(null=True)
    worth_cents = CentsField(null=True, help_text="work value of what is due")
    worth_method = models.CharField(max_length=60, blank=True)
    grade = models.CharField(max_length=24, default="as it should be")
    reason = models.CharField(max_length=300, blank=True)
    working = models.JSONField(default=dict)
    inputs_hash = models.CharField(max_length=64)
    calc_version = models.CharField(max_length=10)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["vehicle", "made_at"], name="forecast_one_a_moment"),
            models.UniqueConstraint(
                fields=["vehicle"], condition=models.Q(is_current=True), name="forecast_current_once"
            ),
        ]
        indexes = [
            models.Index("shop", STANDS_ON, "vehicle", name="forecast_stands", condition=models.Q(is_current=True)),
            models.Index(STANDS_ON, "vehicle", name="forecast_stands_all", condition=models.Q(is_current=True)),
        ]

    def __str__(self) -> str:
        return f"forecast of {self.vehicle}"

    @property
    def told_on(self) -> date | None:
        """The day on which it is due, or was: past by distance since the readings ran through it."""
        return self.crossed_on or self.due_on


class Reminder(models.Model):
    """A letter planned, sent and answered for one forecast by one channel."""

    STATES = [(s, s) for s in ("planned", "sent", "answered", "booked", "stopped")]

    vehicle = models.ForeignKey(Vehicle, models.PROTECT, related_name="reminders")
    shop = models.ForeignKey(Shop, models.PROTECT)
    forecast = models.ForeignKey(Forecast, models.PROTECT, related_name="reminders")
    customer = models.ForeignKey(Customer, models.PROTECT)
    channel = models.CharField(max_length=10, default="e-mail")
    contact_point_key = models.BigIntegerField()
    lead_days = models.PositiveIntegerField()
    send_on = models.DateField()
    state = models.CharField(max_length=10, choices=STATES, default="planned")
    why = models.CharField(max_length=200, blank=True)
    sent_at = models.DateTimeField(null=True, blank=True)
    text_version = models.PositiveIntegerField(default=1)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["vehicle", "forecast", "channel"],
                condition=~models.Q(state="stopped"),  # what was stopped may be planned again
                name="reminder_once_unless_stopped",
            )
        ]
        indexes = [models.Index(fields=["state", "send_on"])]

    def __str__(self) -> str:
        return f"reminder for {self.vehicle}"
