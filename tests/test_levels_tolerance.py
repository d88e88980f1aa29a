"""Rules of misclosure, by name and in the user's words."""

from __future__ import annotations

import math

import pytest

from spadework.errors import InputError, Source
from spadework.levels import Tolerance, tolerance_names, tolerance_rule

FOOT = 0.3048
MILE = 5280 * FOOT


@pytest.mark.parametrize(
    ("text", "setups", "distance", "allowed"),
    [
        ("10 mm", 7, math.nan, 0.010),
        ("1.5 cm", 7, math.nan, 0.015),
        ("0,02 ft", 7, math.nan, 0.02 * FOOT),
        ("12 mm*sqrt(km)", 1, 4000.0, 0.024),
        ("12 mm x √km", 1, 250.0, 0.006),
        ("12mm sqrt(K)", 1, 1000.0, 0.012),
        ("0.02 ft*sqrt(n)", 4, math.nan, 0.04 * FOOT),
        ("5 mm × √set-ups", 9, math.nan, 0.015),
        ("0.05 ft*sqrt(miles)", 1, 4 * MILE, 0.10 * FOOT),
        ("1/4 in", 1, math.nan, None),
    ],
)
def test_words_of_the_user_when_parsed(text: str, setups: int, distance: float, allowed: float | None) -> None:
    """The amount, its unit, and the root of what the run is measured in."""
    if allowed is None:
        with pytest.raises(InputError):
            tolerance_rule(text)
        return
    assert tolerance_rule(text).allowed(setups, distance) == pytest.approx(allowed, rel=1e-12)


@pytest.mark.parametrize(
    ("name", "setups", "distance", "allowed"),
    [
        # US Army Engineer School, EN0593, p. 4-4: second-order line 8.4 mm sqrt(K).
        ("army-second-order", 1, 1000.0, 0.0084),
        # Australian Division of National Mapping, first order: 4 sqrt(K) mm.
        ("Australian first order", 1, 9000.0, 0.012),
        # USGS Techniques and Methods 3-A19 (Kenney 2010): 0.003 ft sqrt(n), at most 0.015 ft.
        ("usgs-gauging", 4, math.nan, 0.006 * FOOT),
        ("usgs-gaging", 100, math.nan, 0.015 * FOOT),
        # FGCC 1984 section 3.5, third order: 12 mm sqrt(km). From memory.
        ("third-order", 1, 4000.0, 0.024),
        # Older US third order: 0.05 ft sqrt(M). From memory.
        ("us-third-order", 1, 4 * MILE, 0.1 * FOOT),
        # Simple construction levelling: 0.02 ft sqrt(n). From memory.
        ("construction", 9, math.nan, 0.06 * FOOT),
    ],
)
def test_rules_by_name_when_asked_for(name: str, setups: int, distance: float, allowed: float) -> None:
    """Each rule gives what its source says."""
    assert tolerance_rule(name).allowed(setups, distance) == pytest.approx(allowed, rel=1e-9)


@pytest.mark.parametrize("name", tolerance_names())
def test_every_rule_of_the_table_when_used(name: str) -> None:
    """Every row of the table can be used, grows with the run until its ceiling, and names its source."""
    rule = tolerance_rule(name)
    one, four = rule.allowed(1, 1000.0), rule.allowed(4, 4000.0)
    assert 0 < one < 0.2
    assert four == pytest.approx(min(2 * one, rule.ceiling))
    assert rule.source


def test_metric_and_foot_rules_agree_when_compared() -> None:
    """8.4 mm per root km is 0.035 ft per root mile, and 12 mm 0.05 ft, to the last digit of the foot rule."""
    for metric, feet in (("8.4 mm*sqrt(km)", 0.035), ("12 mm*sqrt(km)", 0.05)):
        assert tolerance_rule(metric).allowed(1, MILE) / FOOT == pytest.approx(feet, abs=0.0005)


def test_unknown_rule_when_misspelt() -> None:
    """The nearest rule is asked about, and all are listed."""
    with pytest.raises(InputError) as caught:
        tolerance_rule("constuction", source=Source("site.toml", 7, "tolerance"))
    text = str(caught.value)
    assert "site.toml line 7" in text
    assert "Did you mean 'construction'?" in text
    assert "12 mm*sqrt(km)" in text


@pytest.mark.parametrize("text", ["", "mm", "12", "12 mm*sqrt(moons)", "-3 mm", "12 km*sqrt(mm)"])
def test_words_that_are_no_rule_when_parsed(text: str) -> None:
    """What is not understood is refused, not guessed."""
    with pytest.raises(InputError):
        tolerance_rule(text)


def test_allowed_is_unknown_when_the_distance_is() -> None:
    """Without a distance a rule by kilometres allows nothing that could be compared."""
    assert math.isnan(tolerance_rule("12 mm*sqrt(km)").allowed(3))
    assert tolerance_rule("12 mm*sqrt(km)").needs_distance
    assert not tolerance_rule("10 mm").needs_distance


def test_a_negative_tolerance_when_made() -> None:
    """Less than nothing cannot be allowed."""
    with pytest.raises(ValueError, match="zero or more"):
        Tolerance("x", -1.0, "fixed")


def test_rule_prints_its_formula_when_shown() -> None:
    """A sheet shows the name and the formula."""
    assert str(tolerance_rule("construction")) == "construction (0.02 ft × √n)"
    assert str(tolerance_rule("12 mm*sqrt(km)")) == "12 mm × √km"
