"""Levels of pads with banks: frustums in closed form, fine grids, the best level by search, the land as an interval."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import minimize_scalar

from grounds import rough, scattered
from spadework.earthwork import banked_earthwork
from spadework.earthwork.bank_cone import cone_side
from spadework.earthwork.bank_land import land_stretches
from spadework.earthwork.bank_levels import banked_levels_batch
from spadework.earthwork.bank_shape import bank_shape, distance_out
from spadework.earthwork.rule import LevelRule, Status
from spadework.ground import Ground
from spadework.pad import Edge, Pad, Placement
from spadework.pad_shapes import centred, l_shape

LENGTH, WIDTH = 6.0, 4.0
ELL = l_shape(6.0, 5.0, "C", (3.0, 2.5))
FIVE = centred(np.array([[-3.0, -2.0], [2.0, -2.0], [3.5, 0.0], [2.0, 2.0], [-3.0, 2.0]]))
COMB = centred(np.array([[0, 0], [6, 0], [6, 4], [4, 4], [4, 1.5], [2, 1.5], [2, 4], [0, 4]], dtype=np.float64))
OUTLINES = {"rectangle": Pad.rectangle(LENGTH, WIDTH).outline, "five": FIVE, "L": ELL, "comb": COMB}


def banked(
    outline: np.ndarray, corners: str = "mitred", cut: float = 1.5, fill: float = 2.0, strip: float = 0.0
) -> Pad:
    """A pad whose banks run 1 : cut and 1 : fill."""
    return Pad(outline, strip=strip, edge=Edge("bank", "", 1 / cut, 1 / fill, corners))


def at_level(ground: Ground, pad: Pad, pose: np.ndarray, finish: float) -> tuple[float, float, float, float]:
    """Cut, fill and the areas of both beyond the pad at a finish level."""
    found = banked_levels_batch(ground, pad, pose[None], LevelRule("fixed", finish=finish))
    return tuple(float(v[0]) for v in (found.levels.cut, found.levels.fill, found.cut_area, found.fill_area))  # type: ignore[return-value]


@pytest.mark.parametrize("depth", [0.7, -0.7, 0.05])
@pytest.mark.parametrize("run", [1.0, 2.0])
@pytest.mark.parametrize("bearing", [0.0, 33.0, 211.0])
@pytest.mark.parametrize(("corners", "share"), [("mitred", 4.0), ("round", math.pi)])
def test_level_ground_gives_the_frustum(depth: float, run: float, bearing: float, corners: str, share: float) -> None:
    """V = w l H + (w + l) m H² + s m² H³ / 3 over w l + 2 (w + l) m H + s (m H)²; s is 4 mitred, π round (calculus)."""
    ground = scattered(60, lambda east, north: 100.0 + 0.0 * east + 0.0 * north, seed=5)
    pad = banked(OUTLINES["rectangle"], corners, run, run)
    cut, fill, cut_area, fill_area = at_level(ground, pad, np.array([15.0, 20.0, bearing]), 100.0 - depth)
    h = abs(depth)
    whole, none = (cut, fill) if depth > 0 else (fill, cut)
    expected = WIDTH * LENGTH * h + (WIDTH + LENGTH) * run * h**2 + share / 3 * run**2 * h**3
    assert whole == pytest.approx(expected, rel=1e-12)
    assert none == 0.0
    beyond, nothing = (cut_area, fill_area) if depth > 0 else (fill_area, cut_area)
    assert beyond == pytest.approx(2 * (WIDTH + LENGTH) * run * h + share * (run * h) ** 2, rel=1e-12)
    assert nothing == 0.0


@pytest.mark.parametrize("corners", ["mitred", "round"])
def test_inward_corner_on_level_ground_takes_away_what_both_banks_share(corners: str) -> None:
    """An L has five corners that add s/4 (m H)² H / 3 each, and one where two strips of width m H share a wedge.

    There the union of the two strips is what the two would be less the smaller: per unit height profile the wedge is
    ∫∫ min over a square of side m H, so that the volume is that of the plain strips less ``m² H³ / 3`` (calculus: the
    integral of the lesser of two depths ``H - x / m`` and ``H - y / m`` over the square).
    """
    ground = scattered(60, lambda east, north: 100.0 + 0.0 * east + 0.0 * north, seed=5)
    depth, run = 0.6, 1.5
    cut, _, cut_area, _ = at_level(ground, banked(ELL, corners, run, run), np.array([15.0, 20.0, 71.0]), 100.0 - depth)
    around, area = 2 * (6.0 + 5.0), 6.0 * 5.0 - 3.0 * 2.5
    corner = 1.0 if corners == "mitred" else math.pi / 4
    shared = run**2 * depth**3 / 3
    expected = area * depth + around * run * depth**2 / 2 + 5 * corner / 3 * run**2 * depth**3 - shared
    assert cut == pytest.approx(expected, rel=1e-9)
    # The strips overlap in a square; both cover it once.
    assert cut_area == pytest.approx(
        around * run * depth + 5 * corner * (run * depth) ** 2 - (run * depth) ** 2, rel=1e-9
    )


def plain_distance(pad: Pad, points: np.ndarray) -> np.ndarray:
    """Distance out by another way: a geometry library for round corners, rectangles and planes for mitred ones."""
    if pad.edge.corners == "round":
        return np.asarray(shapely.distance(shapely.Polygon(pad.outline), shapely.points(points)))

    def of(ring: np.ndarray) -> np.ndarray:
        along = np.roll(ring, -1, axis=0) - ring
        normal = np.column_stack([along[:, 1], -along[:, 0]]) / np.hypot(*along.T)[:, None]
        return np.maximum((points @ normal.T - (normal * ring).sum(axis=1)).max(axis=1), 0.0)

    def box(one: np.ndarray, other: np.ndarray) -> np.ndarray:
        (a, b), (c, d) = np.minimum(one, other), np.maximum(one, other)
        return np.array([[a, b], [c, b], [c, d], [a, d]])

    if pad.outline is ELL:
        a, b, c = ELL[0], ELL[1], ELL[5]
        inner = ELL[3]
        return np.minimum(of(box(a, [b[0], inner[1]])), of(box(a, [inner[0], c[1]])))
    if pad.outline is COMB:
        low, inner = COMB[0], COMB[4]
        back = box(low, [COMB[1][0], inner[1]])
        legs = [box(COMB[1], [inner[0], COMB[2][1]]), box(low, [COMB[5][0], COMB[7][1]])]
        return np.minimum.reduce([of(ring) for ring in (back, *legs)])
    return of(pad.outline)


@pytest.mark.parametrize("corners", ["mitred", "round"])
@pytest.mark.parametrize("name", list(OUTLINES))
def test_distance_out_is_that_of_the_nearest_part(name: str, corners: str) -> None:
    """Mitred: the least over convex parts of the farthest line; round: the plain distance. The parts tile the plan."""
    pad = banked(OUTLINES[name], corners)
    points = np.random.default_rng(3).uniform(-6.0, 6.0, (3000, 2))
    expected = plain_distance(pad, points)
    assert distance_out(pad, points) == pytest.approx(expected, abs=1e-12)
    shape = bank_shape(pad, 4.0)
    parts = [shapely.Polygon(shape.outline(number)) for number in range(len(shape))]
    near = (expected > 0) & (expected < 3.9)
    inside = np.array([shapely.covers(part, shapely.points(points)) for part in parts])
    assert inside[:, near].any(axis=0).all()
    assert sum(part.area for part in parts) == pytest.approx(shapely.union_all(parts).area, rel=1e-12)
    for number, within in enumerate(inside & (expected < 3.9)):
        # Chords stand in for the curve between a cone and a side that faces it: two millimetres at most.
        assert shape.distance(number, points[within]) == pytest.approx(expected[within], abs=4e-3)


def sampled(ground: Ground, pad: Pad, pose: np.ndarray, finish: float, step: float) -> tuple[float, float]:
    """Cut and fill, banks included, summed over a fine grid: the slow and obvious way."""
    axis = np.arange(-9.0 + step / 2, 9.0, step)
    u, v = (a.ravel() for a in np.meshgrid(axis, axis, indexing="ij"))
    points = np.column_stack([u, v])
    far = plain_distance(pad, points)
    inside = shapely.covers(shapely.Polygon(pad.outline), shapely.points(points))
    far = np.where(inside, 0.0, far)
    level = ground.level_at(Placement(*pose.tolist(), finish).to_site(points)) - pad.strip
    cut = np.maximum(level - finish - pad.edge.cut_slope * far, 0.0)
    fill = np.maximum(finish - pad.edge.fill_slope * far - level, 0.0)
    return float(np.nansum(cut)) * step**2, float(np.nansum(fill)) * step**2


@pytest.mark.parametrize("corners", ["mitred", "round"])
@pytest.mark.parametrize("name", list(OUTLINES))
def test_volumes_close_in_on_those_of_finer_grids(name: str, corners: str) -> None:
    """On rough ground a grid of 40 mm is nearer than one of 400 mm, and within two parts in a thousand."""
    ground = scattered(90, rough(4, sd=0.05), seed=4)
    pad = banked(OUTLINES[name], corners, strip=0.05)
    pose = np.array([15.0, 20.0, 27.0])
    finish = float(ground.level_at(pose[None, :2])[0]) + 0.15
    cut, fill, _, _ = at_level(ground, pad, pose, finish)
    coarse, fine = (sampled(ground, pad, pose, finish, step) for step in (0.4, 0.04))
    assert (cut, fill) == pytest.approx(fine, rel=2e-3, abs=2e-3)
    off = [abs(cut - grid[0]) + abs(fill - grid[1]) for grid in (coarse, fine)]
    assert off[1] < off[0]


@settings(max_examples=40, deadline=None)
@given(
    st.tuples(*[st.floats(-3, 3)] * 4), st.floats(0.01, 2.0), st.floats(0.3, 1.2), st.floats(0, 0.9), st.floats(0, 6.3)
)
def test_cone_less_a_plane_is_that_of_an_adaptive_quadrature(
    ends: tuple[float, float, float, float], height: float, slope: float, share: float, way: float
) -> None:
    """Volume and area over the triangle of the tip and a side: the same as a sum over a grid of the triangle.

    The grid halves its cells twice; its limit by Richardson's rule is compared, for the depth bends.
    """
    u0, v0, u1, v1 = ends
    double = u0 * v1 - u1 * v0
    if abs(double) < 0.05:
        return
    gu, gv = share * slope * math.cos(way), share * slope * math.sin(way)
    volume, area = cone_side(u0, v0, u1, v1, height, gu, gv, slope)

    def summed(count: int) -> tuple[float, float]:
        # Rays from the tip, Simpson's rule along each being exact for the cubic up to where the depth ends.
        share_at = (np.arange(count) + 0.5) / count
        u, v = u0 + share_at * (u1 - u0), v0 + share_at * (v1 - v0)
        far = np.hypot(u, v)
        falls = slope - (gu * u + gv * v) / far
        out = np.minimum(far, height / falls)
        turn = double / far**2 / count
        deep = height * out**2 / 2 - falls * out**3 / 3
        return float((turn * deep).sum()), float((turn * out**2 / 2).sum())

    expected = summed(40_000)
    assert volume == pytest.approx(expected[0], rel=1e-5, abs=1e-7)
    assert area == pytest.approx(expected[1], rel=1e-4, abs=1e-6)


@pytest.mark.parametrize("corners", ["mitred", "round"])
@pytest.mark.parametrize("turf", [0.0, 0.4])
@pytest.mark.parametrize(
    "weights",
    [(1.0, 1.0, 0.0, 0.0), (1.0, 0.2, 0.0, 0.0), (1.0, 1.0, 10.0, 10.0), (2.0, 0.5, 0.3, 1.5), (0.5, 2.0, 1.9, 0.1)],
    ids=["moved", "cheap-fill", "balance", "dear-soil", "dear-fill"],
)
def test_level_is_the_best_of_a_search(weights: tuple[float, ...], turf: float, corners: str) -> None:
    """No level of a fine scan, polished, has a lower value than the one solved for, turf under banks counted."""
    ground = scattered(90, rough(6, sd=0.08), seed=6)
    pad, keep = banked(FIVE, corners, strip=0.05), 0.88
    cut_weight, fill_weight, over, short = weights
    rule = LevelRule(
        "goal", keep=keep, cut_weight=cut_weight, fill_weight=fill_weight, over_weight=over, short_weight=short
    )
    for pose in np.array([[15.0, 20.0, 27.0], [9.0, 12.0, 140.0], [20.0, 30.0, 75.0]]):
        found = banked_levels_batch(ground, pad, pose[None], rule, turf=turf)
        finish = float(found.levels.finish[0])

        def value(level: float, pose: np.ndarray = pose) -> float:
            cut, fill, cut_area, fill_area = at_level(ground, pad, pose, level)
            spare = keep * cut - fill
            soil = over * max(spare, 0.0) / keep + short * max(-spare, 0.0)
            return cut_weight * cut + fill_weight * fill + soil + turf * (cut_area + fill_area)

        scan = np.linspace(finish - 0.6, finish + 0.6, 121)
        values = [value(level) for level in scan]
        low = int(np.argmin(values))
        best = minimize_scalar(value, bounds=(scan[max(low - 1, 0)], scan[min(low + 1, 120)]), method="bounded")
        assert value(finish) <= min(*values, best.fun) + 1e-8


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 500), st.floats(0.7, 1.0), st.floats(0.0, 1.5), st.floats(0, 180))
def test_soil_limits_are_kept_to_the_last_digit(seed: int, keep: float, bought: float, bearing: float) -> None:
    """Where digging alone counts and so much may be bought, exactly that is short: the highest level allowed."""
    ground = scattered(60, rough(seed, sd=0.05), seed=seed)
    rule = LevelRule("goal", keep=keep, cut_weight=1.0, fill_weight=0.0, most_short=bought)
    levels = banked_levels_batch(ground, banked(FIVE), np.array([[15.0, 20.0, bearing]]), rule).levels
    assert levels.fill[0] - keep * levels.cut[0] == pytest.approx(bought, abs=1e-9)


@pytest.mark.parametrize("corners", ["mitred", "round"])
def test_value_does_not_change_when_the_whole_site_is_moved_turned_or_raised(corners: str) -> None:
    """Cut and fill are those of the same site elsewhere, turned by 40°, a thousand metres higher."""
    ground = scattered(80, rough(8, sd=0.05), seed=8)
    pad, rule = banked(ELL, corners), LevelRule("goal", keep=0.9, cut_weight=1.0, fill_weight=1.0)
    pose = np.array([15.0, 20.0, 12.0])
    here = banked_levels_batch(ground, pad, pose[None], rule).levels
    frame = Placement(120.0, -40.0, 40.0, 0.0)
    # A frame whose u axis is north turns the site by its bearing.
    places = np.column_stack([ground.north, ground.east]) + ground.origin[::-1]
    east, north = frame.to_site(places).T
    origin = np.round(np.array([east.mean(), north.mean()]))
    moved = Ground(origin, east - origin[0], north - origin[1], ground.level + 1000.0, ground.triangles, ground.kind)
    there = frame.to_site(pose[None, 1::-1])[0]
    again = banked_levels_batch(moved, pad, np.array([[*there, pose[2] + 40.0]]), rule).levels
    assert again.finish[0] - 1000.0 == pytest.approx(here.finish[0], abs=1e-9)
    assert (again.cut[0], again.fill[0]) == pytest.approx((here.cut[0], here.fill[0]), rel=1e-9)


@pytest.mark.parametrize("name", ["rectangle", "five"])
def test_level_is_held_where_banks_would_leave_the_land(name: str) -> None:
    """At the lowest and the highest level allowed the disturbed ground touches the ring; beyond them it crosses it."""
    ground = scattered(90, rough(9, sd=0.04), seed=9)
    pad = banked(OUTLINES[name])
    ring = np.array([[9.5, 15.0], [20.0, 15.2], [20.4, 25.0], [9.0, 24.6]])
    land = land_stretches(ground, [ring])
    pose = np.array([14.8, 20.0, 90.0])
    level = float(ground.level_at(pose[None, :2])[0])
    rule = LevelRule("fixed", finish=level)
    low, high = (
        banked_levels_batch(ground, pad, pose[None], replace(rule, finish=level + far), land=land).levels
        for far in (-2.0, 2.0)
    )
    least, most = float(low.least[0]), float(high.most[0])
    assert level - 2.0 < least < level < most < level + 2.0
    yard = shapely.Polygon(ring)
    for finish, kept in ((least + 1e-4, True), (least - 1e-3, False), (most - 1e-4, True), (most + 1e-3, False)):
        _, banks = banked_earthwork(ground, pad, Placement(*pose.tolist(), finish))
        assert yard.contains(shapely.Polygon(banks.outline)) == kept
        status = banked_levels_batch(ground, pad, pose[None], replace(rule, finish=finish), land=land).levels.status[0]
        assert status == (Status.ALLOWED if kept else Status.NO_ROOM)


def test_ground_as_steep_as_the_banks_is_refused() -> None:
    """Where the ground rises outward faster than a bank and passes it, the pose says so."""
    ground = scattered(60, lambda east, north: 100.0 + 0.8 * north + 0.0 * east, seed=2)
    pad, pose = banked(OUTLINES["rectangle"]), np.array([[15.0, 20.0, 0.0]])
    level = float(ground.level_at(pose[:, :2])[0])
    found = banked_levels_batch(ground, pad, pose, LevelRule("fixed", finish=level - 2.0)).levels
    assert found.status[0] == Status.ALLOWED  # nothing but cut: no bank is passed again, it only never ends
    found = banked_levels_batch(ground, pad, pose, LevelRule("fixed", finish=level), land=land_stretches(ground, []))
    assert found.levels.status[0] in {Status.TOO_STEEP, Status.NO_ROOM}
