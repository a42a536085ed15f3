"""The invoice carries what 16 CCR 3356, Fla. Stat. 559.911 and EN 16931 ask, as the job's section 11 lists them."""

from __future__ import annotations

import io
import json
import re

import pytest
from pypdf import PdfReader

from shopserv.billing import services
from shopserv.jobs.services.authorize import authorize
from shopserv.papers import files
from shopserv.papers.models import Paper
from tests.billing import stage
from tests.jobs import stage as jobs_stage
from tests.jobs.test_authorize import addition

SECRET = ("cost_cents", "margin", "markup", "hour_cost")


@pytest.fixture(autouse=True)
def own_folder(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path


def paper_of(cast, order) -> Paper:
    services.issue(order, actor=cast.tobin, edition=order.edition, odometer_out=63_186)
    return Paper.objects.select_related("shop").get(kind="invoice")


def words_of(made: bytes) -> str:
    return " ".join(" ".join(page.extract_text().split()) for page in PdfReader(io.BytesIO(made)).pages)


def test_it_says_everything_that_an_invoice_must(cast):
    said = words_of(files.pdf_of(paper_of(cast, stage.through(cast, stage.agreed(cast)))))

    wanted = [
        "Invoice BRW-2026-0001", "Issued Nov 24, 2026, delivered Nov 24, 2026", "Harrow Fold Gearbox Service",
        "00-0000000", "Ansel Thornby", "0SMAA1B27KA000101", "SAL 2100", "Odometer out 63,186 mi",
        "cooler-line fluid exchange", "fill plug ring and cooler line seals, new", "10.6 qt (10.0 L)",
        "services $270.00", "$1.80 a liter", "before tax $434.63", "tax, 6.25 % on $133.13 $8.32",
        "not taxed $301.50", "total $442.95",
        "to be paid $442.95", "Due on receipt", "telephone +12025550111", "agreed total $442.95",
        "12 months or 12,000 mi from Nov 24, 2026", "Odo Brackley (OB), the work", "BRW-W-", "Page 1 of 1",
    ]  # fmt: skip
    assert [words for words in wanted if words not in said] == []
    assert re.findall(r"(?<![\d$.,])\d[\d,]*\.\d\d(?![\d %])(?! %)", said) == []


@pytest.mark.parametrize(
    ("left_ml", "words"),
    [
        (None, ["10.7 qt (10.1 L)", "10.7 qt (10.1 L) poured, as measured", "0.3 qt (0.3 L) left over, yours to take"]),
        (379, ["10.7 qt (10.1 L) poured, as measured", "0.4 qt (0.4 L) left over, yours to take"]),
        (0, ["10.7 qt (10.1 L) poured, as measured", "nothing left over"]),
    ],
)
def test_what_was_poured_and_left_stands_as_it_was_measured(cast, left_ml, words):
    noted = {} if left_ml is None else {"leftover": {"left_ml": left_ml}}

    # Planned were 10,000 of 10,408 bought.
    paper = paper_of(cast, stage.through(cast, stage.agreed(cast), in_ml=10_100, close_out=noted))

    said = words_of(files.pdf_of(paper))
    fluid = next(line for line in json.loads(paper.snapshot)["lines"] if line["kind"] == "fluid")
    assert [word for word in words if word not in said] == []
    assert (fluid["quantity_thousandths"], fluid["price_cents"]) == (10_100, 12_208)
    assert fluid["detail"]["left_ml"] == (308 if left_ml is None else left_ml)


def test_no_cost_and_no_margin_stand_in_its_data(cast):
    snapshot = paper_of(cast, stage.through(cast, stage.agreed(cast))).snapshot

    assert [name for name in SECRET if name in snapshot] == []


def test_an_addition_stands_on_it_with_its_own_yes(cast):
    order = stage.agreed(cast)
    option = addition(cast, order, cents=1_500).options.get()
    total = 44_295 + option.total_cents
    authorize(option, actor=cast.tobin, consent=jobs_stage.by_telephone(option, amount_cents=total))
    order.refresh_from_db()

    paper = paper_of(cast, stage.through(cast, order))

    data = json.loads(paper.snapshot)
    assert data["total_cents"] == total
    assert [one["amount_cents"] for one in data["authorizations"]] == [44_295, total]
    assert "$15.00" in words_of(files.pdf_of(paper))


def test_the_file_is_the_same_a_year_later(cast):
    paper = paper_of(cast, stage.through(cast, stage.agreed(cast)))
    first = files.pdf_of(paper)
    paper.file.delete(save=False)
    again = files.render_pdf(files.html_of(Paper.objects.get(pk=paper.pk)), page_words=files.page_words("en"))

    assert files.sha256(again) == files.sha256(first)
