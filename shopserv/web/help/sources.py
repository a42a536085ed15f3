"""The sources of the calculation as its own docstrings name them, so that the table cannot say anything else."""

from __future__ import annotations

import importlib
import inspect
import pkgutil
import re
from dataclasses import dataclass
from functools import cache

from shopserv import calc

NOT_TOLD = ("errors",)  # and the modules that only run the checks: figures…
NO_SOURCE = ("no source", "without a source", "judgment")


@dataclass(frozen=True, slots=True)
class Source:
    """One function of the calculation: what it gives, and where its formula or figure comes from.

    is_ours   common practice or a judgment of our own, no source outside
    see       name of the function whose source holds here, too; "": none
    """

    module: str
    name: str
    gives: str
    source: str
    is_ours: bool
    see: str

    @property
    def words(self) -> str:
        """The name as words."""
        return self.name.replace("_", " ")

    @property
    def see_words(self) -> str:
        """The name of the function to see, as words."""
        return self.see.replace("_", " ")


@cache
def sources() -> tuple[Source, ...]:
    """Every public function of `calc` that names a source, by module, in the order of the code."""
    found = []
    for info in pkgutil.iter_modules(calc.__path__):
        if info.name in NOT_TOLD or info.name.startswith("figures"):
            continue
        module = importlib.import_module(f"{calc.__name__}.{info.name}")
        for name, thing in vars(module).items():
            if name.startswith("_") or not inspect.isfunction(thing) or thing.__module__ != module.__name__:
                continue
            text = source_of(inspect.getdoc(thing) or "")
            if constant := re.fullmatch(r"see ([A-Z_]+)", text):  # several functions of a module share one
                text = getattr(module, constant[1])
            if text:
                found.append(_source(info.name, name, inspect.getdoc(thing) or "", text))
    return tuple(found)


def _source(module: str, name: str, doc: str, text: str) -> Source:
    see = re.fullmatch(r"see (\w+)|calc\.\w+\.(\w+)", text)
    return Source(
        module=module.replace("_", " "),
        name=name,
        gives=first_sentence(doc),
        source=in_words(text),
        is_ours=any(words in text for words in NO_SOURCE),
        see=(see[1] or see[2]) if see else "",
    )


def first_sentence(doc: str) -> str:
    """What a function gives: the first paragraph of its docstring, names of arguments as words."""
    paragraph = " ".join(doc.split("\n\n")[0].split())
    return in_words(paragraph)


def in_words(text: str) -> str:
    """The text with names of the program as words: `thing_found`, calc.oil.thing_found, oil.thing_found, calc.oil."""
    text = re.sub(r"\bcalc\.(\w+\.)(?=\w)", "", text)
    text = re.sub(r"\bcalc\.(\w+)", lambda found: f"the part “{found[1].replace('_', ' ')}”", text)
    text = re.sub(r"`(?:[a-z_]+\.)?([a-z0-9_]+)`", r"\1", text)
    text = re.sub(r"\b[a-z]+\.(?=[a-z]+_[a-z_]+\b)", "", text)
    return re.sub(r"\b[a-z0-9]+(?:_[a-z0-9]+)+\b", lambda found: found[0].replace("_", " "), text)


def source_of(doc: str) -> str:
    """The entry `source` of a docstring, its continuation lines closed up; "" where there is none."""
    lines = doc.splitlines()
    for at, line in enumerate(lines):
        if found := re.match(r"source {2,}(\S.*)", line):
            more = []
            for next_line in lines[at + 1 :]:
                if not next_line.startswith(" ") or not next_line.strip():
                    break
                more.append(next_line.strip())
            return " ".join([found[1].strip(), *more])
    return ""
