"""Papers filed inside the deed that issues them: frozen data now, the file from it later."""

from __future__ import annotations

from typing import Any

from shopserv import calc
from shopserv.common import clock
from shopserv.common.fields import canonical, sha256
from shopserv.papers.models import Paper
from shopserv.shop.models import Shop


def file_paper(
    kind: str,
    shop: Shop,
    number: str,
    version: int,
    snapshot: dict[str, Any],
    *,
    visit_number: str = "",
    language: str = "en",
) -> Paper:
    """File a paper with every value that it shows; call it inside the transaction of the deed.

    kind       one of Paper.KINDS
    number     printed number of what it shows; kind, number, version and language are filed once
    snapshot   plain JSON types alone
    """
    text = canonical(snapshot)
    return Paper.objects.create(
        shop=shop,
        kind=kind,
        number=number,
        version=version,
        language=language,
        visit_number=visit_number,
        snapshot=text,
        snapshot_hash=sha256(text),
        calc_version=calc.VERSION,
        issued_at=clock.now(),
    )
