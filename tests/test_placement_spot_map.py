"""The map of every spot and the curve of finish levels: each number is one that the objective gives again."""

from __future__ import annotations

import numpy as np
import pytest

from naive_placement import naive_cut_fill, naive_pieces, random_yard
from spadework.pad import Pad
from spadework.placement import GOALS, KeepOut, Limits, PositionLimit, find_placement
from spadework.placement.clearance import Clearance
from spadework.placement.objective import Objective

PAD = Pad.rectangle(4.0, 3.0, strip=0.05)
LIMITS = Limits(boundary=(np.array([[0.5, 0.5], [13.0, 0.5], [13.0, 11.0], [0.5, 11.0]]),), setback=0.3)
LIMITS_WITH_TREE = Limits(
    boundary=LIMITS.boundary, setback=0.3, keep_outs=(KeepOut.circle("tree", (5.0, 5.0), 1.0),)
)  # fmt: skip


@pytest.mark.parametrize("goal", ["digging", "balance"])
def test_map_holds_what_each_spot_costs(goal: str) -> None:
    """Value, bearing and finish of a cell belong together, and no cell is below the best spot."""
    ground = random_yard(3, 40, (13.0, 11.0))
    result = find_placement(ground, PAD, LIMITS_WITH_TREE, GOALS[goal], 0.9)
    spots = result.spot_map
    assert spots is not None
    clearance = Clearance.of(PAD, LIMITS_WITH_TREE, ground.outline(), ground.origin)
    objective = Objective(ground, PAD, LIMITS_WITH_TREE, GOALS[goal], 0.9, clearance)
    row, column = np.nonzero(np.isfinite(spots.value))
    assert len(row) > 50
    poses = np.column_stack([spots.east[column], spots.north[row], spots.bearing[row, column]])
    found = objective.evaluate(poses)
    assert found.value == pytest.approx(spots.value[row, column], rel=1e-9, abs=1e-12)
    assert found.formation == pytest.approx(spots.finish[row, column], abs=1e-9)
    assert np.nanmin(spots.value) >= result.best.value - 1e-12


def test_map_is_white_where_nothing_is_allowed() -> None:
    """No cell within a metre of the tree's middle has a value, and no cell near the rim."""
    result = find_placement(random_yard(3, 40, (13.0, 11.0)), PAD, LIMITS_WITH_TREE, GOALS["balance"], 0.9)
    spots = result.spot_map
    assert spots is not None
    east, north = np.meshgrid(spots.east, spots.north)
    within = np.hypot(east - 5.0, north - 5.0) < 1.0 + 1.5 - 1e-9
    assert np.isnan(spots.value[within]).all()
    assert spots.east.min() >= 0.5 + 0.3 + 1.5 - 1e-9
    assert spots.north.max() <= 11.0 - 0.3 - 1.5 + 1e-9


def test_no_map_when_the_position_is_fixed() -> None:
    """There is one position only; the curve is there all the same."""
    limits = Limits(position=PositionLimit(6.0, 6.0))
    result = find_placement(random_yard(3, 40, (13.0, 11.0)), PAD, limits, GOALS["balance"], 0.9)
    assert result.spot_map is None
    assert result.finish_curve is not None


def test_curve_is_cut_and_fill_at_each_level() -> None:
    """Cut and fill of the best spot at each finish level are those of a geometry library; its least is the best."""
    ground = random_yard(3, 40, (13.0, 11.0))
    result = find_placement(ground, PAD, LIMITS, GOALS["balance"], 0.9)
    curve, at = result.finish_curve, result.best.placement
    assert curve is not None
    pieces = naive_pieces(ground, PAD, np.array([at.east, at.north, at.bearing]))
    for row in range(0, len(curve.finish), 9):
        cut, fill = naive_cut_fill(pieces, float(curve.finish[row]))
        assert curve.cut[row] == pytest.approx(cut, abs=1e-9)
        assert curve.fill[row] == pytest.approx(fill, abs=1e-9)
    assert np.nanmin(curve.value) >= result.best.value - 1e-12
    assert curve.finish[0] < at.finish < curve.finish[-1]
