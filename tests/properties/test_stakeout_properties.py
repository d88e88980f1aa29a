"""What holds for every set of stakes: tapes find them again, and turning or moving the site changes no tape."""

from __future__ import annotations

import math

import numpy as np
from hypothesis import assume, given
from hypothesis import strategies as st

from spadework.pad import Pad, Placement
from spadework.readings import FloatArray
from spadework.stakeout import StakeOut, stake_out

place = st.floats(-50, 50)
size = st.floats(0.5, 20)
bearings = st.floats(0, 360)


class TiltedGround:
    """A plane without end."""

    def level_at(self, points: FloatArray) -> FloatArray:
        """Level of each point. [m]"""
        return 20 + 0.03 * points[:, 0] - 0.05 * points[:, 1]


def pad_at(length: float, width: float, pose: tuple[float, float, float], references: object = ()) -> StakeOut:
    """Stakes of a pad on the tilted plane."""
    return stake_out(TiltedGround(), Pad.rectangle(length, width), Placement(*pose, 19.0), references, grid=1.0)  # type: ignore[arg-type]


@given(size, size, st.tuples(place, place, bearings), st.tuples(place, place), st.tuples(place, place))
def test_ties_find_the_stake_again_when_taped_from_both_references(
    length: float,
    width: float,
    pose: tuple[float, float, float],
    first: tuple[float, float],
    second: tuple[float, float],
) -> None:
    """Two circles about the references, crossed on the side that is named, meet at the stake."""
    base = math.dist(first, second)
    assume(base > 1.0)
    for stake in pad_at(length, width, pose, (("one", *first), ("two", *second))).stakes:
        if not 5 < stake.crossing < 175:
            continue
        near, far = (tie.distance for tie in stake.ties)
        along = (base**2 + near**2 - far**2) / (2 * base)
        off = math.sqrt(max(near**2 - along**2, 0.0)) * {"left": 1, "right": -1, "on": 0}[stake.side]
        ahead = np.subtract(second, first) / base
        met = np.array(first) + along * ahead + off * np.array([-ahead[1], ahead[0]])
        assert math.dist(met, (stake.east, stake.north)) < 1e-6 + (2e-3 if stake.side == "on" else 0)


@given(size, size, st.tuples(place, place, bearings))
def test_sides_and_diagonals_are_those_of_the_pad_when_it_is_placed_anywhere(
    length: float, width: float, pose: tuple[float, float, float]
) -> None:
    """Sides by name, diagonals by Pythagoras."""
    found = pad_at(length, width, pose)
    assert np.allclose([side.length for side in found.sides], [length, width, length, width])
    assert np.allclose([span.length for span in found.diagonals], math.hypot(length, width))


@given(size, size, st.tuples(place, place, bearings))
def test_depth_grid_has_the_stakes_at_its_corners(
    length: float, width: float, pose: tuple[float, float, float]
) -> None:
    """The four corners of the cut sheet say what the four stakes say: A, B ahead, C across from B, D across from A."""
    found = pad_at(length, width, pose)
    grid = found.grid
    corners = [grid.depth[0, 0], grid.depth[0, -1], grid.depth[-1, -1], grid.depth[-1, 0]]
    assert np.allclose(corners, [stake.depth for stake in found.stakes], atol=1e-9)
    assert np.allclose([grid.along[-1], grid.across[-1]], [length, width])
