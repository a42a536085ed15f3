"""Formulas as MathML: what a browser gets, and what it never gets."""

from __future__ import annotations

from typing import Any
from xml.etree import ElementTree

import pytest

from shopserv.web.mathematics import MATHML, formula


def parsed(text: str) -> Any:
    return ElementTree.fromstring(text)  # noqa: S314 our own


def words_of(latex: str) -> list[tuple[str, str]]:
    root = parsed(formula(latex))
    return [(one.tag.removeprefix(f"{{{MATHML}}}"), one.text) for one in root.iter() if one.text]


def test_a_formula_is_mathml_with_its_text_beside_it():
    root = parsed(formula(r"f = \frac{d}{C}"))

    assert root.tag == f"{{{MATHML}}}math"
    assert (root.get("display"), root.get("alttext")) == ("block", r"f = \frac{d}{C}")
    assert words_of(r"f = \frac{d}{C}") == [("mi", "f"), ("mo", "="), ("mi", "d"), ("mi", "C")]
    assert root.find(f".//{{{MATHML}}}mfrac") is not None


def test_an_upright_word_is_read_as_one_word():
    assert words_of(r"t_\mathrm{air}") == [("mi", "t"), ("mi", "air")]
    assert words_of(r"t_{\mathrm{air}} + x") == [("mi", "t"), ("mi", "air"), ("mo", "+"), ("mi", "x")]


@pytest.mark.parametrize(
    "latex",
    [
        r"\text{<script>alert(1)</script>}",
        r"\text{<img src=x onerror=alert(1)>}",
        r"\href{javascript:alert(1)}{x}",
        r"\class{x}{y}",
        r"\frac{1",
    ],
)
def test_what_is_no_formula_is_shown_as_text_and_never_as_markup(latex):
    sent = formula(latex)

    assert "<script" not in sent
    assert "<img" not in sent
    assert 'javascript:alert(1)"' not in sent
    assert "href=" not in sent
    if sent.startswith("<code>"):
        assert sent.endswith("</code>")
    else:
        parsed(sent)


def test_markup_in_a_text_makes_the_whole_formula_plain_text():
    assert formula(r"\text{<b>}") == r"<code>\text{&lt;b&gt;}</code>"
    assert formula(r"\text{<mi onclick='x'>a</mi>}").count("onclick") == 1  # in its text alone
    assert 'onclick="' not in formula(r"\text{<mi onclick='x'>a</mi>}").partition("alttext")[0]


def test_a_name_under_a_sign_is_read_as_one_word():
    assert words_of(r"V_{high} - V_i") == [("mi", "V"), ("mi", "high"), ("mo", "−"), ("mi", "V"), ("mi", "i")]
    assert words_of(r"a_{n m}^{2}")[1] == ("mi", "nm")
    assert '<mi class="word">high</mi>' in formula(r"V_{high}")
    assert "<mi>V</mi>" in formula(r"V_{high}")


def test_words_alone_are_no_formula():
    assert formula("as the sign itself allows") == "as the sign itself allows"
    assert formula("A L").startswith("<math")
