"""A start is refused on an SQLite file that could lose what it acknowledged."""

from __future__ import annotations

import pytest
from django.db import connection

from shopserv.common.checks import engine_keeps_what_it_was_given

pytestmark = pytest.mark.django_db


def test_the_engine_as_it_is_set_up_is_taken():
    assert engine_keeps_what_it_was_given(["default"]) == []


class Cursor:
    """A cursor that answers as a file on a network disk would."""

    asked = ""

    def __enter__(self) -> Cursor:
        return self

    def __exit__(self, *_: object) -> None:
        pass

    def execute(self, question: str) -> Cursor:
        self.asked = question
        return self

    def fetchone(self) -> tuple[object]:
        return ("delete",) if "journal" in self.asked else (1,)


def test_a_file_without_write_ahead_log_or_without_waiting_for_the_disk_is_refused(monkeypatch):
    monkeypatch.setattr(connection, "vendor", "sqlite")
    monkeypatch.setattr(connection, "cursor", Cursor)

    assert [message.id for message in engine_keeps_what_it_was_given(["default"])] == ["common.E001", "common.E002"]
