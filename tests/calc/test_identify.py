"""Which unit is it. Checks: the worked example of three candidates (invented); the wildcatter's seismic test of
Raiffa, Decision Analysis, 1968, with the tables of Shenoy, Operations Research 40 (1992); properties.
"""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shopserv.calc import errors, identify
from shopserv.calc.identify import AGAINST, FITS, MAY_BE, Question, Seen, WrongCost
from shopserv.calc.working import from_dict
from tests.calc.worked import WORKED

ONE = WORKED["one_best_question"]
WEIGHTS = {unit: Fraction(weight) for unit, weight in ONE["weights"].items()}
COST = WrongCost(Fraction(ONE["cost_of_a_wrong_unit"]) * 100)
HALF = {"yes": Fraction(1, 2), "no": Fraction(1, 2)}


def asked(words, answers, error=Fraction(0), effort=1, **shown):
    """A question whose candidates each show one answer."""
    return Question(
        words, words, answers, {unit: {answer: Fraction(1)} for unit, answer in shown.items()}, error, effort
    )


WHEELS = asked("wheels driven?", ("front", "rear"), AL640="front", AL641="front", BI850="rear")
BUILT = Question(
    "built before July 2021?",
    "built before July 2021?",
    ("yes", "no"),
    {"AL640": {"yes": Fraction(1)}, "AL641": {"no": Fraction(1)}, "BI850": HALF},
    effort=5,
)


def ranking(seen=(), questions=(WHEELS, BUILT), confidence=Fraction(9, 10), weights=WEIGHTS, cost=COST):
    return identify.rank(weights, seen, questions, cost, confidence)


def dollars(cents):
    return f"{Decimal(cents.numerator) / cents.denominator / 100:.2f}"


def test_the_worked_example_to_the_cent():
    found = ranking()

    losses = {"none asked": dollars(found.loss)} | {one.question.code: dollars(one.loss) for one in found.asks}
    assert losses == ONE["expected_loss_after"]
    assert found.ask.question.code == ONE["ask"]
    assert (found.lead, found.taken, found.verdict) == ("AL640", "AL640", identify.OPEN)
    assert found.ranked == (("AL640", Fraction(1, 2)), ("AL641", Fraction(3, 10)), ("BI850", Fraction(1, 5)))


def test_each_answer_says_its_chance_the_unit_then_and_the_loss_then():
    wheels, built = identify.after(WEIGHTS, WHEELS, COST), identify.after(WEIGHTS, BUILT, COST)

    assert wheels.branches == (
        ("front", Fraction(4, 5), "AL640", Fraction(33750)),
        ("rear", Fraction(1, 5), "BI850", Fraction(0)),
    )
    assert built.branches == (
        ("yes", Fraction(3, 5), "AL640", Fraction(15000)),
        ("no", Fraction(2, 5), "AL641", Fraction(22500)),
    )
    assert (wheels.loss, built.loss) == (27000, 18000)


def test_a_look_without_error_strikes_what_it_speaks_against():
    seen = Seen(WHEELS, "front")

    assert identify.weigh(WEIGHTS, [seen]) == {"AL640": Fraction(5, 8), "AL641": Fraction(3, 8), "BI850": 0}
    assert [seen.says(unit) for unit in WEIGHTS] == [FITS, FITS, AGAINST]
    assert Seen(BUILT, "no").says("BI850") == MAY_BE
    assert WHEELS.says("FI1060", "front") == MAY_BE


def test_the_chance_of_an_answer_with_an_error():
    look = asked("plug?", ("side", "end", "none"), Fraction(1, 50), A="side")

    assert [look.chance("A", answer) for answer in look.answers] == [
        Fraction(49, 50),
        Fraction(1, 100),
        Fraction(1, 100),
    ]
    assert [look.chance("B", answer) for answer in look.answers] == [Fraction(1, 3)] * 3
    mixed = Question("m", "m", ("yes", "no"), {"A": {"yes": Fraction(3, 4), "no": Fraction(1, 4)}}, Fraction(1, 10))
    assert mixed.chance("A", "yes") == Fraction(3, 4) * Fraction(9, 10) + Fraction(1, 4) * Fraction(1, 10)


def test_the_wildcatter_hears_the_seismic_test():
    """Raiffa 1968: dry, wet, soaking 0.5, 0.3, 0.2; the test says none, open, closed with 0.41, 0.35, 0.24."""
    shows = {"dry": (6, 3, 1), "wet": (3, 4, 3), "soaking": (1, 4, 5)}
    answers = ("none", "open", "closed")
    test = Question(
        "t",
        "t",
        answers,
        {s: {a: Fraction(n, 10) for a, n in zip(answers, row, strict=True)} for s, row in shows.items()},
    )
    weights = {"dry": Fraction(1, 2), "wet": Fraction(3, 10), "soaking": Fraction(1, 5)}

    found = identify.after(weights, test, COST)

    assert [(answer, chance) for answer, chance, _, _ in found.branches] == [
        ("none", Fraction(41, 100)),
        ("open", Fraction(35, 100)),
        ("closed", Fraction(24, 100)),
    ]
    assert [round(float(w), 3) for w in identify.weigh(weights, [Seen(test, "none")]).values()] == [0.732, 0.220, 0.049]
    assert [round(float(w), 3) for w in identify.weigh(weights, [Seen(test, "open")]).values()] == [0.429, 0.343, 0.229]
    assert [round(float(w), 3) for w in identify.weigh(weights, [Seen(test, "closed")]).values()] == [
        0.208,
        0.375,
        0.417,
    ]


def test_a_dearer_mistake_is_shunned_although_it_is_the_less_likely_one():
    cost = WrongCost(Fraction(90000), {("B", "A"): Fraction(400_000)})

    assert identify.least_loss({"A": Fraction(3, 4), "B": Fraction(1, 4)}, cost) == (Fraction(67500), "B")
    assert identify.least_loss({"A": Fraction(3, 4), "B": Fraction(1, 4)}, WrongCost(Fraction(90000))) == (
        Fraction(22500),
        "A",
    )
    assert (cost.of("A", "A"), cost.of("A", "B"), cost.of("B", "A")) == (0, 90000, 400_000)
    found = ranking((), (), weights={"A": Fraction(3, 4), "B": Fraction(1, 4)}, cost=cost)
    assert (found.lead, found.taken) == ("A", "B")


def test_of_equal_losses_the_heaviest_is_taken_then_the_first():
    free = WrongCost(Fraction(0))

    assert identify.least_loss({"A": Fraction(1, 4), "B": Fraction(3, 4)}, free) == (0, "B")
    assert identify.least_loss({"A": Fraction(1, 2), "B": Fraction(1, 2)}, free) == (0, "A")


def test_the_confidence_is_reached_at_the_stated_weight_and_not_a_hair_below():
    weights = {"A": Fraction(9, 10), "B": Fraction(1, 10)}

    assert ranking((), (), weights=weights).verdict == identify.DECIDED
    assert ranking((), (), Fraction(9, 10) + Fraction(1, 10**9), weights).verdict == identify.OPEN
    assert ranking((), (), Fraction(1), {"A": Fraction(1)}).verdict == identify.DECIDED


def test_what_speaks_against_the_heaviest_is_named_and_not_outvoted():
    looks = [asked(f"look {n}", ("x", "y"), Fraction(1, 50), A="x", B="y") for n in range(4)]
    seen = [*(Seen(look, "x") for look in looks[:3]), Seen(looks[3], "y")]

    found = ranking(seen, (), weights={"A": Fraction(1, 2), "B": Fraction(1, 2)})

    assert found.ranked[0] == ("A", Fraction(2401, 2402))
    assert found.verdict == identify.NONE_FITS
    assert found.against == (
        (seen[0], ("B",)),
        (seen[1], ("B",)),
        (seen[2], ("B",)),
        (seen[3], ("A",)),
    )


def test_where_something_speaks_against_the_heaviest_alone_it_is_not_decided():
    only_a = asked("pan?", ("x", "y"), Fraction(1, 50), A="x")
    strong = Question(
        "s", "s", ("x", "y"), {"A": {"x": Fraction(1)}, "B": {"x": Fraction(1, 10**6), "y": 1 - Fraction(1, 10**6)}}
    )

    found = ranking([Seen(strong, "x"), Seen(only_a, "y")], (), weights={"A": Fraction(1, 2), "B": Fraction(1, 2)})

    assert found.lead == "A"
    assert found.ranked[0][1] > Fraction(9, 10)
    assert found.verdict == identify.AGAINST_LEAD
    assert found.against == ((Seen(only_a, "y"), ("A",)),)


def test_where_no_candidate_can_be_so_the_weights_stay_and_none_fits():
    found = ranking(
        [Seen(asked("w", ("x", "y"), A="x", B="x"), "y")], (), weights={"A": Fraction(2, 3), "B": Fraction(1, 3)}
    )

    assert found.verdict == identify.NONE_FITS
    assert found.ranked == (("A", Fraction(2, 3)), ("B", Fraction(1, 3)))


def test_of_equal_questions_the_one_of_least_effort_is_asked_then_by_code():
    far = asked("far", ("front", "rear"), effort=9, AL640="front", AL641="front", BI850="rear")
    near = asked("near", ("front", "rear"), effort=2, AL640="front", AL641="front", BI850="rear")
    also = asked("also", ("front", "rear"), effort=2, AL640="front", AL641="front", BI850="rear")

    assert [one.question.code for one in ranking((), (far, near, also)).asks] == ["also", "near", "far"]


def test_what_parts_nothing_is_not_asked():
    same = asked("same", ("x", "y"), AL640="x", AL641="x", BI850="x")
    unknown = Question("unknown", "unknown", ("x", "y"), {})
    guess = asked("guess", ("x", "y"), Fraction(1, 2), AL640="x", AL641="y")

    found = ranking((), (same, unknown, guess))

    assert (found.asks, found.ask) == ((), None)
    assert identify.after(WEIGHTS, same, COST).branches == (("x", Fraction(1), "AL640", Fraction(45000)),)


def test_a_look_that_often_shows_nothing_helps_that_much_less():
    tag = Question("tag", "tag?", BUILT.answers, BUILT.shows, unseen=Fraction(1, 4))
    never = Question("never", "never?", BUILT.answers, BUILT.shows, unseen=Fraction(1))

    assert identify.after(WEIGHTS, tag, COST).loss == Fraction(45000 + 3 * 18000, 4)
    assert identify.after(WEIGHTS, tag, COST).branches == identify.after(WEIGHTS, BUILT, COST).branches
    assert identify.after(WEIGHTS, never, COST).loss == 45000
    steps = ranking((), (never, tag)).working.as_dict()["steps"]
    assert [(row["formula"], row["value"]) for row in steps if row["words"] == "tag? Nothing can be seen: chance"] == [
        ("n", "1/4")
    ]
    assert [one.question.code for one in ranking((), (never, tag)).asks] == ["tag"]


def test_the_prior_adds_one_to_what_was_identified_and_weighs_the_evidence_of_a_fitment():
    assert identify.prior({"A": 3, "B": 0}) == {"A": Fraction(4, 5), "B": Fraction(1, 5)}
    assert identify.prior({"A": 0, "B": 0, "C": 0}) == {"A": Fraction(1, 3), "B": Fraction(1, 3), "C": Fraction(1, 3)}
    assert identify.prior({"A": 1, "B": 1}, {"B": Fraction(1, 3)}) == {"A": Fraction(3, 4), "B": Fraction(1, 4)}
    assert identify.prior({"A": 1, "B": 1}, {"B": Fraction(0)}) == {"A": 1, "B": 0}


def test_the_working_tells_every_sum():
    found = ranking(
        [Seen(WHEELS, "front")], [BUILT], cost=WrongCost(Fraction(90000), {("AL640", "BI850"): Fraction(50000)})
    )
    kept = found.working.as_dict()

    assert (kept["figure"], kept["value"], kept["unit"]) == ("expected loss", "337.50", "USD")
    assert [(row["symbol"], row["words"], row["value"]) for row in kept["inputs"]] == [
        ("w_{1}", "AL640 before anything was seen", "1/2"),
        ("w_{2}", "AL641 before anything was seen", "3/10"),
        ("w_{3}", "BI850 before anything was seen", "1/5"),
        (r"\varepsilon", "wheels driven? front: error of such a look", "0"),
        ("c", "taking the wrong one", "900.00"),
        ("c", "AL640 taken for BI850", "500.00"),
    ]
    assert [(row["words"], row["value"]) for row in kept["steps"]] == [
        ("AL640 after all that was seen", "5/8"),
        ("AL641 after all that was seen", "3/8"),
        ("BI850 after all that was seen", "0"),
        ("expected loss now, taking AL640", "337.50"),
        ("built before July 2021? yes: chance 62.5%, then AL640", "0.00"),
        ("built before July 2021? no: chance 37.5%, then AL641", "0.00"),
        ("expected loss after “built before July 2021?”", "0.00"),
    ]
    assert [(row["provenance"], row["source"], row["unit"]) for row in kept["inputs"]] == [
        *[("computed", "identified by this shop", "")] * 3,
        ("house rules", "looks and their error rates", ""),
        *[("house rules", "cost of the wrong one", "USD")] * 2,
    ]
    weight, now, after = kept["formulas"]
    assert [(row["formula"], row["unit"]) for row in kept["steps"]] == [
        *[(weight, "")] * 3,
        *[(now, "USD")] * 3,
        (after, "USD"),
    ]
    assert (kept["sources"], kept["assumptions"], kept["formula"]) == (
        [identify.SOURCE],
        ["looks err independently of each other", "what is not known of a unit says nothing about it"],
        "weight of each candidate x cost of taking the wrong one; after a look, over its answers",
    )
    assert from_dict(kept).figure == found.working.figure


@pytest.mark.parametrize(
    ("made", "error", "words"),
    [
        (lambda: Question("q", "which?", ("x",), {}), errors.UnknownChoice, "“which?” has the answers x; it needs two"),
        (lambda: Question("q", "which?", ("x", "x"), {}), errors.UnknownChoice, "needs two or more"),
        (
            lambda: Question("q", "which?", ("x", "y"), {}, Fraction(-1, 9)),
            errors.OutOfRange,
            "errs in -1/9 of all looks",
        ),
        (lambda: Question("q", "which?", ("x", "y"), {}, Fraction(51, 100)), errors.OutOfRange, "between 0 and 1/2"),
        (lambda: Question("q", "q", ("x", "y"), {}, unseen=Fraction(-1, 9)), errors.OutOfRange, "nothing in -1/9"),
        (lambda: Question("q", "q", ("x", "y"), {}, unseen=Fraction(10, 9)), errors.OutOfRange, "nothing in 10/9"),
        (
            lambda: Question("q", "q", ("x", "y"), {"A": {"z": Fraction(1)}}),
            errors.UnknownChoice,
            "of A: z are not all",
        ),
        (lambda: Question("q", "q", ("x", "y"), {"A": {"x": Fraction(1, 2)}}), errors.SharesDoNotSumToOne, "“q” of A"),
        (
            lambda: Question("q", "q", ("x", "y"), {"A": {"x": Fraction(3, 2), "y": Fraction(-1, 2)}}),
            errors.SharesDoNotSumToOne,
            "are not one together",
        ),
        (lambda: Question("q", "q", ("x", "y"), {"A": {}}), errors.SharesDoNotSumToOne, "“q” of A"),
        (lambda: WHEELS.chance("AL640", "all"), errors.UnknownChoice, "“all” is no answer to “wheels driven?”: front"),
        (lambda: WHEELS.chance("FI1060", "all"), errors.UnknownChoice, "“all” is no answer"),
        (lambda: WHEELS.says("FI1060", "all"), errors.UnknownChoice, "“all” is no answer"),
        (lambda: WrongCost(Fraction(-1)), errors.OutOfRange, "nothing or more"),
        (lambda: WrongCost(Fraction(1), {("A", "B"): Fraction(-1)}), errors.OutOfRange, "nothing or more"),
        (lambda: identify.prior({}), errors.MissingInput, "no candidate"),
        (lambda: identify.prior({"A": -1}), errors.OutOfRange, "A: -1 identified and weight 1"),
        (lambda: identify.prior({"A": 1}, {"A": Fraction(11, 10)}), errors.OutOfRange, "weight 11/10"),
        (lambda: identify.prior({"A": 1}, {"A": Fraction(-1, 10)}), errors.OutOfRange, "weight -1/10"),
        (lambda: identify.prior({"A": 1}, {"A": Fraction(0)}), errors.OutOfRange, "No candidate has a weight"),
        (lambda: ranking(weights={}), errors.MissingInput, "no candidate"),
        (lambda: ranking(confidence=Fraction(1, 2)), errors.OutOfRange, "confidence of 1/2"),
        (lambda: ranking(confidence=Fraction(101, 100)), errors.OutOfRange, "confidence of 101/100"),
    ],
)
def test_what_makes_no_sense_is_refused_by_name(made, error, words):
    with pytest.raises(error) as told:
        made()

    assert words in str(told.value)


def test_guessing_is_the_largest_error_allowed():
    assert Question("q", "q", ("x", "y"), {}, Fraction(1, 2)).error == Fraction(1, 2)
    assert Question("q", "q", ("x", "y", "z"), {}, Fraction(2, 3)).error == Fraction(2, 3)


UNITS = ("A", "B", "C", "D")
share = st.fractions(0, 1, max_denominator=20)


@st.composite
def cases(draw):
    """Weights that sum to one, a question with any shares and error, costs of any direction."""
    parts = draw(st.lists(st.integers(0, 20), min_size=2, max_size=4).filter(any))
    units = UNITS[: len(parts)]
    weights = {unit: Fraction(part, sum(parts)) for unit, part in zip(units, parts, strict=True)}
    answers = ("x", "y", "z")[: draw(st.integers(2, 3))]
    shows = {}
    for unit in units:
        row = draw(st.lists(st.integers(0, 5), min_size=len(answers), max_size=len(answers)))
        if any(row):
            shows[unit] = {answer: Fraction(n, sum(row)) for answer, n in zip(answers, row, strict=True)}
    question = Question("q", "q", answers, shows, draw(share) * (1 - Fraction(1, len(answers))), unseen=draw(share))
    pairs = {(a, b): Fraction(draw(st.integers(0, 500_000))) for a in units for b in units if a != b}
    return weights, question, WrongCost(Fraction(90000), pairs)


@settings(max_examples=120)
@given(cases())
def test_asking_never_raises_the_expected_loss_and_the_weights_are_one_together(case):
    weights, question, cost = case
    now, _ = identify.least_loss(weights, cost)

    found = identify.after(weights, question, cost)

    assert 0 <= found.loss <= now
    assert sum(chance for _, chance, _, _ in found.branches) == 1
    for answer, chance, _, _ in found.branches:
        then = identify.weigh(weights, [Seen(question, answer)])
        assert sum(then.values()) == 1
        assert min(then.values()) >= 0
        assert chance == sum(weights[unit] * question.chance(unit, answer) for unit in weights)


@settings(max_examples=60)
@given(cases(), st.permutations(range(3)))
def test_the_order_of_looks_does_not_matter(case, order):
    weights, question, _ = case
    seen = [Seen(question, question.answers[n % 2]) for n in range(3)]

    assert identify.weigh(weights, [seen[n] for n in order]) == identify.weigh(weights, seen)
