"""Where the lines of the cooling curve stand."""

from __future__ import annotations

from shopserv.common.drawing import cooling_curve

POINTS = [(-10.0, 80.0, 78.0, 82.0), (10.0, 60.0, 58.0, 62.0), (40.0, 40.0, 32.0, 48.0)]


def drawn(**more):
    return cooling_curve(
        POINTS,
        **{
            "readings": [(-10, 80), (0, 70)],
            "window": (40, 45),
            "start": (34, 44),
            "start_words": "start",
            "now": 15,
            "words": "cooling",
            **more,
        },
    )


def test_curve_and_band_run_from_the_first_minute_to_the_last():
    found = drawn()

    assert found.curve == "M36 21.2L144 73.2L306 125.2"
    assert found.band == "M36 16L144 68L306 104.4L306 146L144 78.4L36 26.4Z"
    assert found.readings == (("36", "21.2"), ("90", "47.2"))


def test_the_window_lies_between_its_edges():
    found = drawn()

    assert found.window == ("112.2", "13")
    assert found.window_at == "138.2"


def test_minutes_and_degrees_are_whole_steps_inside_the_drawing():
    found = drawn()

    assert found.minutes == (("36", "-10"), ("90", "0"), ("144", "10"), ("198", "20"), ("252", "30"), ("306", "40"))
    assert found.degrees == (("125.2", "40"), ("99.2", "50"), ("73.2", "60"), ("47.2", "70"), ("21.2", "80"))


def test_the_hand_has_its_words_on_the_side_that_has_room():
    late, early = drawn(), drawn(start=(0, 70))

    assert (late.hand, late.hand_label.x, late.hand_label.anchor) == (("273.6", "114.8"), "267.6", "end")
    assert (early.hand_label.x, early.hand_label.anchor, early.hand_label.words) == ("96", "start", "start")
    assert (drawn(start=None).hand, drawn(start=None).hand_label) == (None, None)


def test_now_stands_on_the_foot_while_it_is_inside():
    assert drawn().now == ("171", "M171 146 l-6 11 h12 Z")
    assert drawn(now=40).now is not None
    assert drawn(now=40.1).now is None
    assert drawn(now=None).now is None


def test_a_window_or_a_start_beyond_the_curve_is_drawn_as_well():
    below = drawn(window=(20, 25), start=(38, 12))

    assert below.window == ("121.9", "9.3")
    assert below.hand[1] == "146"
    assert drawn(window=(85, 90)).window[0] == "16"
