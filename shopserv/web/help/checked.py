"""What the calculation is checked against, as the files of checks name it: `fixtures/checked.json`, made from them."""

from __future__ import annotations

import json
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from django.conf import settings
from django.utils.translation import gettext_lazy as _

KINDS = {
    "published": _("published"),
    "worked-example": _("worked apart"),
    "dataset": _("open data"),
    "library": _("another program"),
    "identity": _("by itself"),
    "common-practice": _("common practice"),
    "memory": _("from memory"),
}
OUTSIDE, APART = ("published", "dataset", "library"), "worked-example"


@dataclass(frozen=True, slots=True)
class Work:
    """A work, how it is used, how many checks come from it, and what they look at."""

    name: str
    kind: str
    checks: int
    quantities: tuple[str, ...]

    @property
    def kind_words(self) -> str:
        """The kind as words."""
        return str(KINDS[self.kind])

    @property
    def is_outside(self) -> bool:
        """Whether somebody else, or arithmetic apart from the program's, stands behind it."""
        return self.kind in OUTSIDE or self.kind == APART

    @property
    def words(self) -> str:
        """The quantities as words."""
        names = ", ".join(name.replace("_", " ") for name in self.quantities)
        return names.replace("vin ", "VIN ").replace("iso4406", "ISO 4406")


@dataclass(frozen=True, slots=True)
class Checked:
    """All works, and how many checks there are: of our own, and of the contract besides."""

    works: tuple[Work, ...]
    own: int
    contract: int

    @property
    def outside(self) -> int:
        """How many of our own are somebody else's figures."""
        return sum(work.checks for work in self.works if work.kind in OUTSIDE)

    @property
    def apart(self) -> int:
        """How many are worked out apart from the program, from a source or a law."""
        return sum(work.checks for work in self.works if work.kind == APART)

    def kind(self, name: str) -> int:
        """How many checks are known in one way."""
        return sum(work.checks for work in self.works if work.kind == name)

    @property
    def itself(self) -> int:
        """How many hold the program to a law that it must keep, whatever the figures."""
        return self.kind("identity")

    @property
    def practice(self) -> int:
        """How many rest on common practice, with no source."""
        return self.kind("common-practice")

    @property
    def memory(self) -> int:
        """How many figures were written from memory."""
        return self.kind("memory")


@cache
def checked() -> Checked:
    """The table."""
    read = json.loads((Path(settings.BASE_DIR) / "fixtures" / "checked.json").read_text("utf-8"))
    works = [Work(row["work"], row["kind"], row["checks"], tuple(row["quantities"])) for row in read["works"]]
    return Checked(tuple(works), read["own"], read["contract"])
