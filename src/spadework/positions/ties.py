"""Places by tape distances from known points: two and a side, or more than two by least squares."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from spadework.errors import Fault, InputError
from spadework.positions.places import Places, name_key
from spadework.readings import FloatArray
from spadework.readings_positions import TapeTies
from spadework.shots import Shots

__all__ = ["TiedPoint", "place_by_ties", "place_by_two_ties", "reduce_ties"]

NEARLY_MEET = 0.01
"""Two arcs that miss each other by less than this touch: a centimetre of taping. [m]"""
ALIKE = 0.02
"""Both crossings closer together than this are one place. [m]"""
FLATTEST = math.sin(math.radians(15.0))
"""Arcs that cross at less than 15° make a centimetre of tape into four of position."""
MOST_STEPS = 50


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

    Every pair of arcs gives two places to start from; the best is improved by Gauss and Newton until it stands still,
    its matrix taken apart by QR.

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
    known = np.asarray(references, dtype=np.float64).reshape(-1, 2)
    taped = np.asarray(distances, dtype=np.float64)
    middle = known.mean(axis=0)
    known = known - middle
    starts: list[tuple[float, float]] = []
    for i, j in itertools.islice(itertools.combinations(range(len(known)), 2), 60):
        one, two = (float(known[i, 0]), float(known[i, 1])), (float(known[j, 0]), float(known[j, 1]))
        starts += place_by_two_ties(one, float(taped[i]), two, float(taped[j])) or ()
    if not starts:
        return None
    tried = [_improved(np.array(start), known, taped) for start in starts]
    found = [place for place in tried if place is not None]
    if not found:
        return None
    place = min(found, key=lambda each: float(np.sum((np.hypot(*(each - known).T) - taped) ** 2)))
    away = np.hypot(*(place - known).T)
    design = (place - known) / away[:, None]
    triangle = np.linalg.qr(design, mode="r")
    inverse = np.linalg.inv(triangle)
    residuals = away - taped
    left = len(taped) - 2
    sd = math.sqrt(float(np.sum(residuals**2)) / left) if left else math.nan
    east, north = place + middle
    return TiedPoint(float(east), float(north), residuals, sd, inverse @ inverse.T)


def _improved(place: FloatArray, known: FloatArray, taped: FloatArray) -> FloatArray | None:
    """Return the nearest place with least squares, None where the distances do not fix one."""
    for _ in range(MOST_STEPS):
        away = np.hypot(*(place - known).T)
        if not np.all(away > 1e-9):
            return None
        q, r = np.linalg.qr((place - known) / away[:, None])
        if abs(r[1, 1]) < 1e-6:
            return None
        step = np.linalg.solve(r, q.T @ (taped - away))
        place = place + step
        if float(np.hypot(*step)) < 1e-10:
            return place
    return place


def reduce_ties(
    ties: TapeTies, places: Places, *, side: str = "", tape_sd: float = 0.01
) -> tuple[Shots, tuple[str, ...]]:
    """Return every tied point as a place without a level.

    Parameters
    ----------
    ties : TapeTies
        Distances.
    places : mapping of str to KnownPlace
        Known points; those they start from must be placed.
    side : str
        ``left`` or ``right``, for points with two distances that name none.
    tape_sd : float
        What a distance is sure to, for the warning of arcs that do not agree. [m]

    Returns
    -------
    shots : Shots
        One for each point, in the order of their first distance.
    notices : tuple of str
        Residuals, and distances that do not agree with the rest.

    Raises
    ------
    InputError
        When a point has one distance only, the arcs do not meet, or its side is not said: all such points at once.
    """
    order: dict[str, list[int]] = {}
    for row, name in enumerate(ties.point):
        order.setdefault(name_key(name), []).append(row)
    faults: list[Fault] = []
    notices: list[str] = []
    kept: list[tuple[int, float, float, float]] = []
    for rows in order.values():
        name, source = ties.point[rows[0]], ties.source(rows[0])
        known = np.array([places[name_key(ties.reference[row])][:2] for row in rows], dtype=np.float64)
        taped = ties.distance[rows]
        if len(rows) == 1:
            rule = "a place needs two distances and a side, or three distances"
            faults.append(Fault(f"{name} has one distance only", rule, "tape it from a second point", source))
            continue
        if len(rows) == 2:
            pair = place_by_two_ties(tuple(known[0]), float(taped[0]), tuple(known[1]), float(taped[1]))
            if pair is None:
                faults.append(_arcs_apart(ties, rows, known))
                continue
            hand = _hand(ties, rows) or side
            both_same = math.dist(*pair) < ALIKE
            if not hand and not both_same:
                faults.append(_which_side(ties, rows, pair))
                continue
            place = pair[1] if hand == "left" else pair[0]
            kept.append((rows[0], place[0], place[1], math.nan))
            notices += _flat_crossing(name, place, known)
            continue
        found = place_by_ties(known, taped)
        if found is None:
            faults.append(_arcs_apart(ties, rows, known))
            continue
        notices.append(_said(name, ties, rows, found, tape_sd))
        kept.append((rows[0], found.east, found.north, found.position_sd))
    if faults:
        raise InputError(faults)
    first = [row for row, *_ in kept]
    shots = Shots(
        point=tuple(ties.point[row] for row in first),
        east=np.array([east for _, east, _, _ in kept], dtype=np.float64),
        north=np.array([north for _, _, north, _ in kept], dtype=np.float64),
        level=np.full(len(kept), np.nan),
        note=tuple(ties.note[row] for row in first),
        line=ties.line[first],
        file=(ties.file,) * len(kept),
        position_sd=np.array([sd for *_, sd in kept], dtype=np.float64),
    )
    return shots, tuple(notices)


def _hand(ties: TapeTies, rows: Sequence[int]) -> str:
    """Return the side that the rows of a point name."""
    return next((ties.side[row] for row in rows if ties.side[row]), "")


def _arcs_apart(ties: TapeTies, rows: Sequence[int], known: FloatArray) -> Fault:
    """Return the fault of distances that do not meet."""
    one, two = rows[0], rows[1]
    base = math.dist(known[0], known[1])
    names = f"{ties.reference[one]} and {ties.reference[two]}"
    a, b = float(ties.distance[one]), float(ties.distance[two])
    what = f"{ties.point[one]}: distances of {a:.3f} m and {b:.3f} m from {names}, which are {base:.3f} m apart"
    if a + b < base:
        rule = f"the two arcs do not reach each other: {base - a - b:.3f} m are missing"
    elif base < ALIKE:
        rule = "two ties start from two places"
    elif abs(a - b) <= base + NEARLY_MEET:
        rule = "the known points lie on one line with the place, so nothing says how far beside that line it lies"
    else:
        rule = "one arc lies wholly inside the other"
    return Fault(what, rule, "correct the distances, or the points they start from", ties.source(one))


def _which_side(ties: TapeTies, rows: Sequence[int], pair: tuple[tuple[float, float], tuple[float, float]]) -> Fault:
    """Return the question on which side of the line a point lies."""
    one, two = rows[0], rows[1]
    right, left = (f"east {place[0]:.2f} m, north {place[1]:.2f} m" for place in pair)
    what = f"{ties.point[one]} could be at {right} (right) or at {left} (left)"
    rule = f"looking from {ties.reference[one]} to {ties.reference[two]}, it lies to the left or to the right"
    return Fault(what, rule, "add a column side with left or right, or a third distance", ties.source(one))


def _flat_crossing(name: str, place: tuple[float, float], known: FloatArray) -> list[str]:
    """Return the warning of arcs that cross so flatly that the place is unsure."""
    one, two = np.array(place) - known[0], np.array(place) - known[1]
    lengths = float(np.hypot(*one) * np.hypot(*two))
    sine = abs(float(one[0] * two[1] - one[1] * two[0])) / lengths if lengths else 0.0
    if sine >= FLATTEST:
        return []
    angle = math.degrees(math.asin(sine))
    return [f"The arcs to {name} cross at only {angle:.0f}°, so its place is unsure: tape it from a third point."]


def _said(name: str, ties: TapeTies, rows: Sequence[int], found: TiedPoint, tape_sd: float) -> str:
    """Return how well the distances of a point agree."""
    worst = int(np.argmax(np.abs(found.residuals)))
    off = float(found.residuals[worst])
    text = f"{name} from {len(rows)} distances: they agree to {abs(off) * 1000:.0f} mm or better"
    if abs(off) <= 3.0 * tape_sd:
        return f"{text}."
    row = rows[worst]
    return (
        f"{name} from {len(rows)} distances: the one from {ties.reference[row]} (line {int(ties.line[row])}, "
        f"{float(ties.distance[row]):.3f} m) is {abs(off) * 1000:.0f} mm too {'short' if off > 0 else 'long'} beside "
        "the others. Tape it again."
    )
