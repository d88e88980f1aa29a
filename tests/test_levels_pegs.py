"""The line of sight tested between two pegs, and sights corrected for its slant and for the earth."""

from __future__ import annotations

import numpy as np
import pytest

from spadework.errors import InputError
from spadework.levels.pegs import PegTest, correct_sights, curvature, refraction


def read(level: float, lengths: tuple[float, float], slant: float, fall: float) -> tuple[float, float]:
    """Closed form: what a line with that slant reads on A and on B, which lies ``fall`` lower."""
    earth = [float(curvature(length) - refraction(length)) for length in lengths]
    return level + slant * lengths[0] + earth[0], level + fall + slant * lengths[1] + earth[1]


@pytest.mark.parametrize("slant", [0.0, 1e-4, -3e-4])
@pytest.mark.parametrize(
    ("first", "second"),
    [((30.0, 30.0), (3.0, 57.0)), ((30.0, 30.0), (70.0, 10.0)), ((20.0, 40.0), (3.0, 57.0))],
    ids=["between", "beyond", "never balanced"],
)
def test_slant_is_found_when_the_sights_are_unlike(
    slant: float, first: tuple[float, float], second: tuple[float, float]
) -> None:
    """Slant and fall come back as put in, also where neither set-up stood midway."""
    test = PegTest(*read(1.2, first, slant, 0.431), *read(1.5, second, slant, 0.431), first, second)
    assert test.collimation == pytest.approx(slant, abs=1e-12)
    assert test.fall == pytest.approx(0.431, abs=1e-12)
    assert test.seconds == pytest.approx(slant * 206_264.8, rel=1e-4, abs=1e-9)


def test_book_is_mended_when_its_sights_are_corrected() -> None:
    """A long backsight and a short foresight read through a slanting line give the true rise again."""
    backsight, foresight = read(1.0, (80.0, 15.0), 2e-4, 0.25)
    corrected = correct_sights((backsight, foresight), (80.0, 15.0), collimation=2e-4)
    assert backsight - foresight != pytest.approx(-0.25, abs=0.005)
    assert corrected[0] - corrected[1] == pytest.approx(-0.25, abs=1e-12)


def test_reading_stays_when_its_sight_has_no_length() -> None:
    """What is not known is not corrected."""
    assert correct_sights([1.5], [np.nan], collimation=1e-4).tolist() == [1.5]


def test_test_is_refused_when_both_set_ups_stand_alike() -> None:
    """Two set-ups midway cannot show a slant."""
    with pytest.raises(InputError, match="nearly the same distances"):
        PegTest(1.0, 1.2, 1.1, 1.3, (30.0, 30.0), (30.0, 30.2))
