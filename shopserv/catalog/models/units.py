"""Units, their sheets with a provenance for every value, and what fits where."""

from __future__ import annotations

from django.conf import settings
from django.db import models

from shopserv.common.fields import EditionField
from shopserv.common.frozen import Guard


class Unit(models.Model):
    """An automatic transmission by its maker's code."""

    code = models.CharField(max_length=20, unique=True)
    name = models.CharField(max_length=80)
    kind = models.CharField(max_length=40)
    gears = models.PositiveIntegerField(default=0)
    tag_pattern = models.CharField(max_length=40, blank=True)
    successor = models.ForeignKey("self", models.PROTECT, null=True, blank=True, related_name="predecessors")
    successor_from_build = models.CharField(max_length=7, blank=True, help_text="month: 2021-07")
    edition = EditionField()

    def __str__(self) -> str:
        return self.name


class UnitSheet(models.Model):
    """One version of a unit's facts; never edited once in force."""

    STATES = [(s, s) for s in ("draft", "checked", "in force", "withdrawn")]

    unit = models.ForeignKey(Unit, models.PROTECT, related_name="sheets")
    version = models.PositiveIntegerField()
    state = models.CharField(max_length=10, choices=STATES, default="draft")
    methods = models.JSONField(default=list)
    barred = models.JSONField(default=list)
    fluids = models.JSONField(default=list, help_text="[{spec, from_build?, to_build?, sump?}]")
    sumps = models.JSONField(default=list, help_text="[{name, total_fill_ml, drain_ml}] where there is more than one")
    note = models.CharField(max_length=300, blank=True)
    from_on = models.DateField(null=True, blank=True)
    edition = EditionField()

    FROZEN = (Guard(besides=("state", "edition", "note"), while_sql="{row}.state IN ('draft', 'checked')"),)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["unit", "version"], name="unit_sheet_version_once"),
            models.UniqueConstraint(
                fields=["unit", "from_on"], condition=models.Q(state="in force"), name="unit_sheet_in_force_one_a_day"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.unit.code} version {self.version}"


class SheetValue(models.Model):
    """One value of a sheet and where it comes from. No row: not known. A torque row without a figure: not fitted.

    what    e.g. total_fill_ml, pickup_below_full_ml, level_low_mdegc, torque_fill_mnm, level_method (text), see
            catalog.sheets.WHAT for the closed list with kinds and units
    """

    sheet = models.ForeignKey(UnitSheet, models.PROTECT, related_name="values")
    what = models.CharField(max_length=40)
    low = models.BigIntegerField(null=True, blank=True)
    high = models.BigIntegerField(null=True, blank=True)
    text = models.CharField(max_length=120, blank=True)
    as_typed = models.CharField(max_length=120, blank=True)
    source = models.CharField(max_length=200)
    source_grade = models.CharField(max_length=40)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True)
    at = models.DateTimeField()

    FROZEN = (
        Guard(
            while_sql="(SELECT s.state FROM catalog_unitsheet s WHERE s.id = {row}.sheet_id) IN ('draft', 'checked')",
            and_new=True,
        ),
    )

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["sheet", "what"], name="sheet_value_once"),
            models.CheckConstraint(
                condition=models.Q(low__isnull=True) | models.Q(high__gte=models.F("low")),
                name="sheet_value_low_to_high",
            ),
        ]

    def __str__(self) -> str:
        return self.what


class Fitment(models.Model):
    """Which unit stands in which vehicles, with the weight of the evidence."""

    wmi = models.CharField(max_length=3, blank=True)
    descriptor = models.CharField(max_length=5, blank=True, help_text="VIN places 4 to 8; ? stands for any sign")
    market = models.CharField(max_length=20, blank=True, help_text="where it was sold first; empty: anywhere")
    make = models.CharField(max_length=60)
    model = models.CharField(max_length=60)
    year_from = models.PositiveIntegerField()
    year_to = models.PositiveIntegerField()
    engine = models.CharField(max_length=60, blank=True)
    wheels_driven = models.CharField(max_length=20, blank=True)
    build_from = models.CharField(max_length=7, blank=True)
    build_to = models.CharField(max_length=7, blank=True)
    unit = models.ForeignKey(Unit, models.PROTECT, related_name="fitments")
    weight_ppm = models.PositiveIntegerField(default=1_000_000)
    is_current = models.BooleanField(default=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=[
                    "make",
                    "model",
                    "year_from",
                    "year_to",
                    "engine",
                    "wheels_driven",
                    "build_from",
                    "descriptor",
                    "market",
                    "unit",
                ],
                name="fitment_once",
            )
        ]

    def __str__(self) -> str:
        return f"{self.make} {self.model} {self.unit}"
