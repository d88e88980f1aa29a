"""The equations of a net of places: its unknowns, how observed differs from computed, and how that changes."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from spadework.adjust.least_squares import MOST_DENSE
from spadework.positions.observations import PlaceObservations
from spadework.positions.places import name_key
from spadework.readings import FloatArray, IntArray

__all__ = ["NetShape", "design_of", "first_zeros", "in_radians", "misfit_of", "net_shape"]

NEAREST = 1e-6
"""Two points nearer than this have no direction between them. [m]"""


@dataclass(frozen=True)
class NetShape:
    """The net as numbers: which column of the design each point and each circle has."""

    names: tuple[str, ...]
    column: IntArray
    circles: tuple[str, ...]
    start: IntArray
    end: IntArray
    circle: IntArray
    angular: FloatArray
    place: FloatArray


def net_shape(
    observations: PlaceObservations,
    known: Mapping[str, tuple[float, float]],
    near: Mapping[str, tuple[float, float]],
) -> NetShape:
    """Return a net as numbers, its new points at the places in ``near``."""
    names: dict[str, str] = {}
    for one, other in zip(observations.start, observations.end, strict=True):
        names.setdefault(name_key(one), one.strip())
        names.setdefault(name_key(other), other.strip())
    number = {key: row for row, key in enumerate(names)}
    free = [key not in known for key in names]
    column = np.where(free, np.cumsum(free) - 1, -1).astype(np.int64)
    circles = dict.fromkeys(
        name_key(name) for name, kind in zip(observations.set_up, observations.kind, strict=True) if kind == "direction"
    )
    place = {key: row for row, key in enumerate(circles)}
    return NetShape(
        tuple(names.values()),
        column,
        tuple(circles),
        np.array([number[name_key(name)] for name in observations.start], dtype=np.int64),
        np.array([number[name_key(name)] for name in observations.end], dtype=np.int64),
        np.array(
            [
                place[name_key(name)] if kind == "direction" else -1
                for name, kind in zip(observations.set_up, observations.kind, strict=True)
            ],
            dtype=np.int64,
        ),
        np.array([kind != "distance" for kind in observations.kind], dtype=np.float64),
        np.array([known.get(key) or near[key] for key in names], dtype=np.float64).reshape(-1, 2),
    )


def _turned(angle: FloatArray) -> FloatArray:
    """Return angles as the same turns between minus and plus half a circle. [rad]"""
    turned: FloatArray = (angle + math.pi) % (2.0 * math.pi) - math.pi
    return turned


def first_zeros(shape: NetShape, value: FloatArray) -> FloatArray:
    """Return the zero of each circle as the mean of what its sights say. [rad]"""
    away = shape.place[shape.end] - shape.place[shape.start]
    says = np.arctan2(away[:, 0], away[:, 1]) - value
    zero = np.zeros(len(shape.circles))
    for circle in range(len(shape.circles)):
        mine = says[shape.circle == circle]
        zero[circle] = math.atan2(float(np.sin(mine).sum()), float(np.cos(mine).sum()))
    return zero


def misfit_of(shape: NetShape, place: FloatArray, zero: FloatArray, value: FloatArray) -> FloatArray:
    """Return observed less computed. [m] and [rad]"""
    away = place[shape.end] - place[shape.start]
    if not len(zero):
        zero = np.zeros(1)
    turned = np.arctan2(away[:, 0], away[:, 1]) - np.where(shape.circle >= 0, zero[shape.circle], 0.0)
    misfit: FloatArray = np.where(shape.angular > 0, _turned(value - turned), value - np.hypot(away[:, 0], away[:, 1]))
    return misfit


def design_of(shape: NetShape, place: FloatArray) -> Any:
    """Return the change of each observation with east and north of each new point, and with the zero of each circle.

    ``d distance = u . (d end - d start)`` with u the unit vector from start to end; ``d bearing = (cos b dE - sin b dN)
    / distance``; a direction turns back as its circle turns on.
    """
    away = place[shape.end] - place[shape.start]
    length = np.maximum(np.hypot(away[:, 0], away[:, 1]), NEAREST)
    unit = away / length[:, None]
    across = np.column_stack([unit[:, 1], -unit[:, 0]]) / length[:, None]
    slope = np.where(shape.angular[:, None] > 0, across, unit)
    points = int(np.count_nonzero(shape.column >= 0))
    turns = np.flatnonzero(shape.circle >= 0)
    values, rows, columns = [-np.ones(len(turns))], [turns], [2 * points + shape.circle[turns]]
    for node, sign in ((shape.end, 1.0), (shape.start, -1.0)):
        moves = np.flatnonzero(shape.column[node] >= 0)
        for axis in (0, 1):
            values.append(sign * slope[moves, axis])
            rows.append(moves)
            columns.append(2 * shape.column[node[moves]] + axis)
    whole = (len(shape.start), 2 * points + len(shape.circles))
    value, row, column = np.concatenate(values), np.concatenate(rows), np.concatenate(columns)
    if whole[0] * whole[1] > MOST_DENSE:
        from scipy.sparse import coo_array  # noqa: PLC0415 - keeps the start of every command short

        return coo_array((value, (row, column)), shape=whole).tocsr()
    design = np.zeros(whole)
    np.add.at(design, (row, column), value)
    return design


def in_radians(observations: PlaceObservations, shape: NetShape) -> tuple[FloatArray, FloatArray]:
    """Return values and standard deviations in metres and radians."""
    angular = shape.angular > 0
    value: FloatArray = np.where(angular, np.deg2rad(observations.value), observations.value)
    sd: FloatArray = np.where(angular, np.deg2rad(observations.sd), observations.sd)
    return value, sd
