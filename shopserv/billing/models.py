"""Invoices: issued once, never changed."""

from __future__ import annotations

from django.db import models

from shopserv.common.fields import CentsField
from shopserv.common.frozen import Guard
from shopserv.jobs.models import WorkOrder
from shopserv.registry.models import Customer, Vehicle
from shopserv.shop.models import Shop


class Invoice(models.Model):
    """An invoice (type 380) or, later, a credit note (381)."""

    KINDS = [(k, k) for k in ("invoice", "credit note")]
    STATES = [(s, s) for s in ("issued", "partly paid", "paid", "credited")]

    shop = models.ForeignKey(Shop, models.PROTECT, related_name="invoices")
    kind = models.CharField(max_length=12, choices=KINDS, default="invoice")
    year = models.PositiveIntegerField()
    number = models.CharField(max_length=24)
    state = models.CharField(max_length=12, choices=STATES, default="issued")
    work_order = models.ForeignKey(WorkOrder, models.PROTECT, related_name="invoices")
    customer = models.ForeignKey(Customer, models.PROTECT, related_name="invoices")
    vehicle = models.ForeignKey(Vehicle, models.PROTECT, related_name="invoices")
    refers_to = models.ForeignKey("self", models.PROTECT, null=True, blank=True, related_name="credits")
    issued_on = models.DateField()
    issued_at = models.DateTimeField()
    delivered_on = models.DateField()
    due_on = models.DateField()
    purchase_order_number = models.CharField(max_length=40, blank=True)
    net_cents = CentsField()
    tax_cents = CentsField()
    total_cents = CentsField()
    tax_by_rate = models.JSONField(default=list, help_text="[{rate_ppm, base_cents, tax_cents}] by rising rate")
    exemption_text = models.CharField(max_length=200, blank=True)
    guarantee_text = models.CharField(max_length=300, blank=True)
    snapshot_hash = models.CharField(max_length=64)
    issued_by = models.CharField(max_length=120)

    FROZEN = (Guard(besides=("state",)),)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["shop", "number"], name="invoice_number_once"),
            models.CheckConstraint(
                condition=models.Q(total_cents=models.F("net_cents") + models.F("tax_cents")), name="invoice_adds_up"
            ),
        ]

    def __str__(self) -> str:
        return self.number


class InvoiceLine(models.Model):
    """One line of an invoice, frozen with it."""

    shop = models.ForeignKey(Shop, models.PROTECT)
    invoice = models.ForeignKey(Invoice, models.PROTECT, related_name="lines")
    order = models.PositiveIntegerField()
    kind = models.CharField(max_length=10)
    number = models.CharField(max_length=40, blank=True)
    text = models.CharField(max_length=200)
    quantity_thousandths = models.BigIntegerField()
    unit = models.CharField(max_length=10, blank=True)
    unit_price_cents = CentsField(null=True, blank=True)
    price_cents = CentsField()
    is_taxed = models.BooleanField()
    tax_rate_ppm = models.PositiveIntegerField(default=0)
    condition = models.CharField(max_length=10, blank=True)
    detail = models.JSONField(default=dict)
    billed_line = models.BigIntegerField(null=True, blank=True, help_text="row of the quote line it bills")

    FROZEN = (Guard(),)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["invoice", "order"], name="invoice_line_order_once")]

    def __str__(self) -> str:
        return self.text
