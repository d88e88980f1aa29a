"""Formation, cut and fill of many poses against second implementations, and against themselves."""

import math
from fractions import Fraction

import numpy as np
import pytest

import naive
from grounds import rough, scattered
from planes import LENGTH, WAYS, WIDTH
from spadework.earthwork import LevelRule, edge_profile, pad_levels_batch
from spadework.earthwork._compile import COMPILED
from spadework.pad import BuildUp, Layer, Pad, Placement


@pytest.mark.parametrize("use_compiled", WAYS)
@pytest.mark.parametrize("seed", range(6))
def test_cut_and_fill_are_those_of_exact_rational_arithmetic(seed: int, *, use_compiled: bool) -> None:
    """On a pad turned by a 3-4-5 triangle cut, fill and area agree with fractions to 2e-15 of their sum."""
    ground = scattered(60, rough(seed), seed=seed)
    pad = Pad.rectangle(6.0, 4.0)
    east, north, level = 14.25, 19.5, 52 + Fraction(seed - 3, 16)
    corners = [
        (
            Fraction(east) + Fraction(u) * 3 / 5 + Fraction(v) * 4 / 5,
            Fraction(north) + Fraction(u) * 4 / 5 - Fraction(v) * 3 / 5,
        )
        for u, v in pad.outline[::-1].tolist()
    ]
    cut, fill, covered = naive.rational_cut_fill(naive.as_fractions(ground), corners, level)
    assert covered == 24
    pose = np.array([[east, north, math.degrees(math.atan2(3, 4))]])
    found = pad_levels_batch(ground, pad, pose, LevelRule("fixed", finish=float(level)), use_compiled=use_compiled)
    for value, expected in ((found.cut[0], cut), (found.fill[0], fill)):
        assert abs(Fraction(float(value)) - expected) < Fraction(2, 10**15) * (cut + fill)
    assert found.area[0] == pytest.approx(24, rel=4e-15)


@pytest.mark.parametrize("use_compiled", WAYS)
def test_cut_and_fill_are_those_of_the_geometry_library(*, use_compiled: bool) -> None:
    """Forty poses of a pad, cut out of the same triangles by polygon clipping."""
    ground, pad = scattered(150, rough()), Pad.rectangle(LENGTH, WIDTH)
    random = np.random.default_rng(6)
    poses = random.uniform([4, 4, 0], [26, 36, 360], (40, 3))
    found = pad_levels_batch(ground, pad, poses, LevelRule(), use_compiled=use_compiled)
    for i, (east, north, bearing) in enumerate(poses):
        corners = Placement(east, north, bearing, 0.0).corners(pad)
        cut, fill = naive.shapely_cut_fill(ground, corners, float(found.formation[i]))
        assert found.cut[i] == pytest.approx(cut, abs=1e-12)
        assert found.fill[i] == pytest.approx(fill, abs=1e-12)


def test_midpoint_sums_near_the_exact_volume_at_second_order() -> None:
    """Sums over finer and finer cells come nearer to the exact cut, and end within a thousandth of it."""
    ground, pad = scattered(100, rough()), Pad.rectangle(LENGTH, WIDTH, strip=0.05)
    exact = pad_levels_batch(ground, pad, np.array([[14.0, 21.0, 33.0]]), LevelRule("weights"))
    placement = Placement(14.0, 21.0, 33.0, float(exact.finish[0]))
    errors = [
        abs(naive.midpoint_cut_fill(ground, pad, placement, count)[0] - float(exact.cut[0])) for count in (10, 40, 160)
    ]
    assert errors[2] < errors[1] < errors[0]
    assert errors[2] < 1e-3 * exact.cut[0]


@pytest.mark.parametrize("kind", ["balanced", "weights", "flush", "fixed"])
@pytest.mark.skipif(not COMPILED, reason="numba is missing or switched off")
def test_kernel_and_numpy_agree(kind: str) -> None:
    """Two implementations, two ways to the level, the same poses: levels, volumes, bounds and verdicts."""
    ground = scattered(250, rough())
    pad = Pad.rectangle(LENGTH, WIDTH, strip=0.06, build_up=BuildUp((Layer("stone", 0.12),)))
    poses = np.random.default_rng(9).uniform([0, 0, -400], [30, 40, 400], (600, 3))
    rule = LevelRule(
        kind, keep=0.85, bought=0.3, cut_weight=2.0, finish=52.0, exposed_edge=0.45, cut_depth=0.4, fill_depth=0.3
    )  # type: ignore[arg-type]  # fmt: skip
    one, other = (pad_levels_batch(ground, pad, poses, rule, use_compiled=way) for way in (True, False))
    np.testing.assert_array_equal(one.status, other.status)
    assert len(set(one.status.tolist())) >= 3
    for name in (
        "formation",
        "cut",
        "fill",
        "area",
        "ground_mean",
        "ground_low",
        "edge_low",
        "edge_high",
        "least",
        "most",
    ):
        np.testing.assert_allclose(getattr(one, name), getattr(other, name), rtol=0, atol=1e-11, err_msg=name)


@pytest.mark.parametrize("use_compiled", WAYS)
def test_a_pose_has_the_same_result_alone_as_among_others(*, use_compiled: bool) -> None:
    """To the last bit: threads and batches change nothing."""
    ground, pad = scattered(200, rough()), Pad.rectangle(LENGTH, WIDTH)
    poses = np.random.default_rng(10).uniform([5, 5, 0], [25, 35, 180], (500, 3))
    together = pad_levels_batch(ground, pad, poses, LevelRule(keep=0.9), use_compiled=use_compiled)
    for i in (0, 123, 499):
        alone = pad_levels_batch(ground, pad, poses[i : i + 1], LevelRule(keep=0.9), use_compiled=use_compiled)
        assert (alone.formation[0], alone.cut[0], alone.fill[0]) == (
            together.formation[i],
            together.cut[i],
            together.fill[i],
        )


@pytest.mark.parametrize("use_compiled", WAYS)
def test_no_poses_give_no_results(*, use_compiled: bool) -> None:
    """An empty table in, an empty table out."""
    found = pad_levels_batch(
        scattered(20, rough()), Pad.rectangle(2, 2), np.zeros((0, 3)), LevelRule(), use_compiled=use_compiled
    )
    assert len(found) == 0


@pytest.mark.parametrize("use_compiled", WAYS)
def test_an_l_shaped_pad_is_the_sum_of_its_parts(*, use_compiled: bool) -> None:
    """Six corners in one outline against the two rectangles that it is made of; inner lines are no edge."""
    whole = Pad(np.array([[-3, -2], [3, -2], [3, 0], [0, 0], [0, 2], [-3, 2]], dtype=np.float64))
    ground = scattered(150, rough())
    rule = LevelRule("fixed", finish=52.0)
    placement = Placement(15.0, 20.0, 27.0, 52.0)
    parts = [(Pad.rectangle(6, 2), (0.0, -1.0)), (Pad.rectangle(3, 2), (-1.5, 1.0))]
    found = pad_levels_batch(ground, whole, np.array([[15.0, 20.0, 27.0]]), rule, use_compiled=use_compiled)
    pieces = [
        pad_levels_batch(
            ground, pad, np.array([[*placement.to_site(np.array(centre)), 27.0]]), rule, use_compiled=use_compiled
        )
        for pad, centre in parts
    ]
    assert found.cut[0] == pytest.approx(sum(piece.cut[0] for piece in pieces), rel=1e-11)
    assert found.fill[0] == pytest.approx(sum(piece.fill[0] for piece in pieces), rel=1e-11)
    along = np.linspace(0, 1, 4001)[:, None]
    ring = placement.corners(whole)
    edge = np.concatenate([a + along * (b - a) for a, b in zip(ring, np.roll(ring, -1, axis=0), strict=True)])
    levels = ground.level_at(edge)
    assert found.edge_low[0] == pytest.approx(levels.min(), abs=1e-3)
    assert found.edge_high[0] == pytest.approx(levels.max(), abs=1e-3)


@pytest.mark.parametrize("use_compiled", WAYS)
@pytest.mark.parametrize("first_corner", range(6))
def test_edge_of_a_bent_pad_is_that_of_its_profile(first_corner: int, *, use_compiled: bool) -> None:
    """On smooth slopes the highest or lowest edge is often a corner, the inner one too: a hundred poses of an L."""
    outline = np.array([[-3, -2], [3, -2], [3, 0], [0, 0], [0, 2], [-3, 2]], dtype=np.float64)
    bent = Pad(np.roll(outline, first_corner, axis=0))
    ground = scattered(60, lambda east, north: 5 * np.sin(east / 2) * np.cos(north / 3))
    poses = np.random.default_rng(4).uniform([5, 5, 0], [25, 35, 360], (100, 3))
    found = pad_levels_batch(ground, bent, poses, LevelRule(), use_compiled=use_compiled)
    profiles = [edge_profile(ground, bent, Placement(*pose, 0.0)) for pose in poses]
    np.testing.assert_allclose(found.edge_low, [min(s.lowest for s in sides) for sides in profiles], rtol=0, atol=1e-10)
    np.testing.assert_allclose(
        found.edge_high, [max(s.highest for s in sides) for sides in profiles], rtol=0, atol=1e-10
    )
