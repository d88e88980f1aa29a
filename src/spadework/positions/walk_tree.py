"""How the legs of a walk hang together: which set out from where, and where the walk comes to a known place."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from spadework.errors import Fault, InputError
from spadework.positions.places import KnownPlace, Places, name_key
from spadework.readings import FloatArray
from spadework.readings_positions import SlopeWalk

__all__ = ["Node", "WalkClosing", "expected_misclosure", "share_by_length", "walk_nodes"]


@dataclass(frozen=True)
class Node:
    """A point of a walk.

    Parameters
    ----------
    name : str
        As written.
    row : int
        Leg that leads to it, or from it where the walk starts there.
    parent : str
        Point before it, by `name_key`; empty where the walk starts.
    place : array, shape (3,)
        East, north and level before anything is shared out; level NaN where it is not known. [m]
    legs : int
        How many legs lead to it from a known point.
    known : bool
        Whether it was known before.
    """

    name: str
    row: int
    parent: str
    place: FloatArray
    legs: int
    known: bool


@dataclass(frozen=True)
class WalkClosing:
    """A leg that comes to a point which is placed already.

    Parameters
    ----------
    row : int
        The leg.
    start, end : str
        Point that it sets out from, and point that it comes to, by `name_key`.
    step : array, shape (3,)
        The leg from the one to the other. [m]
    """

    row: int
    start: str
    end: str
    step: FloatArray


def walk_nodes(walk: SlopeWalk, steps: FloatArray, places: Places) -> tuple[dict[str, Node], tuple[WalkClosing, ...]]:
    """Return the points of a walk by `name_key`, each from the one before it, and the legs that close.

    Parameters
    ----------
    walk : SlopeWalk
        Legs.
    steps : array, shape (n, 3)
        East, north and rise of each leg as it was walked. [m]
    places : mapping of str to KnownPlace
        Known points.

    Raises
    ------
    InputError
        When legs hang on nothing known: all of them at once.
    """
    nodes: dict[str, Node] = {}
    closings: list[WalkClosing] = []
    waiting = list(range(len(walk)))
    while waiting:
        left: list[int] = []
        for row in waiting:
            names = walk.start[row], walk.point[row]
            keys = name_key(names[0]), name_key(names[1])
            for name, key in zip(names, keys, strict=True):
                place = places.get(key, KnownPlace())
                if key not in nodes and place.placed:
                    nodes[key] = Node(name, row, "", np.array(place[:3]), 0, known=True)
            if keys[0] not in nodes and keys[1] not in nodes:
                left.append(row)
            elif keys[0] in nodes and keys[1] in nodes:
                closings.append(WalkClosing(row, keys[0], keys[1], steps[row]))
            else:
                here, there, sign = (0, 1, 1.0) if keys[0] in nodes else (1, 0, -1.0)
                before = nodes[keys[here]]
                place = before.place + sign * steps[row]
                nodes[keys[there]] = Node(names[there], row, keys[here], place, before.legs + 1, known=False)
        if len(left) == len(waiting):
            rule = "a walk starts from, or comes to, a point whose place is known"
            remedy = "give the place of its first point as origin, or list it in another file"
            raise InputError(
                Fault(
                    f"the leg from {walk.start[row]} to {walk.point[row]} hangs on no known point",
                    rule,
                    remedy,
                    walk.source(row),
                )
                for row in left[:20]
            )
        waiting = left
    return nodes, tuple(closings)


def _path(nodes: dict[str, Node], key: str) -> list[str]:
    """Return the points from a known one to a point of the walk, both included."""
    path = [key]
    while nodes[key].parent:
        key = nodes[key].parent
        path.append(key)
    return path[::-1]


def share_by_length(
    walk: SlopeWalk, nodes: dict[str, Node], closings: tuple[WalkClosing, ...]
) -> tuple[dict[str, FloatArray], list[tuple[WalkClosing, FloatArray, float]]]:
    """Return what the compass rule adds to each point, and each closing with its misclosure and its length.

    ``correction = -misclosure * length walked to the point / length of the run``, in east, north and level alike. A run
    reaches back from where it closes to the last point that is known, or that an earlier run has shared already.
    What branches off takes the correction of the point that it sets out from.

    Source: the compass rule of N. Bowditch, 1808, as in every textbook of traverses; from memory.
    """
    correction = {key: np.zeros(3) for key, node in nodes.items() if node.known}
    found: list[tuple[WalkClosing, FloatArray, float]] = []
    for closing in closings:
        path, to = _path(nodes, closing.start), _path(nodes, closing.end)
        shared = [key for key in path if key in correction]
        common = [key for key, other in zip(path, to, strict=False) if key == other]
        # The run sets out from the later of the two: what is settled, or where both ways part.
        begin = max([*shared, *common], key=path.index)
        run = path[path.index(begin) + 1 :]
        lengths = np.cumsum([float(walk.distance[nodes[key].row]) for key in run] + [float(walk.distance[closing.row])])
        begun = _nearest(nodes, correction, begin)
        wanted = nodes[closing.end].place + _nearest(nodes, correction, closing.end)
        misclosure = nodes[closing.start].place + closing.step + begun - wanted
        found.append((closing, misclosure, float(lengths[-1])))
        # A level that nobody knows closes nothing.
        settled = np.where(np.isfinite(misclosure), misclosure, 0.0)
        for key, along in zip(run, lengths, strict=False):
            correction[key] = begun - settled * (float(along) / float(lengths[-1]))
    return {key: _nearest(nodes, correction, key) for key in nodes}, found


def _nearest(nodes: dict[str, Node], correction: dict[str, FloatArray], key: str) -> FloatArray:
    """Return the correction of a point, or of the last one on the way to it that has one."""
    return next((correction[name] for name in reversed(_path(nodes, key)) if name in correction), np.zeros(3))


def expected_misclosure(leg_sd: float, legs: int) -> float:
    """Return the largest misclosure that honest legs make, but once in some hundred walks: three deviations. [m]"""
    return 3.0 * leg_sd * math.sqrt(max(legs, 1))
