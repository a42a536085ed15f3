"""Rows that never change once they are written, guarded by triggers on both engines.

A model says what of it is frozen: `FROZEN = (Guard(besides=("state",)),)`. The triggers are lifted before each migrate
and made again after it, since SQLite drops them when it rebuilds a table and a migration may have to fill a column.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from django.apps import AppConfig, apps
from django.db import connections, models

MESSAGE = "issued rows never change"


@dataclass(frozen=True, slots=True)
class Guard:
    """What of a table never changes.

    columns    the columns that are guarded; empty: all of them
    besides    columns that may change all the same
    while_sql  SQL over `{row}` that says when a row is still open (a draft); empty: never
    and_new    whether no row may be added either, but while it is open
    """

    columns: tuple[str, ...] = ()
    besides: tuple[str, ...] = ()
    while_sql: str = ""
    and_new: bool = False


@dataclass(frozen=True, slots=True)
class Trigger:
    """One trigger to be made: its name, its table, UPDATE, DELETE or INSERT, and when it refuses."""

    name: str
    table: str
    event: str
    when: str


def triggers(vendor: str) -> Iterator[Trigger]:
    """The triggers of every model that has FROZEN, for an engine ("sqlite" or "postgresql")."""
    differs = "IS NOT" if vendor == "sqlite" else "IS DISTINCT FROM"
    for model in apps.get_models():
        for number, guard in enumerate(getattr(model, "FROZEN", ()), start=1):
            yield from _of_guard(model, guard, number, differs)


def _of_guard(model: type[models.Model], guard: Guard, number: int, differs: str) -> Iterator[Trigger]:
    table = model._meta.db_table
    columns = [
        field.column
        for field in model._meta.local_concrete_fields
        if field.name not in guard.besides and (not guard.columns or field.name in guard.columns)
    ]
    changed = " OR ".join(f'OLD."{column}" {differs} NEW."{column}"' for column in columns)

    def closed(row: str) -> str:
        return f" AND NOT ({guard.while_sql.format(row=row)})" if guard.while_sql else ""

    yield Trigger(f"{table}_keep_{number}", table, "UPDATE", f"({changed}){closed('OLD')}")
    if number == 1:
        yield Trigger(f"{table}_stay", table, "DELETE", f"1 = 1{closed('OLD')}")
    if guard.and_new:
        yield Trigger(f"{table}_full", table, "INSERT", f"1 = 1{closed('NEW')}")


def set_guards(using: str = "default") -> int:
    """Make every trigger anew on the tables that exist; how many."""
    connection = connections[using]
    there = set(connection.introspection.table_names())
    made = [trigger for trigger in triggers(connection.vendor) if trigger.table in there]
    with connection.cursor() as cursor:
        for trigger in made:
            for statement in (*_lifting(trigger, connection.vendor), *_making(trigger, connection.vendor)):
                cursor.execute(statement)
    return len(made)


def lift_guards(using: str = "default") -> None:
    """Take the triggers away, for a migration or for emptying a test's database; set_guards makes them again."""
    connection = connections[using]
    there = set(connection.introspection.table_names())
    with connection.cursor() as cursor:
        for trigger in triggers(connection.vendor):
            if trigger.table in there:
                for statement in _lifting(trigger, connection.vendor):
                    cursor.execute(statement)


def before_migrate(sender: AppConfig, using: str = "default", **kwargs: Any) -> None:
    """Receiver of Django's pre_migrate, which is sent for every app: the last one's is enough."""
    if sender is _last_app():
        lift_guards(using)


def after_migrate(sender: AppConfig, using: str = "default", **kwargs: Any) -> None:
    """Receiver of Django's post_migrate, sent for every app when all are migrated."""
    if sender is _last_app():
        set_guards(using)


def _last_app() -> AppConfig:
    return [config for config in apps.get_app_configs() if config.models_module is not None][-1]


def _lifting(trigger: Trigger, vendor: str) -> list[str]:
    on = f" ON {trigger.table}" if vendor == "postgresql" else ""
    return [f"DROP TRIGGER IF EXISTS {trigger.name}{on}"]


def _making(trigger: Trigger, vendor: str) -> list[str]:
    words = f"{MESSAGE}: {trigger.table}"
    if vendor == "sqlite":
        return [
            f"CREATE TRIGGER {trigger.name} BEFORE {trigger.event} ON {trigger.table} FOR EACH ROW "
            f"WHEN {trigger.when} BEGIN SELECT RAISE(ABORT, '{words}'); END"
        ]
    back = "OLD" if trigger.event == "DELETE" else "NEW"
    return [
        # A function for each trigger: its condition may look into another table, which WHEN may not.
        f"CREATE OR REPLACE FUNCTION {trigger.name}() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN "
        f"IF {trigger.when} THEN RAISE EXCEPTION '{words}' USING ERRCODE = 'integrity_constraint_violation'; END IF; "
        f"RETURN {back}; END $$",
        f"CREATE TRIGGER {trigger.name} BEFORE {trigger.event} ON {trigger.table} FOR EACH ROW "
        f"EXECUTE FUNCTION {trigger.name}()",
    ]
