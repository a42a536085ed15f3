"""Coordinates as text, the same in every language."""

from __future__ import annotations


def px(value: float) -> str:
    """A coordinate with a tenth of a pixel and a point, never a comma: "12.5", "12", "0"."""
    text = f"{value:.1f}".removesuffix(".0")
    return "0" if text == "-0" else text


def nice_step(span: float, most: int = 10) -> int:
    """The smallest of 1, 2, 5 × 10ⁿ that divides `span` into `most` steps or fewer."""
    step = 1
    while True:
        for factor in (1, 2, 5):
            if span / (step * factor) <= most:
                return step * factor
        step *= 10
