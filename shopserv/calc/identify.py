"""Which unit a vehicle has: what was seen weighs the candidates, and the one look that parts them best is named.

Weights, chances and losses are exact fractions. A look may err at a stated rate; what it contradicts is named and never
averaged away: a candidate that one look speaks against is not decided for, however heavy it is.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from fractions import Fraction

from shopserv.calc.errors import MissingInput, OutOfRange, SharesDoNotSumToOne, UnknownChoice
from shopserv.calc.money import round_half_up
from shopserv.calc.working import From, Given, Step, Working

Weights = Mapping[str, Fraction]  # by candidate; they sum to one

FITS, MAY_BE, AGAINST = "fits", "may be", "speaks against"
DECIDED, OPEN, AGAINST_LEAD, NONE_FITS = "decided", "open", "evidence against it", "none fits"
SOURCE = "Bayes' rule; least expected loss after one look (value of information): Raiffa and Schlaifer 1961, memory"


@dataclass(frozen=True, slots=True)
class Question:
    """One look, and what it shows on each candidate.

    answers  two or more
    shows    candidate -> answer -> share of such vehicles that show it; a candidate not in it: not known, so that
             every answer is equally likely and says nothing for or against it
    error    how often a look is read as another answer than what is there; each other answer equally often
    effort   what the look asks of the shop, in minutes
    unseen   how often the look shows nothing at all: a tag that cannot be read; whichever unit it is
    """

    code: str
    words: str
    answers: tuple[str, ...]
    shows: Mapping[str, Mapping[str, Fraction]]
    error: Fraction = Fraction(0)
    effort: int = 0
    unseen: Fraction = Fraction(0)

    def __post_init__(self) -> None:
        count = len(self.answers)
        if count < 2 or len(set(self.answers)) < count:
            raise UnknownChoice(f"“{self.words}” has the answers {', '.join(self.answers)}; it needs two or more.")
        if not 0 <= self.error <= 1 - Fraction(1, count):
            raise OutOfRange(
                f"“{self.words}” errs in {self.error} of all looks; between 0 and {1 - Fraction(1, count)}, which is "
                "guessing."
            )
        if not 0 <= self.unseen <= 1:
            raise OutOfRange(f"“{self.words}” shows nothing in {self.unseen} of all looks; between 0 and 1.")
        for unit, shares in self.shows.items():
            if set(shares) - set(self.answers):
                raise UnknownChoice(f"“{self.words}” of {unit}: {', '.join(shares)} are not all among its answers.")
            if sum(shares.values()) != 1 or min(shares.values()) < 0:
                raise SharesDoNotSumToOne(f"“{self.words}” of {unit}: the shares of its answers are not one together.")

    def chance(self, unit: str, answer: str) -> Fraction:
        """How likely this look at `unit` is read as `answer`.

        raises  UnknownChoice for an answer that it does not have
        check   one of two answers that is there, error 1/50: 49/50; the other: 1/50; not known: 1/2
        """
        self.must_have(answer)
        count = len(self.answers)
        if unit not in self.shows:
            return Fraction(1, count)
        there = self.shows[unit].get(answer, Fraction(0))
        return there * (1 - self.error) + (1 - there) * self.error / (count - 1)

    def says(self, unit: str, answer: str) -> str:
        """What `answer` says of `unit`, in words: it fits, it may be, it speaks against it."""
        self.must_have(answer)
        if unit not in self.shows:
            return MAY_BE
        there = self.shows[unit].get(answer, Fraction(0))
        return FITS if there == 1 else MAY_BE if there else AGAINST

    def must_have(self, answer: str) -> None:
        """Refuse an answer that this question does not have."""
        if answer not in self.answers:
            raise UnknownChoice(f"“{answer}” is no answer to “{self.words}”: {', '.join(self.answers)}.")


@dataclass(frozen=True, slots=True)
class Seen:
    """One answer to one question. The same question twice: two looks, each counts."""

    question: Question
    answer: str

    def says(self, unit: str) -> str:
        """What it says of `unit`."""
        return self.question.says(unit, self.answer)


@dataclass(frozen=True, slots=True)
class WrongCost:
    """What it costs to take one unit for another, in cents.

    usual  of any pair that is not named
    pairs  (what it is, what it was taken for) -> cents; the two directions may differ
    """

    usual: Fraction
    pairs: Mapping[tuple[str, str], Fraction] = field(default_factory=dict)

    def __post_init__(self) -> None:
        if min([self.usual, *self.pairs.values()]) < 0:
            raise OutOfRange("To take one unit for another costs nothing or more, never less than nothing.")

    def of(self, true: str, taken: str) -> Fraction:
        """In cents; nothing where it was taken for what it is."""
        return Fraction(0) if true == taken else self.pairs.get((true, taken), self.usual)


@dataclass(frozen=True, slots=True)
class After:
    """What one question would do.

    loss      expected loss after it, in cents
    branches  (answer, its chance where something is seen, the unit to take then, expected loss then); an answer that
              cannot come is left out
    is_apart  whether any answer would move the weights at all
    """

    question: Question
    loss: Fraction
    branches: tuple[tuple[str, Fraction, str, Fraction], ...]
    is_apart: bool


@dataclass(frozen=True, slots=True)
class Ranking:
    """The candidates as they stand, and what to look at next.

    verdict   DECIDED at the stated confidence and nothing against it; OPEN below; AGAINST_LEAD: something that was
              seen speaks against the heaviest, although another look weighs more; NONE_FITS: something speaks against
              each of them
    ranked    (candidate, weight), heaviest first
    loss      expected loss if nothing more is asked and `taken` is taken, in cents
    against   (what was seen, the candidates it speaks against)
    asks      questions that part the candidates, best first
    """

    verdict: str
    ranked: tuple[tuple[str, Fraction], ...]
    taken: str
    loss: Fraction
    confidence: Fraction
    against: tuple[tuple[Seen, tuple[str, ...]], ...]
    asks: tuple[After, ...]
    working: Working

    @property
    def lead(self) -> str:
        """The heaviest candidate."""
        return self.ranked[0][0]

    @property
    def ask(self) -> After | None:
        """The one best question; none where no look parts them."""
        return self.asks[0] if self.asks else None


def prior(known: Mapping[str, int], fits: Weights | None = None) -> dict[str, Fraction]:
    """The weights before anything is seen: how often the shop has identified each, one added; equal if it has none.

    known    candidate -> vehicles of this kind in which the shop has identified it
    fits     candidate -> weight of the evidence that it is fitted at all, 0 to 1; one where not named
    returns  weights that sum to one, in the order of `known`
    raises   MissingInput without a candidate; OutOfRange for a negative count or a weight outside 0 to 1, or none above
    source   rule of succession: Laplace 1774, memory
    check    3 and 0 of two: 4/5 and 1/5
    """
    if not known:
        raise MissingInput("There is no candidate.")
    given = fits or {}
    parts = {}
    for unit, count in known.items():
        share = Fraction(given.get(unit, 1))
        if count < 0 or not 0 <= share <= 1:
            raise OutOfRange(f"{unit}: {count} identified and weight {share}; a count from 0 and a weight of 0 to 1.")
        parts[unit] = (count + 1) * share
    return _whole(parts)


def weigh(weights: Weights, seen: Sequence[Seen]) -> dict[str, Fraction]:
    """The weights after all that was seen, by Bayes' rule.

    returns  weights that sum to one; those before, where what was seen can come from no candidate at all
    raises   UnknownChoice
    check    1/2, 3/10, 1/5 and a look without error that only the first two show: 5/8, 3/8, 0
    """
    parts = dict(weights)
    for one in seen:
        parts = {unit: weight * one.question.chance(unit, one.answer) for unit, weight in parts.items()}
    return _whole(parts) if any(parts.values()) else dict(weights)


def least_loss(weights: Weights, cost: WrongCost) -> tuple[Fraction, str]:
    """The expected loss in cents if the best unit is taken now, and which that is; of equals the heaviest, then first.

    check   1/2, 3/10, 1/5 at 900.00: 450.00, the first
    """
    found = [
        (sum((weight * cost.of(true, taken) for true, weight in weights.items()), Fraction(0)), -weights[taken], at)
        for at, taken in enumerate(weights)
    ]
    loss, _, at = min(found)
    return loss, list(weights)[at]


def after(weights: Weights, question: Question, cost: WrongCost) -> After:
    """The expected loss after `question`: over its answers, chance of the answer x least expected loss then.

    Where the look shows nothing, the loss stays what it is.

    check   1/2, 3/10, 1/5 at 900.00: 270.00 where the third alone answers otherwise, 180.00 where the second does
    """
    branches, is_apart = [], False
    for answer in question.answers:
        parts = {unit: weight * question.chance(unit, answer) for unit, weight in weights.items()}
        chance = sum(parts.values())
        if chance:
            then = {unit: part / chance for unit, part in parts.items()}
            loss, taken = least_loss(then, cost)
            branches.append((answer, Fraction(chance), taken, loss))
            is_apart = is_apart or then != dict(weights)
    seen = sum((chance * loss for _, chance, _, loss in branches), Fraction(0))
    total = question.unseen * least_loss(weights, cost)[0] + (1 - question.unseen) * seen
    return After(question, total, tuple(branches), is_apart and question.unseen < 1)


def rank(
    weights: Weights,
    seen: Sequence[Seen],
    questions: Sequence[Question],
    cost: WrongCost,
    confidence: Fraction,
) -> Ranking:
    """Where the candidates stand after all that was seen, and the questions that are left, best first.

    weights     before anything was seen, see `prior`
    questions   those that can still be asked; one that parts nothing is left out
    confidence  above a half, up to one: from this weight on a unit counts as decided by evidence
    returns     questions by expected loss after them, lowest first; of equals the least effort, then by code
    raises      MissingInput, OutOfRange, UnknownChoice
    source      the shop's own rule, no source outside: weight x cost of taking the wrong one
    """
    if not weights:
        raise MissingInput("There is no candidate.")
    if not Fraction(1, 2) < confidence <= 1:
        raise OutOfRange(f"A stated confidence of {confidence}: above 1/2, where a guess ends, and up to 1.")
    now = weigh(weights, seen)
    ranked = tuple(sorted(now.items(), key=lambda pair: -pair[1]))
    speaks = [(one, tuple(unit for unit in now if one.says(unit) == AGAINST)) for one in seen]
    against = tuple((one, units) for one, units in speaks if units)
    struck = {unit for _, units in against for unit in units}
    lead, heaviest = ranked[0]
    if struck >= set(now):
        verdict = NONE_FITS
    elif lead in struck:
        verdict = AGAINST_LEAD
    else:
        verdict = DECIDED if heaviest >= confidence else OPEN
    loss, taken = least_loss(now, cost)
    found = [one for one in (after(now, question, cost) for question in questions) if one.is_apart]
    asks = tuple(sorted(found, key=lambda one: (one.loss, one.question.effort, one.question.code)))
    working = _working(weights, seen, now, loss, taken, asks, cost)
    return Ranking(verdict, ranked, taken, loss, confidence, against, asks, working)


def _whole(parts: Weights) -> dict[str, Fraction]:
    total = sum(parts.values())
    if not total:
        raise OutOfRange("No candidate has a weight above zero.")
    return {unit: Fraction(part) / total for unit, part in parts.items()}


def _working(
    weights: Weights,
    seen: Sequence[Seen],
    now: Weights,
    loss: Fraction,
    taken: str,
    asks: Sequence[After],
    cost: WrongCost,
) -> Working:
    given = [
        Given(f"w_{{{n}}}", f"{unit} before anything was seen", weight, "", From.COMPUTED, "identified by this shop")
        for n, (unit, weight) in enumerate(weights.items(), 1)
    ]
    given += [
        Given(r"\varepsilon", f"{one.question.words} {one.answer}: error of such a look", one.question.error, "",
              From.HOUSE_RULES, "looks and their error rates")
        for one in seen
    ]  # fmt: skip
    given.append(Given("c", "taking the wrong one", _usd(cost.usual), "USD", From.HOUSE_RULES, "cost of the wrong one"))
    given += [
        Given("c", f"{true} taken for {other}", _usd(cents), "USD", From.HOUSE_RULES, "cost of the wrong one")
        for (true, other), cents in cost.pairs.items()
    ]
    steps = [Step(f"{unit} after all that was seen", _POSTERIOR, weight, "") for unit, weight in now.items()]
    steps.append(Step(f"expected loss now, taking {taken}", _NOW, _usd(loss), "USD"))
    for one in asks:
        steps += [
            Step(f"{one.question.words} {answer}: chance {_percent(chance)}, then {then}", _NOW, _usd(left), "USD")
            for answer, chance, then, left in one.branches
        ]
        if one.question.unseen:
            steps.append(Step(f"{one.question.words} Nothing can be seen: chance", "n", one.question.unseen, ""))
        steps.append(Step(f"expected loss after “{one.question.words}”", _AFTER, _usd(one.loss), "USD"))
    return Working(
        figure="expected loss",
        value=_usd(loss),
        unit="USD",
        formula="weight of each candidate x cost of taking the wrong one; after a look, over its answers",
        formulas=(_POSTERIOR, _NOW, _AFTER),
        given=tuple(given),
        steps=tuple(steps),
        sources=(SOURCE,),
        assumptions=("looks err independently of each other", "what is not known of a unit says nothing about it"),
    )


_POSTERIOR = r"p_u = \frac{w_u \, P(a \mid u)}{\sum_v w_v \, P(a \mid v)}"
_NOW = r"L = \min_t \sum_u p_u \, c_{u t}"
_AFTER = r"L_q = n L + (1 - n) \sum_a P(a) \, L_a"


def _usd(cents: Fraction) -> Decimal:
    return round_half_up(cents / 100)


def _percent(share: Fraction) -> str:
    return f"{float(share * 100):.1f}%"
