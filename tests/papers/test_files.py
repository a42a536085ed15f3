"""A paper's file is made once from its frozen data and stays the same bytes (I-01, reliability section 2)."""

from __future__ import annotations

import io
import json
import re

import pytest
from django.db import connection
from pypdf import PdfReader

from shopserv.papers import files, pages
from shopserv.papers.models import Paper
from shopserv.registry.models import Customer
from tests.jobs import stage


@pytest.fixture(autouse=True)
def own_folder(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path


def offered_paper(cast) -> Paper:
    stage.offered(cast)
    return Paper.objects.select_related("shop").get(kind="quote")


def words_of(made: bytes) -> str:
    return " ".join(" ".join(page.extract_text().split()) for page in PdfReader(io.BytesIO(made)).pages)


def test_the_file_is_made_once_and_is_the_same_bytes_ever_after(cast, monkeypatch):
    paper = offered_paper(cast)
    first = files.pdf_of(paper)
    monkeypatch.setattr(files, "render_pdf", lambda *_, **__: pytest.fail("printed a second time"))

    again = files.pdf_of(Paper.objects.select_related("shop").get(pk=paper.pk))

    assert again == first
    assert files.etag(paper) == f'"{files.sha256(first)}"'
    assert paper.pages == len(PdfReader(io.BytesIO(first)).pages) == 2


def test_of_two_who_print_at_once_one_file_is_kept(cast):
    paper = offered_paper(cast)
    mine, other = (Paper.objects.select_related("shop").get(pk=paper.pk) for _ in range(2))
    files.pdf_of(mine)

    theirs = files.pdf_of(other)

    assert theirs == files.pdf_of(mine)
    assert (other.file.name, other.file_hash) == (mine.file.name, mine.file_hash)


def test_a_file_that_was_tampered_with_is_not_shown(cast):
    paper = offered_paper(cast)
    files.pdf_of(paper)
    with open(paper.file.path, "ab") as kept:
        kept.write(b"%")

    with pytest.raises(files.DamagedFile):
        files.pdf_of(paper)


def test_the_page_is_made_from_the_snapshot_alone(cast, django_assert_num_queries):
    paper = offered_paper(cast)

    with django_assert_num_queries(0):
        html = pages.html_of(paper)

    assert "BRW-Q-1 version 1" in html


def test_a_paper_without_a_catalog_for_its_language_is_english_from_head_to_foot(cast):
    Customer.objects.update(language="es")

    paper = offered_paper(cast)

    html = pages.html_of(paper)

    assert paper.language == "es"
    assert re.findall(r"Dic\b|martes|noviembre|Página", html) == []
    assert 'lang="en"' in html
    assert "Dec 8, 2026" in html
    assert pages.page_words("es") == ("Page ", " of ")


def test_what_is_printed_later_is_what_was_issued(cast):
    paper = offered_paper(cast)
    before = pages.html_of(paper)
    with connection.cursor() as cursor:
        cursor.execute("UPDATE registry_customer SET name = 'Somebody Else'")
        cursor.execute("UPDATE shop_shop SET phone = '+1 202 555 0199'")

    assert pages.html_of(Paper.objects.get(pk=paper.pk)) == before


def test_a_quote_carries_what_the_law_asks_of_an_estimate(cast):
    # 16 CCR 3353 and Fla. Stat. 559.905, as listed in the job's section 11: names, address, registration, vehicle,
    # each part with its state, labor, tax, total, good until, storage, guarantee, old parts, charge for the estimate
    said = words_of(files.pdf_of(offered_paper(cast)))

    wanted = [
        "Estimate BRW-Q-1 version 1", "Harrow Fold, Brindlewick", "14 Weir Lane", "BRW-INVENTED-0014",
        "Ansel Thornby", "+1 202 555 0111", "SAL 2100", "0SMAA1B27KA000101", "63,180 mi", "BRW-V-",
        "cooler-line fluid exchange", "fill plug ring and cooler line seals, new", "10.6 qt (10.0 L)",
        "tax, 6.25 % on $133.13", "$442.95", "We recommend this.", "86 to 94 %", "Dec 8, 2026",
        "12 months or 12,000 mi", "3 days are free, then $15.00 a day", "old parts back", "There is no charge for it.",
        "Check mark", "Page 1 of 2",
    ]  # fmt: skip
    assert [words for words in wanted if words not in said] == []


def test_every_amount_on_a_quote_has_its_sign(cast):
    paper = offered_paper(cast)
    said = words_of(files.pdf_of(paper))

    totals = [option["total_cents"] for option in json.loads(paper.snapshot)["options"]]
    assert [t for t in totals if f"${t / 100:,.2f}" not in said] == []
    assert re.findall(r"(?<![\d$.,])\d[\d,]*\.\d\d(?![\d %])(?! %)", said) == []


def test_what_waits_is_printed_later_and_one_that_fails_stops_no_other(cast, monkeypatch):
    paper = offered_paper(cast)
    second = Paper.objects.create(
        **{f.name: getattr(paper, f.name) for f in Paper._meta.fields if f.name not in ("id", "version")}, version=9
    )
    real = files.html_of

    def one_fails(row: Paper) -> str:
        if row.pk == paper.pk:
            raise files.CannotRender("out of memory")
        return real(row)

    monkeypatch.setattr(files, "html_of", one_fails)

    assert files.print_waiting() == (1, 1)
    assert Paper.objects.get(pk=second.pk).pages == 2
