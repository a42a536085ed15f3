"""Names in other scripts stand on the papers, and what no face can set is refused before it gets there."""

from __future__ import annotations

import io
import json

import pytest
from django import forms
from pypdf import PdfReader

from shopserv.papers import letters, pages
from shopserv.papers.models import Paper
from shopserv.papers.render import render_pdf
from shopserv.web.forms import PageForm
from tests.jobs import stage

pytestmark = pytest.mark.once
NAMES = ["Ñandú Öz", "Nguyễn Thị", "Čapek Łoś", "Ξένια", "Ждан", "שרה", "سميرة", "☺ 😀"]


@pytest.mark.parametrize("name", NAMES)
def test_a_name_that_a_person_may_have_is_set_without_a_box(cast, name):
    stage.offered(cast)
    paper = Paper.objects.select_related("shop").get(kind="quote")
    data = json.loads(paper.snapshot)
    paper.snapshot = json.dumps({**data, "note": name})

    made = render_pdf(pages.html_of(paper))

    said = PdfReader(io.BytesIO(made)).pages[0].extract_text()
    assert letters.first_unset(name) == ""
    assert {sign for sign in name if sign.isalpha()} - set(said) == set()


@pytest.mark.parametrize(("text", "sign"), [("漢字", "漢"), ("fine 🛻", "🛻"), ("Zoe\u0308\tand\r\nmore", "")])
def test_the_first_sign_that_no_face_has_is_named(text, sign):
    assert letters.first_unset(text) == sign


class Slip(PageForm):
    name = forms.CharField(label="Name")


def test_a_form_refuses_the_sign_at_its_field_and_keeps_what_was_typed():
    form, fine = Slip({"name": "Ada 漢"}), Slip({"name": "Ada Öz"})

    assert fine.is_valid()
    assert form.errors["name"] == [
        "“漢” cannot be printed on our papers. Write it in other letters, or leave the sign out."
    ]
    assert form["name"].value() == "Ada 漢"
