"""The length of a bolt: what it counts, what it refuses, and what it says."""

import pytest

from takeoff.rules.bolt_lengths import Grip, bolt_length, nut_on_shank, thread_in_shear


@pytest.mark.parametrize(
    ("grip", "length", "standard"),
    [
        (16.2, 40, "ISO 4017"),  # 16.2 + 3 + 14.8 + 2 = 36
        (20.2, 40, "ISO 4017"),  # 40.0: exactly a pitch beyond the nut
        (20.3, 45, "ISO 4017"),
        (33, 55, "ISO 4014"),  # the shortest ISO 4014 of M16; its thread of 38 leaves 17 plain: 36 clamped
        (60, 80, "ISO 4014"),
    ],
)
def test_next_length_of_the_series(grip, length, standard):
    choice = bolt_length(16, Grip(grip))
    assert (choice.length, choice.standard) == (length, standard)
    assert choice.least <= length
    assert f"= {choice.least:.1f}" in choice.why


@pytest.mark.parametrize(
    ("more", "thickness"),
    [
        ({"washers": 2}, 3),
        ({"nuts": 2}, 14.8),
        ({"springs": 1}, 3.5),
        ({"springs": 1, "spring_mm": 4.2}, 4.2),
        ({"tapers": 1}, 5.9),
        ({"tapers": 2, "taper_mm": 6}, 12),
    ],
)
def test_everything_between_head_and_nut_end_counts(more, thickness):
    plain = bolt_length(16, Grip(20)).least
    assert bolt_length(16, Grip(20)._replace(**more)).least == pytest.approx(plain + thickness)


def test_a_long_thread_is_taken_where_the_shank_is_too_long():
    # M36 x 140 ISO 4014 leaves 62 mm plain: through 98 mm it is right, as a fully threaded bolt is not needed.
    choice = bolt_length(36, Grip(98, washers=0))
    assert (choice.length, choice.standard) == (140, "ISO 4014")


def test_the_nut_never_meets_the_shank():
    for grip in range(10, 120):
        for diameter in (12, 16, 20, 24, 30):
            choice = bolt_length(diameter, Grip(grip))
            assert choice.length is not None, (diameter, grip)
            if choice.standard == "ISO 4014":
                assert not nut_on_shank(diameter, choice.length, Grip(grip), "ISO 4014"), (diameter, grip)


def test_a_stated_length_can_be_too_long_for_its_thread():
    # M16 x 80 ISO 4014 has 38 mm of thread: 42 plain, and 44 must be clamped for a full thread under the nut.
    assert nut_on_shank(16, 80, Grip(40.9), "ISO 4014")
    assert not nut_on_shank(16, 80, Grip(41), "ISO 4014")
    # A spring washer of 3.5 mm is clamped too.
    assert not nut_on_shank(16, 80, Grip(37.5, springs=1), "ISO 4014")
    assert not nut_on_shank(16, 80, Grip(20), "ISO 4017")  # threaded to the head
    assert not nut_on_shank(16, 80, Grip(20), "")  # not stated: nothing is claimed


def test_preloaded_bolts_want_four_threads():
    choice = bolt_length(30, Grip(57, washers=2), "EN 14399-3")
    assert choice.length == 100
    assert "EN 14399-3" in choice.why


@pytest.mark.parametrize(
    ("diameter", "grip", "standard", "said"),
    [
        (20, Grip(30), "EN 14399-4", "Table A.1"),
        (17.3, Grip(30), "", "no nominal size"),
        (16, Grip(30, nuts=0), "", "tapped"),
        (16, Grip(400), "", "no length will do"),
        (42, Grip(30), "", "not in the tables"),
        (30, Grip(30, tapers=1), "", "no taper washer"),
        (20, Grip(30, springs=1), "EN 14399-3", "spring"),
        (19.05, Grip(30, springs=1), "", "spring"),
    ],
)
def test_nothing_is_invented(diameter, grip, standard, said):
    choice = bolt_length(diameter, grip, standard)
    assert choice.length is None
    assert said in choice.why


@pytest.mark.parametrize(("grip", "length"), [(6, 35), (10, 35), (125.5, 150), (126, None)])
def test_the_shortest_and_the_longest_that_a_standard_has(grip, length):
    # DIN 7990:2008 Table 3 (seen): M16 from 35 to 150; through 6 mm a 30 long one would do.
    assert bolt_length(16, Grip(grip), "DIN 7990").length == length


def test_threads_out_of_the_shear_planes():
    # DIN 7990 M20 x 90: 66.5 plain of 90, through 60 mm whose last ply is 10: the last plane is at 50.
    choice = bolt_length(20, Grip(60, last_ply=10), "DIN 7990", True)
    assert choice.length == 90
    # ISO 4014 M20 x 65 has 19 mm plain: no length of it clears both the plane and the nut without more washers.
    assert bolt_length(20, Grip(40, last_ply=10), "ISO 4014", True).length is None


def test_threads_of_inch_bolts_out_of_the_shear_planes():
    # 3/4 in through two plies of 1 in: 2 + 1 + 5/32 = 3.156, so 3-1/4. Its thread is 1-3/8 and a transition of 1/4 (the
    # last from memory): 1.625 plain, and the plane lies at 1 in.
    inch = 25.4
    two = Grip(2 * inch, last_ply=inch)
    assert bolt_length(0.75 * inch, two, "", True).length == pytest.approx(3.25 * inch)
    # A thin last ply of 3/8 in of 2 in: the plane lies at 1.625, just where the plain shank ends.
    thin = Grip(2 * inch, last_ply=0.375 * inch)
    assert bolt_length(0.75 * inch, thin, "", True).length == pytest.approx(3.25 * inch)
    # 1/4 in: the plane at 1.75 asks for 3-3/8, so 3-1/2; 2.125 to the thread and one pitch of 0.1 is past the clamp of
    # 2.156: none will do, and that is said.
    none = bolt_length(0.75 * inch, Grip(2 * inch, last_ply=0.25 * inch), "", True)
    assert none.length is None
    assert "add washers" in none.why
    assert thread_in_shear(0.75 * inch, 3.25 * inch, Grip(2 * inch, last_ply=0.25 * inch), "") == "ASME B18.2.6"
    assert thread_in_shear(0.75 * inch, 3.25 * inch, two, "") == ""


def test_threads_of_preloaded_bolts_out_of_the_shear_planes():
    # EN 14399-3 M20 x 75: 75 - 46 - 12.5 = 16.5 plain (run-out of five pitches from memory).
    thick = Grip(40, washers=2, last_ply=25)
    assert bolt_length(20, thick, "EN 14399-3", True).length is not None
    thin = bolt_length(20, Grip(40, washers=2, last_ply=10), "EN 14399-3", True)
    assert thin.length is None
    assert "shear plane" in thin.why


def test_an_inch_bolt_with_two_nuts():
    one, two = (bolt_length(19.05, Grip(25.4, nuts=n)).least for n in (1, 2))
    assert two - one == pytest.approx(47 / 64 * 25.4, abs=0.01)  # a nut of 3/4 in is 47/64 in high
