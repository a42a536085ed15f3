"""The file of an issued paper: made once from its frozen data, kept, and the same bytes ever after."""

from __future__ import annotations

import logging
import re
import zlib

from django.core.files.base import ContentFile
from django.core.files.storage import default_storage

from shopserv.common import clock
from shopserv.common.fields import sha256
from shopserv.papers.models import Paper
from shopserv.papers.pages import LAYOUTS, html_of, page_words
from shopserv.papers.render import CannotRender, render_pdf

log = logging.getLogger(__name__)


class DamagedFile(RuntimeError):
    """A kept file is not what was kept: its hash differs. The snapshot is safe; nobody is shown the file."""


def pdf_of(paper: Paper) -> bytes:
    """The PDF of a paper: the kept one, or one made now and kept.

    Call it outside a transaction: printing takes a second. Two at once keep one file; both get its bytes.

    raises  CannotRender, DamagedFile
    """
    if not paper.file_hash:
        _make(paper)
    with paper.file.open("rb") as kept:
        made: bytes = kept.read()
    if sha256(made) != paper.file_hash:
        raise DamagedFile(f"{paper.kind} {paper.pk}")
    return made


def etag(paper: Paper) -> str:
    """The strong tag of the file under which a browser keeps it; only for a paper whose file is made."""
    return f'"{paper.file_hash}"'


def _make(paper: Paper) -> None:
    size = "a4" if paper.shop.paper_size.lower() == "a4" else "letter"
    made = render_pdf(html_of(paper), size=size, page_words=page_words(paper.language))
    name = f"papers/{paper.issued_at:%Y/%m}/{paper.kind.replace(' ', '-')}-{paper.number}-{paper.version}.pdf"
    name = default_storage.save(name, ContentFile(made))
    rows = Paper.objects.filter(pk=paper.pk, file_hash="")
    kept = rows.update(file=name, file_hash=sha256(made), pages=page_count(made), made_at=clock.now())
    if not kept:  # another process was faster; its file counts
        default_storage.delete(name)
    paper.refresh_from_db()


def page_count(made: bytes) -> int:
    """How many pages a PDF of ours has, by its page tree (ISO 32000-1, 7.7.3.2: Count of the root node)."""
    texts = [made]
    for packed in re.findall(rb"stream\r?\n(.*?)endstream", made, re.DOTALL):
        try:
            texts.append(zlib.decompress(packed))
        except zlib.error:  # a stream that is not packed this way holds no page tree
            continue
    counts = [int(n) for text in texts for n in re.findall(rb"/Type\s*/Pages\b[^>]*?/Count (\d+)", text)]
    return max(counts, default=0)


def print_waiting(*, most: int = 50) -> tuple[int, int]:
    """Make the files that are not made yet, oldest first; how many were made, and how many could not be."""
    made = failed = 0
    for paper in (
        Paper.objects.filter(file_hash="", kind__in=list(LAYOUTS)).select_related("shop").order_by("pk")[:most]
    ):
        try:
            _make(paper)
        except CannotRender as error:
            log.error("paper %s could not be printed: %s", paper.pk, error)
            failed += 1
        else:
            made += 1
    return made, failed
