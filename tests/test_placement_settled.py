"""Soil that hangs on the spot is settled: counted where it is, never more than there is."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import Phase, example, given, settings
from hypothesis import strategies as st

from naive_placement import ground_of, random_yard
from spadework.pad import Pad, Placement
from spadework.placement import GOALS, BearingLimit, FinishLimit, Limits, PositionLimit, ProofEffort, find_placement
from spadework.placement.check_proof import check_proof

PAD = Pad.rectangle(4.0, 3.0, strip=0.05)
KEEP = 0.9
FLAT = ground_of(np.array([[-20.0, -20.0], [20.0, -20.0], [20.0, 20.0], [-20.0, 20.0]]), np.full(4, 80.0))
HELD = Limits(position=PositionLimit(0.0, 0.0), bearing=BearingLimit(0.0))


def test_level_ground_when_the_soil_falls_with_the_level() -> None:
    """R = 0.5 - 2 (finish - 79.95): with k R = A h and h the height filled, h = 0.5 k / (A + 2 k)."""
    result = find_placement(FLAT, PAD, HELD, GOALS["digging"], KEEP, reserve=lambda at: 0.5 - 2 * (at.finish - 79.95))
    filled = 0.5 * KEEP / (12.0 + 2 * KEEP)
    assert result.best.placement.finish == pytest.approx(79.95 + filled, abs=1e-9)
    assert result.reserve == pytest.approx(12.0 * filled / KEEP, abs=1e-8)


def test_no_more_is_counted_than_there_is_when_the_soil_jumps() -> None:
    """0.4 up to a finish of 79.97, 0.1 above it: no amount agrees with itself, and the last that is there is counted.

    k R / A lifts the finish to 79.97 at R = 0.02 A / k; up to there 0.4 is there, beyond it 0.1.
    """

    def there(at: Placement) -> float:
        return 0.4 if at.finish <= 79.97 else 0.1

    result = find_placement(FLAT, PAD, HELD, GOALS["digging"], KEEP, reserve=there)
    assert result.reserve == pytest.approx(0.02 * 12.0 / KEEP, abs=1e-6)
    assert result.reserve <= there(result.best.placement)


def test_soil_counts_when_the_finish_is_fixed() -> None:
    """A fixed finish that is short of soil is allowed once what the edge gives is counted."""
    limits = Limits(HELD.boundary, position=HELD.position, bearing=HELD.bearing, finish=FinishLimit("fixed", 79.97))
    result = find_placement(FLAT, PAD, limits, GOALS["digging"], KEEP, reserve=lambda _: 0.3)
    assert result.best.short == 0.0
    assert result.best.over == pytest.approx(0.3 - 0.02 * 12.0 / KEEP, abs=1e-9)


@settings(max_examples=3, deadline=None, phases=[Phase.explicit, Phase.generate])
@example(13, 0.5, 1.0, "digging")
@given(st.integers(0, 1000), st.floats(0.05, 0.6), st.floats(0.0, 1.5), st.sampled_from(["digging", "balance"]))
def test_soil_agrees_with_the_spot_on_any_ground(seed: int, most: float, falls: float, goal: str) -> None:
    """What is counted is there, never more; to within a millimetre of level, or a notice says what is not counted."""
    ground = random_yard(seed, 30)

    def there(at: Placement) -> float:
        return max(most - falls * (at.finish - 99.0) + 0.02 * np.sin(at.east + at.north), 0.0)

    result = find_placement(ground, PAD, Limits(), GOALS[goal], KEEP, reserve=there)
    actual = there(result.best.placement)
    assert result.reserve <= actual + 1e-6
    said = any("are counted: with more, another spot is best" in notice for notice in result.notices)
    assert said != (actual - result.reserve <= 1e-3 * PAD.area + 1e-9)
    best = result.best
    assert KEEP * (best.cut + result.reserve) + best.short == pytest.approx(best.fill + KEEP * best.over, abs=1e-9)


@pytest.mark.parametrize("there", [lambda at: 0.3 - 0.1 * (at.finish - 100.0)], ids=["falling"])
def test_proof_is_for_the_soil_that_is_counted(there: Callable[[Placement], float]) -> None:
    """Placements worked out another way with that soil never lie below the bound."""
    ground = random_yard(6, 30)
    result = find_placement(ground, PAD, Limits(), GOALS["digging"], KEEP, reserve=there, effort=ProofEffort())
    assert result.proof is not None
    check = check_proof(ground, PAD, Limits(), GOALS["digging"], KEEP, result, samples=60)
    assert check.holds
    assert check.allowed >= 10
