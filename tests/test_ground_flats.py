"""Shots along contours: flat triangles across the bends."""

import numpy as np
import pytest

from grounds import shots_of
from spadework.ground import Ground, triangulate_shots
from spadework.ground.flats import looks_like_contours


def flat(ground: Ground) -> int:
    """Number of flat triangles."""
    return int((np.ptp(ground.level[ground.triangles], axis=1) < 1e-6).sum())


def spur() -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Contours of a spur that falls to the north, 0.5 m apart: noses at north 0, 4, 8 and 12."""
    east, north, level = [], [], []
    for number, nose in enumerate((0.0, 4.0, 8.0, 12.0)):
        for back in np.arange(12.0, -0.5, -1.0):
            east.append(-0.25 * back)
            north.append(nose - back)
        for back in np.arange(1.0, 12.5, 1.0):
            east.append(0.25 * back)
            north.append(nose - back)
        level += [10 - 0.5 * number] * 25
    return np.array(east), np.array(north), np.array(level)


def test_flat_triangles_are_turned_to_run_from_contour_to_contour() -> None:
    """Only those inside the highest contour stay flat, 25 shots in 23 triangles; area and shots are the same."""
    east, north, level = spur()
    along = triangulate_shots(shots_of(east, north, level))
    order = np.random.default_rng(1).permutation(len(east))
    shuffled = triangulate_shots(shots_of(east[order], north[order], level[order]))
    assert flat(shuffled) > 30
    assert flat(along) == 23
    assert along.area == pytest.approx(shuffled.area)
    assert (along.triangle_areas > 0).all()
    assert "lay flat across their bends" in along.notices[-1]
    assert "23 stay flat" in along.notices[-1]
    # Along the crest between two noses the ground falls evenly: at north 2, half way, by half the interval.
    assert along.level_at(np.array([[0.0, 2.0]])) == pytest.approx([9.75], abs=1e-9)


def test_lawn_keeps_its_flat_triangles() -> None:
    """Readings to 5 mm on a lawn are no contours, however many are alike."""
    random = np.random.default_rng(2)
    level = np.round(random.uniform(0, 0.02, 60) / 0.005) * 0.005
    assert not looks_like_contours(level)
    assert not looks_like_contours(np.zeros(20))
    assert looks_like_contours(np.repeat([10.0, 10.5, 11.0], 8))


def test_breakline_is_not_turned() -> None:
    """A side that a breakline asks for stays, though a flat triangle lies on it."""
    east, north, level = spur()
    ground = triangulate_shots(shots_of(east, north, level), breaklines=[("S12", "S14")])
    ends = np.sort(np.concatenate([ground.triangles[:, [i, (i + 1) % 3]] for i in range(3)]), axis=1).tolist()
    assert [11, 13] in ends
