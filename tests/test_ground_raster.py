"""A raster as triangles."""

import numpy as np
import pytest

from spadework.errors import GroundError
from spadework.ground import raster_ground
from spadework.readings import FloatArray, RasterReading


def raster(level: FloatArray, *, cell: float = 1.0, turn: float = 0.0, first_row_north: bool = True) -> RasterReading:
    """Cell centres ``cell`` apart, the lattice turned clockwise by ``turn`` degrees."""
    rows, columns = level.shape
    along, across = np.meshgrid(np.arange(columns) * cell, np.arange(rows) * cell * (-1 if first_row_north else 1))
    sine, cosine = np.sin(np.radians(turn)), np.cos(np.radians(turn))
    return RasterReading(
        400_000 + along * cosine + across * sine,
        300_000 + across * cosine - along * sine,
        level,
        "paddock.tif",
        cell=cell,
    )


@pytest.mark.parametrize("first_row_north", [True, False])
@pytest.mark.parametrize("turn", [0.0, 25.0, 190.0])
def test_two_triangles_for_each_square_of_cell_centres(turn: float, *, first_row_north: bool) -> None:
    """A raster of 7 by 9 cells covers 6 by 8 squares, whichever way its rows run and its lattice is turned."""
    level = np.random.default_rng(1).uniform(0, 1, (7, 9))
    ground = raster_ground(raster(level, cell=0.5, turn=turn, first_row_north=first_row_north))
    assert ground.triangle_count == 2 * 6 * 8
    assert ground.kind == "raster"
    assert (ground.triangle_areas > 0).all()
    assert ground.area == pytest.approx(6 * 8 * 0.25, rel=1e-9)


def test_levels_at_cell_centres_are_those_of_the_raster() -> None:
    """The surface goes through every cell."""
    level = np.random.default_rng(2).uniform(10, 12, (6, 5))
    reading = raster(level, turn=30)
    points = np.stack([reading.east.ravel(), reading.north.ravel()], axis=1)
    np.testing.assert_allclose(raster_ground(reading).level_at(points), level.ravel(), rtol=0, atol=1e-8)


def test_squares_are_halved_along_the_more_level_diagonal() -> None:
    """A ridge from corner to corner stays a ridge: the middle of the square is as high as its ends."""
    ridge = raster(np.array([[1.0, 0.0], [0.2, 1.0]]))
    middle = np.array([[400_000.5, 299_999.5]])
    assert raster_ground(ridge).level_at(middle) == pytest.approx(1.0)
    assert raster_ground(raster(np.array([[0.0, 1.0], [1.0, 0.2]]))).level_at(middle) == pytest.approx(1.0)


def test_no_triangle_touches_a_cell_without_a_value() -> None:
    """One hole takes away the four squares around it, and is counted."""
    level = np.zeros((5, 6))
    level[2, 3] = np.nan
    ground = raster_ground(raster(level))
    assert ground.triangle_count == 2 * (4 * 5 - 4)
    assert np.isfinite(ground.level).all()
    hole = np.array([[400_003.0, 299_998.0], [400_002.4, 299_997.5]])
    assert np.isnan(ground.level_at(hole)).all()
    assert ground.notices == ("1 of 30 cells have no value: no ground there.",)
    assert [len(ring) for ring in ground.outline()] == [2 * (4 + 5), 8]


@pytest.mark.parametrize(
    "level",
    [np.zeros((1, 5)), np.full((3, 3), np.nan), np.where(np.indices((4, 4)).sum(0) % 2 == 0, 1.0, np.nan)],
    ids=["one row", "no value", "chequered"],
)
def test_a_raster_without_a_whole_square_is_refused(level: FloatArray) -> None:
    """The message names the file and says what is missing."""
    with pytest.raises(GroundError, match=r"paddock\.tif"):
        raster_ground(raster(level))


def test_a_lattice_that_folds_is_refused() -> None:
    """Cell centres that run back over themselves are no surface."""
    reading = raster(np.zeros((3, 4)))
    reading.east[:, 3] -= 2.5
    with pytest.raises(GroundError, match="folds over itself"):
        raster_ground(reading)


def test_a_window_of_a_million_cells_keeps_small_tables() -> None:
    """Corners of triangles are 32-bit numbers, and a triangle stands in fewer than three buckets on average."""
    level = np.random.default_rng(3).uniform(0, 1, (1000, 1000))
    ground = raster_ground(raster(level))
    assert ground.triangles.dtype == np.int32
    assert ground.triangles.nbytes == 2 * 999 * 999 * 3 * 4
    assert len(ground.index.entry) < 3 * ground.triangle_count
