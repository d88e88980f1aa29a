"""Poses against random land: a general geometry library is the judge."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from spadework.pad import Pad, Placement
from spadework.pad_shapes import circle
from spadework.placement.clearance import Clearance
from spadework.placement.limits import KeepOut, Limits
from spadework.readings import FloatArray

WIDE = np.array([[-100.0, -100.0], [100.0, -100.0], [100.0, 100.0], [-100.0, 100.0]])
CLEAR_CUT = 1e-6
"""Poses nearer to a limit than this are left out: there the judge's own rounding decides. [m]"""


def star(rng: np.random.Generator, centre: FloatArray, low: float, high: float, count: int) -> FloatArray:
    """Return a random ring about a centre: no gap of half a turn between its corners, so it never crosses itself."""
    angles = 2 * np.pi * (np.arange(count) + rng.uniform(0, 0.45, count)) / count
    distance = rng.uniform(low, high, count)
    return centre + np.column_stack([distance * np.cos(angles), distance * np.sin(angles)])


def random_land(rng: np.random.Generator) -> Limits:
    """Return a boundary with holes, keep-outs and a setback."""
    outer = star(rng, np.array([15.0, 12.0]), 6.0, 16.0, rng.integers(5, 14))
    holes = [star(rng, rng.uniform([8, 6], [22, 18]), 0.2, 2.0, rng.integers(3, 7)) for _ in range(rng.integers(0, 3))]
    keep_outs = [
        KeepOut.polygon(
            f"pond {i}", star(rng, rng.uniform([0, 0], [30, 24]), 0.1, 6.0, rng.integers(3, 8)), rng.uniform(0, 1)
        )
        for i in range(rng.integers(0, 3))
    ]
    keep_outs += [KeepOut.circle("tree", tuple(rng.uniform([0, 0], [30, 24])), rng.uniform(0, 3))]
    return Limits(boundary=(outer, *holes), setback=float(rng.choice([0.0, 0.7])), keep_outs=tuple(keep_outs))


def judge(limits: Limits, polygon: shapely.Polygon) -> tuple[bool, float]:
    """Return verdict and the least margin over all limits, by shapely."""
    rings = [shapely.LinearRing(ring) for ring in limits.boundary]
    land = shapely.Polygon(limits.boundary[0])
    for hole in limits.boundary[1:]:
        land = land.symmetric_difference(shapely.Polygon(hole))
    margins = [min(polygon.distance(ring) for ring in rings) - limits.setback if land.contains(polygon) else -1.0]
    near = [abs(margins[0])]
    for keep_out in limits.keep_outs:
        one = shapely.Point(keep_out.outline[0]) if keep_out.is_circle else shapely.Polygon(keep_out.outline)
        margins.append(-1.0 if one.intersects(polygon) else one.distance(polygon) - keep_out.clearance)
        near.append(abs(margins[-1]))
    return min(margins) >= 0, min(near)


@pytest.mark.parametrize(
    "pad",
    [
        pytest.param(Pad.rectangle(5.5, 3.7), id="rectangle"),
        pytest.param(Pad.rectangle(9.0, 0.5), id="thin"),
        pytest.param(Pad(np.array([[-2, -2], [0, -2], [0, 0], [2, 0], [2, 2], [-2, 2]], dtype=float)), id="L"),
        pytest.param(
            Pad(np.array([[-3, -3], [3, -3], [3, 3], [1, 3], [1, -1], [-1, -1], [-1, 3], [-3, 3]], dtype=float)), id="U"
        ),
    ],
)
@given(seed=st.integers(0, 2**32 - 1))
@settings(max_examples=40, deadline=None)
def test_allowed_when_the_land_is_random(pad: Pad, seed: int) -> None:
    """Boundary with holes, polygons and circles, touching and nested: the same verdict as the geometry library."""
    rng = np.random.default_rng(seed)
    limits = random_land(rng)
    poses = np.column_stack([rng.uniform(0, 30, 60), rng.uniform(0, 24, 60), rng.uniform(0, 360, 60)])
    allowed = Clearance.of(pad, limits, (WIDE,), np.array([15.0, 12.0])).allowed(poses)
    for pose, verdict in zip(poses, allowed, strict=True):
        expected, margin = judge(limits, shapely.Polygon(Placement(*pose, 0.0).corners(pad)))
        if margin > CLEAR_CUT:
            assert bool(verdict) is bool(expected), (seed, pose)


@given(seed=st.integers(0, 2**32 - 1))
@settings(max_examples=40, deadline=None)
def test_allowed_when_the_pad_is_round(seed: int) -> None:
    """A round pad is judged as the circle that it is: by the distance of its middle."""
    rng = np.random.default_rng(seed)
    limits, radius = random_land(rng), 1.7
    pad = Pad(circle(radius), radius=radius)
    poses = np.column_stack([rng.uniform(0, 30, 60), rng.uniform(0, 24, 60), np.zeros(60)])
    allowed = Clearance.of(pad, limits, (WIDE,), np.array([15.0, 12.0])).allowed(poses)
    land = shapely.Polygon(limits.boundary[0])
    for hole in limits.boundary[1:]:
        land = land.symmetric_difference(shapely.Polygon(hole))
    for pose, verdict in zip(poses, allowed, strict=True):
        middle = shapely.Point(pose[:2])
        rings = min(middle.distance(shapely.LinearRing(ring)) for ring in limits.boundary)
        rooms = [rings - radius - limits.setback if land.contains(middle) else -radius]
        for keep_out in limits.keep_outs:
            one = shapely.Point(keep_out.outline[0]) if keep_out.is_circle else shapely.Polygon(keep_out.outline)
            rooms.append(one.distance(middle) - radius - keep_out.clearance)
        if min(abs(room) for room in rooms) > CLEAR_CUT:
            assert bool(verdict) is (min(rooms) > 0), (seed, pose)


@given(seed=st.integers(0, 2**32 - 1))
@settings(max_examples=40, deadline=None)
def test_distances_when_the_pad_is_clear(seed: int) -> None:
    """Where the pad overlaps nothing, every distance is the geometry library's."""
    rng = np.random.default_rng(seed)
    pad = Pad.rectangle(2.5, 1.7)
    limits = random_land(rng)
    poses = np.column_stack([rng.uniform(8, 22, 60), rng.uniform(6, 18, 60), rng.uniform(0, 360, 60)])
    distances = Clearance.of(pad, limits, (WIDE,), np.array([15.0, 12.0])).distances(poses)
    for pose, row in zip(poses, distances, strict=True):
        polygon = shapely.Polygon(Placement(*pose, 0.0).corners(pad))
        if row[0] > 0:
            assert row[0] == pytest.approx(
                min(polygon.distance(shapely.LinearRing(r)) for r in limits.boundary), abs=1e-9
            )
        for keep_out, distance in zip(limits.keep_outs, row[2:], strict=True):
            one = shapely.Point(keep_out.outline[0]) if keep_out.is_circle else shapely.Polygon(keep_out.outline)
            assert max(distance, 0.0) == pytest.approx(one.distance(polygon), abs=1e-9)
