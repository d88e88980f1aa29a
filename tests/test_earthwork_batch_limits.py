"""The rim of the ground and the limits of the level, for many poses: bounds worked out by hand, and the verdicts."""

import math

import numpy as np
import pytest

from grounds import lattice, rough, scattered
from planes import LENGTH, WAYS, WIDTH, at_middle, sloping
from spadework.earthwork import LevelRule, Status, pad_levels_batch
from spadework.ground import Ground
from spadework.pad import BuildUp, Layer, Pad


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
