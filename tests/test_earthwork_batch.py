"""Formation, cut and fill of many poses: closed forms, twins, and the bounds of the level."""

import math
from fractions import Fraction

import numpy as np
import pytest

import naive
from grounds import lattice, rough, scattered
from spadework.earthwork import LevelRule, Status, edge_profile, pad_levels_batch
from spadework.earthwork._compile import COMPILED
from spadework.ground import Ground
from spadework.pad import BuildUp, Layer, Pad, Placement
from spadework.readings import FloatArray

WAYS = [
    pytest.param(
        True, id="compiled", marks=pytest.mark.skipif(not COMPILED, reason="numba is missing or switched off")
    ),
    pytest.param(False, id="numpy"),
]
LENGTH, WIDTH = 5.4, 3.6
MIDDLE = (15.0, 20.0)


def sloping(slope: float, bearing: float, shift: tuple[float, float] = (0.0, 0.0)) -> Ground:
    """A plane at level 20 in the middle of the yard that rises by ``slope`` in the direction of ``bearing``."""
    sine, cosine = math.sin(math.radians(bearing)), math.cos(math.radians(bearing))
    return scattered(
        200, lambda east, north: 20 + slope * ((east - MIDDLE[0]) * sine + (north - MIDDLE[1]) * cosine), shift=shift
    )


def at_middle(bearing: float, shift: tuple[float, float] = (0.0, 0.0)) -> FloatArray:
    """One pose in the middle of the yard."""
    return np.array([[MIDDLE[0] + shift[0], MIDDLE[1] + shift[1], bearing]])


@pytest.mark.parametrize("use_compiled", WAYS)
@pytest.mark.parametrize("shift", [(0.0, 0.0), (500_000.0, 0.0), (400_000.0, -300_000.0)], ids=["here", "east", "far"])
@pytest.mark.parametrize("bearing", [0.0, 30.0, 45.0, 90.0, 143.13, 180.0, 271.7, -12.3, 400.0])
def test_cut_is_fill_is_an_eighth_of_l_w2_s_when_the_plane_rises_across(
    bearing: float, shift: tuple[float, float], *, use_compiled: bool
) -> None:
    """At mid height cut = fill = L W² s / 8: the mean of |s v| over half the width, closed form."""
    slope = 0.08
    ground = sloping(slope, bearing + 90, shift)
    pad = Pad.rectangle(LENGTH, WIDTH)
    found = pad_levels_batch(
        ground, pad, at_middle(bearing, shift), LevelRule("fixed", finish=20.0), use_compiled=use_compiled
    )
    expected = LENGTH * WIDTH**2 * slope / 8
    assert found.cut[0] == pytest.approx(expected, rel=1e-9)
    assert found.fill[0] == pytest.approx(expected, rel=1e-9)
    assert found.area[0] == pytest.approx(LENGTH * WIDTH, rel=1e-12)
    assert found.ground_mean[0] == pytest.approx(20.0, abs=1e-9)
    assert found.edge_high[0] - found.edge_low[0] == pytest.approx(slope * WIDTH, rel=1e-9)


@pytest.mark.parametrize("use_compiled", WAYS)
@pytest.mark.parametrize("aspect", [0.0, 20.0, 61.0, 90.0, 200.0, 305.0])
@pytest.mark.parametrize("rule", [LevelRule("balanced"), LevelRule("weights")], ids=["mean", "median"])
def test_cut_of_a_plane_that_rises_in_any_direction(rule: LevelRule, aspect: float, *, use_compiled: bool) -> None:
    """With drops a >= b across the sides cut = fill = A (a / 8 + b² / (24 a)); mean and median are the middle."""
    slope = 0.1
    found = pad_levels_batch(
        sloping(slope, aspect), Pad.rectangle(LENGTH, WIDTH), at_middle(0.0), rule, use_compiled=use_compiled
    )
    b, a = sorted(
        [slope * LENGTH * abs(math.cos(math.radians(aspect))), slope * WIDTH * abs(math.sin(math.radians(aspect)))]
    )
    expected = LENGTH * WIDTH * (a / 8 + b**2 / (24 * a))
    assert found.formation[0] == pytest.approx(20.0, abs=1e-12)
    assert found.cut[0] == pytest.approx(expected, rel=1e-11)
    assert found.fill[0] == pytest.approx(expected, rel=1e-11)


@pytest.mark.parametrize("use_compiled", WAYS)
@pytest.mark.parametrize(("cut_weight", "fill_weight"), [(1.0, 1.0), (1.0, 3.0), (2.5, 0.5), (1.0, 0.0), (0.0, 1.0)])
def test_weighted_level_of_a_plane_is_its_quantile(
    cut_weight: float, fill_weight: float, *, use_compiled: bool
) -> None:
    """On a plane rising s L along: h at the share p = c / (c + f), cost = A s L c f / (2 (c + f))."""
    slope = 0.07
    rule = LevelRule("weights", cut_weight=cut_weight, fill_weight=fill_weight)
    pad = Pad.rectangle(LENGTH, WIDTH)
    found = pad_levels_batch(sloping(slope, 25.0), pad, at_middle(25.0), rule, use_compiled=use_compiled)
    both = cut_weight + fill_weight
    lowest = 20 - slope * LENGTH / 2
    assert found.formation[0] == pytest.approx(lowest + slope * LENGTH * cut_weight / both, abs=1e-12)
    cost = cut_weight * found.cut[0] + fill_weight * found.fill[0]
    assert cost == pytest.approx(pad.area * slope * LENGTH * cut_weight * fill_weight / (2 * both), abs=1e-11)


@pytest.mark.parametrize("use_compiled", WAYS)
@pytest.mark.parametrize("keep", [1.0, 0.9, 0.5, 1.3])
def test_balanced_level_of_a_plane(keep: float, *, use_compiled: bool) -> None:
    """With n = 1 / keep bank volumes for one of fill: h = z_min + s L / (1 + √n), cut = A s L n / (2 (1 + √n)²)."""
    slope = 0.07
    pad = Pad.rectangle(LENGTH, WIDTH)
    found = pad_levels_batch(
        sloping(slope, 10.0), pad, at_middle(10.0), LevelRule(keep=keep), use_compiled=use_compiled
    )
    root = math.sqrt(1 / keep)
    assert found.formation[0] == pytest.approx(20 - slope * LENGTH / 2 + slope * LENGTH / (1 + root), abs=1e-12)
    assert found.cut[0] == pytest.approx(pad.area * slope * LENGTH * root**2 / (2 * (1 + root) ** 2), rel=1e-11)
    assert keep * found.cut[0] == pytest.approx(found.fill[0], rel=1e-11)


@pytest.mark.parametrize("use_compiled", WAYS)
def test_flush_level_of_a_plane_is_its_highest_edge(*, use_compiled: bool) -> None:
    """Finish at the highest ground along the edge; with a build-up t <= s L cut = A t² / (2 s L)."""
    slope, depth = 0.06, 0.15
    pad = Pad.rectangle(LENGTH, WIDTH, build_up=BuildUp((Layer("stone", depth),)))
    found = pad_levels_batch(
        sloping(slope, -40.0), pad, at_middle(-40.0), LevelRule("flush"), use_compiled=use_compiled
    )
    assert found.finish[0] == pytest.approx(20 + slope * LENGTH / 2, abs=1e-12)
    assert found.finish[0] == pytest.approx(found.edge_high[0], abs=1e-14)
    assert found.cut[0] == pytest.approx(pad.area * depth**2 / (2 * slope * LENGTH), rel=1e-10)


@pytest.mark.parametrize("use_compiled", WAYS)
def test_flush_with_the_lowest_ground_digs_all(*, use_compiled: bool) -> None:
    """A formation at the lowest ground of a plane cuts A s L / 2 and fills nothing."""
    slope = 0.06
    pad = Pad.rectangle(LENGTH, WIDTH)
    rule = LevelRule("fixed", finish=20 - slope * LENGTH / 2)
    found = pad_levels_batch(sloping(slope, 5.0), pad, at_middle(5.0), rule, use_compiled=use_compiled)
    assert found.cut[0] == pytest.approx(pad.area * slope * LENGTH / 2, rel=1e-11)
    assert found.fill[0] == pytest.approx(0, abs=1e-12)


@pytest.mark.parametrize("use_compiled", WAYS)
@pytest.mark.parametrize("cell", [1.0, 0.5, 0.25])
def test_triangles_of_a_paraboloid_are_too_high_by_a_third_of_c_cell2(cell: float, *, use_compiled: bool) -> None:
    """For c r² with apex and pad on the lattice: cut = A c ((L² + W²) / 12 + cell² / 3), the error falling by four.

    The linear interpolation of c u² over a triangle with legs of one cell is too high by c cell² / 6 on average.
    """
    steep, length, width = 0.03, 6.0, 4.0
    ground = lattice(lambda east, north: steep * (east**2 + north**2), half=5.0, cell=cell)
    pad = Pad.rectangle(length, width)
    rule = LevelRule("fixed", finish=0.0)
    found = pad_levels_batch(ground, pad, np.array([[0.0, 0.0, 0.0]]), rule, use_compiled=use_compiled)
    expected = pad.area * steep * ((length**2 + width**2) / 12 + cell**2 / 3)
    assert found.cut[0] == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize("use_compiled", WAYS)
def test_ridge_of_two_planes(*, use_compiled: bool) -> None:
    """Along a ridge z = -s |x| of half width W / 2 to either side the median cuts and fills A s W / 16."""
    slope = 0.09
    ground = lattice(lambda east, _north: -slope * np.abs(east), half=6.0, cell=0.75)
    pad = Pad.rectangle(LENGTH, WIDTH)
    found = pad_levels_batch(ground, pad, np.array([[0.0, 0.31, 0.0]]), LevelRule("weights"), use_compiled=use_compiled)
    assert found.formation[0] == pytest.approx(-slope * WIDTH / 4, abs=1e-13)
    assert found.cut[0] == pytest.approx(pad.area * slope * WIDTH / 16, rel=1e-11)
    assert found.fill[0] == pytest.approx(pad.area * slope * WIDTH / 16, rel=1e-11)


def sectors(count: int, slope: float, radius: float = 8.0) -> Ground:
    """A cone standing on its tip, as ``count`` plane sectors through its circle."""
    angle = np.arange(count) * 2 * np.pi / count
    east, north = np.append(radius * np.cos(angle), 0.0), np.append(radius * np.sin(angle), 0.0)
    rim = np.arange(count)
    triangles = np.stack([np.full(count, count), rim, np.roll(rim, -1)], axis=1).astype(np.int32)
    return Ground(np.zeros(2), east, north, slope * np.hypot(east, north), triangles, "cone")


@pytest.mark.parametrize("use_compiled", WAYS)
@pytest.mark.parametrize("count", [36, 360])
def test_cone_of_plane_sectors_nears_the_cone_at_second_order(count: int, *, use_compiled: bool) -> None:
    """Cut of z = m r down to its tip, by calculus; n plane sectors are too high by (π / n)² / 3 of it."""
    slope = 0.1
    a, b = LENGTH / 2, WIDTH / 2
    diagonal = math.hypot(a, b)
    cone = slope * (2 / 3) * (
        2 * a * b * diagonal + a**3 * math.log((b + diagonal) / a) + b**3 * math.log((a + diagonal) / b)
    )  # fmt: skip
    pad, rule = Pad.rectangle(LENGTH, WIDTH), LevelRule("fixed", finish=0.0)
    found = pad_levels_batch(sectors(count, slope), pad, np.array([[0, 0, 0.0]]), rule, use_compiled=use_compiled)
    assert found.cut[0] / cone - 1 == pytest.approx((math.pi / count) ** 2 / 3, rel=0.02)


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
def test_a_pad_over_the_rim_is_not_covered(*, use_compiled: bool) -> None:
    """By a millimetre over the rim it is not allowed; up to the rim it is. Nothing is said about levels there."""
    ground = scattered(120, rough())
    pad = Pad.rectangle(4.0, 2.0)
    poses = np.array(
        [
            [15.0, 2.0, 0.0],
            [15.0, 1.999, 0.0],
            [-50, -50, 0],
            [1e6, 3, 12],
            [1e300, 3, 1],
            [np.nan, 3, 1],
            [9, 9, np.inf],
        ]
    )
    found = pad_levels_batch(ground, pad, poses, LevelRule(), use_compiled=use_compiled)
    assert found.status.tolist() == [Status.ALLOWED] + 6 * [Status.NOT_COVERED]
    assert found.area == pytest.approx([8.0, 8.0 - 0.002, 0, 0, 0, 0, 0], abs=1e-9)
    assert np.isnan(found.formation[1:]).all()
    assert np.isnan(found.ground_low[1:]).all()


@pytest.mark.parametrize("use_compiled", WAYS)
def test_the_edge_counts_along_the_rim_too(*, use_compiled: bool) -> None:
    """A pad as large as the ground has the lowest and highest level of the rim along its edge."""
    ground = lattice(lambda east, north: 3 + 0.1 * east + 0.2 * north - 0.05 * (np.abs(east) < 0.1), half=2.0, cell=0.5)
    found = pad_levels_batch(
        ground, Pad.rectangle(4.0, 4.0), np.array([[0.0, 0.0, 90.0]]), LevelRule("flush"), use_compiled=use_compiled
    )
    assert found.status[0] == Status.ALLOWED
    assert found.edge_low[0] == pytest.approx(3 - 0.2 - 0.4, abs=1e-12)
    assert found.edge_high[0] == pytest.approx(3 + 0.2 + 0.4, abs=1e-12)


@pytest.mark.parametrize("use_compiled", WAYS)
@pytest.mark.parametrize(
    ("limits", "least", "most"),
    [
        ({"exposed_edge": 0.1}, -math.inf, 20 - 0.2 + 0.1 - 0.15),
        ({"cut_depth": 0.25}, 20 + 0.2 - 0.05 - 0.25, math.inf),
        ({"fill_depth": 0.18}, -math.inf, 20 - 0.2 - 0.05 + 0.18),
        ({"lowest_finish": 20.1}, 20.1 - 0.15, math.inf),
        ({"highest_finish": 19.9}, -math.inf, 19.9 - 0.15),
    ],
    ids=["exposed edge", "cut depth", "fill depth", "lowest finish", "highest finish"],
)
def test_each_limit_bounds_the_formation(
    limits: dict[str, float], least: float, most: float, *, use_compiled: bool
) -> None:
    """On a plane 0.4 m from low to high, strip 0.05 m, build-up 0.15 m, each bound is worked out by hand."""
    slope = 0.4 / LENGTH
    pad = Pad.rectangle(LENGTH, WIDTH, strip=0.05, build_up=BuildUp((Layer("stone", 0.15),)))
    rule = LevelRule("balanced", **limits)  # type: ignore[arg-type]
    found = pad_levels_batch(sloping(slope, 0.0), pad, at_middle(0.0), rule, use_compiled=use_compiled)
    assert found.least[0] == pytest.approx(least, abs=1e-11)
    assert found.most[0] == pytest.approx(most, abs=1e-11)
    balanced = 20.0 - 0.05
    assert found.formation[0] == pytest.approx(min(max(balanced, least), most), abs=1e-11)
    assert found.status[0] == Status.ALLOWED


@pytest.mark.parametrize("use_compiled", WAYS)
def test_limits_that_cross_leave_no_level(*, use_compiled: bool) -> None:
    """Cut and fill depth of 0.1 m each cannot be kept on ground 0.4 m from low to high."""
    pad = Pad.rectangle(LENGTH, WIDTH)
    rule = LevelRule(cut_depth=0.1, fill_depth=0.1)
    found = pad_levels_batch(sloping(0.4 / LENGTH, 0.0), pad, at_middle(0.0), rule, use_compiled=use_compiled)
    assert found.status[0] == Status.LIMITS_CROSS
    assert found.least[0] - found.most[0] == pytest.approx(0.2, abs=1e-11)
    assert np.isnan(found.cut[0])


@pytest.mark.parametrize("use_compiled", WAYS)
@pytest.mark.parametrize("kind", ["fixed", "flush"])
def test_a_level_that_is_not_free_is_never_moved(kind: str, *, use_compiled: bool) -> None:
    """Where it breaks a limit its volumes are given, and the verdict is that it is outside the limits."""
    pad = Pad.rectangle(LENGTH, WIDTH)
    rule = LevelRule(kind, finish=20.2, exposed_edge=0.3)  # type: ignore[arg-type]
    found = pad_levels_batch(sloping(0.4 / LENGTH, 0.0), pad, at_middle(0.0), rule, use_compiled=use_compiled)
    assert found.status[0] == Status.OUTSIDE_LIMITS
    assert not found.allowed[0]
    assert found.finish[0] == pytest.approx(20.2, abs=1e-12)
    assert found.fill[0] == pytest.approx(pad.area * 0.2, rel=1e-10)


@pytest.mark.parametrize("use_compiled", WAYS)
def test_soil_bought_raises_the_balanced_level(*, use_compiled: bool) -> None:
    """On level ground b m³ raise the formation by b / A; on any ground fill is keep cut + b."""
    pad = Pad.rectangle(LENGTH, WIDTH)
    flat = pad_levels_batch(
        sloping(0.0, 0.0), pad, at_middle(0.0), LevelRule(keep=0.9, bought=1.5), use_compiled=use_compiled
    )
    assert flat.formation[0] == pytest.approx(20 + 1.5 / pad.area, abs=1e-12)
    ground = scattered(100, rough())
    found = pad_levels_batch(ground, pad, at_middle(33.0), LevelRule(keep=0.9, bought=0.8), use_compiled=use_compiled)
    assert found.fill[0] == pytest.approx(0.9 * found.cut[0] + 0.8, abs=1e-12)


@pytest.mark.parametrize("use_compiled", WAYS)
def test_strip_lowers_balanced_levels_and_leaves_volumes(*, use_compiled: bool) -> None:
    """Taking 80 mm off everywhere lowers the balanced formation by 80 mm and changes neither cut nor fill."""
    ground = scattered(100, rough())
    bare, stripped = (
        pad_levels_batch(
            ground,
            Pad.rectangle(LENGTH, WIDTH, strip=strip),
            at_middle(70.0),
            LevelRule(keep=0.8),
            use_compiled=use_compiled,
        )
        for strip in (0.0, 0.08)
    )
    assert bare.formation[0] - stripped.formation[0] == pytest.approx(0.08, abs=1e-12)
    assert bare.cut[0] == pytest.approx(stripped.cut[0], rel=1e-11)
    assert bare.ground_low[0] == stripped.ground_low[0]


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


@pytest.mark.parametrize("use_compiled", WAYS)
@pytest.mark.parametrize("turn", [0.1, 17.0, 30.0, 45.0, 71.3, 112.0])
def test_a_pad_exactly_as_large_as_the_ground_has_an_edge(turn: float, *, use_compiled: bool) -> None:
    """Turned with its ground, so that rounding puts corners on either side of the rim, it keeps the rim's levels."""
    square = lattice(lambda east, north: 3 + 0.1 * east + 0.2 * north, half=2.0, cell=0.5)
    sine, cosine = math.sin(math.radians(turn)), math.cos(math.radians(turn))
    east = square.east * cosine + square.north * sine + 0.37
    north = square.north * cosine - square.east * sine - 0.21
    ground = Ground(np.zeros(2), east, north, square.level, square.triangles, "turned")
    pose = np.array([[0.37, -0.21, turn]])
    found = pad_levels_batch(ground, Pad.rectangle(4.0, 4.0), pose, LevelRule(), use_compiled=use_compiled)
    assert found.status[0] == Status.ALLOWED
    assert found.edge_low[0] == pytest.approx(3 - 0.2 - 0.4, abs=1e-9)
    assert found.edge_high[0] == pytest.approx(3 + 0.2 + 0.4, abs=1e-9)
