"""A net of places: points joined by distances, directions and bearings, adjusted together by least squares."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any, NamedTuple

import numpy as np

from spadework.adjust.least_squares import LeastSquares, UndeterminedError, solve_least_squares
from spadework.errors import Fault, InputError
from spadework.positions.net_design import NetShape, design_of, first_zeros, in_radians, misfit_of, net_shape
from spadework.positions.observations import PlaceObservations
from spadework.positions.places import name_key
from spadework.readings import FloatArray

__all__ = ["Ellipse", "PlaceNet", "SettledPlaces", "adjust_place_net", "prediction_sd", "settle_places"]

MOST_STEPS = 60
STILL = 1e-9
"""A place that moves by less than this stands still. [m]"""


class Ellipse(NamedTuple):
    """Standard error ellipse of a place: where the place lies, 39 times in 100.

    Parameters
    ----------
    major, minor : float
        Half axes. [m]
    bearing : float
        Direction of the longer one, clockwise from site north, from 0 up to 180. [deg]
    """

    major: float
    minor: float
    bearing: float


@dataclass(frozen=True)
class PlaceNet:
    """An adjusted net of p new points and m observations.

    Parameters
    ----------
    point : tuple of str, length p
        Names of the points that were placed, in the order in which the observations name them.
    east, north : array, shape (p,)
        Adjusted places. [m]
    covariance : array, shape (p, 2, 2)
        Of east and north, if the standard deviations of the observations are true. [m²]
    known : mapping of str to (float, float)
        Places that were held, by `name_key`. [m]
    zero : mapping of str to float
        Bearing of the zero of the circle of each set-up. [deg]
    observations : PlaceObservations
        What was adjusted.
    solution : LeastSquares
        Residuals (adjusted less observed; metres and radians), redundancies and chi-square of the m observations.
    """

    point: tuple[str, ...]
    east: FloatArray
    north: FloatArray
    covariance: FloatArray
    known: Mapping[str, tuple[float, float]]
    zero: Mapping[str, float]
    observations: PlaceObservations
    solution: LeastSquares

    @cached_property
    def _row(self) -> dict[str, int]:
        return {name_key(name): row for row, name in enumerate(self.point)}

    def at(self, name: str) -> tuple[float, float]:
        """Return the place of a point, adjusted or held. [m]"""
        key = name_key(name)
        if key in self._row:
            row = self._row[key]
            return float(self.east[row]), float(self.north[row])
        return self.known[key]

    @property
    def widened(self) -> FloatArray:
        """The covariances as the observations themselves bear them out: widened where they agree worse than promised.

        See `LeastSquares.widening`. [m²]
        """
        wide: FloatArray = self.covariance * self.solution.widening**2
        return wide

    @property
    def position_sd(self) -> FloatArray:
        """Standard deviation of each coordinate, root mean square of the two, widened, shape (p,). [m]"""
        sd: FloatArray = np.sqrt(np.trace(self.widened, axis1=1, axis2=2) / 2.0)
        return sd

    def ellipse(self, row: int) -> Ellipse:
        """Return the standard error ellipse of point ``row``, widened."""
        values, vectors = np.linalg.eigh(self.widened[row])
        along = vectors[:, 1]
        bearing = math.degrees(math.atan2(float(along[0]), float(along[1]))) % 180.0
        minor, major = (math.sqrt(max(float(value), 0.0)) for value in values)
        return Ellipse(major, minor, bearing)

    @cached_property
    def residual(self) -> FloatArray:
        """Adjusted less observed, shape (m,), in metres and degrees."""
        angular = np.array([kind != "distance" for kind in self.observations.kind])
        residual: FloatArray = np.where(angular, np.rad2deg(self.solution.residual), self.solution.residual)
        return residual


def _step(design: Any, misfit: FloatArray, sd: FloatArray) -> FloatArray:
    """Return the next step; what is only on the way there is solved without its errors where that is quicker."""
    if isinstance(design, np.ndarray):
        step = np.linalg.lstsq(design / sd[:, None], misfit / sd, rcond=None)[0]
        return np.asarray(step, dtype=np.float64)
    return solve_least_squares(design, misfit, sd).estimate


def _blocks(solution: LeastSquares, points: int) -> FloatArray:
    """Return the covariance of east and north of each point, shape (points, 2, 2). [m²]"""
    blocks = np.empty((points, 2, 2))
    if solution.covariance is not None:
        for k in range(points):
            blocks[k] = solution.covariance[2 * k : 2 * k + 2, 2 * k : 2 * k + 2]
    elif solution.near_covariance is not None:
        # East and north of one point stand in its observations together, so their covariance is among those at hand.
        east = 2 * np.arange(points)
        blocks[:, 0, 0], blocks[:, 1, 1] = solution.cofactor[east], solution.cofactor[east + 1]
        blocks[:, 0, 1] = blocks[:, 1, 0] = np.asarray(solution.near_covariance[east, east + 1]).ravel()
    return blocks


@dataclass(frozen=True)
class SettledPlaces:
    """Places at which a net has come to stand still, without their errors.

    Parameters
    ----------
    row : mapping of str to int
        Row of each point, by `name_key`.
    place : array, shape (k, 2)
        East and north of all points, the known ones as well. [m]
    zero : mapping of str to float
        Bearing of the zero of the circle of each set-up. [deg]
    chi_square : float
        Sum of the squares of the misfits, each over its standard deviation.
    others : mapping of str to (float, float)
        Places of points that no observation names. [m]
    """

    row: Mapping[str, int]
    place: FloatArray
    zero: Mapping[str, float]
    chi_square: float
    others: Mapping[str, tuple[float, float]] = field(default_factory=dict)

    def at(self, name: str) -> tuple[float, float]:
        """Return the place of a point. [m]"""
        key = name_key(name)
        if key not in self.row:
            return self.others[key]
        east, north = self.place[self.row[key]]
        return float(east), float(north)


def settle_places(
    observations: PlaceObservations,
    known: Mapping[str, tuple[float, float]],
    near: Mapping[str, tuple[float, float]],
    *,
    most_steps: int = MOST_STEPS,
) -> SettledPlaces:
    """Return the places of least squares by the method of Gauss and Newton, as `adjust_place_net` begins.

    A step that makes the sum of squares larger is halved until it does not.
    """
    shape = net_shape(observations, known, near)
    value, sd = in_radians(observations, shape)
    place, zero = shape.place, first_zeros(shape, value)
    free = shape.column >= 0
    points = int(np.count_nonzero(free))
    misfit = misfit_of(shape, place, zero, value)
    for _ in range(most_steps if points + len(zero) else 0):
        change = _step(design_of(shape, place), misfit, sd)
        step, turn = change[: 2 * points].reshape(-1, 2), change[2 * points :]
        before, share = float(np.sum(np.square(misfit / sd))), 1.0
        while True:
            moved = place.copy()
            moved[free] += share * step[shape.column[free]]
            tried = misfit_of(shape, moved, zero + share * turn, value)
            if float(np.sum(np.square(tried / sd))) <= before + 1e-9 or share < 1e-4:
                break
            share *= 0.5
        place, zero, misfit = moved, zero + share * turn, tried
        if float(np.abs(share * step).max(initial=0.0)) < STILL:
            break
    return SettledPlaces(
        {name_key(name): row for row, name in enumerate(shape.names)},
        place,
        {name: math.degrees(float(angle)) % 360.0 for name, angle in zip(shape.circles, zero, strict=True)},
        float(np.sum(np.square(misfit / sd))),
        {**near, **known},
    )


def prediction_sd(
    observations: PlaceObservations, known: Mapping[str, tuple[float, float]], settled: SettledPlaces, row: int
) -> float:
    """Return how sure the other observations are of one, at some places: ``sqrt(a N^-1 a')``, in metres or degrees.

    Infinite where they do not hold it at all.
    """
    near = {name_key(name): settled.at(name) for name in (*observations.start, *observations.end)}
    shape = net_shape(observations, known, near)
    _, sd = in_radians(observations, shape)
    design = design_of(shape, shape.place)
    design = design if isinstance(design, np.ndarray) else design.toarray()
    others = np.delete(design / sd[:, None], row, axis=0)
    normal, along = others.T @ others, design[row]
    if not np.any(along):
        return 0.0
    share = np.linalg.lstsq(normal, along, rcond=None)[0]
    if float(np.abs(normal @ share - along).max()) > 1e-6 * float(np.abs(along).max()):
        return math.inf
    spread = math.sqrt(max(float(along @ share), 0.0))
    return math.degrees(spread) if shape.angular[row] else spread


def adjust_place_net(
    observations: PlaceObservations,
    known: Mapping[str, tuple[float, float]],
    near: Mapping[str, tuple[float, float]],
) -> PlaceNet:
    """Return the net adjusted by weighted least squares, known points held.

    Parameters
    ----------
    observations : PlaceObservations
        Between points that are known or have a place in ``near``.
    known : mapping of str to (float, float)
        East and north of the points that are held, by `name_key`. [m]
    near : mapping of str to (float, float)
        Places of the others to begin with. [m]

    Returns
    -------
    PlaceNet

    Raises
    ------
    InputError
        When the observations leave a point free to move.
    """
    shape = net_shape(observations, known, near)
    value, sd = in_radians(observations, shape)
    free = shape.column >= 0
    points = int(np.count_nonzero(free))
    try:
        if points:
            solve_least_squares(design_of(shape, shape.place), np.zeros(len(sd)), sd)
        settled = settle_places(observations, known, near)
        zero = np.array([math.radians(settled.zero[name]) for name in shape.circles])
        misfit = misfit_of(shape, settled.place, zero, value)
        if points + len(zero):
            solution = solve_least_squares(design_of(shape, settled.place), misfit, sd, keep_near=True)
        else:
            nothing = np.empty(0)
            solution = LeastSquares(nothing, -misfit, sd, nothing, np.ones(len(sd)))
    except UndeterminedError as error:
        raise _loose(observations, shape, error) from None
    rows = np.flatnonzero(free)
    return PlaceNet(
        point=tuple(shape.names[row] for row in rows.tolist()),
        east=settled.place[rows, 0],
        north=settled.place[rows, 1],
        covariance=_blocks(solution, points),
        known=dict(known),
        zero=settled.zero,
        observations=observations,
        solution=replace(solution, residual=-misfit),
    )


def _loose(observations: PlaceObservations, shape: NetShape, error: UndeterminedError) -> InputError:
    """Return the fault of points that nothing holds."""
    points = int(np.count_nonzero(shape.column >= 0))
    names = [name for name, column in zip(shape.names, shape.column.tolist(), strict=True) if column >= 0]
    loose = list(dict.fromkeys(names[column // 2] for column in error.columns if column < 2 * points))
    told = ", ".join(loose[:8]) or "the net"
    ends = zip(observations.start, observations.end, strict=True)
    row = next((row for row, pair in enumerate(ends) if loose and loose[0] in {name.strip() for name in pair}), 0)
    rule = "a place in plan needs two measurements that do not run alike: two distances, or a distance and a direction"
    return InputError(
        Fault(
            f"what was measured leaves {told} free to move",
            rule,
            "measure it from one more point, to the side of the others",
            observations.source(row),
        )
    )
