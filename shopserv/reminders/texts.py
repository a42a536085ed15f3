"""The words of reminder letters, by version and language. A version never changes once a letter was written from it."""

from __future__ import annotations

import re
from collections.abc import Mapping

VERSION = 1
FIELDS = frozenset({"name", "vehicle", "plate", "month", "clock", "shop", "phone", "address"})
_CLOCKS = {
    "en": {"distance": "by the distance it was driven", "months": "by the age of its fluid"},
    "es": {"distance": "por la distancia recorrida", "months": "por la edad del fluido"},
}
_EN = """Hello {{name}},

the transmission fluid of your {{vehicle}} ({{plate}}) is due about {{month}}, {{clock}}.

Call us at {{phone}} or answer this letter, and we will set a time. A quote in writing comes before any work.

You get this letter because you permitted reminders. Answer with the word "stop", or call, and none will follow.

{{shop}}
{{address}}
"""
_ES = """Hola, {{name}}:

El fluido de la transmisión de su {{vehicle}} ({{plate}}) debe cambiarse hacia {{month}}, {{clock}}.

Llámenos al {{phone}} o responda a esta carta y acordaremos una hora. Antes de cualquier trabajo recibirá un
presupuesto por escrito.

Recibe esta carta porque permitió los recordatorios. Responda con la palabra "alto", o llame, y no habrá más.

{{shop}}
{{address}}
"""
TEXTS: dict[int, dict[str, tuple[str, str]]] = {
    1: {
        "en": ("Transmission fluid of your {{vehicle}}: due about {{month}}", _EN),
        "es": ("Fluido de la transmisión de su {{vehicle}}: hacia {{month}}", _ES),
    }
}


def clock_words(governs: str, language: str) -> str:
    """Which clock makes it due, in words."""
    return _CLOCKS[known(language)][governs]


def known(language: str) -> str:
    """The language that a letter is written in: the customer's where we have it, else English."""
    return language if language in _CLOCKS else "en"


def written(version: int, language: str, values: Mapping[str, str]) -> tuple[str, str]:
    """Subject and text with their fields filled in; what a person typed is never read as a field.

    values   of every field in FIELDS
    raises   KeyError for a field that is not known
    """
    subject, text = TEXTS[version][known(language)]
    return _filled(subject, values), _filled(text, values)


def _filled(text: str, values: Mapping[str, str]) -> str:
    return re.sub(r"\{\{(\w+)\}\}", lambda found: values[found[1]], text)
