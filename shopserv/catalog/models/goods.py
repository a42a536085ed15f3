"""Fluids, packages, parts and labor operations."""

from __future__ import annotations

from django.db import models

from shopserv.catalog.models.units import Unit
from shopserv.common.fields import CentsField, EditionField


class FluidSpecification(models.Model):
    """What a unit's maker asks of a fluid."""

    code = models.CharField(max_length=20, unique=True)
    name = models.CharField(max_length=80)
    successor = models.ForeignKey("self", models.PROTECT, null=True, blank=True)
    backward_fit = models.BooleanField(default=False)
    withdrawn_on = models.DateField(null=True, blank=True)

    def __str__(self) -> str:
        return self.name


class FluidProduct(models.Model):
    """A fluid that is bought, and the specifications it meets."""

    STATES = [(s, s) for s in ("stocked", "run down", "barred")]

    code = models.CharField(max_length=20, unique=True)
    name = models.CharField(max_length=80)
    meets = models.ManyToManyField(FluidSpecification, related_name="products")
    density_15_g_m3 = models.PositiveIntegerField(help_text="grams in a cubic meter at 15 C: 850.0 kg/m3 is 850,000")
    visc_40_um2_s = models.PositiveIntegerField(null=True, blank=True, help_text="thousandths of mm2/s")
    visc_100_um2_s = models.PositiveIntegerField(null=True, blank=True)
    color = models.CharField(max_length=40, blank=True)
    safety_sheet_file = models.CharField(max_length=120, blank=True)
    safety_sheet_on = models.DateField(null=True, blank=True)
    shelf_months = models.PositiveIntegerField(null=True, blank=True)
    opened_months = models.PositiveIntegerField(null=True, blank=True)
    state = models.CharField(max_length=10, choices=STATES, default="stocked")
    edition = EditionField()

    def __str__(self) -> str:
        return self.name


class Package(models.Model):
    """A bottle, jug, pail or drum of a fluid."""

    product = models.ForeignKey(FluidProduct, models.PROTECT, related_name="packages")
    stock_number = models.CharField(max_length=30, unique=True)
    word = models.CharField(max_length=20, help_text="bottle, jug, pail, can, drum")
    volume_ml = models.PositiveIntegerField()
    cost_cents = CentsField()
    tare_g = models.PositiveIntegerField(null=True, blank=True)
    is_current = models.BooleanField(default=True)
    edition = EditionField()

    class Meta:
        constraints = [models.CheckConstraint(condition=models.Q(volume_ml__gt=0), name="package_holds_something")]

    def __str__(self) -> str:
        return self.stock_number


class Part(models.Model):
    """A part, what it fits and which methods use it."""

    STATES = [(s, s) for s in ("new", "rebuilt", "used")]

    number = models.CharField(max_length=30, unique=True)
    name = models.CharField(max_length=120)
    condition = models.CharField(max_length=10, choices=STATES, default="new")
    cost_cents = CentsField()
    core_cents = CentsField(default=0)
    fits = models.ManyToManyField(Unit, related_name="parts")
    used_by = models.JSONField(default=list, help_text="method codes")
    per_job = models.PositiveIntegerField(default=1)
    is_current = models.BooleanField(default=True)
    edition = EditionField()

    def __str__(self) -> str:
        return self.number


class LaborOperation(models.Model):
    """How many tenths of an hour an operation is sold for, from a day on."""

    units_pattern = models.CharField(max_length=20, help_text="AL64* fits AL640 and AL641; * fits all")
    operation = models.CharField(max_length=80)
    method = models.CharField(max_length=60, blank=True, help_text="empty: diagnosis, adaptation run, repair")
    tenths = models.PositiveIntegerField()
    from_on = models.DateField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["units_pattern", "operation", "from_on"], name="labor_operation_one_a_day")
        ]

    def __str__(self) -> str:
        return f"{self.operation} {self.units_pattern}"
