"""Business, shops, bays, climate places and instruments."""

from __future__ import annotations

from django.db import models

from shopserv.common.fields import EditionField


class Business(models.Model):
    """The one business of this installation."""

    name = models.CharField(max_length=120)
    legal_name = models.CharField(max_length=160)
    tax_number = models.CharField(max_length=40, unique=True)
    country = models.CharField(max_length=2, default="US")
    currency = models.CharField(max_length=3, default="USD")
    record_language = models.CharField(max_length=5, default="en")
    customer_languages = models.JSONField(default=list)
    edition = EditionField()

    class Meta:
        verbose_name_plural = "businesses"

    def __str__(self) -> str:
        return self.name


class ClimatePlace(models.Model):
    """Monthly air of a place, from a day on. Span by its beginning."""

    KINDS = [(k, k) for k in ("own", "reference")]

    code = models.CharField(max_length=40)
    name = models.CharField(max_length=80)
    altitude_m = models.IntegerField()
    mean_mdegc = models.JSONField(help_text="12 monthly means, thousandths of a degree C")
    humidity_ppm = models.JSONField(help_text="12 monthly means of relative humidity, parts per million")
    swing_mk = models.JSONField(help_text="12 daily swings, thousandths of a kelvin")
    source = models.CharField(max_length=200)
    kind = models.CharField(max_length=10, choices=KINDS, default="own")
    license = models.CharField(max_length=200, blank=True, help_text="of reference data")
    period = models.CharField(max_length=80, blank=True, help_text="the years that the means are of")
    is_from_dew_point = models.BooleanField(default=False, help_text="humidity worked out of typed dew points")
    from_on = models.DateField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["code", "from_on"], name="climate_place_one_a_day")]

    def __str__(self) -> str:
        return self.name


class Shop(models.Model):
    """One workshop of the business."""

    business = models.ForeignKey(Business, models.PROTECT, related_name="shops")
    code = models.CharField(max_length=4)
    name = models.CharField(max_length=120)
    short_name = models.CharField(max_length=60, help_text="as staff call it: Brindlewick")
    address = models.JSONField(default=list, help_text="lines")
    phone = models.CharField(max_length=32)
    email = models.EmailField()
    time_zone = models.CharField(max_length=64)
    altitude_m = models.IntegerField(default=0)
    climate = models.ForeignKey(ClimatePlace, models.PROTECT, null=True, blank=True)
    registration_number = models.CharField(max_length=60, blank=True)
    document_title = models.CharField(max_length=20, default="Estimate")
    estimate_choices = models.JSONField(default=list)
    fluid_price_rule = models.CharField(max_length=20, default="whole-packages")
    idle_rise_mk = models.IntegerField(default=4000, help_text="how much the fluid warms while idling to the check")
    waste_id_on_papers = models.CharField(max_length=40, blank=True)
    hours = models.JSONField(default=dict)
    units_first = models.CharField(max_length=6, default="us", help_text="us or metric: which unit is shown first")
    paper_size = models.CharField(max_length=6, default="Letter")
    is_open = models.BooleanField(default=True)
    edition = EditionField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["business", "code"], name="shop_code_once")]

    def __str__(self) -> str:
        return self.code


class Bay(models.Model):
    """Where a vehicle stands while it is worked on."""

    shop = models.ForeignKey(Shop, models.PROTECT, related_name="bays")
    name = models.CharField(max_length=40)
    kind = models.CharField(max_length=40)
    rated_load_kg = models.PositiveIntegerField(null=True, blank=True)
    inspection_due_on = models.DateField(null=True, blank=True)
    fore_aft_tenths_deg = models.IntegerField(null=True, blank=True, help_text="stored only for pit and four-post")
    side_tenths_deg = models.IntegerField(null=True, blank=True)
    measured_on = models.DateField(null=True, blank=True)
    in_use = models.BooleanField(default=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["shop", "name"], name="bay_name_once")]

    def __str__(self) -> str:
        return self.name


class Instrument(models.Model):
    """A scale, thermometer, level or scan tool, and when it was last checked."""

    shop = models.ForeignKey(Shop, models.PROTECT, related_name="instruments")
    kind = models.CharField(max_length=40)
    serial = models.CharField(max_length=40, unique=True)
    span_text = models.CharField(max_length=60, blank=True)
    step_text = models.CharField(max_length=40, blank=True)
    error_text = models.CharField(max_length=40, blank=True)
    checked_on = models.DateField(null=True, blank=True)
    next_check_on = models.DateField(null=True, blank=True)

    def __str__(self) -> str:
        return self.serial
