"""Places by tape distances from known points: two and a side, or more than two by least squares."""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from spadework.adjust.pen import unit_of_step
from spadework.errors import Fault, InputError, Source
from spadework.positions.net import adjust_place_net
from spadework.positions.observations import PlaceObservations, Sight
from spadework.positions.places import Places, name_key
from spadework.readings import FloatArray
from spadework.readings_positions import TapeTies
from spadework.shots import Shots
from spadework.units import LengthUnit, format_length

__all__ = ["TiedPoint", "place_by_ties", "place_by_two_ties", "reduce_ties"]

NEARLY_MEET = 0.01
"""Two arcs that miss each other by less than this touch: a centimetre of taping. [m]"""
ALIKE = 0.02
"""Both crossings closer together than this are one place. [m]"""
FLATTEST = math.sin(math.radians(15.0))
"""Arcs that cross at less than 15° make a centimetre of tape into four of position."""
FLATTEST_NET = 1e6
"""Greatest variance of a place for distances of unit variance: beyond it nothing but rounding holds the place."""
MOST_PAIRS = 60
MOST_PLACES = 3


@dataclass(frozen=True)
class TiedPoint:
    """A place found from more distances than it needs.

    Parameters
    ----------
    east, north : float
        The place. [m]
    residuals : array, shape (n,)
        Computed less taped distance. [m]
    sd : float
        Standard deviation of one distance, from the residuals; NaN with two. [m]
    covariance : array, shape (2, 2)
        Of east and north, for distances of unit variance.
    """

    east: float
    north: float
    residuals: FloatArray
    sd: float
    covariance: FloatArray

    @property
    def position_sd(self) -> float:
        """Standard deviation of each coordinate, root mean square of the two. [m]"""
        return self.sd * math.sqrt(float(np.trace(self.covariance)) / 2.0)


def place_by_two_ties(
    first: tuple[float, float], first_distance: float, second: tuple[float, float], second_distance: float
) -> tuple[tuple[float, float], tuple[float, float]] | None:
    """Return both places at two distances from two points: first the one to the right of the line, then to the left.

    Parameters
    ----------
    first, second : tuple of float
        ``east, north`` of the known points. [m]
    first_distance, second_distance : float
        From each. [m]

    Returns
    -------
    tuple of two places, or None
        None where the arcs do not meet. Arcs that miss by less than a centimetre count as touching.
    """
    de, dn = second[0] - first[0], second[1] - first[1]
    base = math.hypot(de, dn)
    if base < ALIKE:
        return None
    along = (base**2 + first_distance**2 - second_distance**2) / (2.0 * base)
    square = first_distance**2 - along**2
    miss = max(base - first_distance - second_distance, abs(first_distance - second_distance) - base)
    if miss > NEARLY_MEET:
        return None
    across = math.sqrt(max(square, 0.0))
    ue, un = de / base, dn / base
    foot = first[0] + along * ue, first[1] + along * un
    return (foot[0] + across * un, foot[1] - across * ue), (foot[0] - across * un, foot[1] + across * ue)


def place_by_ties(references: npt.ArrayLike, distances: npt.ArrayLike) -> TiedPoint | None:
    """Return the place whose distances to known points differ least from those taped.

    Parameters
    ----------
    references : array, shape (n, 2)
        ``east, north`` of the known points, two or more. [m]
    distances : array, shape (n,)
        From each. [m]

    Returns
    -------
    TiedPoint or None
        None where no two arcs meet, or all known points lie on one line with the place.
    """
    found = _places(np.asarray(references, dtype=np.float64).reshape(-1, 2), np.asarray(distances, dtype=np.float64))
    return found[0] if found else None


def _places(known: FloatArray, taped: FloatArray) -> list[TiedPoint]:
    """Return the places that distances fix, the best first; a second one is the mirror image behind their line.

    Every pair of arcs gives two places to start from. Those with the least sum of misfits, which one wrong distance
    draws aside less than the least squares, are improved by the method of Gauss and Newton.
    """
    starts: list[tuple[float, float]] = []
    for i, j in itertools.islice(itertools.combinations(range(len(known)), 2), MOST_PAIRS):
        one, two = (float(known[i, 0]), float(known[i, 1])), (float(known[j, 0]), float(known[j, 1]))
        starts += place_by_two_ties(one, float(taped[i]), two, float(taped[j])) or ()
    misfit = [float(np.abs(np.hypot(*(np.array(start) - known).T) - taped).sum()) for start in starts]
    found: list[TiedPoint] = []
    for row in np.argsort(misfit, kind="stable").tolist():
        spot = starts[row]
        if any(math.dist(spot, (place.east, place.north)) < ALIKE for place in found) or len(found) == MOST_PLACES:
            continue
        place = _improved(spot, known, taped)
        if place is not None and all(math.dist(place[:2], other[:2]) >= ALIKE for other in map(_spot, found)):
            found.append(place[2])
    return sorted(found, key=lambda place: float(np.sum(place.residuals**2)))


def _spot(place: TiedPoint) -> tuple[float, float]:
    return place.east, place.north


def _improved(
    start: tuple[float, float], known: FloatArray, taped: FloatArray
) -> tuple[float, float, TiedPoint] | None:
    """Return the nearest place with least squares, None where the distances do not fix one."""
    count = len(taped)
    names = tuple(f"{row}" for row in range(count))
    kind: list[Sight] = ["distance"] * count
    observations = PlaceObservations(
        kind=tuple(kind),
        start=names,
        end=("P",) * count,
        value=taped,
        sd=np.ones(count),
        step=np.full(count, 0.001),
        set_up=("",) * count,
        line=np.zeros(count, dtype=np.int64),
        file=("",) * count,
    )
    held = {name: (float(east), float(north)) for name, (east, north) in zip(names, known, strict=True)}
    try:
        net = adjust_place_net(observations, held, {"p": start})
    except InputError:
        return None
    # All known points on one line with the place: only rounding holds it across.
    if float(np.linalg.eigvalsh(net.covariance[0])[-1]) > FLATTEST_NET:
        return None
    left = count - 2
    sd = math.sqrt(net.solution.chi_square / left) if left else math.nan
    place = TiedPoint(float(net.east[0]), float(net.north[0]), net.solution.residual, sd, net.covariance[0])
    return place.east, place.north, place


def reduce_ties(
    ties: TapeTies, places: Places, *, side: str = "", tape_sd: float = 0.01
) -> tuple[Shots, tuple[str, ...]]:
    """Return every tied point as a place without a level: from two arcs and a side, or the best that more arcs allow.

    Points may be tied to points that are tied themselves. Each is placed from those placed before it; the whole
    net of distances is then adjusted by `adjust_place_net`.

    Parameters
    ----------
    ties : TapeTies
        Distances.
    places : mapping of str to KnownPlace
        Known points; those that no distance of the file places must be there. A tied point that is known already stays
        where it is.
    side : str
        ``left`` or ``right``, for points with two distances that name none.
    tape_sd : float
        What a distance is sure to: a mirror image that fits as well to three of these is asked about. [m]

    Returns
    -------
    shots : Shots
        One for each point, in the order of their first distance.
    notices : tuple of str
        Arcs that cross so flatly that the place is unsure.

    Raises
    ------
    InputError
        When a point has one distance only, the arcs do not meet, or its side is not said: all such points at once.
    """
    at = {key: (place.east, place.north) for key, place in places.items() if place.placed}
    rows_of: dict[str, list[int]] = {}
    for row, name in enumerate(ties.point):
        for key in (name_key(name), name_key(ties.reference[row])):
            rows_of.setdefault(key, []).append(row)
    waiting = [key for key in dict.fromkeys(map(name_key, ties.point)) if key not in at]
    faults: list[Fault] = []
    notices: list[str] = []
    placed: dict[str, tuple[float, float]] = {}
    lost: set[str] = set()
    while waiting:
        ready = _ready(ties, waiting, rows_of, at)
        refused: dict[str, Fault] = {}
        for key, rows in ready.items():
            found = _placed(_arcs(ties, key, rows, at, side), tape_sd)
            if not isinstance(found, Fault):
                break
            refused[key] = found
        else:
            faults += refused.values()
            lost |= refused.keys()
            break
        waiting.remove(key)
        at[key] = placed[key] = found
        if len(ready[key]) == 2:
            known = np.array([at[_other(ties, row, key)] for row in ready[key]])
            notices += _flat_crossing(ties.point[_first(ties, key)], found, known)
    hanging = [key for key in waiting if key not in lost]
    hanging = [key for key in hanging if not any(_other(ties, row, key) in lost for row in rows_of[key])]
    faults += [_too_few(ties, key, rows_of[key]) for key in hanging]
    if faults:
        raise InputError(sorted(faults, key=lambda fault: fault.source.line or 0))
    order = [key for key in dict.fromkeys(map(name_key, ties.point)) if key in placed]
    first = [_first(ties, key) for key in order]
    return Shots(
        point=tuple(ties.point[row] for row in first),
        east=np.array([placed[key][0] for key in order], dtype=np.float64),
        north=np.array([placed[key][1] for key in order], dtype=np.float64),
        level=np.full(len(order), np.nan),
        note=tuple(ties.note[row] for row in first),
        line=ties.line[first],
        file=(ties.file,) * len(order),
    ), tuple(notices)


def _ready(
    ties: TapeTies, waiting: list[str], rows_of: Mapping[str, list[int]], at: Mapping[str, tuple[float, float]]
) -> dict[str, list[int]]:
    """Return the points that can be placed now with the rows that do it, those first whose own rows are all of use."""
    tied = {key: [row for row in rows_of[key] if _other(ties, row, key) in at] for key in waiting}
    whole = [
        key
        for key in waiting
        if all(row in tied[key] for row in rows_of[key] if name_key(ties.point[row]) == key)
        and (len(tied[key]) > 1 or len(rows_of[key]) == 1)
    ]
    some = [key for key in waiting if len(tied[key]) > 1 and key not in whole]
    return {key: tied[key] for key in (*whole, *some)}


def _first(ties: TapeTies, key: str) -> int:
    """Return the row in which a point is first tied."""
    return next(row for row, name in enumerate(ties.point) if name_key(name) == key)


def _other(ties: TapeTies, row: int, key: str) -> str:
    """Return the other end of a distance."""
    one, two = name_key(ties.point[row]), name_key(ties.reference[row])
    return two if one == key else one


class _Arcs(NamedTuple):
    """The distances of one point from points that are placed."""

    point: str
    reference: list[str]
    known: FloatArray
    taped: FloatArray
    hand: str
    source: Source
    unit: LengthUnit

    def length(self, metres: float) -> str:
        """Return a length in the unit in which the distances are written."""
        return format_length(metres, self.unit)


def _arcs(ties: TapeTies, key: str, rows: list[int], at: Mapping[str, tuple[float, float]], side: str) -> _Arcs:
    """Return the distances of a point; its own rows come first, and the side goes by the first two of them."""
    own = [row for row, name in enumerate(ties.point) if name_key(name) == key]
    rows = [*(row for row in own if row in rows), *(row for row in rows if row not in own)]
    hand = (next((ties.side[row] for row in own if ties.side[row]), "") or side) if own[:2] == rows[:2] else ""
    return _Arcs(
        ties.point[own[0]],
        [ties.reference[row] if row in own else ties.point[row] for row in rows],
        np.array([at[_other(ties, row, key)] for row in rows], dtype=np.float64),
        ties.distance[rows],
        hand,
        ties.source(own[0]),
        unit_of_step(ties.resolution),
    )


def _placed(arcs: _Arcs, tape_sd: float) -> tuple[float, float] | Fault:
    """Return the place of a point by its distances from placed ones, or why they do not fix it."""
    known, taped = arcs.known, arcs.taped
    if len(taped) == 1:
        rule = "a place needs two distances and a side, or three distances"
        return Fault(f"{arcs.point} has one distance only", rule, "tape it from a second point", arcs.source)
    if len(taped) == 2:
        pair = place_by_two_ties(tuple(known[0]), float(taped[0]), tuple(known[1]), float(taped[1]))
        if pair is None:
            return _arcs_apart(arcs)
        return _chosen(arcs, pair)
    found = _places(known, taped)
    if not found:
        return _arcs_apart(arcs)
    limit = 3.0 * max(tape_sd, float(np.abs(found[0].residuals).max()))
    best, *rivals = (_spot(place) for place in found if float(np.abs(place.residuals).max()) <= limit)
    return _chosen(arcs, (best, rivals[0])) if rivals else best


def _chosen(arcs: _Arcs, pair: tuple[tuple[float, float], tuple[float, float]]) -> tuple[float, float] | Fault:
    """Return that of two places which lies on the side that was written, or the question on which it lies."""
    if math.dist(*pair) < ALIKE:
        return pair[0]
    (east, north), (de, dn) = arcs.known[0], arcs.known[1] - arcs.known[0]
    right, left = sorted(pair, key=lambda spot: float(de * (spot[1] - north) - dn * (spot[0] - east)))
    if arcs.hand:
        return left if arcs.hand == "left" else right
    words = [f"east {arcs.length(place[0])}, north {arcs.length(place[1])}" for place in (right, left)]
    what = f"{arcs.point} could be at {words[0]} (right) or at {words[1]} (left)"
    rule = f"looking from {arcs.reference[0]} to {arcs.reference[1]}, it lies to the left or to the right"
    return Fault(what, rule, "add a column side with left or right, or a third distance", arcs.source)


def _too_few(ties: TapeTies, key: str, rows: list[int]) -> Fault:
    """Return the fault of a point that too few distances tie to points that are placed."""
    name, source = ties.point[_first(ties, key)], ties.source(_first(ties, key))
    if len(rows) == 1:
        rule = "a place needs two distances and a side, or three distances"
        return Fault(f"{name} has one distance only", rule, "tape it from a second point", source)
    others = ", ".join(dict.fromkeys(ties.reference[row] if name_key(ties.point[row]) == key else ties.point[row]
                                     for row in rows))  # fmt: skip
    rule = "points are placed one after another, each from two that are placed"
    return Fault(f"{name} is tied to {others}, and too few of them are placed", rule, "tape it from a known point",
                 source)  # fmt: skip


def _arcs_apart(arcs: _Arcs) -> Fault:
    """Return the fault of distances that do not meet."""
    base = math.dist(arcs.known[0], arcs.known[1])
    a, b = float(arcs.taped[0]), float(arcs.taped[1])
    what = (
        f"{arcs.point}: distances of {arcs.length(a)} and {arcs.length(b)} from {arcs.reference[0]} and "
        f"{arcs.reference[1]}, which are {arcs.length(base)} apart"
    )
    if a + b < base:
        rule = f"the two arcs do not reach each other: {arcs.length(base - a - b)} are missing"
    elif base < ALIKE:
        rule = "two ties start from two places"
    elif abs(a - b) <= base + NEARLY_MEET:
        rule = "the known points lie on one line with the place, so nothing says how far beside that line it lies"
    else:
        rule = "one arc lies wholly inside the other"
    return Fault(what, rule, "correct the distances, or the points they start from", arcs.source)


def _flat_crossing(name: str, place: tuple[float, float], known: FloatArray) -> list[str]:
    """Return the warning of arcs that cross so flatly that the place is unsure."""
    one, two = np.array(place) - known[0], np.array(place) - known[1]
    lengths = float(np.hypot(*one) * np.hypot(*two))
    sine = abs(float(one[0] * two[1] - one[1] * two[0])) / lengths if lengths else 0.0
    if sine >= FLATTEST:
        return []
    angle = math.degrees(math.asin(sine))
    return [f"The arcs to {name} cross at only {angle:.0f}°, so its place is unsure: tape it from a third point."]
