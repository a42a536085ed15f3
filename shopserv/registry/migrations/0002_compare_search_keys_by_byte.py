"""Prefix ranges need keys in the order of their bytes; SQLite compares so by itself."""

from __future__ import annotations

from typing import Any

from django.db import migrations


def by_byte(apps: Any, schema_editor: Any) -> None:
    """Give the column the collation "C" where the engine would sort by the language of the machine."""
    if schema_editor.connection.vendor == "postgresql":
        schema_editor.execute('ALTER TABLE registry_searchkey ALTER COLUMN key TYPE varchar(80) COLLATE "C"')


def by_language(apps: Any, schema_editor: Any) -> None:
    """Back to the collation of the database."""
    if schema_editor.connection.vendor == "postgresql":
        schema_editor.execute('ALTER TABLE registry_searchkey ALTER COLUMN key TYPE varchar(80) COLLATE "default"')


class Migration(migrations.Migration):
    dependencies = [("registry", "0001_initial")]

    operations = [migrations.RunPython(by_byte, by_language)]
