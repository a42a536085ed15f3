"""What speaks against the work: the closed list of findings, in plain words, and what each of them stops."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from shopserv.common.errors import Refusal

AS_IT_SHOULD_BE, WATCH, DECISION, STOP = (
    "as it should be",
    "watch",
    "needs your decision",
    "stop",
)
GRADES = (AS_IT_SHOULD_BE, WATCH, DECISION, STOP)
IN_LOGBOOK = "in the logbook: "  # how a sign begins that names the job which a finding goes against
PARTIAL = "single drain"  # the single partial change that K-11 asks for first
LOWEST_FRACTION_PPM = 850_000  # house rule for K-06: a method must replace more than this


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of finding.

    words        for the writer
    bay_words    for the technician
    customer_words   for the customer, without codes
    grade        of one that is suspected or confirmed
    bars         "fluid" (every fluid method), "cooler line", "small share" (methods that replace too little), or ""
    override     roles that may override it, apart by blanks; empty: nobody, ever
    demands      what an override has to say or show, in words
    """

    code: str
    words: str
    bay_words: str
    customer_words: str
    found_by: str
    grade: str
    effect: str
    bars: str = ""
    override: str = ""
    demands: str = ""


DIAGNOSED = "a closed diagnosis visit with its written result"
FINDINGS: dict[str, Kind] = {
    kind.code: kind
    for kind in (
        Kind("K-01", "coolant in the fluid", "Milky or pink fluid, glycol strip positive, cooler loses pressure",
             "Coolant has got into the transmission fluid. Please do not drive the vehicle.", "bay", STOP,
             "no exchange; not to be driven, told in writing; diagnosis of cooler and transmission only", "fluid"),
        Kind("K-02", "slips, flares or engages late", "Slip, flare or late engagement felt",
             "The transmission slips or engages late. We look for the cause before any fluid work.", "counter or road",
             STOP, "no fluid work; diagnosis first, then decide again", "fluid", "owner", DIAGNOSED),
        Kind("K-03", "burnt smell with friction dust", "Burnt smell, friction dust in the pan or on the strip",
             "The fluid smells burnt and carries dust of the clutches. We look for the cause first.", "bay", STOP,
             "diagnosis first", "fluid", "owner", DIAGNOSED),
        Kind("K-04", "stored fault codes", "Stored codes of ratio, pressure or solenoid kind",
             "The transmission's computer has stored faults.", "bay or counter", DECISION,
             "codes copied to the record before clearing", "", "owner", "words"),
        Kind("K-05", "which transmission it has is only assumed", "Unit or fluid not identified beyond assumed",
             "We have to look which transmission the vehicle has.", "counter", STOP,
             "no fluid leaves the shelf; raise the evidence"),
        Kind("K-06", "wrong or mixed fluid suspected", "Wrong or mixed fluid suspected in the unit",
             "There may be another fluid in the transmission than it needs.", "bay or history", DECISION,
             "only methods that replace more than 85 %", "small share", "owner", "words"),
        Kind("K-07", "leaks outside", "Leak at pan, cooler line, axle seal or converter housing",
             "Fluid leaks at the outside of the transmission.", "bay or counter", WATCH,
             "a weep is watched; dripping under pressure stops", "", "owner technician", "a repair line"),
        Kind("K-08", "fill plug will not open", "Fill plug will not open, is damaged, or cannot be reached",
             "The fill plug does not open; it has to be repaired first.", "bay", STOP,
             "nothing is drained", "fluid", "owner", "a repair line"),
        Kind("K-09", "thermostat in the cooler circuit is shut", "Thermostat shut, no maker's way to hold it open",
             "The fluid cannot be exchanged through the cooler lines of this vehicle.", "bay", WATCH,
             "cooler-line methods are barred; others remain", "cooler line"),
        Kind("K-10", "methods barred by the unit sheet", "Only the methods on the unit sheet",
             "Some ways of changing the fluid are not meant for this transmission.", "counter", WATCH,
             "only the methods on the unit sheet"),
        Kind("K-11", "fluid never changed beyond the shop's distance line", "Fluid never changed, high distance",
             "The fluid was never changed. New fluid may bring wear to light that is there already.", "counter",
             DECISION, "told in writing; single partial change offered first", "", "owner",
             "the customer's signature"),
        Kind("K-12", "not safe to lift, run or drive", "Lifting points, brakes or tires unsafe",
             "The vehicle has to be made safe before it can be lifted or driven.", "bay", STOP,
             "until made safe", "fluid"),
        Kind("K-13", "water in the fluid", "Water without glycol: laboratory, flood, breather",
             "There is water in the fluid. We look for its way in first.", "bay", STOP,
             "way in found and shut first; fluid to the container on hold", "fluid", "owner",
             "a closed diagnosis with the laboratory result"),
        Kind("K-14", "metal beyond fine paste", "Flakes, needles or brass on the magnet or in the pan",
             "There is metal in the fluid. We look for its source first.", "bay", STOP,
             "photo of the magnet; diagnosis first", "fluid", "owner", DIAGNOSED),
        Kind("K-15", "hybrid, or an electric pump", "Hybrid or electric pump: only the steps the sheet gives",
             "Hybrid vehicles are worked on only by people trained for them.", "counter", STOP,
             "every step that the sheet does not give; trained people only", "hybrid"),
    )
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Question:
    """One of the six questions of the intake slip: a yes writes the finding as suspected, in the customer's words."""

    name: str
    words: str
    code: str


QUESTIONS = (
    Question("slips", "Does it slip, flare or engage late?", "K-02"),
    Question("lamp", "Is a warning lamp on?", "K-04"),
    Question("other_fluid", "Was fluid put in elsewhere, or is it not known which?", "K-06"),
    Question("drips", "Does it drip where it stands?", "K-07"),
    Question("never_changed", "Was the fluid never changed?", "K-11"),
    Question("hybrid", "Is it a hybrid or plug-in?", "K-15"),
)
COOLER_LINE = frozenset(
    {
        "line exchange",
        "pan drop then line exchange",
        "standpipe drain then line exchange",
        "line exchange with held-open thermostat",
        "warm-open line exchange",
    }
)
STANDS = ("suspected", "confirmed")
OF_ITS_VISIT = ("K-05", "K-10")  # the system knows them anew at each visit
UNTIL_CHANGED = ("K-06", "K-11")  # what fluid is in it: gone with it once it was changed


@dataclass(frozen=True, slots=True)
class Standing:
    """How a finding stands now: its newest entry.

    words     of that entry
    visit     number of the earlier visit on which it was found; empty: on this one
    at        when it was found
    """

    code: str
    state: str
    words: str
    signs: tuple[str, ...] = ()
    visit: str = ""
    at: datetime | None = None

    @property
    def kind(self) -> Kind:
        """What the list says of it."""
        return FINDINGS[self.code]

    @property
    def customer_words(self) -> str:
        """What the customer reads; where the logbook has a change that was said never to be, with that change."""
        logged = next((one.removeprefix(IN_LOGBOOK) for one in self.signs if one.startswith(IN_LOGBOOK)), "")
        if self.code != "K-11" or not logged:
            return self.kind.customer_words
        return (
            f"You told us that the fluid was never changed; our logbook has {logged}. If it was not, new fluid may "
            "bring wear to light that is there already."
        )

    @property
    def asks_for_diagnosis(self) -> bool:
        """Whether only a diagnosis that was done lets it be lifted or decided."""
        return "a closed diagnosis" in self.kind.demands

    @property
    def stands(self) -> bool:
        """Whether it is suspected or confirmed."""
        return self.state in STANDS

    @property
    def grade(self) -> str:
        """Its grade now: one that dripped under pressure stops, one that was lifted is as it should be."""
        if not self.stands:
            return AS_IT_SHOULD_BE
        return STOP if self.code == "K-07" and "dripping under pressure" in self.signs else self.kind.grade


def kind_of(code: str) -> Kind:
    """The kind with this code.

    raises  Refusal finding.unknown
    """
    if code not in FINDINGS:
        raise Refusal(f"There is no finding “{code}”.", code="finding.unknown", field="code")
    return FINDINGS[code]


def heaviest(standing: Iterable[Standing]) -> str:
    """The grade of the gravest finding; as it should be where there is none."""
    return max((one.grade for one in standing), key=GRADES.index, default=AS_IT_SHOULD_BE)


def barred_because(
    method: str,
    standing: Iterable[Standing],
    *,
    fraction_low_ppm: int | None,
    is_named_for_hybrid: bool = False,
) -> str:
    """Why a method is barred by what was found, in one line; empty: it is not.

    fraction_low_ppm      share of new fluid that the method leaves at least; none: not known
    is_named_for_hybrid   whether the sheet gives the steps for an electric pump
    """
    for one in standing:
        if not one.stands:
            continue
        kind, bars = one.kind, one.kind.bars
        if (
            bars == "fluid"
            or (bars == "hybrid" and not is_named_for_hybrid)
            or (one.grade == STOP and one.code == "K-07")
        ):
            return f"{kind.words}: {kind.effect}"
        if bars == "cooler line" and method in COOLER_LINE:
            return f"{kind.words}: no cooler-line method"
        small = fraction_low_ppm is None or fraction_low_ppm <= LOWEST_FRACTION_PPM
        if bars == "small share" and (method == "single drain" or small):
            return f"{kind.words}: it replaces too little"
    return ""


def asks_for_partial_first(standing: Iterable[Standing]) -> bool:
    """Whether the fluid was never changed and nobody has decided yet: a single partial change is offered first."""
    return any(one.code == "K-11" and one.stands for one in standing)


def bars_fluid(standing: Iterable[Standing]) -> bool:
    """Whether what was found bars every fluid method, so that a diagnosis comes first."""
    return any(
        one.stands and one.grade == STOP and (one.kind.bars == "fluid" or one.code == "K-07") for one in standing
    )
