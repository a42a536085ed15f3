"""What all tests share."""

from __future__ import annotations

import os

from hypothesis import settings

from tests.cast import cast, cast_for_races, django_db_setup

__all__ = ["cast", "cast_for_races", "django_db_setup"]

# The same cases each time, so that a change that lands is judged by itself; HYPOTHESIS=search looks for new ones.
# No deadline: how fast a case runs on a busy machine says nothing about it.
settings.register_profile("same", derandomize=True, deadline=None)
settings.register_profile("search", max_examples=1000, deadline=None)
settings.load_profile(os.environ.get("HYPOTHESIS", "same"))
