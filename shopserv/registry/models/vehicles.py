"""Vehicles, and what is known of each from which day on."""

from __future__ import annotations

from django.conf import settings
from django.db import models

from shopserv.catalog.models import Unit
from shopserv.common.fields import EditionField
from shopserv.common.frozen import Guard
from shopserv.registry.models.people import Customer
from shopserv.shop.models import ClimatePlace, Shop


class Vehicle(models.Model):
    """A vehicle of the business's files; the same in every shop."""

    STATES = [(s, s) for s in ("on the road", "sold away", "scrapped", "merged")]

    number = models.CharField(max_length=20, unique=True, help_text="own number: V-01")
    fleet_number = models.CharField(max_length=20, blank=True)
    vin_as_read = models.CharField(max_length=40, blank=True)
    vin = models.CharField(max_length=17, null=True, blank=True, help_text="normal form; null where there is none")
    vin_check = models.CharField(max_length=24, blank=True, help_text="ok, check_digit_differs, pre_1981_short")
    vin_kept_because = models.CharField(max_length=200, blank=True, help_text="reason for a VIN kept as read")
    vin_kept_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+")
    vin_kept_at = models.DateTimeField(null=True, blank=True)
    is_disputed = models.BooleanField(default=False, help_text="a second record of the same vehicle, not yet merged")
    merged_into = models.ForeignKey("self", models.PROTECT, null=True, blank=True, related_name="merged")
    year = models.PositiveIntegerField(null=True, blank=True)
    make = models.CharField(max_length=60, blank=True)
    model = models.CharField(max_length=60, blank=True)
    engine = models.CharField(max_length=60, blank=True)
    wheels_driven = models.CharField(max_length=20, blank=True)
    build_month = models.CharField(max_length=7, blank=True)
    in_service_on = models.DateField(null=True, blank=True)
    distance_unit = models.CharField(max_length=2, default="mi", choices=[("mi", "mi"), ("km", "km")])
    home_climate = models.ForeignKey(ClimatePlace, models.PROTECT, null=True, blank=True)
    first_shop = models.ForeignKey(Shop, models.PROTECT, null=True, blank=True, help_text="where it was first seen")
    state = models.CharField(max_length=12, choices=STATES, default="on the road")
    edition = EditionField()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["vin"], condition=models.Q(vin__isnull=False, is_disputed=False), name="vehicle_vin_once"
            )
        ]

    def __str__(self) -> str:
        return self.number

    @property
    def words(self) -> str:
        """Year, make and model as one would say them."""
        return " ".join(str(part) for part in (self.year, self.make, self.model) if part) or self.number


class PlateRecord(models.Model):
    """The plate from a day on; null: none."""

    vehicle = models.ForeignKey(Vehicle, models.PROTECT, related_name="plates")
    plate = models.CharField(max_length=16, null=True, blank=True)
    as_typed = models.CharField(max_length=20, blank=True)
    place = models.CharField(max_length=20, blank=True)
    from_on = models.DateField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["vehicle", "from_on"], name="plate_one_a_day")]

    def __str__(self) -> str:
        return self.as_typed or "no plate"


class KeeperRecord(models.Model):
    """Whose vehicle it is from a day on; null: not known."""

    vehicle = models.ForeignKey(Vehicle, models.PROTECT, related_name="keepers")
    customer = models.ForeignKey(Customer, models.PROTECT, null=True, blank=True, related_name="kept")
    from_on = models.DateField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["vehicle", "from_on"], name="keeper_one_a_day")]

    def __str__(self) -> str:
        return f"{self.vehicle} from {self.from_on}"


class TemperatureLog(models.Model):
    """What a log of the fluid's temperature came to: its steps of 5 K, not its lines; never edited.

    steps    [[low °C, milliseconds, mean in thousandths of a °C]], coldest first
    faults   [[line, why]] of the first lines that do not count; `fault_count` of all
    """

    vehicle = models.ForeignKey(Vehicle, models.PROTECT, related_name="temperature_logs")
    file_name = models.CharField(max_length=120)
    sha256 = models.CharField(max_length=64, help_text="of the file as it came")
    unit = models.CharField(max_length=4, help_text="degC or degF, as the file has it")
    rows = models.PositiveIntegerField()
    begins = models.CharField(max_length=32)
    ends = models.CharField(max_length=32)
    steps = models.JSONField()
    faults = models.JSONField(default=list)
    fault_count = models.PositiveIntegerField(default=0)
    gap_count = models.PositiveIntegerField(default=0)
    by = models.CharField(max_length=120)
    noted_on = models.DateField()

    FROZEN = (Guard(),)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["vehicle", "sha256"], name="temperature_log_once")]

    def __str__(self) -> str:
        return self.file_name

    @property
    def milliseconds(self) -> int:
        """How long it counts."""
        return sum(ms for _low, ms, _mean in self.steps)


class UsePattern(models.Model):
    """How the vehicle is used, from a day on."""

    HEAT_FROM = [(h, h) for h in ("assumed", "told", "log")]

    vehicle = models.ForeignKey(Vehicle, models.PROTECT, related_name="uses")
    short_trip_ppm = models.PositiveIntegerField(default=0)
    towing_ppm = models.PositiveIntegerField(default=0)
    hill_ppm = models.PositiveIntegerField(default=0)
    idle_ppm = models.PositiveIntegerField(default=0)
    stored_months = models.PositiveIntegerField(default=0)
    temperatures = models.JSONField(default=list, help_text="[[share_ppm, mdegc]]")
    profile = models.JSONField(default=list, help_text="[[kind, share_ppm, mdegc]] behind them; empty: none")
    heat_from = models.CharField(max_length=10, choices=HEAT_FROM, default="assumed")
    log = models.ForeignKey(TemperatureLog, models.PROTECT, null=True, blank=True, related_name="uses")
    from_on = models.DateField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["vehicle", "from_on"], name="use_pattern_one_a_day")]

    def __str__(self) -> str:
        return f"use of {self.vehicle}"


class Identification(models.Model):
    """Which unit a vehicle has and how we know."""

    GRADES = [(g, g) for g in ("read from tag", "by evidence", "assumed")]
    STATES = [(s, s) for s in ("counted", "replaced", "disputed")]

    vehicle = models.ForeignKey(Vehicle, models.PROTECT, related_name="identifications")
    unit = models.ForeignKey(Unit, models.PROTECT)
    grade = models.CharField(max_length=16, choices=GRADES)
    evidence = models.JSONField(default=list)
    state = models.CharField(max_length=10, choices=STATES, default="counted")
    by = models.CharField(max_length=120)
    at = models.DateTimeField()
    edition = EditionField()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["vehicle"],
                condition=models.Q(state__in=["counted", "disputed"]),
                name="identification_counted_once",
            )
        ]

    def __str__(self) -> str:
        return f"{self.unit} {self.grade}"


class SearchKey(models.Model):
    """Normal forms by which a vehicle is found: plate, VIN tail (reversed), name, phone, printed number."""

    KINDS = [(k, k) for k in ("plate", "vin", "vin tail", "name", "phone", "number")]

    kind = models.CharField(max_length=10, choices=KINDS)
    key = models.CharField(max_length=80)
    shown = models.CharField(max_length=120)
    vehicle = models.ForeignKey(Vehicle, models.CASCADE, null=True, blank=True, related_name="search_keys")
    customer = models.ForeignKey(Customer, models.CASCADE, null=True, blank=True, related_name="search_keys")
    shop = models.ForeignKey(
        Shop, models.CASCADE, null=True, blank=True, help_text="numbers are found in their own shop"
    )

    class Meta:
        indexes = [models.Index(fields=["kind", "key"])]
        constraints = [
            models.UniqueConstraint(
                fields=["kind", "key", "vehicle"],
                name="search_key_vehicle_once",
                condition=models.Q(vehicle__isnull=False),
            ),
            models.UniqueConstraint(
                fields=["kind", "key", "customer"],
                name="search_key_customer_once",
                condition=models.Q(vehicle__isnull=True),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.key}"
