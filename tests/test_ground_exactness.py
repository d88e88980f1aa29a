"""What every kind of ground reproduces, and how fast volumes converge where it cannot."""

from itertools import pairwise

import numpy as np
import pytest

from grounds import shots_of
from spadework.confidence import study_ground
from spadework.ground import Ground, raster_ground, triangulate_shots
from spadework.ground.breaklines import Breakline
from spadework.ground.clipping import clip_ground
from spadework.ground.gaps import fill_gaps
from spadework.ground.process import GroundProcess, fit_process
from spadework.ground.rim import supported, within_reach
from spadework.ground.smooth import smooth_ground
from spadework.ground.tied_raster import tie_raster
from spadework.readings import FloatArray, RasterReading
from spadework.shots import Shots

SHIFT = np.array([412_000.0, 5_630_000.0])
HOLE = np.array([[11, 9], [17, 10], [15, 16], [10, 14]]) + SHIFT


def plane(places: FloatArray) -> FloatArray:
    """A plane in site axes."""
    return 312.5 + (places - SHIFT) @ np.array([0.043, -0.027])


def yard() -> Shots:
    """Eighty shots of the plane."""
    place = np.random.default_rng(12).uniform(0, 30, (80, 2)) + SHIFT
    return shots_of(*place.T, plane(place))


def raster(step: float = 2.0) -> RasterReading:
    """The plane as a raster with a gap."""
    east, north = np.meshgrid(np.arange(0, 31, step) + SHIFT[0], np.arange(0, 31, step) + SHIFT[1])
    level = plane(np.column_stack([east.ravel(), north.ravel()])).reshape(east.shape)
    level[4:6, 6:9] = np.nan
    return RasterReading(east, north, level, cell=step)


def with_lines() -> Ground:
    """Shots with two breaklines that cross."""
    at = np.array([[3, 3], [20, 12], [8, 25.0]]) + SHIFT
    other = np.array([[4, 20], [25, 5.0]]) + SHIFT
    lines = [Breakline(name, *places.T, plane(places)) for name, places in (("a", at), ("b", other))]
    return triangulate_shots(yard(), breaklines=lines)


def tied() -> Ground:
    """The raster tied to the shots."""
    shots = yard()
    return tie_raster(raster_ground(fill_gaps(raster())), shots).ground


def smooth() -> Ground:
    """The shots smoothed."""
    ground = triangulate_shots(yard())
    return smooth_ground(ground, fit_process(yard()))


def smooth_with_lines() -> Ground:
    """The shots smoothed, with breaklines."""
    ground = with_lines()
    study = study_ground(ground, yard())
    assert study is not None
    assert isinstance(study.process, GroundProcess)
    return smooth_ground(ground, study.process)


@pytest.mark.parametrize(
    "ground",
    [
        triangulate_shots(yard()),
        with_lines(),
        clip_ground(with_lines(), holes=[HOLE]),
        clip_ground(triangulate_shots(yard()), outline=HOLE),
        within_reach(triangulate_shots(yard()), 3.0),
        raster_ground(raster()),
        raster_ground(fill_gaps(raster())),
        tied(),
        smooth(),
        smooth_with_lines(),
        supported(with_lines()),
    ],
    ids=[
        *("shots", "breaklines", "hole", "outline", "reach", "raster", "filled raster", "tied raster", "smooth"),
        *("smooth with breaklines", "as far as the shots support it"),
    ],
)
def test_plane_is_reproduced(ground: Ground) -> None:
    """Every kind of ground through a plane is that plane, within 1e-9 m, at national coordinates."""
    tried = np.random.default_rng(5).uniform(2, 28, (3000, 2)) + SHIFT
    level = ground.level_at(tried)
    there = np.isfinite(level)
    assert there.sum() > 50
    assert level[there] == pytest.approx(plane(tried[there]), abs=1e-9)


def step(east: FloatArray, _north: FloatArray) -> FloatArray:
    """A metre up at east 0."""
    return (east >= 0).astype(float)


def volume_error(shape: object, truth: float, cell: float) -> float:
    """Volume under triangulated shots on a square of 4 m, less the truth."""
    place = np.arange(-2, 2 + cell / 2, cell)
    east, north = (values.ravel() for values in np.meshgrid(place, place))
    ground = triangulate_shots(shots_of(east, north, shape(east, north)))  # type: ignore[operator]
    return float(ground.triangle_areas @ ground.level[ground.triangles].mean(axis=1)) - truth


@pytest.mark.parametrize(
    ("shape", "truth", "order"),
    [
        # ∫∫ r² over the square: 2 · 4 · (2 · 2³ / 3)
        pytest.param(lambda east, north: east**2 + north**2, 8 * 16 / 3, 2, id="paraboloid"),
        # a cone of radius 1.5 m and height 1.5 m on level ground: π r² h / 3
        pytest.param(lambda east, north: np.maximum(1.5 - np.hypot(east, north), 0), np.pi * 1.5**3 / 3, 2, id="cone"),
        # a step of 1 m at east 0: 2 · 4, and half a cell too much where the ramp begins one cell early
        pytest.param(step, 8.0, 1, id="step"),
    ],
)
def test_volume_converges_at_the_expected_order(shape: object, truth: float, order: int) -> None:
    """The error falls by 2 to the order at each halving, over three halvings together."""
    errors = [abs(volume_error(shape, truth, cell)) for cell in (0.5, 0.25, 0.125, 0.0625)]
    found = np.log2(errors[0] / errors[-1]) / 3
    assert found == pytest.approx(order, abs=0.25)
    assert all(later < earlier for earlier, later in pairwise(errors))


def test_step_is_off_by_half_a_cell() -> None:
    """By hand: a ramp of one cell before the step adds half a cell times its length of 4 m."""
    assert volume_error(step, 8.0, 0.25) == pytest.approx(0.5 * 0.25 * 4)


def test_step_is_exact_with_two_breaklines() -> None:
    """Top and toe 11 mm apart: the bank between is all that is left, half of 11 mm times 4 m."""
    east, north = (values.ravel() for values in np.meshgrid(np.arange(-2, 2.5), np.arange(-2, 2.5)))
    off = np.abs(east) > 0.5
    shots = shots_of(east[off], north[off], (east[off] > 0).astype(float))
    toe, top = (
        Breakline(name, np.array([at, at]), np.array([-2.0, 2.0]), np.array([level, level]))
        for name, at, level in (("toe", -0.011, 0.0), ("top", 0.0, 1.0))
    )
    ground = triangulate_shots(shots, breaklines=[toe, top])
    found = float(ground.triangle_areas @ ground.level[ground.triangles].mean(axis=1))
    assert found - 8.0 == pytest.approx(0.011 / 2 * 4, rel=1e-9)
