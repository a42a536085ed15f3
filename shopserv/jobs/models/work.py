"""Work orders, the steps and events in the bay, the level, the balance and the second look."""

from __future__ import annotations

from django.conf import settings
from django.db import models

from shopserv.common.fields import EditionField
from shopserv.common.frozen import Guard
from shopserv.jobs.models.quotes import Authorization
from shopserv.jobs.models.visits import Visit
from shopserv.shop.models import Bay, Shop

WORK_STATES = (
    "written up", "cleared", "in the bay", "on hold", "level set", "second look done", "closed", "cut short",
)  # fmt: skip


class WorkOrder(models.Model):
    """What was agreed to be done, on its way through the bay."""

    shop = models.ForeignKey(Shop, models.PROTECT, related_name="work_orders")
    number = models.CharField(max_length=20)
    visit = models.ForeignKey(Visit, models.PROTECT, related_name="work_orders")
    authorizations = models.ManyToManyField(Authorization, related_name="work_orders")
    state = models.CharField(max_length=20, choices=[(s, s) for s in WORK_STATES], default="written up")
    state_since = models.DateTimeField()
    bay = models.ForeignKey(Bay, models.PROTECT, null=True, blank=True)
    technician = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="jobs")
    rules = models.JSONField(default=dict, help_text="house rules at clearing: second look and the rest")
    facts = models.JSONField(default=dict, help_text="unit, sheet version, fluid, course and limits at writing up")
    cleared_at = models.DateTimeField(null=True, blank=True)
    in_bay_at = models.DateTimeField(null=True, blank=True)
    level_set_at = models.DateTimeField(null=True, blank=True)
    closed_out_at = models.DateTimeField(null=True, blank=True)
    closed_out_by = models.CharField(max_length=120, blank=True)
    close_out = models.JSONField(default=dict, help_text="each item of the close-out and what was not done, in words")
    hold_reason = models.CharField(max_length=300, blank=True)
    hold_grade = models.CharField(max_length=24, blank=True)
    odometer_out = models.PositiveIntegerField(null=True, blank=True)
    closed_at = models.DateTimeField(null=True, blank=True)
    edition = EditionField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["shop", "number"], name="work_order_number_once")]
        indexes = [models.Index(fields=["shop", "state"])]

    def __str__(self) -> str:
        return self.number


class BayStep(models.Model):
    """One step of the bay sheet."""

    STATES = [(s, s) for s in ("ahead", "now", "done", "skipped", "redone")]

    shop = models.ForeignKey(Shop, models.PROTECT)
    work_order = models.ForeignKey(WorkOrder, models.PROTECT, related_name="steps")
    order = models.PositiveIntegerField()
    code = models.CharField(
        max_length=40, help_text="jobs.bay_steps: lift, fill_plug_first, stage, level, torque_drain …"
    )
    text = models.CharField(max_length=300)
    cautions = models.JSONField(default=list)
    needs = models.JSONField(default=list, help_text="readings asked: [{what, unit, low, high, start, step, words}]")
    limits = models.JSONField(default=dict, help_text="figures shown with it: liters, level, window, torque")
    is_fluid = models.BooleanField(default=False, help_text="moves fluid: never after coolant was found")
    may_skip = models.BooleanField(default=False)
    state = models.CharField(max_length=8, choices=STATES, default="ahead")
    skip_reason = models.CharField(max_length=200, blank=True)
    done_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["work_order", "order"], name="bay_step_order_once"),
            models.UniqueConstraint(fields=["work_order"], condition=models.Q(state="now"), name="bay_step_one_now"),
        ]

    def __str__(self) -> str:
        return f"{self.work_order} step {self.order}"


class BayEvent(models.Model):
    """One press in the bay, with its once-key; never changed."""

    shop = models.ForeignKey(Shop, models.PROTECT)
    work_order = models.ForeignKey(WorkOrder, models.PROTECT, related_name="events")
    step = models.ForeignKey(BayStep, models.PROTECT, null=True, blank=True, related_name="events")
    what = models.CharField(max_length=40, help_text="out_ml, in_ml, temp_mdegc, tilt_fore_aft, done, hold, finding …")
    value = models.BigIntegerField(null=True, blank=True, help_text="in the base unit of `what`")
    unit = models.CharField(max_length=12, blank=True)
    as_typed = models.CharField(max_length=80, blank=True)
    words = models.CharField(max_length=300, blank=True)
    instrument = models.CharField(max_length=40, blank=True)
    tablet = models.CharField(max_length=60, blank=True)
    person = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT)
    tablet_at = models.DateTimeField(null=True, blank=True)
    received_at = models.DateTimeField()
    once_key = models.CharField(max_length=80)
    is_from_paper = models.BooleanField(default=False)

    FROZEN = (Guard(),)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["shop", "once_key"], name="bay_event_once_key")]
        indexes = [models.Index(fields=["work_order", "id"])]

    def __str__(self) -> str:
        return f"{self.what} {self.value if self.value is not None else ''}".strip()


class LevelRecord(models.Model):
    """How the level was set, with its error budget. Append: a second try stands beside the first."""

    shop = models.ForeignKey(Shop, models.PROTECT)
    work_order = models.ForeignKey(WorkOrder, models.PROTECT, related_name="level_records")
    attempt = models.PositiveIntegerField()
    temp_mdegc = models.IntegerField()
    temp_as_typed = models.CharField(max_length=40, blank=True)
    temp_source = models.CharField(max_length=40)
    temp_instrument = models.CharField(max_length=40, blank=True)
    tilt_fore_aft_tenths_deg = models.IntegerField()
    tilt_side_tenths_deg = models.IntegerField()
    tilt_instrument = models.CharField(max_length=40, blank=True)
    engine = models.CharField(max_length=20)
    sweep_done = models.BooleanField()
    dwell_s = models.PositiveIntegerField(default=0)
    sign = models.CharField(max_length=40, help_text="drip seen, mark on the dipstick, film at the plug")
    plug_closed_with_engine = models.CharField(max_length=12, blank=True)
    cooler_full = models.BooleanField()
    budget_ml_tenths = models.PositiveIntegerField()
    budget = models.JSONField(default=dict, help_text="calc.bench level budget with its working")
    passes = models.BooleanField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT)
    at = models.DateTimeField()

    FROZEN = (Guard(),)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["work_order", "attempt"], name="level_record_attempt_once")]

    def __str__(self) -> str:
        return f"level {self.attempt} of {self.work_order}"


class MassBalance(models.Model):
    """What went in against what came out, brought to one temperature. Computed once, frozen at close-out.

    Taken back into the bay, a work order is closed out anew: the earlier balance is set aside and stays to be read.
    """

    shop = models.ForeignKey(Shop, models.PROTECT)
    work_order = models.OneToOneField(WorkOrder, models.PROTECT, related_name="balance", null=True, blank=True)
    set_aside_of = models.ForeignKey(WorkOrder, models.PROTECT, related_name="earlier_balances", null=True, blank=True)
    scale = models.CharField(max_length=40, blank=True, help_text="instrument; empty: by volume")
    thermometer = models.CharField(max_length=40, blank=True)
    out_ml = models.IntegerField()
    in_ml = models.IntegerField()
    at_mdegc = models.IntegerField()
    difference_ml_tenths = models.IntegerField()
    band_ml_tenths = models.PositiveIntegerField()
    is_inside = models.BooleanField()
    verdict = models.CharField(max_length=200)
    working = models.JSONField(default=dict)
    at = models.DateTimeField()

    FROZEN = (Guard(besides=("work_order", "set_aside_of")),)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=models.Q(work_order__isnull=True) ^ models.Q(set_aside_of__isnull=True),
                name="mass_balance_counts_or_is_set_aside",
            )
        ]

    def __str__(self) -> str:
        return f"balance of {self.work_order or self.set_aside_of}"

    @property
    def poured_ml(self) -> int:
        """What was poured in, as it was read: the figure of the papers and of the logbook."""
        return int(self.working.get("poured_ml", self.in_ml))


class SecondLook(models.Model):
    """Another person's look at the two riskiest numbers, under that person's own name."""

    STATES = [(s, s) for s in ("asked for", "yes", "no")]

    shop = models.ForeignKey(Shop, models.PROTECT)
    work_order = models.ForeignKey(WorkOrder, models.PROTECT, related_name="second_looks")
    attempt = models.PositiveIntegerField(default=1)
    state = models.CharField(max_length=10, choices=STATES, default="asked for")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True)
    items = models.JSONField(default=list, help_text="[{what, words, first, own, answer}]")
    while_it_ran = models.BooleanField(default=False)
    seen_while_running = models.JSONField(
        default=dict, help_text="what was entered from level set on, kept until answered"
    )
    is_own = models.BooleanField(default=False, help_text="own second look, so marked")
    words = models.CharField(max_length=300, blank=True)
    asked_at = models.DateTimeField()
    answered_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["work_order", "attempt"], name="second_look_attempt_once")]

    def __str__(self) -> str:
        return f"second look at {self.work_order}"
