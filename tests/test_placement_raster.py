"""Tests of the scan of a raster: exact over the cells, the same however it is cut up, exact again on the triangles."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from matplotlib import cbook
from scipy import ndimage

from naive_raster import best_value, cells_under, corners_needed, scan_naively
from spadework.earthwork import earthwork
from spadework.earthwork._compile import COMPILED
from spadework.ground import raster_ground
from spadework.pad import Pad, Placement
from spadework.placement import GOALS, Goal, KeepOut
from spadework.placement.raster_boxes import SIZES, box_sizes, boxes_of
from spadework.placement.raster_frame import NO_LEVEL, STEP, IntLevels, Lattice, ReadingOf, WindowOf
from spadework.placement.raster_goal import bound_factors, level_cost
from spadework.placement.raster_land import RasterLand
from spadework.placement.raster_masks import pad_masks
from spadework.placement.raster_search import RasterScan, scan_raster
from spadework.placement.raster_spots import exact_spots, noise_floor
from spadework.placement.raster_tables import HeightLimits
from spadework.readings import RasterReading
from terrain import fractal_levels

KEEP = 0.87
OTHERS = (
    Goal("least of both", cut=1.0, fill=1.0),
    Goal("dear fill", cut=1.0, fill=3.0),
    Goal("dear cut", cut=3.0, fill=1.0),
    Goal("priced", cut=1.0, fill=0.5, over=0.4, short=2.0),
    Goal("cheaply priced", cut=1.0, fill=0.5, over=0.4, short=0.2),
)
EVERY_GOAL = (GOALS["digging"], GOALS["balance"], *OTHERS)
ELL = Pad(np.array([[-2.0, -2.0], [-2.0, 3.0], [0.0, 3.0], [0.0, 0.0], [3.0, 0.0], [3.0, -2.0]]))
PADS = (Pad.rectangle(5.5, 3.6), Pad.rectangle(4.0, 4.0), ELL, Pad.rectangle(9.0, 2.0))


def windows(levels: IntLevels) -> WindowOf:
    """Windows of an array."""
    return lambda row, column, rows, columns: levels[row : row + rows, column : column + columns]


def readings(levels: IntLevels, lattice: Lattice) -> ReadingOf:
    """The same as cell centres and levels."""

    def reading(row: int, column: int, rows: int, columns: int) -> RasterReading:
        down, right = np.mgrid[row : row + rows, column : column + columns]
        east, north = np.moveaxis(lattice.centres(down, right), -1, 0)
        part = levels[row : row + rows, column : column + columns]
        return RasterReading(east.copy(), north.copy(), np.where(part == NO_LEVEL, np.nan, part * STEP))

    return reading


def whole_steps(levels: np.ndarray) -> IntLevels:
    """Levels as whole steps."""
    return np.where(np.isnan(levels), NO_LEVEL, np.rint(np.nan_to_num(levels) / STEP)).astype(np.int32)


def lattice_of(levels: np.ndarray, cell: float = 1.0, slant: float = 0.0) -> Lattice:
    """A lattice with its first row in the north."""
    return Lattice(*levels.shape, (cell, slant, 0.0, 0.0, -cell, levels.shape[0] * cell))


def rough(rows: int, columns: int, seed: int, holes: float = 0.0) -> np.ndarray:
    """Rough ground with some cells missing. [m]"""
    random = np.random.default_rng(seed)
    steps = random.normal(0.0, 0.05, (2, rows, columns))
    levels = 100.0 + np.cumsum(steps[0], axis=0) + np.cumsum(steps[1], axis=1)
    levels[random.random(levels.shape) < holes] = np.nan
    return levels


def table(scan: RasterScan) -> np.ndarray:
    """The spots of a scan as rows."""
    spots = scan.spots
    return np.column_stack([spots.value, spots.row, spots.column, spots.bearing, spots.level])


@pytest.mark.parametrize(
    ("goal", "pad"),
    [*((goal, PADS[0]) for goal in EVERY_GOAL), (EVERY_GOAL[0], PADS[1]), (EVERY_GOAL[4], PADS[2])],
    ids=lambda value: value.name if isinstance(value, Goal) else f"{len(value.outline)} corners, {value.area:g} m²",
)
def test_scan_finds_the_naive_minimum(goal: Goal, pad: Pad) -> None:
    """The best value is that of a search through every cell, bearing and level; holes are kept clear of."""
    levels = np.round(rough(13, 15, seed=len(goal.name), holes=0.005), 4)
    lattice = lattice_of(levels)
    bearings = np.array([0.0, 25.0, 140.0])
    naive = scan_naively(levels, lattice.transform, pad, goal, KEEP, bearings)
    scan = scan_raster(windows(whole_steps(levels)), lattice, pad, goal, KEEP, bearings=bearings, count=3)
    assert scan.spots.value[0] == pytest.approx(naive.min(), rel=1e-9)
    assert naive[scan.spots.row, scan.spots.column] == pytest.approx(scan.spots.value, rel=1e-9)


@pytest.mark.parametrize("seed", range(10))
def test_scan_is_the_same_with_and_without_bounds_and_however_it_is_cut(seed: int) -> None:
    """Kernels with bounds, in tiles of any size, give every spot of the plain search without any."""
    random = np.random.default_rng(seed)
    rows, columns = random.integers(30, 60, 2).tolist()
    levels = rough(rows, columns, seed, holes=0.01 * (seed % 2))
    if seed % 3 == 0:
        levels[5:20, 5:25] = 100.0  # dead level: many poses cost nothing
    lattice = lattice_of(levels, slant=0.1 * (seed % 4 == 1))
    ring = np.array([[1.0, 1.0], [columns - 2.0, 3.0], [columns - 4.0, rows - 1.0], [2.0, rows - 3.0]])
    land = RasterLand(((ring,),), 1.0, (KeepOut.circle("tree", (15.0, 20.0), 2.0),)) if seed % 4 < 2 else None
    heights = HeightLimits(0.5, 0.4, 1.0, 0.3) if seed % 5 == 1 else None
    results = [
        table(
            scan_raster(
                windows(whole_steps(levels)), lattice, PADS[seed % 4], EVERY_GOAL[seed % 7], KEEP,
                bearings=10, land=land, heights=heights, count=5, **way,
            )
        )
        for way in ({"use_compiled": False}, {}, {"tile": 16, "workers": 1}, {"tile": 7, "workers": 3})
    ]  # fmt: skip
    for other in results[1:]:
        assert other == pytest.approx(results[0], rel=1e-9, abs=1e-9)


LARGE = (
    (Pad.rectangle(24.0, 16.0), 1.0),
    (Pad.rectangle(23.0, 17.0), 1.0),
    (Pad.rectangle(24.3, 16.7), 0.5),
    (Pad(6.0 * ELL.outline), 1.0),
)
"""Pads of 400 to 1,600 cells and the cell: along and off the rows, odd and even, with a corner that turns in."""


@pytest.mark.parametrize("goal", EVERY_GOAL, ids=lambda goal: goal.name)
@pytest.mark.parametrize("number", range(len(LARGE)))
def test_scan_for_a_large_pad_is_the_plain_search(number: int, goal: Goal) -> None:
    """Sums over boxes and levels found without sorting change nothing: on slopes, steps, noise and about holes."""
    pad, cell = LARGE[number]
    random = np.random.default_rng(number)
    down, right = np.mgrid[0:78, 0:83] * cell
    levels = (
        100.0 + 0.06 * down + rough(78, 83, seed=number) - 100.0,
        np.floor(0.04 * right + 0.07 * down) + 300.0,  # steps: many cells alike, many poses alike
        100.0 + random.normal(0.0, 0.03, down.shape),
        200.0 + 0.3 * np.abs(right - 30.0) + 0.001 * (down - 20.0) ** 2,
    )[EVERY_GOAL.index(goal) % 4]
    if number % 2:
        levels[70, 3:9] = np.nan
    lattice = lattice_of(levels, cell)
    heights = HeightLimits(cut_depth=2.5, fill_depth=2.0, slope=0.5) if goal.name == "priced" else None
    way = {"bearings": np.array([0.0, 17.0, 90.0]), "count": 4, "heights": heights}
    results = [
        table(scan_raster(windows(whole_steps(levels)), lattice, pad, goal, KEEP, use_compiled=compiled, **way))
        for compiled in (False, COMPILED)
    ]
    assert len(results[0]) > 0
    assert results[1] == pytest.approx(results[0], rel=1e-9, abs=1e-9)


@pytest.mark.parametrize(("length", "width"), [(24.0, 16.0), (21.0, 21.0)])
def test_least_of_cut_and_fill_is_what_scipy_finds_with_a_filter(length: float, width: float) -> None:
    """For cut and fill alike the best level is the median: scipy's generic filter gives the sum of distances to it."""
    pad, goal = Pad.rectangle(length, width), OTHERS[0]
    levels = np.round(rough(58, 61, seed=int(length)), 4)
    levels[50, 50] = np.nan
    lattice = lattice_of(levels)
    best = np.full(levels.shape, np.inf)
    for bearing in (0.0, 35.0):
        reach = 18
        under, needed = (np.zeros((2 * reach + 1, 2 * reach + 1), dtype=bool) for _ in range(2))
        for cells, footprint in ((cells_under, under), (corners_needed, needed)):
            for row, column in cells(pad, lattice.transform, bearing, reach):
                footprint[row + reach, column + reach] = True
        moved = ndimage.generic_filter(
            levels, lambda z: np.abs(z - np.median(z)).sum(), footprint=under, mode="constant", cval=np.nan
        )
        gap = ndimage.maximum_filter(np.isnan(levels), footprint=needed, mode="constant", cval=1)
        best = np.fmin(best, np.where(gap, np.inf, moved * pad.area / under.sum()))
    scan = scan_raster(windows(whole_steps(levels)), lattice, pad, goal, KEEP, bearings=np.array([0.0, 35.0]), count=3)
    assert scan.spots.value[0] == pytest.approx(best.min(), rel=1e-9)
    assert best[scan.spots.row, scan.spots.column] == pytest.approx(scan.spots.value, rel=1e-9)


@pytest.mark.parametrize("area", [1, 30, 400, 1601, 5000])
def test_boxes_hold_every_cell_once(area: int) -> None:
    """The boxes of a ragged set hold each of its cells once and no other; a large set falls into far fewer boxes."""
    side = math.ceil(area**0.5)
    down, right = np.mgrid[-side : side + 1, -side : side + 1]
    row, column = (v[np.abs(down + 0.4 * right) + np.abs(right - 0.3 * down) < 0.9 * side] for v in (down, right))
    sizes = SIZES[: box_sizes(len(row))]
    held: list[tuple[int, int]] = []
    boxes = boxes_of(row.astype(np.int64), column.astype(np.int64), sizes)
    for size, (tops, lefts) in zip(sizes, boxes, strict=True):
        for top, left in zip(tops.tolist(), lefts.tolist(), strict=True):
            held += [(top + a, left + b) for a in range(size) for b in range(size)]
    assert sorted(held) == sorted(zip(row.tolist(), column.tolist(), strict=True))
    if area >= 1600:
        assert sum(len(tops) for tops, _ in boxes) < 0.25 * len(row)


def test_what_is_said_to_be_the_least_of_a_part_is_no_more_than_any_pose_there() -> None:
    """The picture's bound for each part of the raster is at most what the plain search finds in it."""
    pad, cell = LARGE[2]
    levels = rough(90, 96, seed=12) + 0.1 * np.arange(96.0)
    value = np.full(levels.shape, np.nan)

    def keep_map(row: int, column: int, part: np.ndarray, _: np.ndarray) -> None:
        value[row : row + part.shape[0], column : column + part.shape[1]] = part

    lattice, way = lattice_of(levels, cell), {"bearings": 4, "count": 2}
    of = windows(whole_steps(levels))
    scan_raster(of, lattice, pad, GOALS["digging"], KEEP, use_compiled=False, map_to=keep_map, **way)
    overview = scan_raster(of, lattice, pad, GOALS["digging"], KEEP, use_compiled=COMPILED, **way).overview
    known = np.argwhere(np.isfinite(overview.least))
    assert len(known) > 0
    for a, b in known.tolist():
        part = value[a * overview.cells : (a + 1) * overview.cells, b * overview.cells : (b + 1) * overview.cells]
        assert overview.least[a, b] <= np.nanmin(part) * (1 + 1e-9) + 1e-12


def test_spots_are_the_best_of_squares_that_lie_apart() -> None:
    """The list is that of a greedy choice over the best of every square, written out here once more."""
    levels = rough(40, 44, seed=3)
    lattice, pad = lattice_of(levels), PADS[0]
    value = np.full(levels.shape, np.nan)

    def keep_map(row: int, column: int, part: np.ndarray, _: np.ndarray) -> None:
        value[row : row + part.shape[0], column : column + part.shape[1]] = part

    scan = scan_raster(
        windows(whole_steps(levels)), lattice, pad, GOALS["digging"], KEEP, bearings=6, count=6, use_compiled=False,
        map_to=keep_map,
    )  # fmt: skip
    side = 3  # half the diagonal of 6.6 m in cells
    candidates = []
    for row in range(0, 40, side):
        for column in range(0, 44, side):
            part = value[row : row + side, column : column + side]
            p, q = np.unravel_index(np.argmin(part), part.shape)
            candidates.append((float(part[p, q]), row + int(p), column + int(q)))
    chosen: list[tuple[float, int, int]] = []
    for found in sorted(candidates):
        if len(chosen) < 6 and all(math.dist(found[1:], other[1:]) > math.hypot(5.5, 3.6) for other in chosen):
            chosen.append(found)
    assert table(scan)[:, :3] == pytest.approx(np.array(chosen))


@pytest.mark.parametrize("goal", EVERY_GOAL, ids=lambda goal: goal.name)
def test_bound_factors_never_exceed_the_best_value(goal: Goal) -> None:
    """The bound from the mean level is at most the best value, and seldom far from it."""
    random = np.random.default_rng(4)
    share = []
    for _ in range(60):
        count = int(random.integers(2, 30))
        levels = random.normal(0.0, 1.0, count) ** int(random.integers(1, 4))
        cut = float(np.maximum(levels - levels.mean(), 0.0).sum())
        bound = cut * bound_factors(level_cost(goal, KEEP), count)[(levels > levels.mean()).sum()]
        best = best_value(levels.tolist(), goal, KEEP)
        assert bound <= best * (1 + 1e-9) + 1e-12
        share.append(bound / best)
    assert np.median(share) > 0.6


def test_cells_under_a_pad_are_counted_by_hand_when_it_lies_along_the_rows() -> None:
    """A pad of 4 by 2 cells with its middle on a centre covers 5 by 3 centres, edges included; a turn swaps them."""
    lattice = Lattice(9, 9, (1.0, 0.0, 0.0, 0.0, -1.0, 9.0))
    masks = pad_masks(Pad.rectangle(4.0, 2.0), lattice, [90.0, 0.0])
    along, across = ({*zip(*map(np.ndarray.tolist, runs.cells()), strict=True)} for runs in masks.under)
    assert along == {(row, column) for row in (-1, 0, 1) for column in (-2, -1, 0, 1, 2)}
    assert across == {(column, row) for row, column in along}
    assert masks.groups[0][0].count == 9


def test_plane_costs_what_the_closed_form_says() -> None:
    """On a plane of slope s across the pad the best bearing lies along the contour and cut is L W² s / 8."""
    slope, cell = 0.1, 0.25
    levels = np.tile(200.0 + slope * cell * np.arange(40.0), (44, 1))
    lattice = lattice_of(levels, cell)
    pad = Pad.rectangle(5.5, 3.7)
    scan = scan_raster(windows(whole_steps(levels)), lattice, pad, GOALS["balance"], 1.0, bearings=12, count=1)
    spots = exact_spots(scan, lattice, readings(whole_steps(levels), lattice), pad, GOALS["balance"], 1.0, count=1)
    assert scan.masks.bearings[scan.spots.bearing[0]] == 0.0
    assert scan.spots.value[0] == pytest.approx(2 * 5.5 * 3.7**2 * slope / 8, rel=0.1)
    assert spots[0].spot.value == pytest.approx(2 * 5.5 * 3.7**2 * slope / 8, rel=1e-6)


def test_spot_is_found_on_real_ground_and_is_exact_on_its_triangles() -> None:
    """On a real elevation model the printed amounts are those of the earthwork at that placement."""
    metres = cbook.get_sample_data("jacksboro_fault_dem.npz")["elevation"].astype(np.float64) / 20.0
    levels = whole_steps(metres[:200, :240])
    lattice = lattice_of(levels, 2.0)
    pad = Pad.rectangle(16.0, 10.0, strip=0.1)
    scan = scan_raster(windows(levels), lattice, pad, GOALS["digging"], KEEP, bearings=18, count=8)
    spots = exact_spots(scan, lattice, readings(levels, lattice), pad, GOALS["digging"], KEEP, count=3)
    assert len(spots) == 3
    ground = raster_ground(readings(levels, lattice)(0, 0, *levels.shape))
    for found in spots:
        work = earthwork(ground, pad, found.spot.placement)
        assert (work.cut, work.fill) == pytest.approx((found.spot.cut, found.spot.fill), abs=1e-6)
        assert KEEP * work.cut == pytest.approx(work.fill, abs=1e-6)
        assert found.spot.value <= found.centre_value + 1e-9
    assert [s.spot.value for s in spots] == sorted(s.spot.value for s in spots)
    ends = [np.array([s.spot.placement.east, s.spot.placement.north]) for s in spots]
    assert min(math.dist(a, b) for i, a in enumerate(ends) for b in ends[:i]) > scan.apart


def test_pads_keep_clear_of_what_is_kept_out() -> None:
    """No pad of the list covers ground within the clearance of a keep-out or outside the boundary."""
    levels = rough(70, 70, seed=8)
    lattice = lattice_of(levels)
    ring = np.array([[5.0, 5.0], [66.0, 9.0], [60.0, 64.0], [8.0, 58.0]])
    land = RasterLand(
        ((ring,),), 1.5, (KeepOut.polygon("pond", np.array([[25.0, 25.0], [40.0, 27.0], [33.0, 41.0]]), 2.0),)
    )
    scan = scan_raster(windows(whole_steps(levels)), lattice, PADS[0], GOALS["digging"], KEEP, land=land, count=12)
    spots = exact_spots(
        scan, lattice, readings(whole_steps(levels), lattice), PADS[0], GOALS["digging"], KEEP, land=land, count=12
    )
    allowed = shapely.Polygon(ring).buffer(-1.5 + 1e-6)
    pond = shapely.Polygon(land.keep_outs[0].outline)
    assert len(spots) > 5
    for found in spots:
        outline = shapely.Polygon(found.spot.placement.corners(PADS[0]))
        assert allowed.covers(outline)
        assert outline.distance(pond) >= 2.0 - 1e-6


def test_map_is_never_under_the_naive_value_and_mostly_equal() -> None:
    """Each cell's value is that of one of its bearings, and nearly always of the best one."""
    levels = np.round(rough(14, 15, seed=6, holes=0.005), 4)
    lattice, bearings = lattice_of(levels), np.array([0.0, 30.0, 75.0, 120.0])
    found = np.full(levels.shape, np.nan)

    def keep_map(row: int, column: int, part: np.ndarray, bearing: np.ndarray) -> None:
        found[row : row + part.shape[0], column : column + part.shape[1]] = part
        assert (np.isfinite(part) == np.isfinite(bearing)).all()

    scan_raster(
        windows(whole_steps(levels)), lattice, PADS[0], GOALS["digging"], KEEP, bearings=bearings, map_to=keep_map
    )
    naive = scan_naively(levels, lattice.transform, PADS[0], GOALS["digging"], KEEP, bearings)
    assert (np.isfinite(found) == np.isfinite(naive)).all()
    good = np.isfinite(naive)
    assert (found[good] >= naive[good] * (1 - 1e-9)).all()
    assert (found[good] <= naive[good] * 1.05).all()
    assert np.isclose(found[good], naive[good], rtol=1e-9).mean() > 0.9


@pytest.mark.skipif(not COMPILED, reason="without a compiler there are no running sums")
def test_sums_do_not_run_over_on_a_cliff() -> None:
    """Levels 4 km apart in one tile are summed in wider numbers: the result is that of the plain search."""
    levels = rough(40, 40, seed=9)
    levels[:, 25:] += 4000.0
    lattice, pad = lattice_of(levels, 0.25), Pad.rectangle(5.5, 3.6)
    ways = [
        scan_raster(windows(whole_steps(levels)), lattice, pad, GOALS["digging"], KEEP, bearings=2, use_compiled=way)
        for way in (False, True)
    ]
    assert table(ways[1]) == pytest.approx(table(ways[0]), rel=1e-9)


def test_noise_alone_costs_what_the_floor_says() -> None:
    """On level ground with random errors the mean cut plus fill of a pad is 0.8 s A, as for a normal distribution."""
    random = np.random.default_rng(2)
    sd, pad = 0.03, Pad.rectangle(12.0, 10.0)
    cells = random.normal(0.0, sd, (400, 4000))
    moved = np.abs(cells - cells.mean(axis=1, keepdims=True)).mean(axis=1) * pad.area
    assert noise_floor(sd, pad.area) == pytest.approx(moved.mean(), rel=0.01)
    assert noise_floor(sd, pad.area) == pytest.approx(0.8 * sd * pad.area, rel=0.01)


def test_windows_of_the_terrain_for_tests_fit_together() -> None:
    """A window of the endless ground is the same part of a larger one."""
    large = fractal_levels(0, 0, 300, 260, cell=0.5)
    assert fractal_levels(120, 90, 50, 70, cell=0.5) == pytest.approx(large[120:170, 90:160], abs=1e-12)


def test_placement_of_a_spot_turns_a_pad_to_a_cell() -> None:
    """A lattice's centres and cells are each other's inverse, also when it is turned and feet have become metres."""
    lattice = Lattice(5, 7, (0.3, 0.05, 1000.0, 0.04, -0.28, 2000.0))
    down, right = np.mgrid[0:5, 0:7]
    assert lattice.cells(lattice.centres(down, right)) == pytest.approx(np.stack([down, right], axis=-1) + 0.5)
    assert Placement(0, 0, 0, 0).to_pad(lattice.offsets(np.array(0.0), np.array(1.0))).tolist() == [0.04, 0.3]
