"""The plane that was built: its slope, the way it falls, and its corners."""

from __future__ import annotations

import numpy as np
import pytest

from field_checks import check_of, grid_on, wanted_pad
from spadework.fieldcheck import built_plane


@pytest.mark.parametrize("bearing", [0.0, 33.0, 270.0])
@pytest.mark.parametrize(("east", "north", "aspect"), [(-0.01, 0.0, 90.0), (0.0, 0.02, 180.0), (0.01, 0.01, 225.0)])
def test_plane_when_tilted(bearing: float, east: float, north: float, aspect: float) -> None:
    """Rises of a and b per metre are a slope of √(a² + b²) that falls the opposite way, whichever way the pad lies."""
    wanted = wanted_pad(bearing=bearing)
    points = grid_on(wanted)
    levels = 100.01 + (points - [20.0, 30.0]) @ [east, north]
    plane = built_plane(points, levels, wanted.pad, wanted.placement)
    assert plane is not None
    assert plane.slope == pytest.approx(np.hypot(east, north), abs=1e-12)
    assert plane.aspect == pytest.approx(aspect, abs=1e-6)
    assert plane.level == pytest.approx(100.01, abs=1e-9)
    assert plane.worst == pytest.approx(0.0, abs=1e-9)
    corners = 100.01 + (wanted.placement.corners(wanted.pad) - [20.0, 30.0]) @ [east, north]
    assert list(plane.corners) == pytest.approx(corners.tolist(), abs=1e-9)
    assert plane.tilt == pytest.approx(float(np.ptp(corners)), abs=1e-9)


def test_plane_when_levels_scatter() -> None:
    """One corner of four up by 40 mm: the plane takes 10 mm at its middle and leaves 10 mm at each corner."""
    wanted = wanted_pad()
    points = grid_on(wanted, 2, 2)
    plane = built_plane(points, np.array([100.04, 100.0, 100.0, 100.0]), wanted.pad, wanted.placement)
    assert plane is not None
    assert plane.level == pytest.approx(100.01, abs=1e-9)
    assert plane.worst == pytest.approx(0.01, abs=1e-9)
    assert plane.rms == pytest.approx(0.01, abs=1e-9)


def test_plane_does_not_depend_on_the_stage() -> None:
    """The plane is that of the levels, not of the deviations, so that after the strip it is the ground's."""
    wanted = wanted_pad()
    points = grid_on(wanted)
    levels = 100.0 + 0.03 * (points[:, 0] - 20.0)
    planes = [check_of(wanted, points, levels, stage).plane for stage in ("formation", "finish")]
    assert planes[0] == planes[1]
    assert planes[0] is not None
    assert planes[0].slope == pytest.approx(0.03, abs=1e-9)
