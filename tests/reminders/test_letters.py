"""Nobody is written to without a word of permission, and nobody twice (I-27; lifecycles 7.12 and 7.17)."""

from __future__ import annotations

from datetime import timedelta
from email import message_from_bytes

import pytest
from django.core import mail
from django.http import Http404

from shopserv.common import clock
from shopserv.common.errors import NotYours, Refusal, StateRefusal
from shopserv.outbox.models import Letter
from shopserv.registry.models import ContactPoint
from shopserv.registry.services import customers
from shopserv.reminders import texts
from shopserv.reminders.models import Forecast, Reminder
from shopserv.reminders.services import forecasts, letters
from shopserv.shop.actors import clock_actor
from shopserv.shop.models import TrailEntry
from tests.jobs import stage


def address_of(cast, number: str = "C-008") -> ContactPoint:
    return cast.customer(number).contact_points.get(kind="e-mail")


def planned(cast, number: str = "V-08") -> Reminder:
    """The keeper has said yes, and Tobin plans."""
    point = address_of(cast, cast.vehicle(number).keepers.order_by("-from_on").first().customer.number)
    letters.permit(point, actor=cast.tobin, purpose="reminder", given=True, how="at the counter")
    return letters.plan([number], actor=cast.tobin).reminders[0]


def make_due_now(reminder: Reminder) -> None:
    Letter.objects.filter(about=f"reminder {reminder.pk}").update(not_before=clock.now())


def states(reminder: Reminder) -> tuple[str, str]:
    return (
        Reminder.objects.get(pk=reminder.pk).state,
        Letter.objects.get(about=f"reminder {reminder.pk}").state,
    )


def test_a_planned_reminder_has_its_letter_waiting_with_every_field_filled(cast):
    reminder = planned(cast)

    letter = Letter.objects.get(about=f"reminder {reminder.pk}")
    assert (reminder.state, letter.state, letter.address) == ("planned", "waiting", "hana@example.com")
    assert "{{" not in letter.subject + letter.text
    assert cast.vehicle("V-08").words in letter.text


def test_what_a_person_typed_is_never_read_as_a_field():
    values = dict.fromkeys(texts.FIELDS, "x") | {"name": "{{phone}}"}

    assert texts.written(1, "en", values)[1].startswith("Hello {{phone}},")


@pytest.mark.parametrize("language", ["en", "es"])
def test_every_text_fills_from_the_same_fields(language):
    subject, text = texts.written(1, language, dict.fromkeys(texts.FIELDS, "x"))

    assert "{{" not in subject + text


def test_a_customer_who_reads_spanish_is_written_to_in_spanish(cast):
    number = Forecast.objects.get(keeper__number="C-002", is_current=True).vehicle.number
    reminder = planned(cast, number)

    letter = Letter.objects.get(about=f"reminder {reminder.pk}")
    assert letter.text.startswith("Hola, Beatriz Olmarez:")
    assert letter.language == "es"


def test_without_permission_nothing_is_planned_and_the_reason_comes_back(cast):
    customers.permit(address_of(cast), actor=cast.tobin, purpose="reminder", given=False, how="by telephone")

    outcome = letters.plan(["V-08"], actor=cast.tobin)

    assert outcome.reminders == ()
    assert outcome.left_out == (
        letters.LeftOut("V-08", "no permission for reminders at an e-mail address of Hana Mizukawa"),
    )
    assert Letter.objects.count() == 0


def test_planning_twice_is_one_reminder(cast):
    planned(cast)

    again = letters.plan(["V-08", "V-08"], actor=cast.tobin)

    assert [one.why for one in again.left_out] == ["a reminder for this forecast is planned already"]
    assert (Reminder.objects.filter(vehicle__number="V-08").count(), Letter.objects.count()) == (1, 1)


def test_a_vehicle_of_another_shops_list_is_left_out(cast):
    other = Forecast.objects.filter(is_current=True, shop=cast.slt).first().vehicle.number

    assert letters.plan([other], actor=cast.tobin).left_out == (letters.LeftOut(other, "not on the list of this shop"),)


def test_the_clock_sends_letter_and_reminder_together_once(cast):
    reminder = planned(cast)
    make_due_now(reminder)

    rounds = [letters.send_due(actor=cast.clock).sent for _ in range(2)]

    assert rounds == [1, 0]
    assert states(reminder) == ("sent", "sent")
    assert [m.to for m in mail.outbox] == [["hana@example.com"]]


def test_withdrawing_stops_the_reminder_and_cancels_its_letter_in_the_same_deed(cast):
    reminder = planned(cast)

    letters.permit(address_of(cast), actor=cast.tobin, purpose="reminder", given=False, how="by telephone")

    assert states(reminder) == ("stopped", "canceled")


def test_withdrawn_between_plan_and_send_it_is_not_sent(cast):
    # the withdrawal that knows of letters alone, and a letter that was waiting all the same
    reminder = planned(cast)
    customers.permit(address_of(cast), actor=cast.tobin, purpose="reminder", given=False, how="by telephone")
    Letter.objects.update(state="waiting", not_before=clock.now())
    Reminder.objects.update(send_on=cast.today)

    sent = letters.send_due(actor=cast.clock)

    assert (sent.sent, sent.canceled, mail.outbox) == (0, 1, [])
    assert states(reminder) == ("stopped", "canceled")


def test_a_letter_does_not_go_to_an_address_that_came_back(cast):
    reminder = planned(cast)
    make_due_now(reminder)
    ContactPoint.objects.filter(pk=reminder.contact_point_key).update(state="bounced")

    assert letters.send_due(actor=cast.clock).sent == 0
    assert mail.outbox == []


def test_a_vehicle_that_was_sold_stops_them_in_the_same_deed(cast):
    reminder = planned(cast)

    letters.change_keeper(cast.vehicle("V-08"), actor=cast.tobin, customer=cast.customer("C-001"))

    assert states(reminder) == ("stopped", "canceled")
    assert Reminder.objects.get(vehicle__number="V-08").why == "the vehicle was sold"


def test_a_newer_forecast_of_another_day_stops_it_and_one_of_the_same_day_takes_it_along(cast):
    reminder = planned(cast)
    vehicle = cast.vehicle("V-08")

    forecasts.renew(vehicle, actor=cast.tobin, stop="coolant in the fluid")
    along = Reminder.objects.get(vehicle__number="V-08")
    vehicle.forecasts.filter(is_current=True).update(due_on=cast.today + timedelta(days=400))
    forecasts.renew(vehicle, actor=cast.tobin, stop="")

    assert (along.state, along.forecast_id != reminder.forecast_id) == ("planned", True)
    assert states(reminder) == ("stopped", "canceled")


def test_a_reminder_is_answered_once_and_only_after_it_was_sent(cast):
    reminder = planned(cast)
    with pytest.raises(StateRefusal):
        letters.answered(reminder, actor=cast.tobin)
    make_due_now(reminder)
    letters.send_due(actor=cast.clock)

    letters.answered(reminder, actor=cast.holder("V-08", cast.customer("C-008")), words="Thursday suits me")

    assert Reminder.objects.get(vehicle__number="V-08").state == "answered"
    with pytest.raises(StateRefusal):
        letters.answered(reminder, actor=cast.tobin)


def test_the_next_visit_names_the_reminder_that_it_answers(cast):
    reminder = planned(cast)
    make_due_now(reminder)
    letters.send_due(actor=cast.clock)

    booked = letters.book(None, cast.vehicle("V-08"), actor=cast.tobin)

    assert (booked.pk, booked.state) == (reminder.pk, "booked")


def test_stopping_asks_for_the_own_shop_and_the_right(cast):
    reminder = planned(cast)

    with pytest.raises(Http404):
        letters.stop(reminder, actor=cast.lise, why="x")
    with pytest.raises(NotYours):
        letters.stop(reminder, actor=cast.odo, why="x")
    assert letters.stop(reminder, actor=cast.tobin, why="called, does not want it").state == "stopped"
    assert states(reminder) == ("stopped", "canceled")


def test_nothing_marked_is_said_and_many_are_refused(cast):
    with pytest.raises(Refusal, match="Mark the vehicles"):
        letters.plan([], actor=cast.tobin)
    with pytest.raises(NotYours):
        letters.plan(["V-08"], actor=cast.odo)


def test_a_vehicle_that_is_taken_in_is_not_reminded_of(cast):
    reminder = planned(cast)

    stage.take_in(cast, "V-08")
    make_due_now(reminder)

    assert letters.send_due(actor=cast.clock).sent == 0
    assert states(reminder) == ("stopped", "canceled")
    assert Reminder.objects.get(pk=reminder.pk).why == letters.IS_HERE
    assert TrailEntry.objects.filter(what="reminders stopped", subject="V-08").count() == 1


def test_the_marked_are_stopped_at_the_own_shop_alone(cast):
    reminder = planned(cast)

    with pytest.raises(Refusal, match="No reminder is planned"):
        letters.stop_marked(["V-08"], actor=cast.lise)
    with pytest.raises(NotYours):
        letters.stop_marked(["V-08"], actor=cast.sam)
    with pytest.raises(Refusal, match="Mark the vehicles"):
        letters.stop_marked([], actor=cast.tobin)
    assert states(reminder) == ("planned", "waiting")
    assert [one.pk for one in letters.stop_marked(["V-08"], actor=cast.tobin)] == [reminder.pk]
    assert states(reminder) == ("stopped", "canceled")
    assert TrailEntry.objects.get(what="reminders stopped").after["vehicles"] == ["V-08"]


def test_what_the_clock_did_stands_on_the_trail_of_the_shop(cast):
    reminder = planned(cast)
    make_due_now(reminder)
    other = planned(cast, "V-12")
    Letter.objects.filter(about=f"reminder {other.pk}").update(state="canceled", why="canceled by hand")
    Reminder.objects.filter(pk=other.pk).update(send_on=cast.today)

    letters.send_due(actor=clock_actor())

    rows = TrailEntry.objects.filter(who="clock").values_list("what", "shop__code")
    assert sorted(rows) == [("letter sent", "BRW"), ("reminder stopped", "BRW")]
    assert Reminder.objects.get(pk=other.pk).why == "canceled by hand"


def test_in_the_demonstration_a_letter_is_a_file_with_its_text_and_no_second_one_follows(cast, settings, tmp_path):
    settings.EMAIL_BACKEND = "django.core.mail.backends.filebased.EmailBackend"
    settings.EMAIL_FILE_PATH = str(tmp_path)
    reminder = planned(cast)
    make_due_now(reminder)

    for _ in range(2):
        letters.send_due(actor=cast.clock)

    files = list(tmp_path.iterdir())
    assert len(files) == 1
    text = message_from_bytes(files[0].read_bytes().split(b"\n" + b"-" * 79)[0]).get_payload(decode=True).decode()
    assert "because you permitted reminders" in text
    assert cast.vehicle("V-08").words in text


def test_a_stopped_reminder_stays_and_planning_again_makes_another_with_its_own_letter(cast):
    first = planned(cast)
    letters.stop(first, actor=cast.tobin, why="he comes anyway")

    again = letters.plan(["V-08", "V-08"], actor=cast.tobin)

    assert states(first) == ("stopped", "canceled")
    assert states(again.reminders[0]) == ("planned", "waiting")
    assert Reminder.objects.filter(vehicle__number="V-08", state="planned").count() == 1


def test_what_was_sent_before_it_was_stopped_is_not_sent_again_within_a_month(cast):
    reminder = planned(cast)
    make_due_now(reminder)
    letters.send_due(actor=cast.clock)
    letters.stop(Reminder.objects.get(pk=reminder.pk), actor=cast.tobin, why="has called")

    left_out = letters.plan(["V-08"], actor=cast.tobin).left_out

    assert [one.why.partition(" on ")[0] for one in left_out] == ["written to"]
