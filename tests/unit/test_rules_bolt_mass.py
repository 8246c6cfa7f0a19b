"""What a bolt set's mass depends on, and when it is not known."""

import pytest

from takeoff.rules.bolt_mass import bolt_set_mass


def test_a_set_adds_up():
    bolt, _ = bolt_set_mass(16, 60, 0, 0)
    nut = bolt_set_mass(16, 60, 1, 0)[0] - bolt
    washer = bolt_set_mass(16, 60, 0, 1)[0] - bolt
    assert bolt_set_mass(16, 60, 2, 3)[0] == pytest.approx(bolt + 2 * nut + 3 * washer)


def test_ten_millimetres_more_weigh_ten_millimetres_of_shank():
    """pi/4 x 16^2 x 10 mm of steel at 7850 kg/m3 is 15.8 g."""
    more = bolt_set_mass(16, 90, 1, 1, "ISO 4014")[0] - bolt_set_mass(16, 80, 1, 1, "ISO 4014")[0]
    assert more == pytest.approx(0.01578, abs=1e-5)


@pytest.mark.parametrize(
    ("standard", "named"),
    [
        ("EN 14399-4", "EN 14399-4"),
        ("DIN 6914", "EN 14399-4"),
        ("EN ISO 4017", "ISO 4017"),
        ("DIN 7990", "DIN 7990"),
        ("DIN7990-5.6", "DIN 7990"),
        ("din 931", "ISO 4014"),
        ("931", "ISO 4014"),
        ("7990", "DIN 7990"),
    ],
)
def test_the_models_text_names_the_standard(standard, named):
    mass, sentence = bolt_set_mass(20, 80, 1, 1, standard)
    assert mass is not None
    assert named in sentence
    assert "taken as" not in sentence


@pytest.mark.parametrize("standard", ["", "something else", "A 24017X"])
def test_an_unknown_standard_is_said(standard):
    mass, sentence = bolt_set_mass(20, 80, 1, 1, standard)
    assert mass is not None
    assert "taken as an ordinary hexagon bolt" in sentence


@pytest.mark.parametrize(
    ("diameter", "length", "standard"),
    [
        (17.3, 60, ""),
        (16, None, ""),
        (16, 0, ""),
        (16, 20, ""),
        (48, 150, ""),
        (10, 60, "EN 14399-4"),
        (16, 50, "ISO 4014:"),
    ],
)
def test_nothing_is_interpolated(diameter, length, standard):
    mass, sentence = bolt_set_mass(diameter, length, 1, 1, standard)
    if standard == "ISO 4014:":
        # Shorter than the standard's shortest partly threaded bolt: the fully threaded one of ISO 4017.
        assert "ISO 4017" in sentence
    else:
        assert mass is None
    assert sentence.endswith(".")


def test_counts_are_not_negative():
    with pytest.raises(ValueError, match="negative"):
        bolt_set_mass(16, 60, -1, 1)
