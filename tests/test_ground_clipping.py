"""Outlines and holes: no ground beyond the one and in the others, and the same ground everywhere else."""

import numpy as np
import pytest
import shapely

from grounds import rough, scattered, shots_of
from spadework.errors import GroundError
from spadework.ground import Ground, raster_ground, triangulate_shots
from spadework.ground.clipping import clip_ground, shots_inside
from spadework.readings import FloatArray, RasterReading

POND = np.array([[10, 10], [15, 12], [14, 18], [9, 16]], dtype=float)
PLOT = np.array([[2, 2], [35, 5], [28, 38], [3, 33]], dtype=float)


def raster() -> Ground:
    """A wavy raster of the same yard."""
    east, north = np.meshgrid(np.arange(31.0), np.arange(41.0))
    return raster_ground(RasterReading(east, north, np.sin(east) + np.cos(north / 3)))


@pytest.mark.parametrize("ground", [scattered(200, rough()), raster()], ids=["shots", "raster"])
def test_ground_is_the_same_outside_a_hole_and_inside_an_outline(ground: Ground) -> None:
    """Areas as by the general geometry library; levels equal where there is ground; none elsewhere."""
    cut = clip_ground(ground, outline=PLOT, holes=[POND])
    left = shapely.box(0, 0, 30, 40).intersection(shapely.Polygon(PLOT)).difference(shapely.Polygon(POND))
    assert cut.area == pytest.approx(left.area, rel=1e-12)
    tried = np.random.default_rng(3).uniform([0, 0], [30, 40], (2000, 2))
    inside = shapely.contains_xy(left, *tried.T)
    level = cut.level_at(tried)
    assert (np.isfinite(level) == inside).all()
    assert level[inside] == pytest.approx(ground.level_at(tried)[inside], abs=1e-12)
    outer, hole = cut.outline()
    assert shapely.Polygon(outer, [hole]).symmetric_difference(left).area == pytest.approx(0, abs=1e-9)


def test_sides_of_a_cut_ground_fit_together() -> None:
    """Every side belongs to two triangles or lies on the outline: no cracks along the cut."""
    cut = clip_ground(scattered(200, rough()), holes=[POND])
    rings = cut.outline()
    assert len(rings) == 2
    assert shapely.Polygon(rings[1]).area == pytest.approx(shapely.Polygon(POND).area, rel=1e-12)


def test_pond_whose_corners_are_shots_is_left_out_along_its_shore() -> None:
    """Shore shots at level 1, bank at level 2: nothing of the ground lies below the shore."""
    shots = shots_of([0, 20, 20, 0, 8, 12, 12, 8, 10], [0, 0, 20, 20, 8, 8, 12, 12, 10], [2.0] * 4 + [1.0] * 4 + [-1.0])
    pond = np.column_stack([shots.east, shots.north])[4:8]
    inside = shots_inside(shots, [pond])
    assert inside.tolist() == [8]
    whole = triangulate_shots(shots.take(range(8)), breaklines=[("S5", "S6", "S7", "S8", "S5")])
    cut = clip_ground(whole, holes=[pond])
    assert cut.area == pytest.approx(400 - 16, rel=1e-12)
    assert len(cut.level) == 8
    assert cut.names == tuple(f"S{i}" for i in range(1, 9))
    assert cut.level.min() == 1.0


def test_shot_on_the_shore_is_not_inside() -> None:
    """Within 10 mm of the ring a shot is on it."""
    square = np.array([[0, 0], [10, 0], [10, 10], [0, 10]], dtype=float)
    assert shots_inside(shots_of([5, 0.005, 0.02, 11], [5, 5, 5, 5], [0.0] * 4), [square]).tolist() == [0, 2]


def test_ring_that_crosses_itself_is_told() -> None:
    """Corners out of order make a figure of eight."""
    with pytest.raises(GroundError, match="crosses itself"):
        clip_ground(raster(), holes=[np.array([[5, 5], [10, 10], [10, 5], [5, 10.0]])])


def test_hole_that_takes_all_is_told() -> None:
    """Nothing left is a fault, not an empty ground."""
    with pytest.raises(GroundError, match="No ground is left"):
        clip_ground(raster(), holes=[np.array([[-5, -5], [50, -5], [50, 50], [-5, 50.0]])])


def test_shots_stay_countable_when_corners_are_drawn() -> None:
    """Corners that a hole adds come after the shots, and have no name."""
    ground = scattered(50, rough())
    cut = clip_ground(ground, holes=[POND])
    assert cut.shot_count is not None
    assert set(cut.names[cut.shot_count :]) == {""}
    assert "" not in cut.names[: cut.shot_count]
    here: FloatArray = np.column_stack([cut.east, cut.north])[: cut.shot_count] + cut.origin
    assert cut.level[: cut.shot_count] == pytest.approx(ground.level_at(here), abs=1e-12)
