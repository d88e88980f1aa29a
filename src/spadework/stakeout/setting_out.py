"""Setting out: the stakes of a pad, their ties, and what is doubtful about them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np

from spadework.errors import Fault, InputError, PlacementError
from spadework.ground import Ground
from spadework.pad import Pad, Placement
from spadework.readings import FloatArray
from spadework.stakeout.grid import depth_grid, grid_size, ground_levels, on_outline, round_spacing
from spadework.stakeout.line_points import LinePoint, offset_points, round_side_spacing, side_points
from spadework.stakeout.objects import Stake, StakeOut, Tie
from spadework.stakeout.offset_room import Forbids, with_room
from spadework.stakeout.order import tape_corners
from spadework.stakeout.reach import crossing_notices, reach_notices, reference_suggestion
from spadework.stakeout.round_pad import arc_points, beyond_quarters, marked_points
from spadework.stakeout.spans import round_spans, spans
from spadework.stakeout.taping import TAPE_SD, KnownPoint, best_crossing
from spadework.units import LengthUnit

__all__ = ["stake_out"]

TAPE_LENGTH = 30.0  # the long tape that most people own [m]; common practice, no source
MOST_POINTS = 100_000  # a cut sheet beyond this is a slip of the unit
MOST_SIDE_POINTS = 400  # so many stakes on the sides are a slip of the unit too


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
    offset: float = 0.0,
    side_spacing: float | None = None,
    fixed_points: Sequence[tuple[str, float, float]] = (),
    tape_sd: float = TAPE_SD,
    forbids: Forbids | None = None,
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
    offset : float
        How far beyond each corner the offset stakes stand on the lines of its sides; zero for none. [m]
    side_spacing : float, optional
        Distance between points on the sides; a round one when not given. [m]
    fixed_points : sequence of (str, float, float)
        Name, east and north of further points that are known and can be found: for third ties, and to use instead of a
        reference that the tape does not reach from. [m]
    tape_sd : float
        Standard deviation of one taped distance. [m]
    forbids : callable, optional
        Says what forbids a stake to stand at a place, such as a boundary: see `spadework.stakeout.offset_room`. Offset
        stakes then stand nearer to their corner, or are left out.

    Returns
    -------
    StakeOut
        Stakes clockwise from A, offset stakes, points on the sides, sides, diagonals, depth grid and notices.

    Raises
    ------
    InputError
        When two references share a place, or a length is not above zero.
    PlacementError
        When a corner lies outside the measured ground.
    """
    spacing = round_spacing(pad, unit) if grid is None else grid
    between = round_side_spacing(pad, unit) if side_spacing is None else side_spacing
    _check(references, pad, {"grid spacing": spacing, "tape length": tape, "side spacing": between, "tape-sd": tape_sd})
    names, marks = marked_points(pad)
    corners = placement.to_site(marks)
    levels = ground_levels(ground, corners, np.array([placement.east, placement.north]))
    missing = [name for name, level in zip(names, levels, strict=True) if math.isnan(level)]
    if missing:
        raise PlacementError(
            f"corner {', '.join(missing)} of the pad lies outside the measured ground, so it has no ground level. "
            "Measure further out, or move the pad."
        )
    known = [KnownPoint(*reference) for reference in references]
    others = _others(fixed_points, references, pad, placement)
    taped = tape_corners(names, corners, known, others, tape=tape, sd=tape_sd)
    ways = {way.name: way for way in taped}
    make = _Maker(references, pad.strip, placement.formation(pad), placement.finish)
    marked = tuple(
        replace(
            make.stake(name, corner, level),
            crossing=ways[name].crossing,
            third=None if (third := ways[name].third) is None else Tie(*third),
            expected_error=ways[name].error if known else math.nan,
        )
        for name, corner, level in zip(names, corners, levels, strict=True)
    )
    covariance = {way.name: way.covariance for way in taped} if known else {}
    outer, inside = _offset_points(pad, offset)
    outer, moved = with_room(outer, placement, forbids, unit)
    offsets = make.line_stakes(ground, placement, outer, covariance, tape_sd, kind="offset")
    on_sides = side_points(pad, between) if pad.radius is None else arc_points(pad, between)
    between_corners = make.line_stakes(ground, placement, on_sides, covariance, tape_sd, kind="side")
    sides, diagonals = round_spans(marked) if pad.radius is not None else spans(marked)
    return StakeOut(
        stakes=marked,
        sides=sides,
        diagonals=diagonals,
        grid=depth_grid(ground, pad, placement, spacing),
        references=tuple(references),
        bench=bench,
        hi=hi,
        notices=(
            *crossing_notices(marked, unit),
            *reach_notices(marked, known, others, tape=tape, sd=tape_sd, unit=unit),
            *([] if references else reference_suggestion(marked, others, tape=tape, sd=tape_sd, unit=unit)),
            *_reference_notices(references, pad, placement),
            *_offset_notices(offsets, inside),
            *moved,
        ),
        offsets=offsets,
        side_points=between_corners,
        order=(
            *(way.name for way in taped),
            *(stake.name for stake in offsets),
            *(stake.name for stake in between_corners),
        ),
        tape_sd=tape_sd,
    )


@dataclass(frozen=True)
class _Maker:
    """Makes stakes of one pad."""

    references: Sequence[tuple[str, float, float]]
    strip: float
    formation: float
    finish: float

    def stake(self, name: str, place: FloatArray, level: float) -> Stake:
        """Return a stake at a place with its ties."""
        return Stake(
            name=name,
            east=float(place[0]),
            north=float(place[1]),
            ground_level=float(level),
            strip=self.strip,
            formation=self.formation,
            finish=self.finish,
            ties=tuple(
                Tie(called, math.hypot(place[0] - east, place[1] - north)) for called, east, north in self.references
            ),
            side=_side(self.references, place),
            crossing=best_crossing([KnownPoint(*reference) for reference in self.references], place),
        )

    def line_stakes(
        self,
        ground: Ground,
        placement: Placement,
        points: Sequence[LinePoint],
        covariance: dict[str, FloatArray],
        sd: float,
        *,
        kind: str,
    ) -> tuple[Stake, ...]:
        """Return the stakes of points on the lines of the sides."""
        if not points:
            return ()
        places = placement.to_site(np.array([point.place for point in points]))
        middle = np.array([placement.east, placement.north])
        levels = ground.level_at(places) if kind == "offset" else ground_levels(ground, places, middle)
        return tuple(
            replace(
                self.stake(point.name, place, level),
                strip=0.0 if kind == "offset" else self.strip,
                kind=kind,
                of=point.of,
                away=point.away,
                line=point.start + point.end,
                expected_error=point.error(covariance, sd),
            )
            for point, place, level in zip(points, places, levels, strict=True)
        )


def _others(
    fixed_points: Sequence[tuple[str, float, float]],
    references: Sequence[tuple[str, float, float]],
    pad: Pad,
    placement: Placement,
) -> list[KnownPoint]:
    """Return the further fixed points: those that are no reference and do not stand where the digging is."""
    taken = {name.casefold() for name, _, _ in references}
    found = [point for point in fixed_points if point[0].casefold() not in taken and math.isfinite(point[1] + point[2])]
    if not found:
        return []
    places = placement.to_pad(np.array([[east, north] for _, east, north in found]))
    dug = on_outline(pad.outline, places)
    return [KnownPoint(*point) for point, lost in zip(found, dug, strict=True) if not lost]


def _offset_points(pad: Pad, offset: float) -> tuple[list[LinePoint], list[str]]:
    """Return the offset stakes, and the names of those that could not be had."""
    if offset <= 0:
        return [], []
    return offset_points(pad, offset) if pad.radius is None else (beyond_quarters(pad, offset), [])


def _offset_notices(offsets: Sequence[Stake], inside: Sequence[str]) -> list[str]:
    """Return what is to be said of offset stakes that could not be had, or stand where nothing was measured."""
    found = []
    if inside:
        found.append(
            f"Offset stake {', '.join(inside)} would stand on the pad itself, at an inner corner, and is left out."
        )
    bare = [stake.name for stake in offsets if math.isnan(stake.ground_level)]
    if bare:
        found.append(
            f"Offset stake {', '.join(bare)} stands outside the measured ground: its mark is not worked out. Read the "
            "rod on the stake itself."
        )
    return found


def _check(references: Sequence[tuple[str, float, float]], pad: Pad, lengths: dict[str, float]) -> None:
    """Raise one error for everything that is wrong with the call."""
    examples = {"tape length": "30 m", "tape-sd": "5 mm"}
    faults = [
        Fault(
            f"the {what} is {value:g} m", "it must be above zero", f"give a {what} such as {examples.get(what, '1 m')}"
        )
        for what, value in lengths.items()
        if not (value > 0 and math.isfinite(value))
    ]
    if not faults and (points := grid_size(pad, lengths["grid spacing"])) > MOST_POINTS:
        faults.append(
            Fault(
                f"a grid spacing of {lengths['grid spacing']:g} m lays {points} points on the pad",
                f"a depth grid has no more than {MOST_POINTS}",
                "give a wider grid",
            )
        )
    if not faults and (points := int(pad.sides.sum() / lengths["side spacing"])) > MOST_SIDE_POINTS:
        faults.append(
            Fault(
                f"a side spacing of {lengths['side spacing']:g} m lays {points} stakes on the sides",
                f"there are no more than {MOST_SIDE_POINTS}",
                "give a wider side-spacing",
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
