"""The mean slope of the ground under many poses."""

from __future__ import annotations

import numpy as np
import pytest

from grounds import lattice
from naive_placement import random_yard
from spadework.earthwork.edges import mean_slope
from spadework.earthwork.slopes import pad_slopes
from spadework.pad import Pad, Placement
from spadework.pad_shapes import circle, l_shape

PADS = {
    "rectangle": Pad.rectangle(4.0, 3.0),
    "L": Pad(l_shape(4.0, 4.0, "C", (2.0, 1.5))),
    "circle": Pad(circle(1.8), radius=1.8),
}


@pytest.mark.parametrize("pad", PADS.values(), ids=PADS)
def test_slope_of_a_plane_is_that_of_the_plane(pad: Pad) -> None:
    """1 in 10 east and 1 in 20 north is the root of 1/100 + 1/400 everywhere."""
    ground = lattice(lambda east, north: 100 + 0.1 * east + 0.05 * north, 12.0, 3.0)
    poses = np.array([[0.3, 0.2, 17.0], [3.0, -4.0, 200.0]])
    assert pad_slopes(ground, pad, poses) == pytest.approx(np.hypot(0.1, 0.05), rel=1e-12)


def test_slope_across_a_ridge_is_nothing() -> None:
    """Both sides of a ridge cancel where the pad lies astride, and add up to one side where it does not."""
    ground = lattice(lambda east, _: 100 - 0.2 * np.abs(east), 12.0, 3.0)
    poses = np.array([[0.0, 0.0, 0.0], [5.0, 0.0, 0.0]])
    assert pad_slopes(ground, PADS["rectangle"], poses) == pytest.approx([0.0, 0.2], abs=1e-12)


@pytest.mark.parametrize("pad", PADS.values(), ids=PADS)
def test_slope_is_that_by_the_edge(pad: Pad) -> None:
    """Green's theorem gives it from the ground along the edge alone."""
    ground = random_yard(3)
    rng = np.random.default_rng(1)
    poses = np.column_stack([rng.uniform(4, 20, 40), rng.uniform(4, 16, 40), rng.uniform(0, 360, 40)])
    expected = [mean_slope(ground, pad, Placement(*pose, 0.0))[0] for pose in poses]
    assert pad_slopes(ground, pad, poses) == pytest.approx(expected, rel=1e-9, abs=1e-12)
    assert pad_slopes(ground, pad, poses, use_compiled=False) == pytest.approx(expected)


def test_slope_is_not_known_off_the_ground() -> None:
    """Where the pad is not covered there is no slope."""
    assert np.isnan(pad_slopes(random_yard(3), PADS["L"], np.array([[0.0, 0.0, 0.0]]))).all()
