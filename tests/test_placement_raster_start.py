"""Tests of the scan that gives a search on a large raster its starts: nothing between the first positions is missed."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from naive_raster import scan_naively
from spadework.earthwork._compile import COMPILED
from spadework.ground import raster_ground
from spadework.pad import Pad
from spadework.placement import GOALS, Goal, KeepOut, Limits, find_placement
from spadework.placement.clearance import Clearance
from spadework.placement.limits import BearingLimit, FinishLimit
from spadework.placement.objective import Objective
from spadework.placement.raster_frame import NO_LEVEL, STEP
from spadework.placement.raster_start import lattice_and_levels, raster_start
from spadework.placement.start import StartGrid
from spadework.readings import RasterReading
from spadework.units import LengthUnit
from terrain import fractal_levels

KEEP = 0.87
PAD = Pad.rectangle(8.0, 4.5)
THIN = StartGrid(np.zeros((0, 3)), 5.0, 5.0, np.zeros((0, 3)))
NEEDS_SCAN = pytest.mark.skipif(not COMPILED, reason="without a compiler nothing is scanned")


def reading_of(
    level: np.ndarray, transform: tuple[float, ...] = (1.0, 0.0, 500_000.0, 0.0, -1.0, 5_000_000.0)
) -> RasterReading:
    """Cell centres and levels of an affine raster."""
    a, b, c, d, e, f = transform
    row, column = np.mgrid[0 : level.shape[0], 0 : level.shape[1]] + 0.5
    return RasterReading(a * column + b * row + c, d * column + e * row + f, level)


def objective_on(level: np.ndarray, limits: Limits, goal: Goal = GOALS["digging"], pad: Pad = PAD) -> Objective:
    """The exact objective on a raster."""
    ground = raster_ground(reading_of(level))
    return Objective(ground, pad, limits, goal, KEEP, Clearance.of(pad, limits, ground.outline(), ground.origin))


@pytest.mark.parametrize(
    "transform",
    [(1.0, 0.0, 500_000.0, 0.0, -1.0, 5_000_000.0), (0.8, 0.6, 10.0, 0.6, -0.8, -20.0), (0.3, 0.1, 0, -0.05, 0.4, 9.0)],
    ids=["along the axes", "turned", "slanted"],
)
@pytest.mark.parametrize("holes", [0.0, 0.2])
def test_cells_of_a_ground_are_those_of_its_raster(transform: tuple[float, ...], holes: float) -> None:
    """Every level comes back at its place; cells that are no part of the ground have none."""
    level = np.round(fractal_levels(0, 0, 23, 31), 4)
    level[np.random.default_rng(3).random(level.shape) < holes] = np.nan
    found = lattice_and_levels(raster_ground(reading_of(level, transform)))
    assert found is not None
    lattice, steps = found
    row, column = np.nonzero(steps != NO_LEVEL)
    back = {}
    for (east, north), value in zip(lattice.centres(row, column).round(6).tolist(), steps[row, column], strict=True):
        back[east, north] = value * STEP
    reading = reading_of(level, transform)
    known = np.isfinite(level)
    whole = known[:-1, :-1] & known[1:, :-1] & known[:-1, 1:] & known[1:, 1:]
    padded = np.pad(whole, 1)
    used = padded[:-1, :-1] | padded[1:, :-1] | padded[:-1, 1:] | padded[1:, 1:]
    expected = {
        (round(float(e), 6), round(float(n), 6)): float(v)
        for e, n, v in zip(reading.east[used], reading.north[used], level[used], strict=True)
    }
    assert back == pytest.approx(expected, abs=1e-9)


def test_corners_that_are_no_lattice_have_no_cells() -> None:
    """A raster bent by another projection is not scanned."""
    reading = reading_of(fractal_levels(0, 0, 40, 40))
    bent = RasterReading(
        reading.east + 0.002 * (reading.north - reading.north.min()) ** 2, reading.north, reading.level
    )
    assert lattice_and_levels(raster_ground(bent)) is None


@NEEDS_SCAN
def test_level_spot_between_the_first_positions_is_found() -> None:
    """One level terrace on a large slope, that no position of the first grid comes near, is the spot; all is said."""
    size = 400
    down, right = np.mgrid[0:size, 0:size]
    level = 200.0 + 0.15 * right + 0.1 * down + 0.2 * np.sin(right / 3.0) * np.cos(down / 4.0)
    level[231:243, 157:166] = 260.0
    ground = raster_ground(reading_of(level))
    found = find_placement(ground, PAD, Limits(), GOALS["digging"], KEEP)
    assert found.best.value == pytest.approx(0.0, abs=1e-6)
    assert found.best.placement.east == pytest.approx(500_000 + 161.5, abs=3.0)
    assert found.best.placement.north == pytest.approx(5_000_000 - 237.0, abs=4.0)
    assert "all 160,000 cells of the raster were scanned at 36 bearings" in found.searched
    assert "has less than 0.000 m³" in found.searched
    assert not any("may lie between" in notice for notice in found.notices)


@NEEDS_SCAN
@pytest.mark.parametrize("goal", [GOALS["digging"], GOALS["balance"], Goal("priced", 1.0, 0.5, over=0.4, short=2.0)])
def test_least_of_the_scan_is_that_of_the_naive_search(goal: Goal) -> None:
    """What no pose over the cells has less than is the least of a search through every cell, bearing and level."""
    level = np.round(fractal_levels(40, 7, 22, 24), 4)
    limits = Limits(bearing=BearingLimit(30.0))
    grid = replace(THIN, tested=np.array([[0.0, 0.0, 30.0]]))
    start = raster_start(objective_on(level, limits, goal), grid)
    naive = scan_naively(level, (1.0, 0, 0, 0, -1.0, 0), PAD, goal, KEEP, np.array([30.0]))
    assert start.least == pytest.approx(naive.min(), rel=1e-9)
    assert start.cells == level.size
    assert "has less than" in start.sentence(goal, LengthUnit.METRE, 0.0)


@NEEDS_SCAN
def test_starts_keep_the_limits_and_other_goals_make_no_statement() -> None:
    """Poses lie in the land, off its hole and the pond; with a height of the edge as goal the scan promises nothing."""
    level = fractal_levels(0, 0, 120, 130)
    corner = np.array([500_000.0, 4_999_880.0])
    outer = np.array([[5.0, 5.0], [120.0, 9.0], [118.0, 110.0], [9.0, 104.0]]) + corner
    hole = np.array([[40.0, 40.0], [60.0, 40.0], [60.0, 70.0], [40.0, 70.0]]) + corner
    pond = KeepOut.circle("pond", (500_090.0, 4_999_960.0), 6.0)
    limits = Limits(boundary=(outer, hole), setback=2.0, keep_outs=(pond,), finish=FinishLimit("flush"))
    for goal, kind in ((GOALS["wall"], "free"), (GOALS["balance"], "flush")):
        objective = objective_on(level, replace(limits, finish=FinishLimit(kind)), goal)
        start = raster_start(objective, THIN)
        assert len(start.poses) > 3
        assert np.isfinite(objective.values(start.poses)).all()
        assert np.isnan(start.least)
        assert start.sentence(goal, LengthUnit.METRE, 0.0).endswith("by cut and fill alike")


@pytest.mark.parametrize("step", [0.5, 1.1])
def test_nothing_is_scanned_where_the_first_positions_stand_close(step: float) -> None:
    """A yard whose grid is as fine as the pad asks for is searched as before, and nothing is said of a scan."""
    start = raster_start(objective_on(fractal_levels(0, 0, 30, 30), Limits()), replace(THIN, step=step))
    assert start.cells == 0
    assert start.sentence(GOALS["digging"], LengthUnit.METRE, 0.0) == ""
