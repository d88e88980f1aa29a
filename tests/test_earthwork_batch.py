"""Formation, cut and fill of many poses against closed forms."""

import math

import numpy as np
import pytest

from grounds import lattice
from planes import LENGTH, WAYS, WIDTH, at_middle, sloping
from spadework.earthwork import LevelRule, pad_levels_batch
from spadework.ground import Ground
from spadework.pad import BuildUp, Layer, Pad


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
