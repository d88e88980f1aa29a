"""Levels taken on the work against what they should be: point by point, as a plane, as a surface and as volumes."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np

from spadework.errors import SurveyError
from spadework.fieldcheck.amounts import Amounts, amounts
from spadework.fieldcheck.flatness import StraightEdge, under_straight_edge
from spadework.fieldcheck.plane import BuiltPlane, built_plane
from spadework.fieldcheck.stages import Stage, default_tolerance
from spadework.fieldcheck.surface import merged, surface_of
from spadework.fieldcheck.wanted import Wanted
from spadework.fieldcheck.water import Hollow, hollows
from spadework.ground import Ground
from spadework.readings import FloatArray
from spadework.shots import Shots
from spadework.units import FOOT, LengthUnit

__all__ = ["CheckedPoint", "FieldCheck", "field_check", "usual_straight_edge"]

ROUNDING = 1e-6  # a deviation over the tolerance by no more than this is the tolerance [m]

NEAR_A_CORNER = 0.25  # share of a usual side within which a point stands for the corner

State = Literal["high", "low", "in tolerance"]


@dataclass(frozen=True, slots=True)
class CheckedPoint:
    """One measured point against what it should be.

    Parameters
    ----------
    name : str
        Of the stake or the shot.
    east, north : float
        Where it was measured. [m]
    level, wanted : float
        Measured, and as it should be. [m]
    state : str
        ``"high"``, ``"low"`` or ``"in tolerance"``.
    note : str
        Remark.
    """

    name: str
    east: float
    north: float
    level: float
    wanted: float
    state: State
    note: str = ""

    @property
    def deviation(self) -> float:
        """Measured less wanted: positive where it is high and has to be dug, negative where it is low. [m]"""
        return self.level - self.wanted


@dataclass(frozen=True)
class FieldCheck:
    """What a set of levels says of the work.

    Parameters
    ----------
    wanted : Wanted
        The plan.
    stage : Stage
        How far the work had come.
    date : str
        Day of the readings, empty where it is not said.
    file : str
        Where the readings come from.
    points : tuple of CheckedPoint
        On the pad, in the order of the readings.
    outside : tuple of str
        Names of the points that lie off the pad and were not compared.
    tolerance : float
        How far a level may be off. [m]
    straight_edge_length : float
        [m]
    plane : BuiltPlane, optional
        The plane through the points; None where fewer than three of them fix one. So are the next three.
    flatness : StraightEdge, optional
        Worst place under a straight-edge; None also where no two points in its reach have any between.
    amounts : Amounts, optional
        Still to dig and to bring.
    hollows : tuple of Hollow, optional
        Where water can stand.
    deviations : Ground, optional
        Surface of ``built - wanted``.
    unmeasured : tuple of str
        Corner stakes of the plan that no point lies near.
    """

    wanted: Wanted
    stage: Stage
    date: str
    file: str
    points: tuple[CheckedPoint, ...]
    outside: tuple[str, ...]
    tolerance: float
    straight_edge_length: float
    plane: BuiltPlane | None = None
    flatness: StraightEdge | None = None
    amounts: Amounts | None = None
    hollows: tuple[Hollow, ...] | None = None
    deviations: Ground | None = field(default=None, repr=False)
    unmeasured: tuple[str, ...] = ()

    @property
    def off(self) -> tuple[CheckedPoint, ...]:
        """Points out of tolerance, the worst first."""
        found = [point for point in self.points if point.state != "in tolerance"]
        return tuple(sorted(found, key=lambda point: -abs(point.deviation)))

    @property
    def within(self) -> bool:
        """Whether every point is in tolerance."""
        return not self.off

    @property
    def mean(self) -> float:
        """Mean deviation. [m]"""
        return float(np.mean([point.deviation for point in self.points]))

    @property
    def highest(self) -> CheckedPoint:
        """The point with the greatest deviation."""
        return max(self.points, key=lambda point: point.deviation)

    @property
    def lowest(self) -> CheckedPoint:
        """The point with the least deviation."""
        return min(self.points, key=lambda point: point.deviation)


def usual_straight_edge(unit: LengthUnit) -> float:
    """Return the length of the straight-edge that people have: 2 m or 8 ft. [m]"""
    return 2.0 if unit is LengthUnit.METRE else 8 * FOOT


def field_check(
    wanted: Wanted,
    shots: Shots,
    stage: Stage,
    *,
    tolerance: float | None = None,
    straight_edge: float | None = None,
    date: str = "",
    file: str = "",
) -> FieldCheck:
    """Compare levels taken on the work with the plan.

    Parameters
    ----------
    wanted : Wanted
        The plan.
    shots : Shots
        What was measured, each with a position and a level.
    stage : Stage
        How far the work has come.
    tolerance : float, optional
        How far a level may be off; that of the stage unless given. [m]
    straight_edge : float, optional
        Length of the straight-edge; 2 m or 8 ft unless given. [m]
    date, file : str
        Of the readings.

    Raises
    ------
    SurveyError
        If no point lies on the pad, or the strip is checked and the plan does not know the ground there.
    """
    allowed = default_tolerance(stage, wanted.units) if tolerance is None else tolerance
    edge = usual_straight_edge(wanted.units) if straight_edge is None else straight_edge
    place = np.column_stack([shots.east, shots.north])
    usable = np.isfinite(place).all(axis=1) & np.isfinite(shots.level)
    on = usable.copy()
    on[usable] = wanted.holds(place[usable])
    rows = np.flatnonzero(on)
    if not len(rows):
        raise SurveyError(_nothing_on_the_pad(wanted, shots, place[usable]))
    points, levels = place[rows], shots.level[rows]
    should = wanted.levels_at(stage, points)
    if np.isnan(should).any():
        lost = shots.point[int(rows[int(np.isnan(should).argmax())])]
        raise SurveyError(
            f"The plan does not know the ground that was at {lost}, so the strip cannot be checked there. Check at "
            "formation, or leave that point out."
        )
    checked = FieldCheck(
        wanted,
        stage,
        date,
        file,
        tuple(
            CheckedPoint(shots.point[row], float(e), float(n), float(level), float(aim), state, shots.note[row])
            for row, (e, n), level, aim, state in zip(
                rows.tolist(), points, levels, should, _states(levels - should, allowed), strict=True
            )
        ),
        tuple(shots.point[row] for row in np.flatnonzero(usable & ~on).tolist()),
        allowed,
        edge,
    )
    return _as_a_surface(checked, points, levels, should)


def _states(deviations: FloatArray, tolerance: float) -> list[State]:
    """Return what each deviation is."""
    return [
        "in tolerance" if abs(deviation) <= tolerance + ROUNDING else "high" if deviation > 0 else "low"
        for deviation in deviations.tolist()
    ]


def _as_a_surface(check: FieldCheck, points: FloatArray, levels: FloatArray, should: FloatArray) -> FieldCheck:
    """Return a check with what its points say together."""
    wanted = check.wanted
    names, places = wanted.pad.marked
    corners = wanted.placement.to_site(places)
    far = [float(np.hypot(*(points - corner).T).min()) for corner in corners]
    reach = NEAR_A_CORNER * float(np.median(np.hypot(*(np.roll(corners, -1, axis=0) - corners).T)))
    unmeasured = tuple(name for name, away in zip(names, far, strict=True) if away > reach)
    place, level, group = merged(points, levels)
    called = [check.points[int(np.flatnonzero(group == number)[0])].name for number in range(len(place))]
    deviation = np.bincount(group, weights=levels - should) / np.bincount(group)
    built, deviations = surface_of(place, level, called), surface_of(place, deviation, called)
    if built is None or deviations is None:
        return replace(check, unmeasured=unmeasured)
    return replace(
        check,
        plane=built_plane(place, level, wanted.pad, wanted.placement),
        flatness=under_straight_edge(built, check.straight_edge_length),
        amounts=amounts(deviations, wanted.pad, wanted.placement, check.stage),
        hollows=hollows(built),
        deviations=deviations,
        unmeasured=unmeasured,
    )


def _nothing_on_the_pad(wanted: Wanted, shots: Shots, place: FloatArray) -> str:
    """Return why there is nothing to compare."""
    at = wanted.placement
    where = f"the pad's middle is at east {at.east:.2f} m, north {at.north:.2f} m"
    if not len(place):
        return f"None of the {len(shots)} readings has both a position and a level on the pad; {where}."
    away = np.hypot(place[:, 0] - at.east, place[:, 1] - at.north)
    near = int(away.argmin())
    return (
        f"None of the {len(place)} points lies on the pad: {where}, and the nearest point is {away[near]:.2f} m from "
        f"it, at east {place[near, 0]:.2f} m, north {place[near, 1]:.2f} m. Are east and north swapped, or is this "
        "another plan?"
    )
