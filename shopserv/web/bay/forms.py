"""Forms of the bay: readings by keys or typed, with what was found, and why."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any

from django import forms
from django.core.exceptions import NON_FIELD_ERRORS
from django.http import QueryDict
from django.utils.translation import gettext_lazy as _

from shopserv.common.parsing import UnitDoubt
from shopserv.jobs import bay_readings as readings
from shopserv.jobs.bay_jump import WHY as WHY_JUMP
from shopserv.jobs.bay_readings import AMOUNTS, ENGINE_STOPS, KEYS
from shopserv.jobs.findings import FINDINGS
from shopserv.jobs.services.bay import Answers, Press
from shopserv.jobs.services.findings import SIGNS_OF_COOLANT
from shopserv.web.bay.figures import Typed, from_base, parted, plain, typed_figure, unit_doubt
from shopserv.web.fields import TypedField
from shopserv.web.forms import NOT_CHOSEN, NOT_TYPED, PageForm

WHY = {"required": _("Why? A few words.")}
MISSING = _("Still missing: %(reading)s. Read it, then type it or step to it.")
FOUND_IN_BAY = ("K-02", "K-03", "K-04", "K-06", "K-07", "K-08", "K-09", "K-12", "K-13", "K-14")


class FigureField(TypedField):
    """A reading of a step; gives `figures.Typed`."""

    def __init__(self, row: Mapping[str, Any], **kwargs: Any) -> None:
        self.row = dict(row)
        unit = parted(row["unit"])[1]
        how = {"what": row["what"], "unit": row["unit"]}
        label = str(row["words"])
        kwargs.setdefault("error_messages", {"required": NOT_TYPED})
        super().__init__(typed_figure, unit_shown=unit, how=how, label=label[:1].upper() + label[1:], **kwargs)

    def doubt(self, text: str) -> UnitDoubt | None:
        """A figure that makes sense only in another unit: quarts or liters, °F or °C, g, kg or lb."""
        return unit_doubt(text, self.row)


LONGEST = 9  # signs of a temperature in thousandths of a °C, with room


def why_jump_field() -> forms.ChoiceField:
    """How two temperatures that cannot belong together are both right; asked only where they are not."""
    return forms.ChoiceField(
        label=_("How both can be right"), choices=[*WHY_JUMP.items()], widget=forms.RadioSelect, required=False
    )


class Answering(PageForm):
    """A form whose deed may ask back: about a jump of temperature, about a drain that is hot."""

    HOT = "bay.hot_drain"

    def answers(self) -> Answers:
        """What was answered."""
        at = str(self.data.get("gear_at", ""))
        asked = int(at) if at.isascii() and at.isdecimal() and len(at) < LONGEST else None
        return Answers(self.cleaned_data.get("why_jump", ""), self.HOT in self.confirmed, asked)

    def clean(self) -> dict[str, Any] | None:
        """Keep the temperature as it was typed: what a tick is asked for, whatever is refused then."""
        found = super().clean()
        typed = self.cleaned_data.get("temp_mdegc")
        self._typed_mdegc = round(KEYS[typed.unit].exact(typed.value)) if isinstance(typed, Typed) else None
        return found

    @property
    def gear_at(self) -> str:
        """The figure, in thousandths of a °C, for which gear is asked on this page or was ticked on the one before."""
        codes = {error.code for errors in self.errors.as_data().values() for error in errors}
        typed = getattr(self, "_typed_mdegc", None)
        return str(typed) if self.HOT in codes and typed is not None else str(self.data.get("gear_at", ""))[:LONGEST]

    @property
    def is_confirmed(self) -> bool:
        """Whether what was asked besides is right as typed."""
        return bool(self.confirmed - {self.HOT})

    @property
    def keeps_gear(self) -> bool:
        """Whether gear was ticked and something else is to be mended: the tick stays."""
        codes = {error.code for errors in self.errors.as_data().values() for error in errors}
        return self.HOT in self.confirmed and bool(codes) and self.HOT not in codes

    @property
    def asks_why_jump(self) -> bool:
        """Whether the deed asked, or was answered before."""
        found = self.errors.as_data()
        asked = [error.code for name in ("temp_mdegc", NON_FIELD_ERRORS) for error in found.get(name, ())]
        return "why_jump" in self.fields and ("bay.jump" in asked or bool(self.data.get("why_jump")))


class StepForm(Answering):
    """The readings that a step needs, as they were read; what nobody read stands empty.

    A planned amount may be taken as the page shows it, by an act of its own ("as_shown"); a measurement never.

    needs   rows of bay_readings.need
    read    newest base value of each at this step
    """

    def __init__(
        self,
        *args: Any,
        needs: Sequence[Mapping[str, Any]],
        read: Mapping[str, int],
        words: bool = False,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.needs, self.read = {str(row["what"]): dict(row) for row in needs}, read
        for what, row in self.needs.items():
            if row["unit"] == "choice":
                choices = [(str(n), word) for n, word in enumerate(ENGINE_STOPS) if word]
                label = str(row["words"])
                self.fields[what] = forms.ChoiceField(
                    label=label[:1].upper() + label[1:],
                    choices=choices,
                    widget=forms.RadioSelect,
                    initial=str(read[what]) if what in read else "",
                    error_messages={"required": NOT_CHOSEN},
                )
            else:
                shown = plain(from_base(read[what], row["unit"]), row["unit"]) if what in read else ""
                missing = {"required": MISSING % {"reading": row["words"]}}
                self.fields[what] = FigureField(row, initial=shown, error_messages=missing)
        if "temp_mdegc" in self.needs:
            self.fields["why_jump"] = why_jump_field()
        if words:
            self.fields["words"] = forms.CharField(label=_("Why"), max_length=200, error_messages=WHY)

        self.as_shown = str(self.data.get("as_shown", "")) if self.is_bound else ""
        if self.expected(self.as_shown) and not str(self.data.get(self.as_shown, "")).strip():
            data = QueryDict(mutable=True)
            data.update(self.data)
            data[self.as_shown] = self.expected(self.as_shown)
            self.data = data

    def expected(self, what: str) -> str:
        """What a planned amount should come to, as it stands in a field; empty for what only an instrument says."""
        row = self.needs.get(what)
        return plain(row["start"], row["unit"]) if row and readings.is_planned(row) else ""

    def clean(self) -> dict[str, Any]:
        """A figure that was typed is not taken for the one on the key."""
        super().clean()
        said, expected = self.cleaned_data, self.expected(self.as_shown)
        if expected and isinstance(said.get(self.as_shown), Typed) and said[self.as_shown] != self._planned():
            words = _("“%(typed)s” stands in the field, the key said %(expected)s. Which was read? Press once more.")
            self.add_error(self.as_shown, words % {"typed": self.data[self.as_shown], "expected": expected})
        return said

    def _planned(self) -> Typed:
        row = self.needs[self.as_shown]
        return Typed(row["start"], row["unit"])

    def let_be_missing(self, but: str = "") -> None:
        """A key was pressed, or another reading is brought up: nothing has to be read yet.

        but   the reading that is left behind as read
        """
        for name, field in self.fields.items():
            field.required = field.required and name == but

    def presses(self) -> list[Press]:
        """A press for every reading of a step that is done, but those that stand as they were read before."""
        return self._presses(lambda what, said: what not in self.read or said != self._shown(what))

    def key_presses(self, stepped: str, by: int, confirmed: str = "") -> list[Press]:
        """A press for the reading that a key steps `by` so many of its unit, and for what was typed beside it.

        confirmed   the reading that stood big when another was asked for
        """
        kept = {stepped, confirmed}
        return self._presses(lambda what, said: what in kept or said != self._shown(what), stepped, by)

    def stepped(self, what: str, by: int) -> dict[str, str]:
        """Everything as it was typed, with one reading stepped; nothing is kept."""
        typed = {name: str(self.data.get(name, "")) for name in self.fields}
        said = self._said(what, by) if what in self.needs else None
        return typed if said is None else typed | {what: plain(said.value, said.unit)}

    def show(self, typed: Mapping[str, str]) -> None:
        """Stand as `typed` without being judged."""
        for name, value in typed.items():
            self.fields[name].initial = value

    def _presses(self, is_kept: Callable[[str, Typed], bool], stepped: str = "", by: int = 0) -> list[Press]:
        found = []
        for what in self.needs:
            said = self._said(what, by if what == stepped else 0)
            if said is not None and is_kept(what, said):
                key = f"{self.key}-{what}"[-80:]
                found.append(Press(what=what, value=said.value, unit=said.unit, once_key=key))
        return found

    def _shown(self, what: str) -> Typed | None:
        """What the page showed: read before; none where it was not."""
        unit = self.needs[what]["unit"]
        return Typed(from_base(self.read[what], unit), unit) if what in self.read else None

    def _said(self, what: str, by: int) -> Typed | None:
        row, said = self.needs[what], self.cleaned_data.get(what)
        if said in (None, "") and not by:
            return None
        if not isinstance(said, Typed):
            said = Typed(int(said or row["start"]), row["unit"])
        if not by:
            return said
        value = from_base(round(KEYS[said.unit].exact(said.value)), row["unit"]) + by
        return Typed(max(value, 0) if what in AMOUNTS else value, row["unit"])


class WhyForm(PageForm):
    """A deed that asks for its reason."""

    words = forms.CharField(label=_("Why"), max_length=200, error_messages=WHY)


class RolledOutForm(PageForm):
    """A vehicle on hold that made room for the next."""

    words = forms.CharField(label=_("Rolled out: where does it stand now?"), max_length=200, required=False)


class HoldForm(PageForm):
    """Stop, and why."""

    words = forms.CharField(label=_("What is in the way"), max_length=300, error_messages=WHY)


class CoolantForm(PageForm):
    """Coolant in the fluid: what was seen; each sign is a button of its own."""

    signs = forms.MultipleChoiceField(
        label=_("What was seen"),
        choices=[(sign, sign) for sign in SIGNS_OF_COOLANT],
        error_messages={"required": _("Press what was seen.")},
    )


class FindingForm(PageForm):
    """Something else that speaks against going on."""

    code = forms.ChoiceField(
        label=_("What was found"),
        choices=[(code, FINDINGS[code].bay_words) for code in FOUND_IN_BAY],
        widget=forms.RadioSelect,
    )
    words = forms.CharField(label=_("Where, how much"), max_length=300, error_messages=WHY)


def of_people(people: Iterable[Any]) -> list[tuple[str, str]]:
    """Choices of people by their key."""
    return [(str(one.pk), one.name) for one in people]
