"""The record of a yes carries what 16 CCR 3354, 15 NYCRR 82.5 and Fla. Stat. 559.909 ask, as the job lists them."""

from __future__ import annotations

import io
import re

import pytest
from pypdf import PdfReader

from shopserv.jobs.services import authorize
from shopserv.papers import files
from shopserv.papers.models import Paper
from tests.jobs import stage


@pytest.fixture(autouse=True)
def own_folder(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path


def test_the_record_says_who_when_how_how_much_and_how_far_beyond(cast):
    option = stage.option(stage.offered(cast), "C")
    authorize.authorize(option, actor=cast.tobin, consent=stage.by_telephone(option))
    paper = Paper.objects.select_related("shop").get(kind="authorization")

    made = files.pdf_of(paper)

    said = " ".join(" ".join(p.extract_text().split()) for p in PdfReader(io.BytesIO(made)).pages)
    wanted = [
        "Authorization BRW-Q-1", "option C", "$442.95", "of it tax $8.32", "Ansel Thornby, keeper", "telephone",
        "+12025550111", "Nov 24, 2026, 7:30 AM", "“Option C for $442.95”", "Recorded by Tobin", "BRW-V-",
        "Up to $10.00 or 10 % over the agreed total, whichever is greater, never more than $50.00.",
        "invented for the demonstration", "not asked for", "fill plug ring and cooler line seals, new",
        option.version.check_words, option.version.snapshot_hash, "Page 1 of 1",
    ]  # fmt: skip
    assert [words for words in wanted if words not in said] == []
    assert re.findall(r"(?<![\d$.,])\d[\d,]*\.\d\d(?![\d %])(?! %)", said) == []
