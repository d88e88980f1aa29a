"""A proof with banks checked another way: the other way against slices and frustums, then against the search."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely

from grounds import rough, scattered
from spadework.earthwork._compile import COMPILED
from spadework.ground import Ground
from spadework.pad import Edge, Pad, Placement
from spadework.pad_shapes import l_shape
from spadework.placement import GOALS, FinishLimit, Goal, KeepOut, Limits, ProofEffort, find_banked_placement
from spadework.placement.banked_objective import objective_of
from spadework.placement.check_banked import BanksAgain, mean_above, share_above
from spadework.placement.check_proof import _Twin, check_proof
from spadework.placement.clearance import Clearance
from spadework.placement.spots import SearchResult

YARD = np.array([[2.0, 2.0], [28.0, 2.0], [28.0, 38.0], [2.0, 38.0]])
TREE = KeepOut.circle("oak", (14.0, 20.0), 3.0)
LIMITS = Limits(boundary=(YARD,), setback=1.0, keep_outs=(TREE,))
MITRED, ROUND = Edge("bank", "", 1 / 1.5, 1 / 2.0), Edge("bank", "", 1 / 1.5, 1 / 2.0, "round")
ELL = l_shape(6.0, 5.0, "C", (3.0, 2.5))
PADS = {
    "mitred": Pad.rectangle(5.0, 3.5, strip=0.05, edge=MITRED),
    "round": Pad.rectangle(5.0, 3.5, strip=0.05, edge=ROUND),
    "L-mitred": Pad(ELL, edge=MITRED),
    "L-round": Pad(ELL, edge=ROUND),
}
GENTLE = scattered(70, rough(3, sd=0.06), seed=3)
HILLY = scattered(120, lambda e, n: 50.0 + 0.12 * e - 0.08 * n + 0.3 * np.sin(e / 4) * np.cos(n / 5), seed=9)
COST = Goal("cost", cut=2.0, fill=3.0, over=1.0, short=4.0, strip=5.0)


def at(ground: Ground, east: float, north: float, bearing: float) -> Placement:
    """A placement in the local coordinates of a ground."""
    return Placement(east - float(ground.origin[0]), north - float(ground.origin[1]), bearing, 0.0)


@pytest.mark.parametrize(
    ("depth", "mean", "share"),
    [
        ((1.0, 2.0, 3.0), 2.0, 1.0),
        ((-1.0, -2.0, 0.0), 0.0, 0.0),
        ((0.0, -1.0, 1.0), 1 / 6, 1 / 2),
        ((1.0, 0.0, 0.0), 1 / 3, 1.0),
        ((-1.0, -1.0, 1.0), 1 / 12, 1 / 4),
        ((1.0, 1.0, -1.0), 1 / 3 + 1 / 12, 3 / 4),
    ],
)
def test_mean_and_share_above_nothing(depth: tuple[float, ...], mean: float, share: float) -> None:
    """A tip of half the sides is a quarter of the area and a twelfth of the height of its corner (tetrahedra)."""
    assert mean_above(np.array([depth])) == pytest.approx([mean])
    assert share_above(np.array([depth])) == pytest.approx([share])


@pytest.mark.parametrize("name", ["mitred", "round", "L-mitred", "L-round"])
@pytest.mark.parametrize("depth", [0.6, -0.6])
def test_soil_on_level_ground_is_the_frustum(name: str, depth: float) -> None:
    """``U m H² / 2`` along the sides, ``m² H³ / 3`` at each outward corner, π / 4 of it round, the same less inward.

    By calculus. The banks take ``U m H`` of the plan, ``(m H)²`` more at each outward corner, less at an inward one.
    """
    pad, ground = PADS[name], scattered(60, lambda east, north: 100.0 + 0.0 * east + 0.0 * north, seed=5)
    soil = BanksAgain(ground, pad, Limits(), 1.0, 1.0).at(at(ground, 15.0, 20.0, 71.0))
    level, height, run = 100.0 - depth - ground.datum, abs(depth), 1.5 if depth > 0 else 2.0
    outward, inward = (5, 1) if name.startswith("L") else (4, 0)
    around = 22.0 if name.startswith("L") else 17.0
    corner = math.pi / 4 if "round" in name else 1.0
    expected = around * run * height**2 / 2 + (outward * corner - inward) * run**2 * height**3 / 3
    whole, none = soil.cut_fill(level) if depth > 0 else soil.cut_fill(level)[::-1]
    assert whole == pytest.approx(expected, rel=1e-9)
    assert none == 0.0
    assert soil.taken(level) == pytest.approx(
        around * run * height + (outward * corner - inward) * (run * height) ** 2, rel=1e-9
    )
    assert not soil.met_again(level)


def above(ground: Ground, level: float) -> shapely.Geometry:
    """The part of the ground that lies above a level: each triangle cut off along it."""
    parts = []
    for corners in ground.triangles.tolist():
        ring = [(float(ground.east[i]), float(ground.north[i]), float(ground.height[i]) - level) for i in corners]
        kept = []
        for i, here in enumerate(ring):
            there = ring[(i + 1) % 3]
            if here[2] >= 0:
                kept.append(here[:2])
            if here[2] * there[2] < 0:
                share = here[2] / (here[2] - there[2])
                kept.append((here[0] + share * (there[0] - here[0]), here[1] + share * (there[1] - here[1])))
        if len(kept) > 2:
            parts.append(shapely.Polygon(kept))
    return shapely.MultiPolygon(parts)


@pytest.mark.parametrize("name", ["mitred", "L-mitred", "L-round"])
def test_soil_on_rough_ground_is_that_of_level_slices(name: str) -> None:
    """Sliced level: at ``y`` above the formation cut is where ground is higher, within the pad widened by ``y / s``.

    The library widens the pad; 40 slices by the middle rule come within a part in a thousand.
    """
    pad, ground, placed = PADS[name], GENTLE, at(GENTLE, 14.0, 13.0, 40.0)
    level = float(ground.height.mean()) - 0.15
    cut, _ = BanksAgain(ground, pad, Limits(), 1.0, 1.0).at(placed).cut_fill(level)
    outline, top = shapely.Polygon(placed.corners(pad)), float(ground.height.max()) - level
    style = "round" if "round" in name else "mitre"
    summed = 0.0
    for y in (np.arange(40) + 0.5) / 40 * top:
        wide = outline.buffer(y / pad.edge.cut_slope, join_style=style, mitre_limit=9.0, quad_segs=64)
        ring = shapely.difference(wide, outline)
        summed += sum(shapely.intersection(ring, part).area for part in above(ground, level + y).geoms) * top / 40
    assert cut > 0.3
    assert cut == pytest.approx(summed, rel=2e-3)


@pytest.mark.parametrize(
    ("name", "ground", "goal", "limits"),
    [
        ("mitred", HILLY, COST, LIMITS),
        ("round", GENTLE, GOALS["digging"], replace(LIMITS, bought=0.5, carted=1.0, cut_depth=0.4)),
        ("L-mitred", GENTLE, GOALS["balance"], replace(LIMITS, finish=FinishLimit("flush"))),
        ("L-round", HILLY, GOALS["balance"], replace(LIMITS, finish=FinishLimit("free", None, 50.2, 50.4))),
    ],
    ids=["cost", "round-limited", "L-flush", "L-round-between"],
)
def test_search_and_check_agree_on_sampled_placements(name: str, ground: Ground, goal: Goal, limits: Limits) -> None:
    """The same placements are allowed by both, the land that holds the level included, and have the same value."""
    pad = PADS[name]
    objective = objective_of(ground, pad, limits, goal, 0.9, Clearance.of(pad, limits, ground.outline(), ground.origin))
    poses = np.random.default_rng(1).uniform([4.0, 4.0, 0.0], [26.0, 36.0, 180.0], (16, 3))
    twin = _Twin(ground, pad, limits, goal, 0.9, 0.0)
    again = np.array([math.inf if value is None else value for value in map(twin.value, poses)])
    allowed = np.isfinite(again)
    assert 4 <= allowed.sum() < 16
    expected = objective.values(poses)
    assert (np.isfinite(expected) == allowed).all()
    assert again[allowed] == pytest.approx(expected[allowed], rel=1e-7)


@pytest.fixture(scope="module")
def proved() -> SearchResult:
    """The least digging with mitred corners, proved."""
    if not COMPILED:
        pytest.skip("without a compiler there is no bound")
    return find_banked_placement(GENTLE, PADS["mitred"], LIMITS, GOALS["digging"], 0.9, effort=ProofEffort())


def test_proof_with_banks_holds_when_it_is_checked_another_way(proved: SearchResult) -> None:
    """No sampled placement lies under the bound, and the best spot has its value."""
    check = check_proof(GENTLE, PADS["mitred"], LIMITS, GOALS["digging"], 0.9, proved, samples=60)
    assert check.holds
    assert check.allowed >= 20
    assert proved.proof is not None
    assert check.best_again == pytest.approx(proved.proof.best, rel=1e-8)


@pytest.mark.parametrize(
    ("change", "words"),
    [({"lower_bound": 1.2}, "one is better than the bound"), ({"best": 0.99}, "has another value")],
    ids=["bound", "best"],
)
def test_check_fails_when_the_proof_is_wrong(proved: SearchResult, change: dict[str, float], words: str) -> None:
    """A bound above the best spot, and a best spot that costs more than is said, do not pass."""
    assert proved.proof is not None
    proof = replace(proved.proof, **{name: share * proved.proof.best for name, share in change.items()})
    wrong = replace(proved, proof=proof)
    check = check_proof(GENTLE, PADS["mitred"], LIMITS, GOALS["digging"], 0.9, wrong, samples=20)
    assert not check.holds
    assert words in check.sentence


def test_placement_far_below_its_least_finish_has_a_value() -> None:
    """Where bounds hold the finish metres above the ground the pad is all fill: its level is the lowest allowed."""
    flat = scattered(60, lambda east, north: 10.0 + 0.0 * east + 0.0 * north, seed=5)
    pad = Pad.rectangle(2.0, 1.0)
    limits = Limits(finish=FinishLimit("free", None, 15.0, 16.0))
    value = _Twin(flat, pad, limits, Goal("plain", cut=1.0, fill=1.0), 0.9, 0.0).value(np.array([15.0, 20.0, 0.0]))
    assert value == pytest.approx(2.0 * 1.0 * 5.0)
