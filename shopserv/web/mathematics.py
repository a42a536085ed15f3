"""Formulas as mathematics: LaTeX text in, MathML out, which browsers set and screen readers read without any script."""

from __future__ import annotations

import re
from functools import lru_cache
from xml.etree import ElementTree

from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe
from latex2mathml.converter import convert

MATHML = "http://www.w3.org/1998/Math/MathML"
ElementTree.register_namespace("", MATHML)
# What a formula of ours is made of; an element or attribute that is not here is not sent to a browser.
ELEMENTS = frozenset((
    "math", "mrow", "mi", "mn", "mo", "mtext", "mspace", "mfrac", "msqrt", "mroot", "msub", "msup", "msubsup",
    "munder", "mover", "munderover", "mstyle", "mpadded", "mphantom", "mtable", "mtr", "mtd",
))  # fmt: skip
ATTRIBUTES = frozenset((
    "display", "mathvariant", "stretchy", "fence", "form", "width", "height", "depth", "lspace", "rspace",
    "separator", "linethickness", "displaystyle", "scriptlevel", "columnalign", "movablelimits", "symmetric",
))  # fmt: skip
_TAG = re.compile(r"\{.*\}")


_WORDS = re.compile(r"[A-Za-z]{2,}(,? [A-Za-z]+)+")


class NoFormula(ValueError):
    """LaTeX that does not become a formula of ours."""


@lru_cache(maxsize=512)
def formula(latex: str) -> SafeString:
    """The formula as MathML with its LaTeX as text for who cannot see it set; as plain text where it is none."""
    if _WORDS.fullmatch(latex):
        return format_html("{}", latex)
    try:
        return mark_safe(_mathml(latex))  # noqa: S308 every element and attribute was looked at
    except NoFormula:
        return format_html("<code>{}</code>", latex)


def _mathml(latex: str) -> str:
    try:
        root = ElementTree.fromstring(convert(latex, display="block"))  # noqa: S314 made here, no document type
    except Exception as cause:  # the library raises classes of its own, the parser another
        raise NoFormula(latex) from cause
    for element in root.iter():
        _clean(element)
    for element in root.iter():
        _join_words(element)
        _name(element)
        _mark_words(element)
    root.set("alttext", latex)
    return ElementTree.tostring(root, encoding="unicode")


def _clean(element: ElementTree.Element) -> None:
    name = _TAG.sub("", element.tag)
    if name not in ELEMENTS:
        raise NoFormula(name)
    for attribute in list(element.attrib):
        if attribute not in ATTRIBUTES:
            del element.attrib[attribute]


def _join_words(element: ElementTree.Element) -> None:
    r"""Letters of one upright word in one element: \mathrm{air} is read "air", not a, i, r."""
    joined: list[ElementTree.Element] = []
    for child in element:
        if joined and _is_upright(child) and _is_upright(joined[-1]):
            joined[-1].text = (joined[-1].text or "") + (child.text or "")
        else:
            joined.append(child)
    if len(joined) < len(element):
        element[:] = joined


def _name(element: ElementTree.Element) -> None:
    """Two letters or more under or over a sign are a name, read as one word: V_{high}."""
    if _TAG.sub("", element.tag) not in ("msub", "msup", "msubsup", "munder"):
        return
    for place in list(element)[1:]:
        letters = list(place)
        if len(letters) > 1 and all(_TAG.sub("", one.tag) == "mi" for one in letters):
            letters[0].text = "".join(one.text or "" for one in letters)
            place[:] = letters[:1]


def _mark_words(element: ElementTree.Element) -> None:
    """A name of several letters stands upright, as a style sheet cannot count letters."""
    if _TAG.sub("", element.tag) == "mi" and len(element.text or "") > 1:
        element.set("class", "word")


def _is_upright(element: ElementTree.Element) -> bool:
    return _TAG.sub("", element.tag) == "mi" and element.get("mathvariant") == "normal" and len(element) == 0
