"""Your decision, on the customer's phone: one answer, by a press alone, for exactly what was shown."""

from __future__ import annotations

import re
from datetime import timedelta

import pytest
from django.core.cache import cache
from django.test import Client

from shopserv.common import clock
from shopserv.jobs.models import Authorization, CustomerEvent, QuoteVersion
from shopserv.jobs.services import quotes
from shopserv.shop.links import make_link
from shopserv.shop.models import CustomerLink, OnceKey, TrailEntry
from tests.jobs import stage


def words(response):
    return " ".join(response.content.decode().split())


def test_the_page_lists_the_options_and_chooses_none_beforehand(link):
    page = Client().get(link.home)

    said = words(page)
    assert page.status_code == 200
    for amount in ("$183.64", "$395.69", "$442.95", "$641.89"):
        assert amount in said
    covers = "estimate: less if new and old fluid mix on the way, more if the new pushes the old out"
    assert f"86 to 94 % new fluid ({covers})." in said
    assert "Yes, do option C for $442.95" in said
    assert 'name="option" id="say-c" value="C">' in said
    assert link.version.check_words in said
    assert link.cast.brw.phone in said


def test_a_browser_that_asks_for_spanish_is_given_one_language_not_two(link):
    page = Client().get(link.home, headers={"accept-language": "es"})

    assert page.headers["Content-Language"] == "en"
    assert "Dec 8" in words(page)


def test_the_page_is_not_kept_and_not_listed(link):
    page = Client().get(link.home)

    assert page.headers["Cache-Control"] == "no-store"
    assert "noindex" in page.headers["X-Robots-Tag"]
    assert page.headers["Referrer-Policy"] == "same-origin"


def test_neither_cost_nor_margin_nor_names_of_staff_are_on_it(link):
    said = re.sub("<[^>]*>", " ", words(Client().get(link.home)))

    for option in link.version.options.all():
        assert f"{option.cost_cents / 100:.2f}" not in said
    assert "margin" not in said
    assert "Ashgrave" not in said


@pytest.mark.parametrize("method", ["get", "head"])
def test_b123_looking_changes_nothing(link, method):
    before = (TrailEntry.objects.count(), Authorization.objects.count(), CustomerEvent.objects.count())

    answers = [getattr(Client(), method)(link.home).status_code for _ in range(3)]

    assert answers == [200] * 3
    assert before == (TrailEntry.objects.count(), Authorization.objects.count(), CustomerEvent.objects.count())
    link.version.refresh_from_db()
    assert link.version.state == "offered"


def test_b123_a_get_on_the_answer_is_no_answer(link):
    for answer in (Client().get(f"{link.home}yes/"), Client().get(f"{link.home}none/")):
        assert answer.status_code == 405
        assert f'<a href="{link.home}">See what you are asked' in words(answer)
        assert "/sign-in/" not in words(answer)


def test_yes_counts_for_what_was_shown_and_the_page_becomes_the_receipt(link):
    answer = link.yes()

    one = Authorization.objects.get()
    assert answer.status_code == 302
    assert (one.option.letter, one.amount_cents, one.way, one.person) == ("C", 44_295, "page", "Ansel Thornby")
    assert one.old_parts_wanted is True
    assert one.peer_address == "127.0.0.1"
    receipt = words(Client().get(link.home))
    assert "Agreed for $442.95 by Ansel Thornby" in receipt
    assert "<form" not in receipt


def test_b126_pressed_twice_with_one_page_it_counts_once_and_shows_the_same_receipt(link):
    client = Client()
    key = client.get(link.home).context["form"].key
    said = {"once": key, "version_hash": link.version.snapshot_hash, "option": "C", "person": "Ansel Thornby"}

    first, second = (client.post(f"{link.home}yes/", said, follow=True) for _ in range(2))

    assert Authorization.objects.count() == 1
    assert words(first) == words(second)
    assert "Agreed for $442.95" in words(second)


def test_b126_the_second_of_two_people_sees_who_answered_what(link):
    link.yes()

    second = link.yes(option="A", person="Somebody Else", once="another key")

    assert second.status_code == 409
    assert Authorization.objects.count() == 1
    assert "Agreed for $442.95 by Ansel Thornby" in words(Client().get(link.home))


def test_b126_none_of_these_after_a_yes_changes_nothing(link):
    link.yes()

    answer = Client().post(f"{link.home}none/", {"once": "k"})

    assert answer.status_code == 302
    assert Authorization.objects.get().state == "counted"


def test_none_of_these_is_noted_without_a_choice(link):
    answer = Client().post(f"{link.home}none/", {"once": "k"})

    link.version.refresh_from_db()
    assert answer.status_code == 302
    assert link.version.state == "declined"
    assert "None of these for now: noted" in words(Client().get(link.home))


@pytest.mark.parametrize(
    ("missing", "sentence"),
    [
        ({"person": "  "}, "Type your name"),
        ({"option": None}, "Choose one of the options"),
        ({"option": "Z"}, "There is no such option here"),
        ({"version_hash": "0" * 64}, "This is not the version that was looked at"),
    ],
)
def test_what_is_missing_is_said_and_what_was_typed_is_kept(link, missing, sentence):
    answer = link.yes(**missing)

    said = words(answer)
    assert answer.status_code == 422
    assert sentence in said
    assert ('value="Ansel Thornby"' in said) == ("person" not in missing)
    assert ('value="C" checked' in said) == ("option" not in missing)
    assert Authorization.objects.count() == 0


def test_a_form_that_was_mended_passes_with_the_same_key(link):
    client = Client()
    key = client.get(link.home).context["form"].key

    assert link.yes(client, once=key, person="").status_code == 422
    assert link.yes(client, once=key).status_code == 302


def test_b124_a_yes_after_the_quote_was_replaced_is_kept_and_asks_again(link):
    newer = link.replace()

    answer = link.yes()

    said = words(answer)
    assert answer.status_code == 409
    assert "counts for nothing" in said
    assert "That option is $442.95 now." in said
    assert "Please decide once more" in said
    event = CustomerEvent.objects.get()
    assert (event.what, event.detail["letter"], event.who) == ("late yes", "C", "Ansel Thornby")
    assert Authorization.objects.count() == 0
    newer.refresh_from_db()
    assert newer.state == "offered"


def test_a_replaced_version_stays_readable_and_says_so(link):
    link.replace()

    page = Client().get(link.home)

    assert page.status_code == 200
    assert "replaced by a newer one" in words(page)


def test_a_late_yes_that_is_sent_twice_is_kept_once(link):
    link.replace()

    link.yes(once="one key")
    again = link.yes(once="one key")

    assert again.status_code == 302
    assert CustomerEvent.objects.count() == 1


def test_b125_an_unknown_token_is_404_and_says_nothing_of_the_quote(link):
    other = link.token[:-1] + ("A" if link.token[-1] != "A" else "B")

    answer = Client().get(f"/c/{other}/")

    assert answer.status_code == 404
    assert link.version.quote.number not in words(answer)


@pytest.mark.parametrize("column", ["withdrawn_at", "expires_at"])
def test_b125_a_link_that_is_over_is_410_with_the_telephone_number(link, column):
    CustomerLink.objects.filter(subject=f"{link.version.quote.number}/1").update(
        **{column: clock.real_now() - timedelta(minutes=1)}
    )

    answer = Client().get(link.home)

    assert answer.status_code == 410
    assert link.cast.brw.phone in words(answer)
    assert Client().post(f"{link.home}yes/", {"once": "k", "option": "C"}).status_code == 410


def test_b125_an_address_that_keeps_guessing_has_to_wait(link):
    answers = [Client().get(f"/c/guess-{n}/").status_code for n in range(21)]

    assert answers == [404] * 20 + [429]
    assert Client().get(link.home).headers["Retry-After"] == "60"
    cache.clear()
    assert Client().get(link.home).status_code == 200


def test_an_expired_version_is_410_and_a_yes_to_it_is_kept(link):
    clock.set_back_to(link.cast.morning + timedelta(days=60))

    assert Client().get(link.home).status_code == 410
    assert link.yes().status_code == 410

    assert CustomerEvent.objects.get().what == "late yes"
    assert Authorization.objects.count() == 0


def test_a_link_to_a_vehicle_opens_no_quote(cast):
    _, token = make_link(
        actor=cast.tobin,
        opens="vehicle",
        subject="V-01",
        holder="Ansel Thornby",
        customer_key=cast.customer("C-001").pk,
        expires_at=clock.real_now() + timedelta(days=1),
    )

    assert Client().get(f"/c/{token}/").status_code == 404


def test_no_table_keeps_the_token(link):
    link.yes()

    assert OnceKey.objects.filter(route__contains=link.token).count() == 0
    assert [link.token in str(row.answer) for row in OnceKey.objects.all()] == [False]


def test_a_form_without_its_key_does_nothing(link):
    assert link.yes(once="").status_code == 400
    assert QuoteVersion.objects.get(pk=link.version.pk).state == "offered"


def test_a_draft_is_nothing_that_a_link_shows(cast, link):
    visit = link.version.quote.visit
    plan = quotes.plan_for(cast.tobin, visit.vehicle, visit=visit)
    quotes.write(plan, actor=cast.tobin, quote=link.version.quote)

    assert "Quote version 1" in words(Client().get(link.home))


def test_a_form_without_its_key_leads_back_to_the_page_of_the_link(link):
    said = words(link.yes(once=""))

    assert f'href="{link.home}"' in said
    assert link.cast.brw.phone in said
    assert 'href="/"' not in said


def test_the_check_words_say_what_they_are_for(link):
    assert "asked for on the telephone, so that both of us look at the same version" in words(Client().get(link.home))


def test_before_a_choice_the_tolerance_is_told_in_dollars(link):
    said = words(Client().get(link.home))

    assert "Up to $10.00 or 10 % over the agreed total, whichever is greater" in said
    assert "10.00 or 10 % over, which" not in said


def test_the_customer_reads_the_words_of_the_method_and_formulas_are_folded(link):
    own = "cooler-line fluid exchange"
    for page in (Client().get(link.home), Client().get(f"{link.home}sums/C/")):
        said = words(page).lower()
        assert own in said
        assert [said[m.start() - 80 : m.end() + 20] for m in re.finditer("line exchange", said)] == []

    sums = words(Client().get(f"{link.home}sums/C/"))
    open_ones = re.sub("<details>.*?</details>", "", sums)
    assert 'class="formulas"' in sums
    assert 'class="formulas"' not in open_ones
    assert "\\max" not in open_ones


@pytest.mark.parametrize(("letter", "name"), [("A", "Lorn Vade"), ("D", "Nadia Westerholm")])
def test_a_link_of_a_fleet_tells_neither_who_may_agree_nor_up_to_how_much(cast, letter, name):
    version = stage.draft(cast, "F-01")
    contact = version.quote.customer.contact_points.exclude(kind="post").first()
    offer = quotes.offer(
        version, actor=cast.tobin, edition=version.edition, contact=contact, confirmed={"quote.exemption_ended"}
    )
    client, home = Client(), f"/c/{offer.token}/"
    said = {
        "once": client.get(home).context["form"].key,
        "version_hash": offer.version.snapshot_hash,
        "option": letter,
        "person": name,
        "old_parts": "no",
        "purchase_order_number": "PO-7",
    }

    answer = client.post(f"{home}yes/", said)

    text = words(answer)
    assert answer.status_code == 422
    assert "the person whom your company has named to us" in text
    assert version.quote.shop.phone in text
    assert "$500.00" not in text
    assert ("Nadia" in text) == (name == "Nadia Westerholm")  # only what was typed is shown again
    assert Authorization.objects.count() == 0
