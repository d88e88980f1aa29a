"""Flip points and the front of two goals on two terraces, where both follow by hand.

The finish is fixed. The western terrace lies 0.1 m above the formation and the eastern as much below it: a pad of area
A costs 0.1 A of cut on the one and 0.1 A of fill on the other, and on the slope of 2 m between them, which a pad 2 m
wide just covers, 0.025 A of either.
"""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from spadework.ground import Ground, triangulate_shots
from spadework.pad import Pad
from spadework.placement import (
    BearingLimit,
    FinishLimit,
    Goal,
    Limits,
    PositionLimit,
    ProofEffort,
    SearchResult,
    find_placement,
)
from spadework.placement.front import Front, trade_off, values_of
from spadework.placement.objective import Objective
from spadework.placement.what_if import Assumption, Kind, what_if
from spadework.placement.what_if_words import moved_words, number_words, what_if_sentences
from spadework.shots import Shots
from spadework.units import LengthUnit

LEVEL, AREA = 50.0, 4.0
PAD = Pad.rectangle(2.0, 2.0)
LIMITS = Limits(finish=FinishLimit("fixed", LEVEL), bearing=BearingLimit(0.0))


def terraces() -> Ground:
    """14 m by 4 m: level to 6 m, a slope of 2 m, level again."""
    places = np.array([(east, north) for east in (0.0, 3.0, 6.0, 8.0, 11.0, 14.0) for north in (0.0, 4.0)])
    level = LEVEL + np.interp(places[:, 0], [6.0, 8.0], [0.1, -0.1])
    count = len(level)
    names = tuple(f"P{row}" for row in range(count))
    return triangulate_shots(Shots(names, *places.T, level, ("",) * count, np.arange(count), ("",) * count))


@pytest.fixture(scope="module")
def west() -> tuple[SearchResult, Objective]:
    """The search on the western terrace only: with a dear slope, cutting is cheaper than filling by a fifth."""
    limits = replace(LIMITS, boundary=(np.array([[0, 0], [14, 0], [14, 4], [0, 4]], float),))
    goal = Goal("cost", cut=1.0, fill=1.2)
    found = find_placement(terraces(), PAD, limits, goal, 0.9)
    assert found.objective is not None
    return found, found.objective


def test_slope_is_chosen_and_its_swing_is_by_hand_when_a_price_moves(west: tuple[SearchResult, Objective]) -> None:
    """At the slope cut and fill share: at its middle (c + f)·0.025 A; the pad moves a little to the cheaper side."""
    search, base = west

    def at(number: float) -> Objective:
        return replace(base, goal=Goal("cost", cut=number, fill=1.2))

    (effect,) = what_if(search, [Assumption("price of dig", 0.8, 1.0, 1.25, at)])
    assert search.best.value <= 0.025 * AREA * 2.2 + 1e-6
    kept = search.best
    assert effect.low.kept == pytest.approx(0.8 * kept.cut + 1.2 * kept.fill, abs=1e-9)
    assert effect.high.kept == pytest.approx(1.25 * kept.cut + 1.2 * kept.fill, abs=1e-9)
    assert effect.swing == pytest.approx(0.45 * kept.cut, abs=1e-9)
    assert effect.flips == ()
    assert effect.low.regret < 0.02 * kept.value


def test_it_flips_where_the_other_terrace_becomes_cheaper_when_the_slope_is_kept_out() -> None:
    """West costs c·0.1 A, east 1.2·0.1 A: east is better by 2 % and a hair once c passes 1.2·1.02 + 0.002."""
    ground = terraces()
    strip = [np.array([[0, 0], [6, 0], [6, 4], [0, 4]], float), np.array([[8, 0], [14, 0], [14, 4], [8, 4]], float)]
    limits = replace(LIMITS, keep_outs=())
    goal = Goal("cost", cut=1.0, fill=1.2)
    west = find_placement(ground, PAD, replace(limits, boundary=(strip[0],)), goal, 0.9)
    east = find_placement(ground, PAD, replace(limits, boundary=(strip[1],)), goal, 0.9)
    assert west.best.value == pytest.approx(0.1 * AREA)
    assert east.best.value == pytest.approx(0.12 * AREA)
    every = find_placement(ground, PAD, limits, goal, 0.9)
    assert every.objective is not None
    both = replace(west, alternatives=(east.best,), spot_map=None, objective=every.objective)
    # The slope between is closed to the pad by letting no level differ that much under it.
    closed = replace(every.objective, limits=replace(limits, cut_depth=0.100001, fill_depth=0.100001))

    def at(number: float) -> Objective:
        return _Terraces(**{**vars(closed), "goal": replace(goal, cut=number)})

    (effect,) = what_if(both, [Assumption("price of dig", 0.5, 1.0, 2.0, at)])
    assert effect.high.moves
    assert not effect.low.moves
    assert effect.high.regret == pytest.approx((2.0 - 1.2) * 0.1 * AREA, rel=1e-6)
    (flip,) = effect.flips
    assert flip.number == pytest.approx(1.2 * 1.02 + 0.002, abs=2e-4)
    assert flip.kept == pytest.approx(0.1 * AREA * flip.number, rel=1e-6)
    assert flip.best.placement.east > 8.0


def test_no_spot_beats_one_that_was_chosen_by_another_rule_only_because_it_did_before() -> None:
    """The chosen spot is the dearer terrace: only what the other gains beyond that counts.

    East costs 0.02 A more now. West wins by more than that, 2 % of its cost and 2·10⁻⁴ A, where
    c·0.1 < 0.12 - 0.02 - 0.02·c·0.1 - 2·10⁻⁴, which is c < 0.998 / 1.02.
    """
    ground = terraces()
    strip = [np.array([[0, 0], [6, 0], [6, 4], [0, 4]], float), np.array([[8, 0], [14, 0], [14, 4], [8, 4]], float)]
    goal = Goal("cost", cut=1.0, fill=1.2)
    west, east = (find_placement(ground, PAD, replace(LIMITS, boundary=(ring,)), goal, 0.9) for ring in strip)
    every = find_placement(ground, PAD, LIMITS, goal, 0.9)
    assert every.objective is not None
    closed = replace(every.objective, limits=replace(LIMITS, cut_depth=0.100001, fill_depth=0.100001))
    both = replace(east, alternatives=(west.best,), spot_map=None, objective=closed)

    def at(number: float) -> Objective:
        return _Terraces(**{**vars(closed), "goal": replace(goal, cut=number)})

    (effect,) = what_if(both, [Assumption("price of dig", 0.5, 1.0, 2.0, at)])
    assert effect.low.moves
    assert not effect.high.moves
    assert [flip.number for flip in effect.flips] == [pytest.approx(0.998 / 1.02, abs=2e-4)]


def test_spot_that_a_number_forbids_has_no_value_and_moves() -> None:
    """A depth of cut that the western terrace does not keep leaves the eastern one, whatever it costs."""
    ground = terraces()
    goal = Goal("cost", cut=1.0, fill=1.2)
    ring = np.array([[0, 0], [6, 0], [6, 4], [0, 4]], float)
    west = find_placement(ground, PAD, replace(LIMITS, boundary=(ring,)), goal, 0.9)
    every = find_placement(ground, PAD, LIMITS, goal, 0.9)
    assert every.objective is not None
    base = every.objective

    def at(number: float) -> Objective:
        return _Terraces(**vars(replace(base, limits=replace(LIMITS, cut_depth=number, fill_depth=0.1001))))

    search = replace(west, alternatives=every.alternatives, spot_map=every.spot_map, objective=at(0.1001))
    (effect,) = what_if(search, [Assumption("depth of cut", 0.05, 0.1001, 0.2, at, "length")])
    assert math.isinf(effect.low.kept)
    assert effect.low.moves
    assert effect.low.best.placement.east > 7.9  # from the middle of the slope on nothing is cut
    assert effect.swing == math.inf
    assert moved_words(effect.low, search.best, goal, LengthUnit.METRE).endswith("to the east")
    assert "this spot is not allowed" in what_if_sentences([effect], search.best, goal, LengthUnit.METRE)[0]


NUMBERS = [
    ("share", "", 0.125, LengthUnit.FOOT, "12.5 %"),
    ("length", "", 0.0762, LengthUnit.FOOT_INCH, "0' 3\""),
    ("price", "EUR", 40.0, LengthUnit.METRE, "40.00 EUR/m³"),
    # A cubic yard is 0.764554857984 m³, a foot 0.3048 m, by the international yard and pound agreement of 1959.
    ("price", "USD", 100.0, LengthUnit.FOOT, "76.46 USD/yd³"),
    ("height price", "USD", 100.0, LengthUnit.FOOT_INCH, "30.48 USD/ft"),
    ("wage", "", 30.0, LengthUnit.METRE, "30.00 per h"),
    ("rate", "m3/h", 0.6463, LengthUnit.METRE, "0.646 m³/h"),
]


@pytest.mark.parametrize(("kind", "unit", "number", "length", "words"), NUMBERS, ids=[n[0] + n[1] for n in NUMBERS])
def test_number_is_printed_in_the_units_of_its_reader(
    kind: Kind, unit: str, number: float, length: LengthUnit, words: str
) -> None:
    """A price for a cubic metre is one for a cubic yard to somebody who works in feet."""
    one = Assumption("it", number, number, number, lambda _: pytest.fail("not asked"), kind, unit)
    assert number_words(one, number, length) == words


class _Terraces(Objective):
    """An objective that lets the pad stand on a terrace only."""

    def evaluate(self, poses: np.ndarray) -> object:  # type: ignore[override]
        found = super().evaluate(poses)
        level = np.minimum(found.cut, found.fill) < 1e-9
        return replace(found, value=np.where(level, found.value, math.inf))


def test_searched_points_lie_on_the_curve_known_by_hand_when_only_the_level_is_free() -> None:
    """On a plane of slope s a pad L by W whose level is t above the middle cuts L (s W / 2 - t)² / (2 s).

    Its edge then shows s W / 2 + t at most, so that cut = L (s W - wall)² / (2 s) all along the front, also where no
    weight leads: the level is halved to where the wall is as high as it may be.
    """
    slope, long, wide = 0.1, 3.0, 2.0
    places = np.array([(e, n) for e in (-4.0, 0.0, 4.0) for n in (-4.0, 0.0, 4.0)])
    names = tuple(f"P{row}" for row in range(9))
    level = LEVEL + slope * places[:, 0]
    ground = triangulate_shots(Shots(names, *places.T, level, ("",) * 9, np.arange(9), ("",) * 9))
    limits = Limits(position=PositionLimit(0.0, 0.0), bearing=BearingLimit(0.0))

    def find(goal: Goal) -> SearchResult:
        return find_placement(ground, Pad.rectangle(long, wide), limits, goal, 0.9, effort=ProofEffort(0.01, 1e-5))

    front = trade_off(find, Goal("cut", cut=1.0, fill=1e-6), Goal("edge", cut=1e-6, fill=1e-6, wall=1.0))
    searched = [point for point in front.points if point.proof is None]
    assert len(searched) >= 3
    for point in front.points:
        by_hand = long * (slope * wide - point.second) ** 2 / (2 * slope)
        assert point.first == pytest.approx(by_hand, abs=2e-5)
        assert front.least_first(point.second) <= point.first + 1e-9
    # A curve that bends upward lies between the lines of five weights by little.
    assert all(front.least_first(point.second) >= point.first - 0.006 for point in searched)
    assert front.least_first(slope * wide / 2 - 1e-3) == math.inf


def test_no_spot_lies_where_the_proved_sums_say_that_there_is_none() -> None:
    """Every placement of a fine grid is above each line; with the ends of the front they leave little between."""
    ground = terraces()
    one, other = Goal("less cut", cut=1.0, fill=1e-6), Goal("less fill", cut=1e-6, fill=1.0)

    def find(goal: Goal) -> SearchResult:
        return find_placement(ground, PAD, LIMITS, goal, 0.9, effort=ProofEffort(0.01, 1e-4))

    front = trade_off(find, one, other)
    assert len(front.supports) == 6
    objective = find(one).objective
    assert objective is not None
    poses = np.array([(east, north, 0.0) for east in np.arange(1.0, 13.001, 0.05) for north in (1.0, 1.7, 3.0)])
    outcome = objective.evaluate(poses)
    first, second = values_of(one, objective, outcome), values_of(other, objective, outcome)
    least = np.array([front.least_first(value) for value in second.tolist()])
    assert (first >= least - 1e-9).all()
    assert (least > 0).sum() > 20
    assert np.isneginf(Front(front.points).least_first(1.0))


def test_front_runs_from_one_goal_to_the_other_when_they_oppose() -> None:
    """Least cut and least fill: both ends, the middle of the slope, and nothing that a fine grid beats in both."""
    ground = terraces()
    one, other = Goal("less cut", cut=1.0, fill=1e-6), Goal("less fill", cut=1e-6, fill=1.0)

    def find(goal: Goal) -> SearchResult:
        return find_placement(ground, PAD, LIMITS, goal, 0.9)

    front = trade_off(find, one, other).points
    assert front[0].second == pytest.approx(0.0, abs=1e-3)
    assert front[-1].first == pytest.approx(0.0, abs=1e-3)
    assert len(front) >= 5
    assert all(a.first > b.first and a.second < b.second for a, b in pairwise(front))
    middle = min(front, key=lambda point: point.first + point.second)
    assert middle.first + middle.second == pytest.approx(0.05 * AREA, rel=0.02)
    objective = find(one).objective
    assert objective is not None
    poses = np.array([(east, 2.0, 0.0) for east in np.arange(1.0, 13.001, 0.02)])
    outcome = objective.evaluate(poses)
    first, second = values_of(one, objective, outcome), values_of(other, objective, outcome)
    for point in front:
        assert not ((first < point.first - 0.004) & (second < point.second - 0.004)).any()
