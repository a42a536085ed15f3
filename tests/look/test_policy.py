"""No inline style, no inline script, no page without its margin: over every template, not over a sample."""

import re
from pathlib import Path

import pytest
from django.conf import settings
from django.template.loader import get_template

pytestmark = pytest.mark.once
ROOT = Path(settings.BASE_DIR)
TEMPLATES = sorted(
    path.relative_to(ROOT / "templates").as_posix()
    for path in (ROOT / "templates").rglob("*.html")
    if "papers" not in path.parts  # what is printed has its styles embedded
)
INLINE = re.compile(r"""<style|\sstyle\s*=|<script(?![^>]*\ssrc=)|\son[a-z]+\s*=|javascript:""", re.IGNORECASE)


@pytest.mark.parametrize("name", TEMPLATES)
def test_a_template_has_no_inline_style_or_script(name):
    assert INLINE.findall((ROOT / "templates" / name).read_text("utf-8")) == []


@pytest.mark.parametrize("text", ['<p style="x">', "<style>", "<script>1</script>", '<a onclick="x">', "javascript:x"])
def test_the_search_finds_what_it_looks_for(text):
    assert INLINE.findall(text) != []


@pytest.mark.parametrize("name", TEMPLATES)
def test_a_template_compiles(name):
    assert get_template(name).template.name == name


@pytest.mark.parametrize("path", sorted((ROOT / "static" / "css").glob("*.css")), ids=lambda path: path.name)
def test_a_style_sheet_asks_for_nothing_from_elsewhere(path):
    for url in re.findall(r"""url\(["']?([^"')]+)""", path.read_text("utf-8")):
        assert url.startswith("#") or (path.parent / url).resolve().is_file(), url


@pytest.mark.parametrize("path", sorted((ROOT / "static" / "js").glob("*.js")), ids=lambda path: path.name)
def test_a_script_evaluates_no_text_and_asks_for_nothing_from_elsewhere(path):
    text = path.read_text("utf-8")

    assert re.findall(r"\beval\(|new Function|innerHTML|https?://|\.style\b", text) == []


def test_the_tokens_hold_their_contrast_on_paper():
    """WCAG 2.2, 1.4.3 and 1.4.11: text 4.5, what is drawn 3; light and dark."""
    text = (ROOT / "static/css/base.css").read_text("utf-8")
    blocks = re.findall(r":root \{(.*?)\n *\}", text, re.DOTALL)[:2]
    light, dark = (dict(re.findall(r"--([a-z-]+): (#[0-9a-f]{6})", block)) for block in blocks)

    for tokens in (light, dark):
        for name in ("ink", "ink-soft", "copper", "link"):
            assert contrast(tokens[name], tokens["paper"]) >= 4.5, name
        assert contrast(tokens["fluid"], tokens["paper"]) >= 3


def contrast(one, other):
    """Contrast ratio of two colors (WCAG 2.2, definition of relative luminance)."""
    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def luminance(color):
    parts = [int(color[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return sum(weight * part for weight, part in zip((0.2126, 0.7152, 0.0722), linear, strict=True))


def test_black_on_white_has_a_contrast_of_21():
    assert contrast("#ffffff", "#000000") == pytest.approx(21)
