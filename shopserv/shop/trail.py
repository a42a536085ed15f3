"""The trail: one row a deed, in the deed's transaction, sealed into a chain of hashes."""

from __future__ import annotations

from contextvars import ContextVar
from typing import Any

from django.db import connection, models, transaction

from shopserv.common import clock
from shopserv.common.fields import canonical, sha256
from shopserv.shop.actors import Actor
from shopserv.shop.models import TrailEntry

GENESIS = "0" * 64


def write(
    actor: Actor, what: str, subject: models.Model, *, before: dict[str, Any] | None = None, **after: Any
) -> None:
    """Write the one trail row of a deed.

    what    the deed in past words: "consent counted"
    before  column -> old value; keyword arguments are the new values
    """
    entry = TrailEntry.objects.create(
        shop=actor.shop,
        staff=actor.staff,
        who=actor.name,
        what=what,
        subject_kind=subject._meta.model_name or "",
        subject_key=str(subject.pk),
        subject=str(subject)[:160],
        before=_plain(before or {}),
        after=_plain(after),
        at=clock.now(),
        from_where=actor.from_where,
        request_id=actor.request_id,
    )
    # Where writers cannot overtake each other, the row is sealed at once; elsewhere a task seals a few seconds behind.
    if not connection.features.has_select_for_update:
        _seal_row(entry, _last_hash(entry.pk))


_tries: ContextVar[tuple[dict[str, Any], ...]] = ContextVar("refused_tries", default=())


def refused(actor: Actor, what: str, subject: models.Model, **after: Any) -> None:
    """Note a refused try that must be seen although the deed is rolled back; call it outside the deed's transaction.

    Inside a larger transaction it is kept and written by `write_refused` once that has been rolled back.
    """
    _tries.set((*_tries.get(), {"actor": actor, "what": what, "subject": subject, **after}))
    if not connection.in_atomic_block:
        write_refused()


def write_refused() -> None:
    """Write the refused tries that were kept while a transaction was open."""
    tries = _tries.get()
    _tries.set(())
    for row in tries:
        with transaction.atomic():
            write(row.pop("actor"), row.pop("what"), row.pop("subject"), **row)


def _plain(values: dict[str, Any]) -> dict[str, Any]:
    """`values` as JSON types, dates and the like as text."""
    return {
        key: value if isinstance(value, str | int | bool | None | list | dict) else str(value)
        for key, value in values.items()
    }


def _last_hash(before_pk: int) -> str:
    last = (
        TrailEntry.objects.filter(pk__lt=before_pk).exclude(own_hash="").order_by("-pk").values_list("own_hash").first()
    )
    return last[0] if last else GENESIS


def row_hash(entry: TrailEntry, previous: str) -> str:
    """The seal of a row: SHA-256 of the seal before it and of everything the row says."""
    said = {
        "shop": entry.shop_id, "staff": entry.staff_id, "who": entry.who, "what": entry.what, "seq": entry.pk,
        "subject": [entry.subject_kind, entry.subject_key, entry.subject], "before": entry.before,
        "after": entry.after, "at": entry.at.isoformat(), "from": entry.from_where, "request": entry.request_id,
    }  # fmt: skip
    return sha256(previous + canonical(said))


def _seal_row(entry: TrailEntry, previous: str) -> str:
    seal = row_hash(entry, previous)
    TrailEntry.objects.filter(pk=entry.pk, own_hash="").update(previous_hash=previous, own_hash=seal)
    return seal


@transaction.atomic
def seal() -> int:
    """Seal all rows that are not sealed yet, in sequence order; how many there were."""
    unsealed = list(TrailEntry.objects.select_for_update().filter(own_hash="").order_by("pk"))
    if not unsealed:
        return 0
    previous = _last_hash(unsealed[0].pk)
    for entry in unsealed:
        previous = _seal_row(entry, previous)
    return len(unsealed)


def breaks() -> list[int]:
    """Sequence numbers at which the chain does not hold; empty when all is as it was written."""
    found, previous = [], GENESIS
    for entry in TrailEntry.objects.exclude(own_hash="").order_by("pk").iterator():
        if entry.previous_hash != previous or entry.own_hash != row_hash(entry, previous):
            found.append(entry.pk)
        previous = entry.own_hash
    return found
