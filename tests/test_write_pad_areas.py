"""Cut and fill areas against closed forms, and against volumes by an independent integral."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely

from sample_plan import sample_plan
from spadework.ground import Ground
from spadework.pad import Pad, Placement
from spadework.readings import FloatArray
from spadework.write.pad_areas import pad_areas


def plane(slope: float, *, origin: tuple[float, float] = (0.0, 0.0)) -> Ground:
    """Two triangles that fall to the east, level 0 on the line through the origin."""
    corners: FloatArray = np.array([[-10, -10], [10, -10], [10, 10], [-10, 10]], dtype=np.float64)
    return Ground(
        origin=np.array(origin),
        east=corners[:, 0],
        north=corners[:, 1],
        level=-slope * corners[:, 0],
        triangles=np.array([[0, 1, 2], [0, 2, 3]], dtype=np.int32),
        kind="triangulated shots",
    )


@pytest.mark.parametrize("origin", [(0.0, 0.0), (512_000.0, 181_000.0)], ids=["near", "500 km off"])
@pytest.mark.parametrize("bearing", [0.0, 30.0, 90.0])
def test_pad_areas_are_halves_when_a_plane_is_cut_at_its_middle(origin: tuple[float, float], bearing: float) -> None:
    """A centred pad at mid height is cut on the uphill half and filled on the other, at any bearing."""
    pad = Pad.rectangle(6.0, 4.0)
    found = pad_areas(plane(0.1, origin=origin), pad, Placement(*origin, bearing, 0.0))
    assert found.cut.area == pytest.approx(12.0, abs=1e-4)
    assert found.fill.area == pytest.approx(12.0, abs=1e-4)
    assert found.cut.centroid.x < origin[0] < found.fill.centroid.x


def test_zero_line_runs_where_depth_is_zero() -> None:
    """With a strip of 0.1 on a slope of 1 in 10 the zero line stands 1 m further uphill, and crosses the pad."""
    found = pad_areas(plane(0.1), Pad.rectangle(6.0, 4.0, strip=0.1), Placement(0.0, 0.0, 0.0, 0.0))
    assert found.zero.length == pytest.approx(6.0, abs=1e-3)
    east = shapely.get_coordinates(found.zero)[:, 0]
    assert np.allclose(east, -1.0, atol=1e-4)


def test_pad_areas_are_one_when_all_is_cut_or_all_is_fill() -> None:
    """A pad far below the ground is all cut, one far above all fill, and there is no zero line."""
    pad = Pad.rectangle(6.0, 4.0)
    low = pad_areas(plane(0.1), pad, Placement(0.0, 0.0, 20.0, -5.0))
    high = pad_areas(plane(0.1), pad, Placement(0.0, 0.0, 20.0, 5.0))
    assert (low.cut.area, low.fill.is_empty, low.zero.is_empty) == (pytest.approx(24.0, abs=1e-4), True, True)
    assert (high.fill.area, high.cut.is_empty, high.zero.is_empty) == (pytest.approx(24.0, abs=1e-4), True, True)


def test_pad_areas_are_empty_when_ground_is_at_formation() -> None:
    """Ground that lies at formation already is neither cut nor fill."""
    found = pad_areas(plane(0.0), Pad.rectangle(6.0, 4.0), Placement(0.0, 0.0, 20.0, 0.0))
    assert found.cut.is_empty
    assert found.fill.is_empty


def test_pad_areas_agree_with_the_depths_inside_them() -> None:
    """On a rough yard, points inside the cut area stand above the formation and those inside the fill below."""
    plan = sample_plan()
    placement = plan.search.best.placement
    found = pad_areas(plan.ground, plan.pad, placement)
    assert found.cut.area + found.fill.area == pytest.approx(plan.pad.area, abs=1e-3)
    random = np.random.default_rng(11)
    inside = placement.to_site(random.uniform(-0.5, 0.5, (2000, 2)) * np.array([5.4, 3.6]))
    depth = plan.ground.level_at(inside) - plan.pad.strip - placement.formation(plan.pad)
    points = shapely.points(inside)
    assert (depth[shapely.contains(found.cut, points)] > -1e-6).all()
    assert (depth[shapely.contains(found.fill, points)] < 1e-6).all()
    share = found.cut.area / plan.pad.area
    assert math.isclose(share, float((depth > 0).mean()), abs_tol=4 * math.sqrt(share * (1 - share) / 2000))
