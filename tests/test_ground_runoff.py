"""The way water runs."""

import numpy as np
import pytest

from grounds import lattice, rough, scattered
from spadework.ground.runoff import Runoff


def test_water_runs_straight_down_a_plane() -> None:
    """Whatever the triangles: along the steepest line, to the rim."""
    ground = scattered(200, lambda east, north: 50 + 0.04 * east - 0.03 * north, shift=(500_000, 200_000))
    way = Runoff(ground).way(np.array([500_020.0, 200_020.0]))
    assert way.end == "leaves"
    run = way.places[-1] - way.places[0]
    assert run[0] / run[1] == pytest.approx(-4 / 3, rel=1e-6)
    # From (20, 20) to the western rim: 20 m west and 15 m north.
    assert run == pytest.approx([-20, 15], abs=1e-6)


def test_water_stands_at_the_bottom_of_a_pit() -> None:
    """From anywhere in a cone the way ends at its tip."""
    runoff = Runoff(lattice(lambda east, north: np.hypot(east, north) / 10, 10, 0.5))
    for start in ([7.1, 3.3], [-2.2, 8.4], [0.1, -0.1]):
        way = runoff.way(np.array(start))
        assert way.end == "stands"
        assert way.places[-1] == pytest.approx([0, 0], abs=1e-9)


def test_water_follows_a_valley_between_two_slopes() -> None:
    """Two planes that meet along east 0 and fall north: water reaches the line and stays on it."""
    ground = lattice(lambda east, north: 0.2 * np.abs(east) - 0.05 * north, 10, 1.0)
    way = Runoff(ground).way(np.array([3.3, -4.2]))
    assert way.end == "leaves"
    assert way.places[-1] == pytest.approx([0, 10], abs=1e-9)
    on_line = np.abs(way.places[:, 0]) < 1e-9
    assert on_line[np.argmax(on_line) :].all()


def test_water_never_runs_uphill() -> None:
    """Levels fall along every way over rough ground, and it ends in a hollow or at the rim."""
    ground = scattered(400, rough())
    runoff = Runoff(ground)
    lowest = {tuple(np.round(place, 6)) for place in np.column_stack([ground.east, ground.north]) + ground.origin}
    for start in np.random.default_rng(0).uniform([1, 1], [29, 39], (60, 2)):
        way = runoff.way(start)
        assert (np.diff(ground.level_at(way.places)) < 1e-9).all()
        if way.end == "stands":
            assert tuple(np.round(way.places[-1], 6)) in lowest


def test_start_without_ground_is_refused() -> None:
    """Outside the ground there is no way."""
    with pytest.raises(ValueError, match="no ground"):
        Runoff(scattered(20, rough())).way(np.array([-5.0, 5.0]))
