"""Who works here, and what each was given to do."""

from __future__ import annotations

from typing import Any, ClassVar

from django.contrib.auth.models import AbstractBaseUser, BaseUserManager
from django.db import models

from shopserv.common.fields import EditionField
from shopserv.shop.models.house import Shop


class StaffManager(BaseUserManager["Staff"]):
    """What Django's sign-in asks of a manager."""

    def get_by_natural_key(self, username: str | None) -> Staff:
        """The person with this sign-in."""
        return self.get(sign_in=username)

    def create_user(self, sign_in: str, password: str | None = None, **fields: Any) -> Staff:
        """Make a person with a hashed password."""
        person = self.model(sign_in=sign_in, **fields)
        person.set_password(password)
        person.save(using=self._db)
        return person


class Staff(AbstractBaseUser):
    """A person of the business; never deleted, the name stays on records."""

    STATES = [("active", "active"), ("on leave", "on leave"), ("left", "left")]

    sign_in = models.CharField(max_length=120, unique=True)
    name = models.CharField(max_length=120)
    initials = models.CharField(max_length=3)
    email = models.EmailField(blank=True)
    pin_hash = models.CharField(max_length=200, blank=True, help_text="for acts that carry a name on a shared tablet")
    languages = models.JSONField(default=list)
    trained_for = models.JSONField(default=list)
    paid_by = models.CharField(max_length=20, blank=True)
    letter_keys = models.BooleanField(default=True, help_text="single-letter keys on")
    state = models.CharField(max_length=10, choices=STATES, default="active")
    left_on = models.DateField(null=True, blank=True)
    edition = EditionField()

    USERNAME_FIELD = "sign_in"
    REQUIRED_FIELDS: ClassVar[list[str]] = ["name", "initials"]
    objects = StaffManager()

    class Meta:
        verbose_name_plural = "staff"

    def __str__(self) -> str:
        return self.name

    @property
    def is_active(self) -> bool:  # type: ignore[override]
        """Whether the person may sign in."""
        return self.state == "active"

    @property
    def first_name(self) -> str:
        """All that a customer sees of a name."""
        return self.name.split(" ")[0]


class RoleGrant(models.Model):
    """A role, or a grant of its own, at one shop from a day on. Span by its beginning."""

    GRANTS = [(g, g) for g in ("writer", "technician", "parts", "owner", "second look")]

    staff = models.ForeignKey(Staff, models.PROTECT, related_name="grants")
    shop = models.ForeignKey(Shop, models.PROTECT, related_name="grants")
    grant = models.CharField(max_length=20, choices=GRANTS)
    given = models.BooleanField(default=True)
    from_on = models.DateField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["staff", "grant", "shop", "from_on"], name="role_grant_one_a_day")
        ]

    def __str__(self) -> str:
        return f"{self.staff} {self.grant} {self.shop}"
