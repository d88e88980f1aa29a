"""Ground cut out by pads."""

import numpy as np
import pytest

from grounds import lattice, rough, scattered
from spadework.earthwork import pad_pieces
from spadework.earthwork.pieces import local_poses
from spadework.pad import Pad, Placement


def test_pieces_cover_the_pad_and_lie_on_the_ground() -> None:
    """Areas add up to the pad, levels stay between those of the ground."""
    ground = scattered(100, rough())
    pieces = pad_pieces(ground, Pad.rectangle(6, 4), np.array([[15.0, 20.0, 12.0], [10.0, 12.0, 250.0]]))
    assert pieces.sum(pieces.area) == pytest.approx([24, 24], rel=1e-13)
    assert (pieces.levels[:, 0] >= pieces.levels[:, 2]).all()
    assert pieces.levels.min() >= ground.level.min()
    assert pieces.levels.max() <= ground.level.max()
    assert (np.diff(pieces.pose) >= 0).all()


def test_a_pad_whose_sides_run_along_triangle_sides_is_covered_once() -> None:
    """Sides on a lattice line leave no gap and count no triangle twice."""
    ground = lattice(lambda east, north: east * north, half=4, cell=0.5)
    for bearing in (0.0, 90.0, 180.0, 270.0, 45.0):
        pieces = pad_pieces(ground, Pad.rectangle(4, 2), np.array([[0.5, 0.5, bearing]]))
        assert pieces.area.sum() == pytest.approx(8, rel=1e-13)


def test_a_pose_outside_has_no_pieces() -> None:
    """Away from the ground nothing is cut out."""
    pieces = pad_pieces(scattered(30, rough()), Pad.rectangle(2, 2), np.array([[500.0, 500.0, 0.0]]))
    assert len(pieces.area) == 0
    assert pieces.sum(pieces.area).tolist() == [0.0]


@pytest.mark.parametrize("bearing", [0.0, 30.0, 90.0, 180.0, 270.0, 359.0, -90.0, 725.0])
def test_poses_turn_as_placements_do(bearing: float) -> None:
    """Sine and cosine are those by which a placement turns its corners, exact at the quarter turns."""
    ground = scattered(30, rough())
    pose = local_poses(ground, np.array([[3.0, 4.0, bearing]]))[0]
    ahead = Placement(3.0, 4.0, bearing, 0.0).to_site(np.array([1.0, 0.0])) - [3.0, 4.0]
    assert pose[2:] == pytest.approx(ahead, abs=1e-15)
    assert pose[:2] == pytest.approx(np.array([3.0, 4.0]) - ground.origin)
    if bearing % 90 == 0:
        assert set(np.abs(pose[2:]).tolist()) == {0.0, 1.0}
