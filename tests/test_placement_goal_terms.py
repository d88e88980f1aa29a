"""Goals from words, mixes, prices and rates: their weights by hand, and every fault at once."""

from __future__ import annotations

import numpy as np
import pytest

from spadework.errors import InputError
from spadework.factors import factor_row, soil_factors
from spadework.placement import GOALS, GoalTerms, goal_from
from spadework.placement.goal_words import value_label, value_scale, value_words
from spadework.units import LengthUnit

LOAM = soil_factors("loam")
TERMS = GoalTerms(LOAM)
PRICES = {"dig": 30.0, "fill": 22.0, "cart-away": 45.0, "buy-soil": 38.0, "strip": 12.0, "wall": 150.0}


def test_word_is_its_preset() -> None:
    """A goal that needs nothing but the ground is the preset."""
    assert goal_from("wall", TERMS) is GOALS["wall"]


def test_cost_counts_soil_in_the_state_that_its_price_is_for() -> None:
    """Soil is carted and bought loose: a bank volume over is (1 + s) loose, a compacted one short (1 + s) / (1 - c)."""
    goal = goal_from("cost", GoalTerms(LOAM, stripped=True, prices=PRICES, currency="EUR"))
    assert (goal.cut, goal.fill, goal.strip, goal.wall, goal.unit) == (30.0, 22.0, 12.0, 150.0, "EUR")
    assert goal.over == pytest.approx(45.0 * (1 + LOAM.swell))
    assert goal.short == pytest.approx(38.0 * (1 + LOAM.swell) / (1 - LOAM.shrink))
    cut, fill = np.array([10.0]), np.array([4.0])
    keep = 1 - LOAM.shrink
    over = 10.0 - 4.0 / keep
    by_hand = 30 * 10 + 22 * 4 + 45 * (1 + LOAM.swell) * over + 150 * 0.4 + 12 * 2
    assert goal.values(cut, fill, keep, wall=0.4, strip=2.0)[0] == pytest.approx(by_hand)


def test_cost_without_prices_lists_what_is_missing() -> None:
    """One fault names every price that is needed, and none that is not."""
    with pytest.raises(InputError) as caught:
        goal_from("cost", GoalTerms(LOAM, prices={"dig": 30.0}))
    text = str(caught.value)
    assert "fill (making up" in text
    assert "cart-away" in text
    assert "buy-soil" in text
    assert "strip (taking" not in text
    assert "dig (digging" not in text


def test_wage_stands_in_for_prices_of_work() -> None:
    """Digging costs the wage times the hours to dig and barrow one cubic metre, by the table."""
    terms = GoalTerms(LOAM, prices={"cart-away": 45.0, "buy-soil": 38.0}, wage=20.0, haul=35.0)
    goal = goal_from("cost", terms)
    dig, barrow = factor_row("rates", "dig-loam").value, factor_row("rates", "barrow-40").value / 8
    assert goal.cut == pytest.approx(20.0 * (1 / dig + (1 + LOAM.swell) / barrow))
    assert goal.fill == pytest.approx(20.0 / factor_row("rates", "spread-tamp-grade").value)


def test_hours_are_those_of_the_table_and_of_its_ends() -> None:
    """Low rates give the most hours, high ones the fewest; one's own rate stands for all three."""
    goal = goal_from("hours", TERMS)
    quick, slow = goal.ends
    row = factor_row("rates", "spread-tamp-grade")
    assert (quick.fill, goal.fill, slow.fill) == pytest.approx((1 / row.high, 1 / row.value, 1 / row.low))
    own = goal_from("hours", GoalTerms(LOAM, rates={"spread-tamp-grade": 3.0}))
    assert (own.ends[0].fill, own.fill, own.ends[1].fill) == pytest.approx((1 / 3, 1 / 3, 1 / 3))


def test_mix_is_the_weighted_sum_of_its_parts() -> None:
    """For any volumes the value of a mix is the sum of the values of its parts, each times its weight."""
    goal = goal_from({"balance": 2.0, "wall": 0.5, "cut": 0.25}, TERMS)
    cut, fill = np.array([3.0, 1.0]), np.array([1.0, 2.5])
    by_parts = 2.0 * GOALS["balance"].values(cut, fill, 0.9) + 0.5 * 0.3 + 0.25 * cut
    assert goal.values(cut, fill, 0.9, wall=0.3) == pytest.approx(by_parts)
    assert goal.buys
    assert not goal_from({"digging": 1.0, "wall": 0.5}, TERMS).buys


@pytest.mark.parametrize(
    ("least", "words"),
    [
        ("diging", ["diging", "digging, balance, cost, hours, wall, moved"]),
        ("cut", ["cut"]),
        ({"digging": 1.0, "depth": 1.0, "hight": 2.0}, ["depth", "hight", "short"]),
        ({"cut": 1.0}, ["bounds the level"]),
        ({"wall": -1.0}, ["zero or more"]),
    ],
)
def test_what_is_no_goal_is_refused(least: object, words: list[str]) -> None:
    """Unknown words are all named; weights that bound no level are refused."""
    with pytest.raises(InputError) as caught:
        goal_from(least, TERMS)  # type: ignore[arg-type]
    assert all(word in str(caught.value) for word in words)


def test_values_are_said_in_the_unit_of_the_goal() -> None:
    """Volumes and heights change with the user's unit, hours and money do not; a bound is rounded down."""
    assert value_words(GOALS["digging"], 0.9144**3, LengthUnit.FOOT) == "1.000 yd³"
    assert value_words(GOALS["wall"], 0.30479, LengthUnit.METRE, "down") == "0.304 m"
    assert value_words(GOALS["wall"], 0.3048, LengthUnit.FOOT_INCH) == "1' 0\""
    assert value_scale(goal_from("hours", TERMS), LengthUnit.FOOT) == 1.0
    assert value_words(goal_from("hours", TERMS), 7.24, LengthUnit.FOOT, "up") == "7.3 h"
    assert value_label(GOALS["balance"], LengthUnit.FOOT) == "balance [yd³]"
