"""Customers and how they may be written to."""

from __future__ import annotations

from django.conf import settings
from django.db import models

from shopserv.common.fields import CentsField, EditionField
from shopserv.common.frozen import Guard


class Customer(models.Model):
    """A person or a firm; names repeat, the number does not."""

    KINDS = [(k, k) for k in ("person", "firm")]
    STATES = [(s, s) for s in ("current", "resting", "blanked")]

    number = models.CharField(max_length=20, unique=True)
    kind = models.CharField(max_length=10, choices=KINDS, default="person")
    is_fleet = models.BooleanField(default=False)
    name = models.CharField(max_length=120)
    language = models.CharField(max_length=5, default="en")
    preferred_way = models.CharField(max_length=20, blank=True)
    address = models.JSONField(default=list, help_text="lines")
    country = models.CharField(max_length=2, default="US")
    tax_state = models.CharField(max_length=10, default="taxed", choices=[("taxed", "taxed"), ("exempt", "exempt")])
    terms_days = models.PositiveIntegerField(default=0)
    credit_limit_cents = CentsField(null=True, blank=True)
    purchase_order_needed = models.BooleanField(default=False)
    contact_name = models.CharField(max_length=120, blank=True, help_text="a firm's contact person")
    contact_may_authorize_cents = CentsField(null=True, blank=True)
    designation_text = models.CharField(max_length=200, blank=True, help_text="who designated the contact, since when")
    note = models.CharField(max_length=300, blank=True)
    state = models.CharField(max_length=10, choices=STATES, default="current")
    edition = EditionField()

    def __str__(self) -> str:
        return self.name


class ContactPoint(models.Model):
    """A telephone number, e-mail or postal address of a customer."""

    KINDS = [(k, k) for k in ("phone", "e-mail", "post")]
    STATES = [(s, s) for s in ("good", "bounced", "withdrawn")]

    customer = models.ForeignKey(Customer, models.PROTECT, related_name="contact_points")
    kind = models.CharField(max_length=10, choices=KINDS)
    value = models.CharField(max_length=254, help_text="normal form: E.164, lower-case e-mail")
    as_typed = models.CharField(max_length=254)
    confirmed_at = models.DateTimeField(null=True, blank=True)
    state = models.CharField(max_length=10, choices=STATES, default="good")

    class Meta:
        constraints = [models.UniqueConstraint(fields=["customer", "kind", "value"], name="contact_point_once")]

    def __str__(self) -> str:
        return f"{self.kind} of {self.customer}"


class MessageConsent(models.Model):
    """Permission given or withdrawn for one purpose at one contact point; the newest row rules. Append only."""

    PURPOSES = [(p, p) for p in ("status", "reminder", "offer")]

    contact_point = models.ForeignKey(ContactPoint, models.PROTECT, related_name="consents")
    purpose = models.CharField(max_length=10, choices=PURPOSES)
    given = models.BooleanField()
    at = models.DateTimeField()
    how = models.CharField(max_length=80)
    words = models.CharField(max_length=300, blank=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True)

    FROZEN = (Guard(),)

    class Meta:
        indexes = [models.Index(fields=["contact_point", "purpose", "id"])]

    def __str__(self) -> str:
        return f"{self.purpose} {'given' if self.given else 'withdrawn'}"


class ExemptionCertificate(models.Model):
    """A paper by which a customer need not pay tax at a place, from and to the dates on it."""

    customer = models.ForeignKey(Customer, models.PROTECT, related_name="exemptions")
    number = models.CharField(max_length=60)
    place = models.CharField(max_length=60, blank=True)
    reason = models.CharField(max_length=120, blank=True)
    from_on = models.DateField()
    to_on = models.DateField(null=True, blank=True)
    state = models.CharField(max_length=10, default="valid")

    class Meta:
        constraints = [models.UniqueConstraint(fields=["customer", "number"], name="exemption_once")]

    def __str__(self) -> str:
        return self.number


class StandingAgreement(models.Model):
    """What a customer has agreed to beforehand, from and to the dates on it."""

    customer = models.ForeignKey(Customer, models.PROTECT, related_name="agreements")
    signed_by = models.CharField(max_length=120)
    from_on = models.DateField()
    to_on = models.DateField(null=True, blank=True)
    covers = models.CharField(max_length=300)
    up_to_cents = CentsField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["customer", "from_on"], name="agreement_once")]

    def __str__(self) -> str:
        return f"agreement of {self.customer}"
