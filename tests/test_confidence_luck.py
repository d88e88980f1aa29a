"""What is to be expected of spots: the closed form against grounds drawn, and yards where luck is easy to see."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from spadework.confidence.expected_spot import expected_spot
from spadework.confidence.luck import Luck, weigh_luck
from spadework.confidence.luck_grounds import spot_grounds
from spadework.confidence.luck_words import NOT_THE_YARD, luck_sentences
from spadework.confidence.nodes import pad_nodes
from spadework.confidence.volumes import levels_that_leave
from spadework.ground import triangulate_shots
from spadework.ground.process import GroundProcess, fit_process
from spadework.pad import Pad
from spadework.placement import GOALS, FinishLimit, Goal, Limits, PositionLimit, SearchResult, find_placement
from spadework.plan_luck import ranked
from spadework.shots import Shots
from spadework.units import LengthUnit

KEEP = 0.9
PAD = Pad.rectangle(3.0, 2.0)
MOVED = Goal("moved", cut=1.0, fill=1.0, unit="m³")


def shots_of(places: np.ndarray, level: np.ndarray, sd: float = 0.003) -> Shots:
    """Shots with one standard deviation."""
    count = len(level)
    names = tuple(f"P{row}" for row in range(count))
    return Shots(names, *places.T, level, ("",) * count, np.arange(count), ("",) * count, np.full(count, sd))


def rough_yard(seed: int = 1, count: int = 60) -> Shots:
    """A yard of 16 m by 12 m with relief of some centimetres."""
    draw = np.random.default_rng(seed)
    places = np.vstack([draw.uniform((0, 0), (16, 12), (count - 4, 2)), [[0, 0], [16, 0], [16, 12], [0, 12]]])
    level = 50 + 0.04 * places[:, 0] + 0.08 * np.sin(places[:, 0] * 1.3) * np.cos(places[:, 1] * 0.9)
    return shots_of(places, level + draw.normal(0, 0.02, count))


@pytest.fixture(scope="module")
def yard() -> tuple[SearchResult, GroundProcess]:
    """A search on a rough yard, without a proof, and its process."""
    shots = rough_yard()
    ground = triangulate_shots(shots, accept_outliers=shots.point)
    return find_placement(ground, PAD, Limits(), GOALS["digging"], KEEP), fit_process(shots)


@pytest.fixture(scope="module")
def luck(yard: tuple[SearchResult, GroundProcess]) -> Luck:
    """What luck has to do with it."""
    return weighed(*yard)


def weighed(search: SearchResult, process: GroundProcess) -> Luck:
    """The luck of a search."""
    assert search.objective is not None
    outline = search.objective.ground.outline()
    found = weigh_luck(process, search.objective, outline, search.best, search.alternatives)
    assert found is not None
    return found


@pytest.mark.parametrize("kind", ["none bought", "moved", "fixed"])
def test_closed_form_is_the_mean_over_grounds_when_thousands_are_drawn(
    yard: tuple[SearchResult, GroundProcess], kind: str
) -> None:
    """Each ground at its own level, found by halving or as its median: to first order the closed form's."""
    search, process = yard
    objective, spot = search.objective, search.best
    assert objective is not None
    if kind != "none bought":
        goal = MOVED if kind == "moved" else GOALS["digging"]
        limits = Limits(finish=FinishLimit("fixed", spot.placement.finish)) if kind == "fixed" else Limits()
        objective = replace(objective, goal=goal, limits=limits)
    points, area = pad_nodes(PAD, spot.placement, count=128)
    grounds = process.samples(points, 4000)
    level = {
        "none bought": levels_that_leave(grounds, area, KEEP, 0.0),
        "moved": np.median(grounds, axis=1),
        "fixed": np.full(4000, spot.formation),
    }[kind]
    height = grounds - level[:, None]
    values = np.maximum(height, 0) @ area + (np.maximum(-height, 0) @ area if kind == "moved" else 0.0)
    error = 4 * values.std() / np.sqrt(4000)
    assert expected_spot(process, objective, spot.placement).value == pytest.approx(values.mean(), rel=0.012, abs=error)


def test_spot_alone_is_worked_out_as_by_halving_and_has_the_expected_cost(
    yard: tuple[SearchResult, GroundProcess],
) -> None:
    """Each ground at the level that leaves no soil, found another way; their mean is the closed form's.

    On the grid that spots are sought on the mean is several per cent lower: it smooths what lies between its points.
    """
    search, process = yard
    objective, at = search.objective, search.best.placement
    assert objective is not None
    pose = np.array([at.east, at.north, at.bearing])
    grounds = spot_grounds(process, objective, pose, 2000, 3)
    values = grounds.values(pose[None])[0]
    area = grounds.points.area
    levels = grounds.grounds.levels[: len(area)].T
    height = levels - levels_that_leave(levels, area, KEEP, 0.0)[:, None]
    assert values == pytest.approx(np.maximum(height, 0) @ area, rel=1e-6)
    error = 4 * values.std() / np.sqrt(2000)
    assert values.mean() == pytest.approx(expected_spot(process, objective, at).value, rel=0.012, abs=error)


def test_bounds_hold_the_share_that_they_name_when_grounds_are_drawn_anew(
    yard: tuple[SearchResult, GroundProcess], luck: Luck
) -> None:
    """Of 2,000 other grounds of the chosen spot 95 in 100 lie between the bounds, to four standard errors."""
    search, process = yard
    objective, at = search.objective, search.best.placement
    assert objective is not None
    pose = np.array([at.east, at.north, at.bearing])
    values = spot_grounds(process, objective, pose, 2000, 77).values(pose[None])[0]
    held = np.mean((values >= luck.drawn.low) & (values <= luck.drawn.high))
    # The bounds come from 1,000 grounds, the share from 2,000: their variances, p q / 1000 and p q / 2000, add up.
    assert held == pytest.approx(0.95, abs=4 * np.sqrt(0.95 * 0.05 * (1 / 1000 + 1 / 2000)))


def test_expected_cost_is_that_of_the_surface_when_the_ground_is_known_well() -> None:
    """With shots a metre apart and a laser, luck has nothing left to do."""
    mesh = np.stack(np.meshgrid(np.arange(0, 8.1, 1.0), np.arange(0, 6.1, 1.0)), axis=-1).reshape(-1, 2)
    shots = shots_of(mesh, 20 + 0.05 * mesh[:, 0] + 0.01 * mesh[:, 1] ** 2, sd=0.0005)
    search = find_placement(triangulate_shots(shots), PAD, Limits(), GOALS["digging"], KEEP)
    found = weighed(search, fit_process(shots))
    assert not found.differs
    assert found.drawn.expected == pytest.approx(search.best.value, rel=0.05)
    assert found.drawn.regret < 0.05 * search.best.value
    assert found.drawn.high - found.drawn.low < 0.3 * search.best.value


def test_luck_is_told_in_order_when_the_ground_is_rough(luck: Luck) -> None:
    """Regret is never below zero, nor is anything cheaper than the best there is; shares of all spots make one."""
    told = list(dict.fromkeys((luck.drawn, luck.pick, *luck.others)))
    assert len(told) >= 4
    for one in told:
        assert 0 <= one.regret <= one.regret_high
        assert luck.best_there_is <= one.expected
        assert one.low <= one.expected <= one.high
    assert luck.pick.expected == min(one.expected for one in told)
    assert sum(one.likely_best for one in told) == pytest.approx(1.0, abs=0.02)
    assert luck.drawn.expected > luck.drawn.spot.value  # the best of many on a surface flatters itself


def test_spot_that_is_known_is_picked_when_one_as_good_is_hardly_measured() -> None:
    """Two level places: one with shots all over it, the other between four of them and a little better by luck."""
    draw = np.random.default_rng(3)
    known = np.stack(np.meshgrid(np.arange(1.0, 5.1, 0.8), np.arange(1.0, 5.1, 0.8)), axis=-1).reshape(-1, 2)
    around = np.array([[x, y] for x in np.arange(0.0, 16.1, 4.0) for y in (0.0, 6.0)])
    places = np.vstack([known, around, [[10.0, 3.0], [14.0, 3.0]]])
    level = 10 + np.where((places[:, 0] < 6) & (places[:, 1] % 6 != 0), 0.0, 0.35 * (places[:, 1] % 6 == 0))
    level = level + draw.normal(0, 0.006, len(level))
    level[-2:] = 10.0
    shots = shots_of(places, level)
    ground = triangulate_shots(shots, accept_outliers=shots.point)
    limits = Limits(finish=FinishLimit("free"))
    search = find_placement(ground, PAD, limits, GOALS["digging"], KEEP)
    found = weighed(search, fit_process(shots))
    assert found.pick.spot.placement.east < 6.5
    assert found.pick.sd < 0.08


def test_taken_spot_has_the_bound_still_when_ranked_by_what_is_expected(
    yard: tuple[SearchResult, GroundProcess], luck: Luck
) -> None:
    """The best of the drawn surface becomes the first alternative, and no other value changes."""
    search = yard[0]
    other = replace(luck.drawn, spot=search.alternatives[-1])
    told = replace(luck, pick=other, drawn=luck.drawn)
    taken = ranked(search, told, "expected")
    assert taken.best.placement == other.spot.placement
    assert taken.alternatives[0].placement == search.best.placement
    assert len(taken.alternatives) == len(search.alternatives)
    assert ranked(search, told, "drawn") is search


def test_nothing_is_left_to_choose_when_position_and_bearing_are_fixed(
    yard: tuple[SearchResult, GroundProcess],
) -> None:
    """The best there is, is the one there is."""
    search, process = yard
    assert search.objective is not None
    limits = Limits(position=PositionLimit(8.0, 6.0), bearing=replace(search.objective.limits.bearing, fixed=30.0))
    fixed = find_placement(search.objective.ground, PAD, limits, GOALS["digging"], KEEP)
    found = weighed(fixed, process)
    assert found.drawn.regret == pytest.approx(0.0, abs=1e-9)
    assert found.drawn.near == 1.0


def test_sentences_say_what_the_proof_is_about_when_luck_is_told(
    luck: Luck, yard: tuple[SearchResult, GroundProcess]
) -> None:
    """The plain sentence comes first; regret and, where it differs, the other spot follow."""
    sentences = luck_sentences(luck, GOALS["digging"], LengthUnit.METRE, yard[0].best)
    assert sentences[0].startswith(NOT_THE_YARD)
    assert "regret" in sentences[1]
    assert any("Another spot has the least expected cost" in sentence for sentence in sentences) == luck.differs
