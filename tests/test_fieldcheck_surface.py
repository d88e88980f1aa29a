"""Which points are on the pad, which are one, and what plane triangles they make."""

from __future__ import annotations

import numpy as np
import pytest

from field_checks import wanted_pad
from spadework.fieldcheck.surface import drawn_in, merged, on_pad, rim_points, surface_of


def test_point_is_on_the_pad_when_within_the_margin() -> None:
    """Inside, on the edge, and outside by less than 50 mm count; the margin runs round the corner."""
    wanted = wanted_pad()
    points = np.array([[20.0, 30.0], [21.5, 32.0], [21.549, 30.0], [21.551, 30.0], [21.53, 32.03], [21.54, 32.04]])
    assert on_pad(wanted.pad, wanted.placement, points).tolist() == [True, True, True, False, True, False]


def test_point_is_drawn_in_when_outside() -> None:
    """A point off the pad moves to the nearest place of its edge; one inside stays to the last digit."""
    wanted = wanted_pad(bearing=0.0)
    points = np.array([[20.3, 30.1], [21.54, 30.0], [21.53, 32.03]])
    held = drawn_in(wanted.pad, wanted.placement, points)
    assert held[0].tolist() == [20.3, 30.1]
    assert held[1] == pytest.approx([21.5, 30.0], abs=2e-6)
    assert held[2] == pytest.approx([21.5, 32.0], abs=2e-6)


def test_points_are_one_when_near() -> None:
    """Points within 50 mm of the first are merged with the mean of their values."""
    points = np.array([[0.0, 0.0], [1.0, 0.0], [0.03, 0.04], [0.0, 0.051]])
    place, value, group = merged(points, np.array([1.0, 5.0, 2.0, 7.0]))
    assert place.tolist() == [[0.0, 0.0], [1.0, 0.0], [0.0, 0.051]]
    assert value.tolist() == [1.5, 5.0, 7.0]
    assert group.tolist() == [0, 1, 0, 2]


def test_surface_when_points_are_in_a_line() -> None:
    """Fewer than three points, or points in one line, make none."""
    line = np.array([[0.0, 0.0], [1.0, 1.0], [2.0, 2.0], [3.0, 3.0 + 1e-13]])
    assert surface_of(line, np.zeros(4)) is None
    assert surface_of(line[:2], np.zeros(2)) is None


def test_surface_covers_the_hull() -> None:
    """The triangles cover the hull of the points once, whatever way it is turned."""
    random = np.random.default_rng(5)
    points = np.vstack([[[0, 0], [3, 0], [3, 2], [0, 2]], random.uniform([0, 0], [3, 2], (30, 2))])
    surface = surface_of(points, random.normal(size=34))
    assert surface is not None
    assert surface.area == pytest.approx(6.0, abs=1e-12)
    assert (surface.triangle_areas > 0).all()


def test_point_is_on_the_rim_when_a_little_inside_it() -> None:
    """A point taped a finger's breadth inside the line between its neighbours still stands on the rim."""
    points = np.array([[0.0, 0.0], [2.0, 0.0], [2.0, 2.0], [0.0, 2.0], [1.0, 0.02], [1.0, 1.0]])
    surface = surface_of(points, np.zeros(6))
    assert surface is not None
    assert rim_points(surface).tolist() == [True, True, True, True, True, False]
