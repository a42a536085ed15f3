"""Once-keys: a request that comes twice acts once, and its repeat gets the first answer."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.db import IntegrityError, transaction

from shopserv.common import clock
from shopserv.common.errors import Refusal
from shopserv.common.fields import canonical, sha256
from shopserv.shop.models import OnceKey, Shop

LONGEST = 255


@dataclass(frozen=True, slots=True)
class Claim:
    """A key taken for a request. `answer` is the first one's where the request came before."""

    row: OnceKey
    answer: dict[str, Any] | None


def request_hash(data: Any) -> str:
    """What was asked, so that a key is not used for another request."""
    return sha256(canonical(data))


def claim(*, shop: Shop | None, who: str, route: str, key: str, asked: str) -> Claim:
    """Take `key` inside the transaction of the act; a second taker waits for the first on both engines.

    asked   request_hash of the request
    raises  Refusal idempotency.key for an empty or too long key, idempotency.mismatch for another request
    """
    if not 0 < len(key) <= LONGEST:
        raise Refusal(
            "The form came without its key. Open the page again and send it once more.",
            code="idempotency.key",
            status=400,
        )
    try:
        with transaction.atomic():
            row = OnceKey.objects.create(
                shop=shop, who=who, route=route, key=key, request_hash=asked, at=clock.real_now()
            )
        return Claim(row, None)
    except IntegrityError:
        row = OnceKey.objects.get(who=who, route=route, key=key)
    if row.request_hash != asked:
        raise Refusal(
            "This form was sent before with other entries. What was sent first stands; "
            "open the page again to change it.",
            code="idempotency.mismatch",
        )
    return Claim(row, row.answer)


def keep_answer(row: OnceKey, answer: dict[str, Any]) -> None:
    """Store the answer beside its key, in the same transaction."""
    OnceKey.objects.filter(pk=row.pk).update(answer=answer)
