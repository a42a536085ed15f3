"""No typed word runs off the sheet, however long it is."""

from __future__ import annotations

import json

import pypdfium2
import pytest

from shopserv.billing import services
from shopserv.jobs.services import authorize
from shopserv.papers import pages
from shopserv.papers.models import Paper
from shopserv.papers.render import render_pdf
from tests.billing import stage as billing_stage
from tests.jobs import bay_stage, stage

pytestmark = pytest.mark.once
LONG = "Ungetumwort" * 16
TYPED = ("name", "note", "why", "words", "text", "added_text", "words_read", "person", "said", "street", "lamps")
OURS = ("steps", "findings_list")  # words of the program
MARGIN_PT = 36


def quote(cast):
    stage.offered(cast)


def authorization(cast):
    option = stage.option(stage.offered(cast), "C")
    authorize.authorize(option, actor=cast.tobin, consent=stage.by_telephone(option))


def procedure_sheet(cast):
    bay_stage.cleared(cast)


def invoice(cast):
    order = billing_stage.through(cast, billing_stage.agreed(cast))
    services.issue(order, actor=cast.tobin, edition=order.edition, odometer_out=63_186)


def stretched(data, name=""):
    """A snapshot with a very long word wherever a person may have typed one."""
    if isinstance(data, dict):
        return {key: value if key in OURS else stretched(value, key) for key, value in data.items()}
    if isinstance(data, list):
        return [stretched(value, name) for value in data]
    return LONG if isinstance(data, str) and name in TYPED else data


def right_edges(made: bytes) -> list[float]:
    """How far each sign of each page stands from the right edge of its page, in points."""
    found = []
    for page in pypdfium2.PdfDocument(made):
        words = page.get_textpage()
        found += [page.get_width() - words.get_charbox(sign)[2] for sign in range(words.count_chars())]
    return found


@pytest.mark.parametrize("issue", [quote, authorization, procedure_sheet, invoice])
def test_a_word_as_long_as_a_line_is_broken_inside_the_sheet(cast, issue):
    issue(cast)
    paper = Paper.objects.select_related("shop").get(kind=issue.__name__.replace("_", " "))
    paper.snapshot = json.dumps(stretched(json.loads(paper.snapshot)))

    made = render_pdf(pages.html_of(paper))

    assert [edge for edge in right_edges(made) if edge < MARGIN_PT] == []
