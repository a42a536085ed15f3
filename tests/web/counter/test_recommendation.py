"""What a draft recommends: worked out anew at each save, unless a person chose the option or wrote the reason."""

from __future__ import annotations

import pytest
from django.test import Client

from shopserv.common import lasting
from shopserv.common.errors import Refusal
from shopserv.jobs.models import QuoteVersion
from shopserv.jobs.services import quotes
from tests.jobs import stage
from tests.web.counter.test_flow import key_of

OURS = "No clear winner by this estimate: "


@pytest.fixture
def draft(cast):
    """V-01's draft: C is recommended, and its reason worked out."""
    return stage.draft(cast)


@pytest.fixture
def save(cast, draft):
    """Save the draft as the page sends it, with changes; gives the answer."""
    client = Client()
    client.force_login(cast.tobin.staff)
    address = f"/counter/quote/{draft.quote.number}/"

    def act(**changes):
        page = client.get(address)
        form = page.context["form"]
        sent = {name: form[name].value() for name in form.fields if form[name].value() not in (None, False)}
        for name in ("recommended", "why"):
            sent[f"initial-{name}"] = form[name].initial
            assert f'name="initial-{name}"' in page.content.decode()
        return client.post(address, {**sent, "once": key_of(page), "act": "save", **changes})

    return act


def said(draft) -> tuple[str, str]:
    draft.refresh_from_db()
    return draft.recommended, draft.why


def words(draft, letter: str, overlapping: str) -> str:
    price = lasting.price(draft.options.get(letter=letter).bought)
    return (
        f"{OURS}{overlapping} overlap. Of them, {letter} costs least for the time that its lower share gives: {price}."
    )


def test_the_sentence_of_the_example_says_what_overlaps(draft):
    assert said(draft)[1].startswith("No clear winner by this estimate: C and D overlap. Of them, C costs ")
    assert said(draft)[1].endswith(": about $19 a month.")


def test_when_another_option_is_cheapest_letter_and_sentence_follow(draft, save):
    assert said(draft) == ("C", words(draft, "C", "C and D"))

    assert save(tenths_C="60").status_code == 302

    assert said(draft) == ("B", words(draft, "B", "B and D"))


def test_when_its_price_changes_the_sentence_does(draft, save):
    before = draft.why

    save(tenths_C="19")

    assert said(draft) == ("C", words(draft, "C", "C and D"))
    assert draft.why != before


def test_a_letter_that_a_person_chose_stays_without_a_reason_that_is_not_its_own(draft, save):
    save(recommended="B")
    assert said(draft) == ("B", "")

    save(tenths_C="19")

    assert said(draft) == ("B", "")


def test_a_reason_that_a_person_wrote_stays_with_its_letter(draft, save):
    save(why="You drive little.")

    save(tenths_C="60")

    assert said(draft) == ("C", "You drive little.")


def test_an_emptied_reason_and_letter_are_worked_out_again(draft, save):
    save(recommended="D", why="You keep it for long.")
    assert said(draft) == ("D", "You keep it for long.")

    save(recommended="", why="")

    assert said(draft) == ("C", words(draft, "C", "C and D"))


def test_a_chosen_option_keeps_its_choice_when_one_before_it_is_taken_away(draft, save):
    save(recommended="D", why="You keep it for long.")

    save(method_A="")

    assert said(draft) == ("C", "You keep it for long.")
    assert draft.options.get(letter="C").method == "pan drop then line exchange"


def test_a_chosen_option_that_is_taken_away_takes_its_reason_with_it(draft, save):
    save(recommended="D", why="You keep it for long.")

    save(method_D="")

    assert said(draft) == (
        "C",
        "Lowest price for the time it lasts: 16 to 36 months, about $19 a month, by estimate.",
    )


def test_offered_with_a_change_the_customer_reads_the_sentence_of_the_new_price(draft, save):
    save(tenths_C="60", act="offer")

    assert draft.quote.versions.get().state == "offered"
    assert said(draft) == ("B", words(draft, "B", "B and D"))


def test_a_new_version_works_out_anew_what_nobody_said(cast, draft, save):
    save(tenths_C="60", act="offer")
    draft.refresh_from_db()

    newer = quotes.revise(draft.quote, actor=cast.tobin)

    assert newer.inputs["by_person"] == {"recommended": False, "why": False}
    assert (newer.recommended, newer.why) == said(draft)


def test_a_version_from_before_this_was_kept_is_known_by_its_words(cast, draft):
    kept = {name: value for name, value in draft.inputs.items() if name != "by_person"}
    QuoteVersion.objects.filter(pk=draft.pk).update(
        inputs=kept, recommended="A", why="Leaves the largest share of new fluid."
    )
    draft.refresh_from_db()

    with pytest.raises(Refusal) as refused:
        quotes.offer(draft, actor=cast.tobin, edition=draft.edition)

    assert (refused.value.code, refused.value.field) == ("quote.recommendation", "recommended")


def test_a_reason_that_holds_no_more_is_not_offered(cast, draft):
    QuoteVersion.objects.filter(pk=draft.pk).update(recommended="A")
    draft.refresh_from_db()

    with pytest.raises(Refusal) as refused:
        quotes.offer(draft, actor=cast.tobin, edition=draft.edition)

    assert refused.value.code == "quote.recommendation"
    assert "Save the draft again" in refused.value.message
    draft.refresh_from_db()
    assert draft.state == "draft"
