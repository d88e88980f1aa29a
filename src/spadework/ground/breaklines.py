"""Lines along which the ground bends: brought to corners and sides that a triangulation must keep, or explained.

Tolerances are those of places shot twice (`spadework.ground.checks`): common practice, without a published source.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np

from spadework.errors import GroundError, Source
from spadework.ground.checks import SAME_LEVEL, SAME_PLACE
from spadework.ground.index import TriangleArray
from spadework.readings import FloatArray
from spadework.shots import Shots
from spadework.units import LengthUnit, format_fine, format_length

__all__ = ["Breakline", "Net", "named_breakline", "net_of", "vertex_shots"]

SAME_CROSSING = 1e-6
"""Crossings closer than this are one. [m]"""


@dataclass(frozen=True, eq=False)
class Breakline:
    """A line along which the ground bends: top or toe of a bank, edge of a drive.

    Parameters
    ----------
    name : str
        What it is called in the explanations.
    east, north : array, shape (n,)
        Its corners in order. [m]
    level : array, shape (n,)
        Level of each; NaN where it is that of the shot at the same place, or not known. [m]
    source : Source
        Where it was given.
    """

    name: str
    east: FloatArray
    north: FloatArray
    level: FloatArray
    source: Source = field(default_factory=Source)

    def __str__(self) -> str:
        """Return its name and where it was given."""
        where = str(self.source)
        return f"breakline {self.name} ({where})" if where else f"breakline {self.name}"

    @property
    def places(self) -> FloatArray:
        """East and north of the corners, shape (n, 2). [m]"""
        return np.column_stack([self.east, self.north])


@dataclass(frozen=True, eq=False)
class Net:
    """Corners, and the sides between them that a triangulation must keep.

    Parameters
    ----------
    east, north, level : array, shape (n,)
        The corners given, then those that the lines added. [m]
    sides : array of int32, shape (s, 2)
        Pairs of corners.
    notices : tuple of str
        What was filled in, as sentences for a person.
    """

    east: FloatArray
    north: FloatArray
    level: FloatArray
    sides: TriangleArray
    notices: tuple[str, ...] = ()


def named_breakline(shots: Shots, names: Sequence[str], *, name: str = "", source: Source | None = None) -> Breakline:
    """Return a breakline through shots, given by their names in order.

    Parameters
    ----------
    shots : Shots
        Among which they are.
    names : sequence of str
        Two or more.
    name : str
        What the line is called; its first and last shot where not given.
    source : Source, optional
        Where it was given.

    Raises
    ------
    GroundError
        Naming every shot that is not there, or has no position or level.
    """
    rows, faults = [], []
    for wanted in names:
        found = shots.rows(wanted)
        standing = [row for row in found if np.isfinite(shots.east[row] + shots.north[row] + shots.level[row])]
        if standing:
            rows.append(standing[0])
        else:
            faults.append(
                f"A breakline runs through {wanted!r}, "
                + ("which has no position or no level." if found else "and no shot is called that.")
            )
    if faults:
        raise GroundError("\n".join([*faults, "Name shots of the ground, as the readings name them."]))
    return Breakline(
        name or f"{names[0]} to {names[-1]}",
        shots.east[rows],
        shots.north[rows],
        shots.level[rows],
        source or shots.source(rows[0]),
    )


def vertex_shots(lines: Sequence[Breakline], shots: Shots) -> Shots | None:
    """Return the corners of lines that bring a level of their own, as shots; None where all stand at shots.

    Parameters
    ----------
    lines : sequence of Breakline
        The lines.
    shots : Shots
        What stands there already: a corner exactly at one of them, and at its level, adds nothing.
    """
    seen = set(zip(shots.east.tolist(), shots.north.tolist(), shots.level.tolist(), strict=True))
    found: list[tuple[str, float, float, float, Source]] = []
    for line in lines:
        for number, corner in enumerate(zip(line.east.tolist(), line.north.tolist(), line.level.tolist(), strict=True)):
            if np.isfinite(corner[2]) and corner not in seen:
                seen.add(corner)
                found.append((f"{line.name} {number + 1}", *corner, line.source))
    if not found:
        return None
    return Shots(
        point=tuple(name for name, *_ in found),
        east=np.array([east for _, east, *_ in found]),
        north=np.array([north for _, _, north, *_ in found]),
        level=np.array([level for *_, level, _ in found]),
        note=("",) * len(found),
        line=np.array([source.line or 0 for *_, source in found], dtype=np.int64),
        file=tuple(source.file for *_, source in found),
    )


def net_of(
    lines: Sequence[Breakline],
    east: FloatArray,
    north: FloatArray,
    level: FloatArray,
    *,
    unit: LengthUnit = LengthUnit.METRE,
) -> Net:
    """Return the corners and the sides that lines ask for.

    A corner of a line stands at the shot within 10 mm. One without a level and without a shot takes the level between
    its neighbours along the line; the ends must have one. A shot within 10 mm of a line is a corner of it. Two lines
    may cross where their levels agree to 10 mm: the crossing becomes a corner of both.

    Parameters
    ----------
    lines : sequence of Breakline
        In site axes.
    east, north, level : array, shape (n,)
        Corners in site axes: the shots, and the corners of lines that have levels. [m]
    unit : LengthUnit
        The user's unit, for messages.

    Returns
    -------
    Net

    Raises
    ------
    GroundError
        Naming every line that has no level, that crosses another at a different level, or that has no length.
    """
    builder = _Builder(east.tolist(), north.tolist(), level.tolist(), unit)
    for line in lines:
        builder.add(line)
    if not builder.faults:
        builder.join_close_corners()
        builder.cross()
    if builder.faults:
        raise GroundError("\n".join(dict.fromkeys(builder.faults)))
    pairs = {(min(pair), max(pair)) for pair, _ in builder.sides if pair[0] != pair[1]}
    return Net(
        np.array(builder.east),
        np.array(builder.north),
        np.array(builder.level),
        np.array(sorted(pairs), dtype=np.int32).reshape(-1, 2),
        tuple(dict.fromkeys(builder.notices)),
    )


class _Builder:
    """Corners and sides while they grow."""

    def __init__(self, east: list[float], north: list[float], level: list[float], unit: LengthUnit) -> None:
        from scipy.spatial import cKDTree  # noqa: PLC0415 -- 0.3 s of import that reading a level book does not need

        self.east, self.north, self.level, self.unit = east, north, level, unit
        self.sides: list[tuple[tuple[int, int], Breakline]] = []
        self.faults: list[str] = []
        self.notices: list[str] = []
        self._tree = cKDTree(np.column_stack([east, north]))

    def _corner(self, east: float, north: float, level: float) -> int:
        self.east.append(east)
        self.north.append(north)
        self.level.append(level)
        return len(self.east) - 1

    def _close(self, corner: int, east: float, north: float) -> bool:
        """Say whether a corner is that place: where three lines meet, each two of them cross there."""
        return math.hypot(self.east[corner] - east, self.north[corner] - north) < SAME_CROSSING

    def _place(self, east: float, north: float) -> str:
        return f"east {format_length(east, self.unit)}, north {format_length(north, self.unit)}"

    def add(self, line: Breakline) -> None:
        """Add a line's corners and the sides between them."""
        if len(line.east) < 2 or not np.isfinite(line.places).all():
            self.faults.append(f"The {line} needs two places or more, each with east and north.")
            return
        away, near = self._tree.query(line.places)
        corner = np.where(away <= 2 * SAME_PLACE, near, -1)
        along = np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(line.east), np.diff(line.north)))])
        if along[-1] < SAME_PLACE:
            self.faults.append(f"The {line} has no length: all its places are the same.")
            return
        without = np.flatnonzero(corner < 0)
        if len(without) and (corner[0] < 0 or corner[-1] < 0):
            ends = [number for number in (0, len(corner) - 1) if corner[number] < 0]
            said = " and ".join(self._place(line.east[i], line.north[i]) for i in ends)
            self.faults.append(
                f"The {line} has no level at its {'ends' if len(ends) == 2 else 'end'} {said}, and no shot stands "
                f"within {format_fine(SAME_PLACE, self.unit)} of it. A line bends the ground only where "
                "its level is known: give the level as third number, or take a shot there."
            )
            return
        if len(without):
            known = corner >= 0
            levels = np.interp(along[without], along[known], np.array(self.level)[corner[known]])
            for number, level in zip(without.tolist(), levels.tolist(), strict=True):
                corner[number] = self._corner(float(line.east[number]), float(line.north[number]), level)
            self.notices.append(
                f"{len(without)} place{'s' if len(without) > 1 else ''} of {line} without a level "
                f"{'take' if len(without) > 1 else 'takes'} the level between the places before and after."
            )
        self.sides += [((a, b), line) for a, b in pairwise(corner.tolist()) if a != b]

    def join_close_corners(self) -> None:
        """Let every side pass through the corners that stand within 10 mm of it."""
        from scipy.spatial import cKDTree  # noqa: PLC0415 -- the same

        places = np.column_stack([self.east, self.north])
        tree = cKDTree(places)
        split: list[tuple[tuple[int, int], Breakline]] = []
        for (start, end), line in self.sides:
            run = places[end] - places[start]
            length = float(np.hypot(*run))
            near = np.array(tree.query_ball_point((places[start] + places[end]) / 2, length / 2 + SAME_PLACE))
            from_start = places[near] - places[start]
            along = from_start @ run / length
            off = np.abs(from_start[:, 0] * run[1] - from_start[:, 1] * run[0]) / length
            inside = (off <= SAME_PLACE) & (along > SAME_PLACE) & (along < length - SAME_PLACE)
            inside &= (near != start) & (near != end)
            chain = [start, *near[inside][np.argsort(along[inside], kind="stable")].tolist(), end]
            split += [(pair, line) for pair in pairwise(chain)]
        self.sides = split

    def cross(self) -> None:
        """Make a corner where two sides cross at one level, and a fault where their levels differ."""
        import shapely  # noqa: PLC0415 -- 0.15 s of import that only breaklines need

        # Lines that run along one another share sides: each is crossed once.
        once: dict[tuple[int, int], tuple[tuple[int, int], Breakline]] = {}
        for pair, line in self.sides:
            once.setdefault((min(pair), max(pair)), (pair, line))
        self.sides = list(once.values())
        if len(self.sides) < 2:
            return
        places = np.column_stack([self.east, self.north])
        segments = shapely.linestrings([[places[a], places[b]] for (a, b), _ in self.sides])
        pairs = shapely.STRtree(segments).query(segments, predicate="crosses").T
        added: dict[int, list[tuple[float, int]]] = {}
        for one, other in sorted({(min(pair), max(pair)) for pair in pairs.tolist()}):
            (a, b), line = self.sides[one]
            (c, d), line2 = self.sides[other]
            if {a, b} & {c, d}:
                continue
            share, share2 = _meeting(places[a], places[b], places[c], places[d])
            level = self.level[a] + share * (self.level[b] - self.level[a])
            level2 = self.level[c] + share2 * (self.level[d] - self.level[c])
            east, north = places[a] + share * (places[b] - places[a])
            if abs(level - level2) > SAME_LEVEL:
                what = f"The {line} crosses itself" if line is line2 else f"The {line} crosses the {line2}"
                one_level, two_level, apart = (
                    format_length(value, self.unit) for value in (level, level2, abs(level - level2))
                )
                self.faults.append(
                    f"{what} at {self._place(east, north)}, one at level {one_level} and the other at {two_level}, "
                    f"{apart} apart. One place has one level: end one line at the other, or take a shot at the "
                    "crossing and name it in both."
                )
                continue
            known = [i for i in range(len(places), len(self.east)) if self._close(i, east, north)]
            corner = known[0] if known else self._corner(float(east), float(north), (level + level2) / 2)
            added.setdefault(one, []).append((share, corner))
            added.setdefault(other, []).append((share2, corner))
            self.notices.append(
                f"The {line} crosses the {line2} at {self._place(east, north)}: both have level "
                f"{format_length((level + level2) / 2, self.unit)} there."
            )
        whole = [side for number, side in enumerate(self.sides) if number not in added]
        for number, met in added.items():
            (start, end), line = self.sides[number]
            chain = [start, *dict.fromkeys(corner for _, corner in sorted(met)), end]
            whole += [(pair, line) for pair in pairwise(chain)]
        self.sides = whole


def _meeting(a: FloatArray, b: FloatArray, c: FloatArray, d: FloatArray) -> tuple[float, float]:
    """Return where two segments that cross meet, as shares of each."""
    one, other, between = b - a, d - c, c - a
    whole = one[0] * other[1] - one[1] * other[0]
    return (
        float((between[0] * other[1] - between[1] * other[0]) / whole),
        float((between[0] * one[1] - between[1] * one[0]) / whole),
    )
