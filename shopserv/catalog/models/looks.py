"""What can be seen on a unit, what a look takes and how often it errs; and what was seen on which vehicle."""

from __future__ import annotations

from django.db import models

from shopserv.catalog.models.units import Unit
from shopserv.common.fields import CentsField
from shopserv.common.frozen import Guard

READS = ("feature", "sheet", "wheels", "engine", "market", "build month", "tag")


class Look(models.Model):
    """A look at a vehicle that may tell one unit from another.

    reads     feature: what `UnitFeature` says of the unit; sheet: the value `of` of its unit sheet; wheels, engine,
              market, build month: what the fitments say; tag: what the tag reads
    answers   [[code, words]] in the order of the page; what the data say besides is added as it stands
    """

    code = models.CharField(max_length=20, unique=True)
    words = models.CharField(max_length=120, help_text="the question: Which wheels are driven?")
    how = models.CharField(max_length=300, help_text="where to look, with the caution that belongs there")
    reads = models.CharField(max_length=12, choices=[(r, r) for r in READS])
    of = models.CharField(max_length=40, blank=True, help_text="what of the sheet: torque_drain_mnm")
    answers = models.JSONField(default=list, blank=True)
    minutes = models.PositiveIntegerField(help_text="what it takes; of equal questions the quicker is asked")
    error_ppm = models.PositiveIntegerField(help_text="how often such a look is read wrong")
    unseen_ppm = models.PositiveIntegerField(default=0, help_text="how often nothing can be seen: a tag gone blank")
    source = models.CharField(max_length=200)
    is_current = models.BooleanField(default=True)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=models.Q(error_ppm__lte=500_000), name="look_no_worse_than_guessing"),
            models.CheckConstraint(condition=models.Q(unseen_ppm__lte=1_000_000), name="look_unseen_at_most_always"),
        ]

    def __str__(self) -> str:
        return self.words


class UnitFeature(models.Model):
    """What a look shows on a unit."""

    unit = models.ForeignKey(Unit, models.PROTECT, related_name="features")
    look = models.ForeignKey(Look, models.PROTECT, related_name="features")
    answer = models.CharField(max_length=60)
    source = models.CharField(max_length=200)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["unit", "look"], name="unit_feature_once")]

    def __str__(self) -> str:
        return f"{self.unit.code} {self.look.code}: {self.answer}"


class IdentifyRule(models.Model):
    """From a day on: when a unit counts as decided by evidence, and what taking the wrong one costs."""

    confidence_ppm = models.PositiveIntegerField(default=900_000)
    file_error_ppm = models.PositiveIntegerField(help_text="how often what is on file of a vehicle is wrong")
    wrong_cents = CentsField(help_text="of taking one unit for another, where no pair says otherwise")
    pairs = models.JSONField(default=list, blank=True, help_text="[{true, taken, cents}]: the directions may differ")
    from_on = models.DateField(unique=True)
    source = models.CharField(max_length=200, blank=True, help_text="empty: look up before use")

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=models.Q(confidence_ppm__gt=500_000, confidence_ppm__lte=1_000_000),
                name="identify_rule_confidence_above_a_guess",
            ),
            models.CheckConstraint(
                condition=models.Q(file_error_ppm__lte=500_000), name="identify_rule_file_no_worse_than_guessing"
            ),
        ]

    def __str__(self) -> str:
        return f"identification from {self.from_on}"


class Sighting(models.Model):
    """One answer to one look at one vehicle; taken back, it stays to be read.

    vehicle    its own number; the registry stands above the catalog
    question   code of the look, for a build month with the month asked: "built 2021-07"
    answer     code of the answer; of a tag what it reads; empty: could not be seen
    """

    vehicle = models.CharField(max_length=20)
    visit = models.CharField(max_length=20, blank=True)
    look = models.ForeignKey(Look, models.PROTECT, related_name="sightings")
    question = models.CharField(max_length=40)
    words = models.CharField(max_length=160, help_text="the question as it was asked")
    answer = models.CharField(max_length=60, blank=True)
    answer_words = models.CharField(max_length=120)
    by = models.CharField(max_length=120)
    at = models.DateTimeField()
    taken_back_by = models.CharField(max_length=120, blank=True)
    taken_back_at = models.DateTimeField(null=True, blank=True)

    FROZEN = (Guard(besides=("taken_back_by", "taken_back_at")),)

    class Meta:
        indexes = [models.Index(fields=["vehicle", "taken_back_at"])]
        constraints = [
            models.UniqueConstraint(
                fields=["vehicle", "question"],
                condition=models.Q(taken_back_at__isnull=True),
                name="sighting_one_answer_that_counts",
            )
        ]

    def __str__(self) -> str:
        return f"{self.words} {self.answer_words}"
