"""Limits and goals that cannot be meant are refused, all of them at once."""

from __future__ import annotations

import math

import numpy as np
import pytest

from spadework.errors import InputError, Source
from spadework.pad import Pad, Placement
from spadework.placement import GOALS, FinishLimit, Goal, KeepOut, Limits, PositionLimit, goal_named
from spadework.placement.limits import first_crossing

SQUARE = np.array([[0.0, 0.0], [10.0, 0.0], [10.0, 10.0], [0.0, 10.0]])
BOW = SQUARE[[0, 2, 1, 3]]


@pytest.mark.parametrize(
    ("limits", "words"),
    [
        pytest.param({"boundary": (SQUARE[:2],)}, "the boundary has 2 corners", id="two corners"),
        pytest.param(
            {"boundary": (BOW,)}, "the boundary crosses itself: side 1 (from corner 1) meets side 3", id="bow"
        ),
        pytest.param({"boundary": (SQUARE, BOW)}, "ring 2 of the boundary crosses itself", id="hole"),
        pytest.param({"boundary": (SQUARE * [1, 0],)}, "the boundary", id="on one line"),
        pytest.param({"boundary": (SQUARE * math.nan,)}, "is not a finite number", id="not a number"),
        pytest.param({"setback": -1.0}, "setback is -1 m", id="negative setback"),
        pytest.param({"exposed_edge": -0.1}, "exposed-edge is -0.1 m", id="negative exposed edge"),
        pytest.param({"bought": -2.0}, "bought is -2 m³", id="negative volume"),
        pytest.param({"finish": FinishLimit("fixed")}, "the finish is fixed but has no level", id="no level"),
        pytest.param({"position": PositionLimit(math.inf, 0)}, "the position is not a finite", id="position"),
        pytest.param({"keep_outs": (KeepOut.circle("oak", (1, 2), -3),)}, "clearance of keep-out 'oak'", id="radius"),
        pytest.param({"keep_outs": (KeepOut.polygon("pond", BOW),)}, "keep-out 'pond' crosses itself", id="pond"),
    ],
)
def test_limits_when_they_cannot_be_meant(limits: dict[str, object], words: str) -> None:
    """Each is refused with what is wrong and the value."""
    with pytest.raises(InputError) as caught:
        Limits(**limits)  # type: ignore[arg-type]
    assert words in str(caught.value)


def test_limits_when_several_are_wrong() -> None:
    """All faults come at once, each with its place."""
    with pytest.raises(InputError) as caught:
        Limits(boundary=(BOW,), setback=-1.0, keep_outs=(KeepOut.circle("oak", (0, 0), -1, Source("site.toml", 9)),))
    assert len(caught.value.faults) == 3
    assert "site.toml line 9" in str(caught.value)


@pytest.mark.parametrize(
    ("ring", "expected"),
    [
        pytest.param(SQUARE, None, id="square"),
        pytest.param(BOW, (0, 2), id="bow"),
        pytest.param(np.array([[0, 0], [4, 0], [4, 4], [2, 0], [0, 4]], dtype=float), (0, 2), id="corner on a side"),
        pytest.param(np.array([[0, 0], [4, 0], [1, 0], [0, 4]], dtype=float), (0, 1), id="folds back"),
        pytest.param(np.array([[0, 0], [4, 0], [4, 0], [0, 4]], dtype=float), (0, 1), id="corner twice"),
        pytest.param(np.array([[0, 0], [2, 0], [4, 0], [4, 4]], dtype=float), None, id="corner in a straight side"),
    ],
)
def test_first_crossing_when_rings_are_drawn_by_hand(ring: np.ndarray, expected: tuple[int, int] | None) -> None:
    """Crossings, touches and folds are found, and straight corners are not."""
    assert first_crossing(ring) == expected


def test_position_when_a_corner_is_named() -> None:
    """The pad's centre is where its corner comes to stand on the point."""
    pad = Pad.rectangle(4.0, 3.0)
    centres = PositionLimit(7.0, 8.0, corner="C").centres(pad, np.array([0.0, 30.0, 217.0]))
    for centre, bearing in zip(centres, (0.0, 30.0, 217.0), strict=True):
        assert Placement(*centre, bearing, 0.0).corners(pad)[2] == pytest.approx([7.0, 8.0])


def test_position_when_the_pad_has_no_such_corner() -> None:
    """A corner that is not there is named, with those that are."""
    with pytest.raises(InputError, match=r"no corner 'E'.*A, B, C, D"):
        PositionLimit(7.0, 8.0, corner="E").centres(Pad.rectangle(4.0, 3.0), np.zeros(1))


def test_goal_when_named() -> None:
    """The presets are found whatever the case."""
    assert goal_named(" Digging ") is GOALS["digging"]


def test_goal_when_misspelt() -> None:
    """A misspelt goal gets the nearest spelling and the list."""
    with pytest.raises(InputError, match=r"no goal 'diging'.*Did you mean 'digging'"):
        goal_named("diging")


@pytest.mark.parametrize(
    "weights",
    [
        pytest.param({"cut": -1.0, "fill": 1.0}, id="negative"),
        pytest.param({"cut": 1.0}, id="filling costs nothing"),
        pytest.param({"fill": 1.0}, id="digging costs nothing"),
    ],
)
def test_goal_when_its_weights_have_no_least(weights: dict[str, float]) -> None:
    """Weights that let the level run away are refused."""
    with pytest.raises(InputError):
        Goal("own", **weights)  # type: ignore[arg-type]


def test_over_and_short_when_soil_shrinks() -> None:
    """10 m³ in the bank make 9 compacted: 6 wanted leave 3, or 3 1/3 in the bank; 12 wanted lack 3."""
    over, short = GOALS["balance"].over_and_short(np.array([10.0, 10.0]), np.array([6.0, 12.0]), 0.9)
    assert over == pytest.approx([10.0 / 3.0, 0.0])
    assert short == pytest.approx([0.0, 3.0])
