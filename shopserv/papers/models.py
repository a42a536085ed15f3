"""Issued papers: frozen data, and the file made from it."""

from __future__ import annotations

from django.db import models

from shopserv.common.frozen import Guard
from shopserv.shop.models import Shop


class Paper(models.Model):
    """One issued paper. Its snapshot never changes; the file is made from the snapshot alone, once."""

    KINDS = [(k, k) for k in ("quote", "authorization", "procedure sheet", "invoice", "certificate", "letter")]

    shop = models.ForeignKey(Shop, models.PROTECT, related_name="papers")
    kind = models.CharField(max_length=20, choices=KINDS)
    number = models.CharField(max_length=40, help_text="printed number of what it shows: BRW-Q-118")
    version = models.PositiveIntegerField(default=1)
    language = models.CharField(max_length=5, default="en")
    visit_number = models.CharField(max_length=40, blank=True)
    snapshot = models.TextField(help_text="canonical JSON of every value the paper shows")
    snapshot_hash = models.CharField(max_length=64)
    calc_version = models.CharField(max_length=10)
    issued_at = models.DateTimeField()
    file = models.FileField(upload_to="papers/%Y/%m", null=True, blank=True)
    file_hash = models.CharField(max_length=64, blank=True)
    pages = models.PositiveIntegerField(null=True, blank=True)
    made_at = models.DateTimeField(null=True, blank=True)

    FROZEN = (
        Guard(besides=("file", "file_hash", "pages", "made_at")),
        Guard(columns=("file", "file_hash", "pages", "made_at"), while_sql="{row}.file_hash = ''"),
    )

    class Meta:
        constraints = [models.UniqueConstraint(fields=["kind", "number", "version", "language"], name="paper_once")]
        indexes = [models.Index(fields=["shop", "visit_number"])]

    def __str__(self) -> str:
        return f"{self.kind} {self.number}"
