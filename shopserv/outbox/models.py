"""Letters waiting to be sent, and what became of them."""

from __future__ import annotations

from django.db import models

from shopserv.shop.models import Shop


class Letter(models.Model):
    """One message to one contact point, kept as it was sent."""

    STATES = [(s, s) for s in ("waiting", "sent", "came back", "canceled")]

    shop = models.ForeignKey(Shop, models.PROTECT, related_name="letters")
    once_key = models.CharField(max_length=120, unique=True)
    purpose = models.CharField(max_length=20)
    contact_point_key = models.BigIntegerField(help_text="row of registry; permission is asked again when it is sent")
    address_kind = models.CharField(max_length=10)
    address = models.CharField(max_length=254)
    subject = models.CharField(max_length=200)
    language = models.CharField(max_length=5, default="en")
    text = models.TextField()
    about = models.CharField(max_length=60, help_text="number of what it carries: a reminder, a quote version")
    not_before = models.DateTimeField()
    state = models.CharField(max_length=10, choices=STATES, default="waiting")
    tries = models.PositiveIntegerField(default=0)
    sent_at = models.DateTimeField(null=True, blank=True)
    why = models.CharField(max_length=200, blank=True, help_text="why it was canceled or came back")

    class Meta:
        indexes = [models.Index(fields=["state", "not_before"]), models.Index(fields=["about"])]

    def __str__(self) -> str:
        return f"letter {self.about}"
