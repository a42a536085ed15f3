"""What all tests share."""

from __future__ import annotations

from tests.cast import cast, cast_for_races, django_db_setup

__all__ = ["cast", "cast_for_races", "django_db_setup"]
