"""A paper as its file: for whom, under which tag, and what is said while it cannot be printed."""

from __future__ import annotations

import pytest
from django.urls import reverse

from shopserv.papers import files
from shopserv.papers.models import Paper
from shopserv.papers.render import CannotRender
from tests.jobs import bay_stage, stage

pytestmark = pytest.mark.django_db


@pytest.fixture
def quote(cast) -> Paper:
    stage.offered(cast)
    return Paper.objects.get(kind="quote")


def address(paper, **changes):
    named = {"kind": paper.kind, "number": paper.number, "version": paper.version, **changes}
    return reverse("records:paper", kwargs=named)


def printed(monkeypatch, made=b"%PDF-1.7 as printed"):
    """Printing without the press, which has tests of its own."""
    monkeypatch.setattr(files, "render_pdf", lambda *_, **__: made)
    return made


def test_a_paper_comes_as_a_pdf_in_place(tobin, quote, monkeypatch):
    made = printed(monkeypatch)

    answer = tobin.get(address(quote))

    quote.refresh_from_db()
    assert (answer.status_code, answer.content, answer.headers["Content-Type"]) == (200, made, "application/pdf")
    assert answer.headers["Content-Disposition"] == f'inline; filename="quote-{quote.number}-1.pdf"'
    assert answer.headers["Cache-Control"] == "private, no-cache"
    assert answer.headers["ETag"] == f'"{quote.file_hash}"'
    assert "Cookie" in answer.headers["Vary"]


def test_who_has_it_already_is_told_so_without_reading_it(tobin, quote, monkeypatch):
    printed(monkeypatch)
    tag = tobin.get(address(quote)).headers["ETag"]
    monkeypatch.setattr(files, "pdf_of", lambda paper: pytest.fail("read again"))

    answer = tobin.get(address(quote), headers={"If-None-Match": tag})

    assert (answer.status_code, answer.content, answer.headers["ETag"]) == (304, b"", tag)
    assert answer.headers["Cache-Control"] == "private, no-cache"


def test_another_tag_gets_the_file(tobin, quote, monkeypatch):
    made = printed(monkeypatch)
    tobin.get(address(quote))

    assert tobin.get(address(quote), headers={"If-None-Match": '"another"'}).content == made


def test_b101_the_paper_of_another_shop_is_not_there_by_any_method(signed_in, quote, monkeypatch):
    printed(monkeypatch)
    lise = signed_in("lise")
    missing = lise.get(address(quote, number="SLT-Q-9999"))

    for answer in (lise.get(address(quote)), lise.head(address(quote))):
        assert answer.status_code == missing.status_code == 404
    assert len(lise.get(address(quote)).content) == len(missing.content)
    assert lise.post(address(quote)).status_code == lise.delete(address(quote)).status_code == 405


@pytest.mark.parametrize(
    ("who", "kind", "status"),
    [
        ("maren", "quote", 200),
        ("odo", "quote", 403),
        ("sam", "quote", 403),
        ("sam", "authorization", 403),
        ("odo", "procedure sheet", 503),
        ("sam", "procedure sheet", 503),
    ],
)
def test_each_kind_is_for_who_may_read_it(signed_in, cast, monkeypatch, who, kind, status):
    printed(monkeypatch)
    monkeypatch.setattr(
        "shopserv.papers.pages.LAYOUTS", {k: v for k, v in files.LAYOUTS.items() if k != "procedure sheet"}
    )
    bay_stage.cleared(cast)
    paper = Paper.objects.filter(kind=kind).first()

    assert signed_in(who).get(address(paper)).status_code == status


def test_while_it_cannot_be_printed_the_page_says_so_and_when_to_come_back(tobin, quote, monkeypatch):
    def stuck(*_, **__):
        raise CannotRender("not done after 30 s")

    monkeypatch.setattr(files, "render_pdf", stuck)

    answer = tobin.get(address(quote))

    assert (answer.status_code, answer.headers["Retry-After"]) == (503, "60")
    assert f"{quote.number} is issued and safe" in answer.content.decode()
    assert answer.headers["Cache-Control"] == "no-store"


def test_a_damaged_file_is_shown_to_nobody(tobin, quote, monkeypatch):
    printed(monkeypatch)
    tobin.get(address(quote))
    quote.refresh_from_db()
    with quote.file.storage.open(quote.file.name, "wb") as kept:
        kept.write(b"something else")

    answer = tobin.get(address(quote))

    assert answer.status_code == 503
    assert "damaged" in answer.content.decode()
    assert b"something else" not in answer.content


def test_a_kept_file_that_is_gone_is_said_and_no_fault(tobin, quote, monkeypatch):
    printed(monkeypatch)
    tobin.get(address(quote))
    quote.refresh_from_db()
    quote.file.storage.delete(quote.file.name)

    assert tobin.get(address(quote)).status_code == 503


def test_a_language_that_was_not_issued_is_not_there(tobin, quote, monkeypatch):
    printed(monkeypatch)

    assert tobin.get(address(quote) + "?language=en").status_code == 200
    assert tobin.get(address(quote) + "?language=es").status_code == 404
    assert tobin.get(address(quote) + "?size=a4").status_code == 400


@pytest.mark.parametrize(
    "path",
    [
        "quote/BRW-Q-1/0/", "quote/BRW-Q-1/-1/", "quote/BRW-Q-1/9223372036854775808/", "quote/BRW-Q-1/1e3/",
        "quote/BRW-Q-1/1%00/", "quote/BRW-Q-1%00/1/", "quote%00/BRW-Q-1/1/", "quote/1;/1/", "quote/../1/1/",
        "quote/%FF/1/", "poster/BRW-Q-1/1/",
    ],
)  # fmt: skip
def test_b103_an_address_that_names_no_paper_is_not_found(tobin, quote, path):
    assert tobin.get(f"/records/paper/{path}").status_code == 404


def test_who_is_not_signed_in_is_sent_to_the_sign_in(client, quote):
    assert client.get(address(quote)).headers["Location"].startswith("/sign-in/")
