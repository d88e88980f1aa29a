"""Offset stakes where the land ends or is kept clear of."""

from __future__ import annotations

from functools import partial

import numpy as np
import pytest

from grounds import lattice
from spadework.pad import Pad, Placement
from spadework.pad_shapes import circle
from spadework.placement import KeepOut, Limits
from spadework.placement.land import what_forbids
from spadework.stakeout import StakeOut, stake_out

GROUND = lattice(lambda east, north: 100 + 0.05 * east + 0 * north, 12.0, 4.0)
AT = Placement(0.0, 0.0, 0.0, 100.0)
PAD = Pad.rectangle(4.0, 3.0)  # north to south 4 m, so A is at (-1.5, -2)


def set_out(limits: Limits, pad: Pad = PAD, offset: float = 1.0) -> StakeOut:
    """The stakes in a yard with limits."""
    references = [("H1", -9.0, -9.0), ("H2", 9.0, -9.0)]
    return stake_out(GROUND, pad, AT, references, offset=offset, forbids=partial(what_forbids, limits))


def box(west: float, south: float, east: float, north: float) -> np.ndarray:
    """A rectangle as a ring."""
    return np.array([[west, south], [east, south], [east, north], [west, north]])


def test_offset_stakes_stay_where_they_are_when_there_is_room() -> None:
    """All eight, a metre beyond their corners, and nothing is said."""
    found = set_out(Limits(boundary=(box(-9, -9, 9, 9),)))
    assert [stake.away for stake in found.offsets] == pytest.approx([1.0] * 8)
    assert not [notice for notice in found.notices if "Offset" in notice]


def test_offset_stakes_come_nearer_when_the_boundary_is_near() -> None:
    """600 mm west of the pad the land ends: the two stakes on the lines west stand at half their offset."""
    found = set_out(Limits(boundary=(box(-2.1, -9, 9, 9),)))
    moved = {stake.name: stake for stake in found.offsets if stake.away < 1.0}
    assert set(moved) == {"A/DA", "B/BC"}
    for name, north in (("A/DA", -2.0), ("B/BC", 2.0)):
        stake = moved[name]
        assert (stake.east, stake.north, stake.away) == pytest.approx((-2.0, north, 0.5))
    said = [notice for notice in found.notices if "Offset" in notice]
    words = "would stand beyond the boundary: it is set 0.500 m from its corner instead of 1.000 m."
    assert sorted(said) == [f"Offset stake A/DA {words}", f"Offset stake B/BC {words}"]


def test_offset_stakes_are_left_out_when_there_is_no_room() -> None:
    """A drain along the west side of the pad leaves them no place, and the other one of the corner is named."""
    drain = KeepOut.line("drain", np.array([[-1.6, -9.0], [-1.6, 9.0]]), 0.05)
    wide = KeepOut.polygon("shed", box(-9, -9, -1.6, 9))
    found = set_out(Limits(keep_outs=(drain, wide)))
    assert {stake.name for stake in found.offsets} == {"A/AB", "B/AB", "C/BC", "C/CD", "D/CD", "D/DA"}
    (said,) = [notice for notice in found.notices if notice.startswith("Offset stake A/DA")]
    assert "would stand where shed is kept clear of" in said
    assert "mind the other one of corner A" in said


def test_error_of_a_nearer_stake_is_smaller() -> None:
    """It leans less on the line that its two corners make."""
    far = {stake.name: stake.expected_error for stake in set_out(Limits()).offsets}
    near = {s.name: s.expected_error for s in set_out(Limits(boundary=(box(-2.1, -9, 9, 9),))).offsets}
    assert near["A/DA"] < far["A/DA"]
    assert near["C/CD"] == far["C/CD"]


def test_offset_stakes_of_a_round_pad_come_nearer_on_their_radius() -> None:
    """The stake beyond A, ahead, comes back along the line from the middle."""
    pad = Pad(circle(2.0), radius=2.0)
    found = set_out(Limits(keep_outs=(KeepOut.circle("tree", (0.0, 3.5), 0.9),)), pad)
    ahead = next(stake for stake in found.offsets if stake.of == "A")
    assert (ahead.east, ahead.north, ahead.away) == pytest.approx((0.0, 2.5, 0.5))


def test_what_forbids_a_place() -> None:
    """The boundary, a hole in it, a circle, an area and a line by their distances; the setback is the pad's alone."""
    limits = Limits(
        boundary=(box(0, 0, 10, 10), box(4, 4, 5, 5)),
        setback=3.0,
        keep_outs=(
            KeepOut.circle("tree", (8.0, 8.0), 1.0),
            KeepOut.polygon("shed", box(1, 1, 2, 2), 0.5),
            KeepOut.line("drain", np.array([[0.0, 9.0], [3.0, 9.0]]), 0.2),
        ),
    )
    places = {
        (0.1, 0.1): "",
        (11.0, 1.0): "beyond the boundary",
        (4.5, 4.5): "beyond the boundary",
        (8.5, 8.0): "where tree is kept clear of",
        (9.5, 9.0): "",
        (1.5, 1.5): "where shed is kept clear of",
        (2.4, 1.5): "where shed is kept clear of",
        (2.6, 1.5): "",
        (1.0, 9.1): "where drain is kept clear of",
        (1.0, 9.3): "",
    }
    assert what_forbids(limits, np.array(list(places))) == list(places.values())
