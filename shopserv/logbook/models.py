"""What was read on the odometer and what was done, wherever it was done."""

from __future__ import annotations

from django.db import models

from shopserv.common.frozen import Guard
from shopserv.registry.models import Vehicle
from shopserv.shop.models import Shop


class OdometerReading(models.Model):
    """The figure and unit an instrument showed; never edited. One set aside stays visible with its reason."""

    SOURCES = [(s, s) for s in ("intake", "bay photo", "customer", "fleet file", "certificate", "estimate", "service")]
    STATES = [(s, s) for s in ("counted", "set aside")]

    vehicle = models.ForeignKey(Vehicle, models.PROTECT, related_name="readings")
    shop = models.ForeignKey(Shop, models.PROTECT, null=True, blank=True)
    figure = models.PositiveIntegerField()
    unit = models.CharField(max_length=2, choices=[("mi", "mi"), ("km", "km")])
    as_typed = models.CharField(max_length=40, blank=True)
    instrument = models.PositiveIntegerField(default=1)
    read_on = models.DateField()
    read_at = models.DateTimeField()
    source = models.CharField(max_length=12, choices=SOURCES)
    by = models.CharField(max_length=120, blank=True)
    state = models.CharField(max_length=10, choices=STATES, default="counted")
    reason = models.CharField(max_length=200, blank=True)

    FROZEN = (Guard(columns=("figure", "unit", "as_typed", "instrument", "read_on", "read_at", "source", "by")),)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["vehicle", "instrument", "read_at", "source"], name="odometer_reading_once"
            ),
            models.CheckConstraint(condition=models.Q(figure__lte=9_999_999), name="odometer_reading_in_range"),
        ]
        indexes = [models.Index(fields=["vehicle", "read_on"])]

    def __str__(self) -> str:
        return f"{self.figure:,} {self.unit}"

    @property
    def typed_otherwise(self) -> str:
        """What was typed, where it named another unit than the one that counts; else empty."""
        unit = self.as_typed.rpartition(" ")[2].lower()
        return self.as_typed if unit in {"mi", "km"} - {self.unit} else ""


class OdometerChange(models.Model):
    """An instrument replaced; distances add across instruments."""

    vehicle = models.ForeignKey(Vehicle, models.PROTECT, related_name="odometer_changes")
    old_instrument = models.PositiveIntegerField()
    new_instrument = models.PositiveIntegerField()
    old_last_figure = models.PositiveIntegerField()
    old_unit = models.CharField(max_length=2)
    new_first_figure = models.PositiveIntegerField()
    new_unit = models.CharField(max_length=2)
    on = models.DateField()
    evidence = models.CharField(max_length=200, blank=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["vehicle", "on"], name="odometer_change_one_a_day")]

    def __str__(self) -> str:
        return f"instrument {self.new_instrument} of {self.vehicle}"


class ServiceRecord(models.Model):
    """A fluid service that was done. Corrected only by a second record that names the first."""

    vehicle = models.ForeignKey(Vehicle, models.PROTECT, related_name="services")
    shop = models.ForeignKey(Shop, models.PROTECT, null=True, blank=True, help_text="none: done elsewhere")
    work_order_number = models.CharField(max_length=40, blank=True)
    done_on = models.DateField()
    figure = models.PositiveIntegerField(null=True, blank=True)
    unit = models.CharField(max_length=2, default="mi")
    instrument = models.PositiveIntegerField(default=1)
    unit_code = models.CharField(max_length=20, blank=True)
    sheet_version = models.PositiveIntegerField(null=True, blank=True)
    method = models.CharField(max_length=60)
    fluid_code = models.CharField(max_length=40, help_text="product, or as a paper names it")
    batch_mark = models.CharField(max_length=40, blank=True)
    liters_in_ml = models.PositiveIntegerField(null=True, blank=True)
    fraction_low_ppm = models.PositiveIntegerField()
    fraction_high_ppm = models.PositiveIntegerField()
    technician = models.CharField(max_length=120, blank=True)
    note = models.CharField(max_length=300, blank=True)
    corrects = models.ForeignKey("self", models.PROTECT, null=True, blank=True, related_name="corrected_by")

    FROZEN = (Guard(besides=("vehicle",)),)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["vehicle", "done_on", "method", "work_order_number"], name="service_record_once"
            ),
            models.CheckConstraint(
                condition=models.Q(
                    fraction_high_ppm__gte=models.F("fraction_low_ppm"), fraction_high_ppm__lte=1_000_000
                ),
                name="service_record_fraction_is_a_share",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.method} {self.done_on}"


class LaboratoryResult(models.Model):
    """Water that a laboratory found in a sample of the fluid; never edited, withdrawn at most.

    It stands for the estimate of moisture until the fluid is exchanged after the day of the sample.
    """

    vehicle = models.ForeignKey(Vehicle, models.PROTECT, related_name="laboratory_results")
    shop = models.ForeignKey(Shop, models.PROTECT)
    sampled_on = models.DateField()
    reference = models.CharField(max_length=60, help_text="number of the laboratory's slip")
    method = models.CharField(max_length=80, blank=True)
    water_ppm = models.PositiveIntegerField(help_text="mg/kg")
    limit_ppm = models.PositiveIntegerField(help_text="mg/kg that the fluid may have")
    limit_source = models.CharField(max_length=120)
    by = models.CharField(max_length=120)
    noted_at = models.DateTimeField()
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    withdrawn_by = models.CharField(max_length=120, blank=True)
    withdrawn_why = models.CharField(max_length=200, blank=True)

    WITHDRAWAL = ("withdrawn_at", "withdrawn_by", "withdrawn_why")
    FROZEN = (
        Guard(besides=("vehicle", *WITHDRAWAL)),
        Guard(columns=WITHDRAWAL, while_sql="{row}.withdrawn_at IS NULL"),
    )

    class Meta:
        constraints = [
            # A slip that was withdrawn may be noted again with what it really says.
            models.UniqueConstraint(
                fields=["reference"], condition=models.Q(withdrawn_at=None), name="laboratory_result_once"
            ),
            models.CheckConstraint(
                condition=models.Q(withdrawn_at=None) | ~models.Q(withdrawn_why=""), name="laboratory_withdrawn_why"
            ),
            models.CheckConstraint(condition=models.Q(limit_ppm__gt=0), name="laboratory_limit_above_zero"),
        ]
        indexes = [models.Index(fields=["vehicle", "sampled_on"])]

    def __str__(self) -> str:
        return self.reference
