"""Setting out: the stakes of a pad, their ties, and what is doubtful about them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import combinations

import numpy as np

from spadework.errors import Fault, InputError, PlacementError
from spadework.ground import Ground
from spadework.pad import Pad, Placement
from spadework.readings import FloatArray
from spadework.stakeout.grid import depth_grid, grid_size, ground_levels, on_outline, round_spacing
from spadework.stakeout.objects import Span, Stake, StakeOut, Tie
from spadework.units import LengthUnit, format_length

__all__ = ["stake_out"]

TAPE_LENGTH = 30.0  # the long tape that most people own [m]; common practice, no source
FLATTEST_CROSSING = 30.0  # two arcs that cross at less than this smear the point along them [deg]; common practice
MOST_POINTS = 100_000  # a cut sheet beyond this is a slip of the unit


def stake_out(
    ground: Ground,
    pad: Pad,
    placement: Placement,
    references: Sequence[tuple[str, float, float]] = (),
    *,
    bench: tuple[str, float] | None = None,
    hi: float | None = None,
    grid: float | None = None,
    tape: float = TAPE_LENGTH,
    unit: LengthUnit = LengthUnit.METRE,
) -> StakeOut:
    """Return the stakes of a pad, how they are taped and what to do at each.

    Parameters
    ----------
    ground : Ground
        Surface that was measured.
    pad : Pad
        What is to be built.
    placement : Placement
        Where it is put.
    references : sequence of (str, float, float)
        Name, east and north of the fixed points that are taped from; two or more, or none. [m]
    bench : (str, float), optional
        Bench mark to set the instrument up from, and its level. [m]
    hi : float, optional
        Height of instrument that grade rods are worked out for. [m]
    grid : float, optional
        Distance between points of the depth grid; a round one for the size of the pad when not given. [m]
    tape : float
        Length of the tape; a longer tie is warned of. [m]
    unit : LengthUnit
        The user's unit: notices speak in it, and the depth grid is round in it.

    Returns
    -------
    StakeOut
        Stakes clockwise from A, sides, diagonals, depth grid and notices.

    Raises
    ------
    InputError
        When two references share a place, or a length is not above zero.
    PlacementError
        When a corner lies outside the measured ground.
    """
    spacing = round_spacing(pad, unit) if grid is None else grid
    _check(references, pad, spacing, tape)
    corners = placement.corners(pad)
    levels = ground_levels(ground, corners, corners.mean(axis=0))
    missing = [name for name, level in zip(pad.names, levels, strict=True) if math.isnan(level)]
    if missing:
        raise PlacementError(
            f"corner {', '.join(missing)} of the pad lies outside the measured ground, so it has no ground level. "
            "Measure further out, or move the pad."
        )
    formation = placement.formation(pad)
    marked = tuple(
        Stake(
            name=name,
            east=float(corner[0]),
            north=float(corner[1]),
            ground_level=float(level),
            strip=pad.strip,
            formation=formation,
            finish=placement.finish,
            ties=tuple(
                Tie(called, math.hypot(corner[0] - east, corner[1] - north)) for called, east, north in references
            ),
            side=_side(references, corner),
            crossing=_crossing(references, corner),
        )
        for name, corner, level in zip(pad.names, corners, levels, strict=True)
    )
    sides, diagonals = _spans(marked)
    return StakeOut(
        stakes=marked,
        sides=sides,
        diagonals=diagonals,
        grid=depth_grid(ground, pad, placement, spacing),
        references=tuple(references),
        bench=bench,
        hi=hi,
        notices=(*_tie_notices(marked, tape, unit), *_reference_notices(references, pad, placement)),
    )


def _check(references: Sequence[tuple[str, float, float]], pad: Pad, spacing: float, tape: float) -> None:
    """Raise one error for everything that is wrong with the call."""
    faults = [
        Fault(f"the {what} is {value:g} m", "it must be above zero", f"give a {what} such as {example}")
        for what, value, example in (("grid spacing", spacing, "1 m"), ("tape length", tape, "30 m"))
        if not (value > 0 and math.isfinite(value))
    ]
    if not faults and (points := grid_size(pad, spacing)) > MOST_POINTS:
        faults.append(
            Fault(
                f"a grid spacing of {spacing:g} m lays {points} points on the pad",
                f"a depth grid has no more than {MOST_POINTS}",
                "give a wider grid",
            )
        )
    if len(references) == 1:
        faults.append(
            Fault(
                f"there is one reference, {references[0][0]!r}",
                "a stake is found by tape from two fixed points",
                "name a second one in references, or leave them all out",
            )
        )
    names = [name.casefold() for name, _, _ in references]
    faults += [
        Fault(
            f"two references are called {name!r}",
            "each reference has a name of its own",
            "name two different points",
        )
        for name in sorted({name for name in names if names.count(name) > 1})
    ]
    faults += [
        Fault(
            f"references {one[0]!r} and {other[0]!r} stand at the same place",
            "two tapes from one point do not fix a stake",
            "name two points that stand well apart",
        )
        for one, other in combinations(references, 2)
        if math.hypot(one[1] - other[1], one[2] - other[2]) < 1e-3
    ]
    if faults:
        raise InputError(faults)


def _spans(marked: Sequence[Stake]) -> tuple[tuple[Span, ...], tuple[Span, ...]]:
    """Return the sides and the diagonals of the pad."""
    count = len(marked)
    sides, diagonals = [], []
    for i, j in combinations(range(count), 2):
        one, other = marked[i], marked[j]
        length = math.hypot(one.east - other.east, one.north - other.north)
        if j - i == 1:
            sides.append((i, Span(one.name, other.name, length)))
        elif j - i == count - 1:
            sides.append((j, Span(other.name, one.name, length)))
        else:
            diagonals.append(Span(one.name, other.name, length))
    return tuple(span for _, span in sorted(sides, key=lambda side: side[0])), tuple(diagonals)


def _side(references: Sequence[tuple[str, float, float]], corner: FloatArray) -> str:
    """Return on which side of the line from the first reference to the second the corner lies."""
    if len(references) < 2:
        return ""
    (_, e1, n1), (_, e2, n2) = references[:2]
    length = math.hypot(e2 - e1, n2 - n1)
    left = ((e2 - e1) * (corner[1] - n1) - (n2 - n1) * (corner[0] - e1)) / length
    if abs(left) < 1e-3:
        return "on"
    return "left" if left > 0 else "right"


def _crossing(references: Sequence[tuple[str, float, float]], corner: FloatArray) -> float:
    """Return the angle between the two ties that cross most squarely at the corner. [deg]"""
    best = math.nan
    for one, other in combinations(references, 2):
        a = (one[1] - corner[0], one[2] - corner[1])
        b = (other[1] - corner[0], other[2] - corner[1])
        if math.hypot(*a) < 1e-6 or math.hypot(*b) < 1e-6:
            continue
        angle = math.degrees(math.atan2(abs(a[0] * b[1] - a[1] * b[0]), a[0] * b[0] + a[1] * b[1]))
        if math.isnan(best) or abs(angle - 90) < abs(best - 90):
            best = angle
    return best


def _tie_notices(marked: Sequence[Stake], tape: float, unit: LengthUnit) -> list[str]:
    """Return a sentence for each stake that two tapes find badly."""
    found = [
        f"The ties of stake {stake.name} cross at {stake.crossing:.0f}°, and a small slip of the tape moves it "
        "a long way: check it by the sides and diagonals, or choose references that see it from two directions."
        for stake in marked
        if stake.crossing < FLATTEST_CROSSING or stake.crossing > 180 - FLATTEST_CROSSING
    ]
    for row, reference in enumerate(tie.reference for tie in marked[0].ties):
        far = [(stake.name, stake.ties[row].distance) for stake in marked if stake.ties[row].distance > tape]
        if far:
            ties = ", ".join(f"{name} {format_length(distance, unit)}" for name, distance in far)
            found.append(
                f"From {reference} the tape of {format_length(tape, unit)} does not reach (to {ties}): choose a nearer "
                "reference, or tape each in two lengths along one line."
            )
    return found


def _reference_notices(references: Sequence[tuple[str, float, float]], pad: Pad, placement: Placement) -> list[str]:
    """Return a sentence for each reference that stands where the digging is."""
    if not references:
        return []
    places = placement.to_pad(np.array([[east, north] for _, east, north in references]))
    return [
        f"Reference {name} stands on the pad itself and will be lost when digging starts: set out offset marks first."
        for (name, _, _), inside in zip(references, on_outline(pad.outline, places), strict=True)
        if inside
    ]
