"""Land in several pieces with holes, as rings and as shapes of a geometry library."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from spadework.pad import Pad, Placement
from spadework.placement.clearance import Clearance
from spadework.placement.land import keep_out_shape, land_rings, land_shape
from spadework.placement.limits import KeepOut, Limits
from spadework.readings import FloatArray

WIDE = (np.array([[-90.0, -90.0], [90.0, -90.0], [90.0, 90.0], [-90.0, 90.0]]),)
PAD = Pad.rectangle(3.0, 2.0)


def box(west: float, south: float, east: float, north: float) -> FloatArray:
    """A rectangle as a ring."""
    return np.array([[west, south], [east, south], [east, north], [west, north]], dtype=np.float64)


def random_lands(rng: np.random.Generator) -> list[tuple[FloatArray, ...]]:
    """Some rectangles that may overlap, touch or lie apart, the first one with a hole."""
    corners = rng.integers(-9, 6, (4, 2)).astype(float)
    sizes = rng.integers(3, 9, (4, 2)).astype(float)
    lands = [(box(*low, *(low + size)),) for low, size in zip(corners, sizes, strict=True)]
    west, south = lands[0][0].min(axis=0) + 0.7
    lands[0] = (lands[0][0], box(west, south, west + 0.9, south + 0.6))
    return lands


@pytest.mark.parametrize("seed", range(12))
def test_pad_stays_in_what_the_pieces_cover_together(seed: int) -> None:
    """The verdicts are those of a geometry library on the union, setback from its rim and from its holes counted."""
    rng = np.random.default_rng(seed)
    lands = random_lands(rng)
    union = shapely.union_all([shapely.Polygon(rings[0], rings[1:]) for rings in lands])
    rings = land_rings(lands)
    assert land_shape(rings).symmetric_difference(union).area == pytest.approx(0.0, abs=1e-9)
    poses = np.column_stack([rng.uniform(-10, 12, (400, 2)), rng.uniform(0, 360, 400)])
    allowed = Clearance.of(PAD, Limits(boundary=rings, setback=0.4), WIDE, np.zeros(2)).allowed(poses)
    for pose, verdict in zip(poses, allowed, strict=True):
        pad = shapely.Polygon(Placement(*pose, 0.0).corners(PAD))
        room = union.boundary.distance(pad) - 0.4
        if abs(room) > 1e-6:
            assert bool(verdict) is (union.contains(pad) and room > 0)


def test_pad_may_stand_across_a_side_that_two_pieces_share() -> None:
    """The side between them is no boundary."""
    rings = land_rings([(box(0, 0, 5, 6),), (box(5, 0, 9, 6),)])
    layout = Clearance.of(PAD, Limits(boundary=rings, setback=1.0), WIDE, np.zeros(2))
    assert layout.allowed(np.array([[5.0, 3.0, 0.0]]))[0]


def test_one_piece_is_left_as_it_is_drawn() -> None:
    """Corners and their order are kept."""
    ring = box(0, 0, 5, 6)[[2, 3, 0, 1]]
    assert land_rings([(ring,)])[0] is ring


def test_shapes_of_keep_outs() -> None:
    """A point, a line, an area."""
    assert keep_out_shape(KeepOut.circle("tree", (1.0, 2.0), 3.0)).equals(shapely.Point(1, 2))
    assert keep_out_shape(KeepOut.line("drain", np.array([[0, 0], [1, 0], [1, 1]]))).length == pytest.approx(2.0)
    assert keep_out_shape(KeepOut.polygon("pond", box(0, 0, 2, 3))).area == pytest.approx(6.0)
