"""``spadework peg`` as its user runs it."""

from __future__ import annotations

import json

import pytest

from command_line import run

MIDWAY_AND_CLOSE = ("peg", "5.32", "6.68", "4.95", "6.33", "--units", "ft", "--apart", "300 ft")


def test_pegs_are_judged_when_read_in_feet() -> None:
    """The example of the published test: 0.018 ft in 300 without the earth's part, 0.006 in 100, over the limit."""
    out = run(*MIDWAY_AND_CLOSE).out
    assert "Peg B lies 1.3600 ft below peg A." in out
    assert "rises 0.0060 ft in 100 ft" in out
    assert "OVER the limit of 0.0030 ft" in out
    assert "A shot 100 ft further than the backsight comes out 0.0060 ft low." in out


def test_pegs_are_praised_when_the_line_is_level() -> None:
    """The same difference from both set-ups, but for the earth: within, and no advice."""
    out = run("peg", "1.432", "1.218", "1.503", "1.289", "--apart", "60 m").out
    assert "within the limit of 0.0009 m" in out
    assert "Have it adjusted" not in out


def test_programs_get_metres_when_they_ask() -> None:
    """Everything in metres, whatever the unit of the call."""
    document = json.loads(run(*MIDWAY_AND_CLOSE, "--json").out)
    assert document["fall"] == pytest.approx(1.36 * 0.3048)
    assert document["within"] is False


def test_call_is_refused_when_readings_or_places_are_wrong() -> None:
    """All bad readings at once; a second set-up midway again; exit status 2."""
    result = run("peg", "1,2,3", "six", "1.0", "1.1", "--apart", "60 m")
    assert result.status == 2
    assert "A1" in result.err
    assert "B1" in result.err
    result = run("peg", "1.0", "1.1", "1.0", "1.1", "--apart", "60 m", "--near", "-30 m")
    assert result.status == 2
    assert "Stand closer to A" in result.err
