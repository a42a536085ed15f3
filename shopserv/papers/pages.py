"""The page of HTML of an issued paper, from its frozen data alone."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any
from zoneinfo import ZoneInfo

from django.template.loader import render_to_string
from django.utils import timezone, translation
from django.utils.translation import gettext as _
from django.utils.translation import pgettext

from shopserv.common import formats
from shopserv.papers.layout import authorization, invoice, procedure, quote
from shopserv.papers.layout.common import Data
from shopserv.papers.models import Paper

LAYOUTS: dict[str, tuple[str, Callable[[Data, str], dict[str, Any]]]] = {
    "quote": ("quote", quote.context),
    "authorization": ("authorization", authorization.context),
    "invoice": ("invoice", invoice.context),
    "procedure sheet": ("procedure", procedure.context),
}
LANGUAGES = ("en",)  # those with a whole catalog of texts: a paper stands in one language from head to foot


def html_of(paper: Paper) -> str:
    """The paper as one HTML document, in its language or else in English, in the zone and units of its shop.

    Nothing but the snapshot is read: the same snapshot gives the same page for ever.

    raises  LookupError for a kind that has no page
    """
    data = json.loads(paper.snapshot)
    language = paper.language if paper.language in LANGUAGES else "en"
    with translation.override(language), timezone.override(ZoneInfo(data["shop"]["time_zone"])):
        name, context = LAYOUTS[paper.kind]
        values = context(data, paper.snapshot_hash)
        return render_to_string(
            f"papers/{name}.html", {**values, "language": language, "sheet": f"pack:papers/{name}.css"}
        )


def language_words(language: str) -> str:
    """In which language a paper of this language prints: "English, for a reader of Spanish"."""
    if language in LANGUAGES:
        return formats.language(language)
    return _("%(printed)s, for a reader of %(reads)s") % {
        "printed": formats.language("en"),
        "reads": formats.language(language),
    }


def page_words(language: str) -> tuple[str, str]:
    """What stands before and between the numbers of a page."""
    with translation.override(language if language in LANGUAGES else "en"):
        return pgettext("before the number of a page", "Page "), pgettext("between two numbers of a page", " of ")
