"""Offset stakes, points on the sides, third ties, expected errors, and what to use where the tape does not reach."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import pytest

from spadework.errors import InputError
from spadework.pad import Pad, Placement
from spadework.readings import FloatArray
from spadework.stakeout import StakeOut, corner_shift, depth_mark, skew_angle, stake_out
from spadework.stakeout.line_points import round_side_spacing, side_points
from spadework.stakeout.taping import KnownPoint, expected_error, tape_covariance
from spadework.units import FOOT, LengthUnit


@dataclass(frozen=True)
class PlaneGround:
    """Level 100 + 5 % of east within a square about the origin."""

    reach: float = 1e9

    def level_at(self, points: FloatArray) -> FloatArray:
        """Level of each point. [m]"""
        return np.where(np.abs(points).max(axis=-1) <= self.reach, 100 + 0.05 * points[:, 0], np.nan)


def staked(reach: float = 1e9, pad: Pad | None = None, **options: object) -> StakeOut:
    """A 4 m by 3 m pad, its A at the origin, AB to the north, formation and finish at 99.95, strip 0.08."""
    pad = pad or Pad.rectangle(4.0, 3.0, strip=0.08)
    return stake_out(PlaneGround(reach), pad, Placement(1.5, 2.0, 0.0, 99.95), **options)  # type: ignore[arg-type]


def test_offset_stakes_stand_on_both_lines_of_each_corner() -> None:
    """0.6 m beyond A, B, C and D along the lines of their two sides."""
    found = {stake.name: (stake.east, stake.north) for stake in staked(offset=0.6).offsets}
    expected = {
        "A/AB": (0, -0.6),
        "B/AB": (0, 4.6),
        "B/BC": (-0.6, 4),
        "C/BC": (3.6, 4),
        "C/CD": (3, 4.6),
        "D/CD": (3, -0.6),
        "D/DA": (3.6, 0),
        "A/DA": (-0.6, 0),
    }
    assert found == {name: pytest.approx(place, abs=1e-12) for name, place in expected.items()}


def test_offset_stakes_are_marked_from_the_ground_that_stays() -> None:
    """Nothing is stripped there: C/BC at east 3.6 has ground 100.18, so cut 0.23 to 99.95."""
    stake = {stake.name: stake for stake in staked(offset=0.6).offsets}["C/BC"]
    assert (stake.kind, stake.of, stake.away, stake.line) == ("offset", "C", 0.6, "BC")
    assert stake.strip == 0.0
    assert stake.depth == pytest.approx(0.23)
    assert depth_mark(stake.depth, LengthUnit.METRE) == "C 0.23"


def test_offset_stake_has_no_mark_when_it_stands_off_the_measured_ground() -> None:
    """Ground was measured to 4.2 m only: the stakes north of B and C are named, and get no mark."""
    found = staked(reach=4.2, offset=0.6)
    bare = [stake for stake in found.offsets if math.isnan(stake.ground_level)]
    assert [stake.name for stake in bare] == ["B/AB", "C/CD"]
    assert [depth_mark(stake.depth, LengthUnit.METRE) for stake in bare] == ["", ""]
    assert any("B/AB, C/CD stands outside the measured ground" in notice for notice in found.notices)


def test_offset_stake_is_left_out_when_it_would_stand_on_the_pad() -> None:
    """At the inner corner D of an L the lines of its sides run on over the pad, which is said."""
    pad = Pad(np.array([[0.0, 0.0], [2.0, 0.0], [2.0, 1.0], [1.0, 1.0], [1.0, 2.0], [0.0, 2.0]]))
    found = staked(pad=pad, offset=0.5)
    assert {stake.name for stake in found.offsets}.isdisjoint({"D/CD", "D/DE"})
    assert len(found.offsets) == 10
    assert any("D/CD, D/DE would stand on the pad" in notice for notice in found.notices)


def test_offset_stakes_are_not_set_when_no_offset_is_asked_for() -> None:
    """An offset of zero is none."""
    assert staked().offsets == ()


def test_side_points_run_from_the_first_corner_at_the_spacing() -> None:
    """Every 1.5 m: on AB at 1.5 and 3.0; on BC only at 1.5, since 3.0 is C itself."""
    found = staked(side_spacing=1.5).side_points
    assert [(stake.name, stake.of, stake.away) for stake in found] == [
        ("AB1", "A", 1.5),
        ("AB2", "A", 3.0),
        ("BC1", "B", 1.5),
        ("CD1", "C", 1.5),
        ("CD2", "C", 3.0),
        ("DA1", "D", 1.5),
    ]
    assert (found[1].east, found[1].north) == pytest.approx((0.0, 3.0))
    assert (found[2].east, found[2].north) == pytest.approx((1.5, 4.0))
    # at BC1 the ground is 100.075, stripped 99.995: cut 0.045 to 99.95
    assert found[2].depth == pytest.approx(0.045)


def test_side_points_keep_clear_of_the_next_corner() -> None:
    """None within a fifth of the spacing from a corner: 2 m on a 4.3 m side gives 2 m only, on 4.5 m also 4 m."""
    assert [p.away for p in side_points(Pad.rectangle(4.3, 1.0), 2.0) if p.start == "A"] == [2.0]
    assert [p.away for p in side_points(Pad.rectangle(4.5, 1.0), 2.0) if p.start == "A"] == [2.0, 4.0]


@pytest.mark.parametrize(
    ("length", "unit", "expected"),
    [(4.0, LengthUnit.METRE, 1.0), (4.8, LengthUnit.METRE, 2.0), (30 * FOOT, LengthUnit.FOOT_INCH, 10 * FOOT)],
)
def test_round_side_spacing_is_round_in_the_users_unit(length: float, unit: LengthUnit, expected: float) -> None:
    """No more than three points on the longest side."""
    assert round_side_spacing(Pad.rectangle(length, 1.0), unit) == pytest.approx(expected)


@pytest.mark.parametrize("crossing", [90.0, 60.0, 30.0, 12.0])
def test_expected_error_of_two_ties_is_the_closed_form(crossing: float) -> None:
    """Two tapes of standard deviation s that cross at γ: s √2 / sin γ."""
    half = math.radians(crossing) / 2
    points = [
        KnownPoint("1", 5 * math.sin(half), 5 * math.cos(half)),
        KnownPoint("2", -7 * math.sin(half), 7 * math.cos(half)),
    ]
    found = expected_error(tape_covariance(points, (0.0, 0.0), 0.004))
    assert found == pytest.approx(0.004 * math.sqrt(2) / math.sin(math.radians(crossing)))


def test_expected_error_agrees_with_simulated_taping() -> None:
    """Three tapes, the third from a point that was itself taped: 20,000 trials of least squares by Gauss-Newton."""
    random = np.random.default_rng(11)
    sd, place = 0.006, np.array([6.0, 5.0])
    fixed = np.array([[0.0, 0.0], [4.0, 1.0]])
    spread = np.array([[9e-5, 2e-5], [2e-5, 4e-5]])
    third = np.array([10.0, 2.0])
    trials = 20_000
    stood = third + random.multivariate_normal([0, 0], spread, trials)
    taped = np.column_stack(
        [*(np.full(trials, math.dist(place, p)) for p in fixed), np.full(trials, math.dist(place, third))]
    )
    taped += random.normal(0, sd, taped.shape)
    # taping from where the third point really stands, by distances worked out for where it should stand
    origin = np.stack([np.broadcast_to(fixed[0], (trials, 2)), np.broadcast_to(fixed[1], (trials, 2)), stood], axis=1)
    along = (place - third) / math.dist(place, third)
    weight = 1 / np.array([sd**2, sd**2, sd**2 + along @ spread @ along])
    at = np.broadcast_to(place, (trials, 2)).copy()
    for _ in range(6):
        away = at[:, None, :] - origin
        length = np.linalg.norm(away, axis=2)
        u = away / length[:, :, None]
        normal = np.einsum("k,tki,tkj->tij", weight, u, u)
        right = np.einsum("k,tki,tk->ti", weight, u, taped - length)
        at += np.linalg.solve(normal, right[:, :, None])[:, :, 0]
    simulated = math.sqrt(float(((at - place) ** 2).sum(axis=1).mean()))
    points = [KnownPoint("1", *fixed[0]), KnownPoint("2", *fixed[1]), KnownPoint("B", *third, spread)]
    assert expected_error(tape_covariance(points, place, sd)) == pytest.approx(simulated, rel=0.02)


def test_expected_error_is_infinite_when_tapes_lie_on_one_line() -> None:
    """Two tapes along one line fix nothing across it, and one tape fixes nothing."""
    points = [KnownPoint("1", -3.0, 0.0), KnownPoint("2", 6.0, 0.0)]
    assert math.isinf(expected_error(tape_covariance(points, (0.0, 0.0), 0.005)))
    assert math.isinf(expected_error(tape_covariance(points[:1], (0.0, 1.0), 0.005)))


def test_third_tie_comes_from_a_known_point_when_the_first_two_cross_flatly() -> None:
    """A and D lie on the line of the references; an oak to the south sees them squarely."""
    found = staked(references=(("H1", -3.0, 0.0), ("H2", 6.0, 0.0)), fixed_points=(("oak", 1.0, -8.0),))
    a, b, _, _ = found.stakes
    assert a.third is not None
    assert (a.third.reference, a.third.distance) == ("oak", pytest.approx(math.sqrt(65)))
    assert b.third is None
    # along the line two tapes of 5 mm, across it one that stands at atan(8) to the line
    along, across = 1 / math.sqrt(65), 8 / math.sqrt(65)
    normal = np.array([[2 + along**2, along * across], [along * across, across**2]]) / 0.005**2
    assert a.expected_error == pytest.approx(math.sqrt(np.trace(np.linalg.inv(normal))))
    assert any("tape a third distance, 8.062 m from oak" in notice for notice in found.notices)


def test_third_tie_comes_from_a_corner_that_stands_when_nothing_else_is_known() -> None:
    """Without further points B and C are set first, and A and D are taped from them as well."""
    found = staked(references=(("H1", -3.0, 0.0), ("H2", 6.0, 0.0)))
    assert sorted(found.order[:2]) == ["B", "C"]
    assert {stake.name: stake.third.reference for stake in found.stakes if stake.third} in (
        {"A": "B", "D": "C"},
        {"A": "B", "D": "B"},
        {"A": "C", "D": "C"},
        {"A": "C", "D": "B"},
    )
    assert all(math.isfinite(stake.expected_error) for stake in found.stakes)


def test_third_tie_is_no_longer_than_the_tape() -> None:
    """An oak 40 m off is of no use to a tape of 30 m."""
    found = staked(references=(("H1", -3.0, 0.0), ("H2", 6.0, 0.0)), fixed_points=(("oak", 1.0, -40.0),))
    assert all(stake.third is None or stake.third.reference != "oak" for stake in found.stakes)


def test_order_sets_the_surest_corner_first_and_then_the_lines() -> None:
    """Corners by expected error, offset stakes and points on the sides after them, each stake once."""
    found = staked(references=(("H1", -3.0, 1.0), ("H2", 1.0, -6.0)), offset=0.6)
    errors = {stake.name: stake.expected_error for stake in found.stakes}
    assert list(found.order[:4]) == sorted(errors, key=lambda name: (round(errors[name], 9), name))
    assert sorted(found.order) == sorted(stake.name for stake in found.all_stakes)
    assert [stake.name for stake in found.ordered()] == list(found.order)


def test_line_stakes_carry_the_error_of_their_corners() -> None:
    """A/AB at 0.6 m beyond A on a 4 m side: √((1.15² a² + 0.15² b²) + s²)."""
    found = staked(references=(("H1", -3.0, 1.0), ("H2", 1.0, -6.0)), offset=0.6)
    a, b = (stake.expected_error for stake in found.stakes[:2])
    expected = math.sqrt(1.15**2 * a**2 + 0.15**2 * b**2 + 0.005**2)
    assert found.offsets[0].expected_error == pytest.approx(expected)


def test_expected_error_is_not_stated_when_there_are_no_references() -> None:
    """Nothing is taped, so nothing is promised."""
    assert all(math.isnan(stake.expected_error) for stake in staked(offset=0.5).all_stakes)


def test_another_point_is_named_when_the_tape_does_not_reach() -> None:
    """From an oak at 40 m a tape of 30 m falls short; the gate at 5 m sees every corner and is named with its ties."""
    found = staked(references=(("H1", -3.0, 0.5), ("oak", 0.0, 40.0)), fixed_points=(("gate", 0.5, -5.0),))
    (far,) = [notice for notice in found.notices if notice.startswith("From oak")]
    assert "tape from gate instead (to A 5.025 m, B 9.014 m" in far


def test_a_peg_on_the_way_is_named_when_no_other_point_serves() -> None:
    """40 m from the oak to A in two lengths of 20 m; a tape of 12 m needs three pegs."""
    far = [n for n in staked(references=(("H1", -3.0, 0.5), ("oak", 0.0, 40.0))).notices if n.startswith("From oak")]
    assert "For A: a peg 20.000 m from oak, and as much again to A" in far[0]
    far = [n for n in staked(references=(("H1", -3.0, 0.5), ("oak", 0.0, 40.0)), tape=12.0).notices if "From oak" in n]
    assert "For A: 3 pegs, one every 10.000 m from oak" in far[0]


def test_two_known_points_are_named_when_the_plan_has_no_references() -> None:
    """Of three points the pair with the smallest worst error within the tape; the far one is never named."""
    points = (("post", -4.0, 2.0), ("gate", 1.0, -6.0), ("mast", 90.0, 90.0))
    notices = staked(fixed_points=points).notices
    (words,) = [notice for notice in notices if "names no references" in notice]
    assert "post and gate would serve" in words
    assert not [notice for notice in staked(fixed_points=points[:1]).notices if "names no references" in notice]


def test_fixed_point_is_not_used_when_it_stands_where_the_digging_is() -> None:
    """A shot on the pad itself is dug away."""
    found = staked(references=(("H1", -3.0, 0.0), ("H2", 6.0, 0.0)), fixed_points=(("peg", 1.0, 1.0),))
    assert all(stake.third is None or stake.third.reference != "peg" for stake in found.stakes)


def test_stake_out_refuses_when_stakes_would_be_legion() -> None:
    """A spacing of 1 mm on the sides, or an error of zero, is refused."""
    with pytest.raises(InputError, match="wider side-spacing"):
        staked(side_spacing=0.001)
    with pytest.raises(InputError, match="tape-sd"):
        staked(tape_sd=0.0)


def test_corner_shift_is_what_the_skew_angle_moves_a_corner() -> None:
    """A 4 by 3 figure leaned by 2 degrees moves its far corners 3 sin 2°, found again from its diagonals alone."""
    lean = math.radians(2.0)
    corner = np.array([3.0 * math.sin(lean), 3.0 * math.cos(lean)])
    first, second = math.hypot(4.0 + corner[0], corner[1]), math.hypot(4.0 - corner[0], corner[1])
    assert skew_angle(4.0, 3.0, first, second) == pytest.approx(2.0)
    assert corner_shift(4.0, 3.0, first - second) == pytest.approx(3.0 * math.sin(lean))
    assert corner_shift(4.0, 3.0, 0.0) == 0.0
