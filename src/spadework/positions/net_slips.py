"""Which measurement of a net of places is most likely wrong, and what it was meant to be: each slip tried anew."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np

from spadework.adjust.pen import HABIT, PenSlip, meant_angles, meant_distances
from spadework.adjust.slips import GAIN, disagrees, named_slips
from spadework.errors import InputError
from spadework.positions.net import PlaceNet, SettledPlaces, adjust_place_net, prediction_sd, settle_places
from spadework.positions.observations import PlaceObservations
from spadework.positions.places import name_key
from spadework.positions.ties import place_by_two_ties

__all__ = ["PlaceSlip", "find_place_slips"]

MOST_ROUNDS = 3
MOST_STEPS = 8
MOST_LEFT_OUT = 40
MOST_AT_ONCE = 120
"""A net of more observations is searched around the one that disagrees most, the rest of it held."""
MOST_ADJUSTED = 24
MOST_EXCHANGED = 10
MOST_NAMED = 4
MOST_ARCS = 4
MOST_STARTS = 2
LONGEST = 200.0
"""A distance that no known slip explains may be anything up to this. [m]"""


Spots = dict[str, tuple[float, float]]


@dataclass(frozen=True)
class PlaceSlip:
    """A measurement that may be wrong, with what it may have been.

    Parameters
    ----------
    kind : str
        A slip of `spadework.adjust.pen`; ``"columns"``: two distances of a point in each other's place; ``"turned"``: a
        direction read from its other end; ``"side"``: a point on the other side of the line between its two known
        ones; ``"other"``: no slip we know of.
    row : int
        Row of the observations.
    was, meant : float
        As written, and as it may have been, in metres or degrees.
    other_row : int
        For ``"columns"`` the row of the other distance; -1 otherwise.
    share : float
        How likely among all that was tried, 0 to 1.
    sds : float
        By how many of its standard deviations it disagrees with the rest.
    """

    kind: PenSlip
    row: int
    was: float
    meant: float
    other_row: int = -1
    share: float = math.nan
    sds: float = math.nan


@dataclass(frozen=True)
class _Try:
    """A slip, how often it is made (the log of it), the chi-square to expect with it mended, and where to begin."""

    slip: PlaceSlip
    habit: float
    expected: float
    start: Spots


def _spots(net: PlaceNet) -> Spots:
    return {name_key(name): net.at(name) for name in net.point}


def _again(observations: PlaceObservations, net: PlaceNet, near: Mapping[str, tuple[float, float]]) -> SettledPlaces:
    """Return the places of the net with other observations."""
    return settle_places(observations, net.known, near, most_steps=MOST_STEPS)


def _starts(net: PlaceNet, row: int, near: Spots) -> Iterator[Spots]:
    """Give places from which to adjust a net without one of its observations.

    That observation may have drawn its two ends aside, as far as behind the line of the points that they are measured
    from. So for each end, besides where the whole net puts it, where two of its other distances meet.
    """
    observations = net.observations
    here = _spots(net)
    yield here
    yield near
    for name in (observations.start[row], observations.end[row]):
        key = name_key(name)
        if key not in here:
            continue
        arcs = [
            (net.at(other), float(observations.value[k]))
            for k in range(len(observations))
            for mine, other in (
                (observations.start[k], observations.end[k]),
                (observations.end[k], observations.start[k]),
            )
            if k != row and observations.kind[k] == "distance" and name_key(mine) == key
        ]
        for (one, first), (two, second) in combinations(arcs[:MOST_ARCS], 2):
            for spot in place_by_two_ties(one, first, two, second) or ():
                yield {**here, key: spot}


def _left_out(net: PlaceNet, row: int, near: Spots) -> SettledPlaces:
    """Return the net without one observation, adjusted from whichever start lets the others agree best."""
    others = net.observations.without(row)
    starts = sorted(_starts(net, row, near), key=lambda spots: _roughly(others, net, spots))
    return min((_again(others, net, start) for start in starts[:MOST_STARTS]), key=lambda again: again.chi_square)


def _roughly(observations: PlaceObservations, net: PlaceNet, near: Spots) -> float:
    """Return by how much the distances disagree with some places, before any is moved."""
    at = {**net.known, **near}
    misfit = 0.0
    for row, kind in enumerate(observations.kind):
        if kind == "distance":
            start, end = at[name_key(observations.start[row])], at[name_key(observations.end[row])]
            misfit += abs(math.dist(start, end) - float(observations.value[row])) / float(observations.sd[row])
    return misfit


def _predicted(others: SettledPlaces, net: PlaceNet, row: int) -> tuple[float, float]:
    """Return what the other observations say of one, and how sure they are of it."""
    observations = net.observations
    start, end = others.at(observations.start[row]), others.at(observations.end[row])
    de, dn = end[0] - start[0], end[1] - start[1]
    if observations.kind[row] == "distance":
        value = math.hypot(de, dn)
    else:
        zero = others.zero.get(name_key(observations.set_up[row]), 0.0) if observations.kind[row] == "direction" else 0
        value = (math.degrees(math.atan2(de, dn)) - zero) % 360.0
    return value, prediction_sd(observations, net.known, others, row)


def _apart(one: float, other: float, *, angular: bool) -> float:
    """Return how far two values lie apart, angles the short way round."""
    return abs((one - other + 180.0) % 360.0 - 180.0) if angular else abs(one - other)


def _tries(net: PlaceNet, row: int, near: Spots) -> Iterator[_Try]:
    """Give the slips of one observation that would make it agree with the others."""
    others = _left_out(net, row, near)
    observations, left = net.observations, others.chi_square
    if net.solution.chi_square - left < GAIN:
        return
    wanted, doubt = _predicted(others, net, row)
    if math.isinf(doubt):
        return
    value, sd, step = (float(column[row]) for column in (observations.value, observations.sd, observations.step))
    angular = observations.kind[row] != "distance"
    spread = math.hypot(sd, doubt)
    sds = abs(float(net.solution.standardised[row]))
    start = {name_key(name): others.at(name) for name in net.point}
    for kind, choices in (meant_angles if angular else meant_distances)(value, step):
        total = sum(weight for _, weight in choices)
        for meant, weight in choices:
            expected = left + (_apart(meant, wanted, angular=angular) / spread) ** 2
            if net.solution.chi_square - expected >= GAIN and _apart(meant, value, angular=angular) > step / 2:
                slip = PlaceSlip(kind, row, value, meant, sds=sds)
                yield _Try(slip, math.log(HABIT[kind] * weight / total), expected, start)
    room = spread * math.sqrt(2.0 * math.pi) / (360.0 if angular else LONGEST)
    other = PlaceSlip("other", row, value, round(wanted / step) * step, sds=sds)
    yield _Try(other, math.log(HABIT["other"] * room), left, start)


def _column_tries(net: PlaceNet, rows: list[int]) -> Iterator[_Try]:
    """Give the pairs of distances to one point that may have been written in each other's place."""
    observations = net.observations
    for row, other in combinations(sorted(rows), 2):
        alike = observations.kind[row] == observations.kind[other] == "distance"
        one_point = name_key(observations.end[row]) == name_key(observations.end[other])
        value, meant = float(observations.value[row]), float(observations.value[other])
        if alike and one_point and abs(value - meant) > 3.0 * float(observations.sd[row]):
            slip = PlaceSlip("columns", row, value, meant, other, sds=abs(float(net.solution.standardised[row])))
            yield _Try(slip, math.log(HABIT["columns"]), 0.0, _spots(net))


def _side_tries(net: PlaceNet, rows: list[int]) -> Iterator[_Try]:
    """Give the points that may lie on the other side of the line between two of those they are tied to."""
    observations = net.observations
    near = _spots(net)
    touched = dict.fromkeys(name_key(name) for row in rows for name in (observations.start[row], observations.end[row]))
    for key in touched:
        if key not in near:
            continue
        tied = [row for row, name in enumerate(observations.end) if name_key(name) == key]
        lengths = [row for row in tied if observations.kind[row] == "distance"]
        if len(lengths) != 2 or len(tied) != 2:
            continue
        (e1, n1), (e2, n2) = (net.at(observations.start[row]) for row in lengths)
        east, north = near[key]
        de, dn = e2 - e1, n2 - n1
        base = math.hypot(de, dn)
        if base < 0.01:
            continue
        across = (de * (north - n1) - dn * (east - e1)) / base
        mirrored = (east + 2.0 * across * dn / base, north - 2.0 * across * de / base)
        slip = PlaceSlip("side", lengths[0], float(observations.value[lengths[0]]), math.nan, sds=math.nan)
        yield _Try(slip, math.log(HABIT["side"]), 0.0, {**near, key: mirrored})


def _mended(observations: PlaceObservations, slip: PlaceSlip) -> PlaceObservations:
    """Return the observations as they would have been without the slip."""
    if slip.kind == "side":
        return observations
    changed = observations.with_value(slip.row, slip.meant)
    return changed.with_value(slip.other_row, slip.was) if slip.other_row >= 0 else changed


def _part(net: PlaceNet) -> tuple[PlaceNet, list[int]] | None:
    """Return the part of a large net around its loudest observation, and the rows of its observations in the whole.

    Its points are the two ends and what is joined to them; all others are held where they are.
    """
    observations = net.observations
    loudest = int(np.argmax(np.abs(net.solution.standardised)))
    ends = [(name_key(one), name_key(two)) for one, two in zip(observations.start, observations.end, strict=True)]
    core = set(ends[loudest])
    ring = core | {key for pair in ends if core & set(pair) for key in pair}
    near = {key: spot for key, spot in _spots(net).items() if key in ring}
    rows = [row for row, pair in enumerate(ends) if near.keys() & set(pair)]
    held = {**net.known, **{key: spot for key, spot in _spots(net).items() if key not in near}}
    try:
        return adjust_place_net(observations.take(rows), held, near), rows
    except InputError:
        return None


def _scored(net: PlaceNet, near: Spots) -> list[tuple[float, PlaceSlip, SettledPlaces]]:
    """Return the slips that explain the observations of a net, the likeliest first, with its places once mended."""
    solution, observations = net.solution, net.observations
    # One far out may have drawn its point so far aside that nothing seems to check it there.
    rows = np.argsort(-np.abs(solution.standardised), kind="stable")[:MOST_LEFT_OUT].tolist()
    tries = [each for row in rows for each in _tries(net, row, near)]
    tries.sort(key=lambda each: each.expected / 2.0 - each.habit)
    scored: list[tuple[float, PlaceSlip, SettledPlaces]] = []
    for each in (*tries[:MOST_ADJUSTED], *_column_tries(net, rows[:MOST_EXCHANGED]), *_side_tries(net, rows)):
        again = _again(_mended(observations, each.slip), net, each.start)
        if solution.chi_square - again.chi_square < GAIN:
            continue
        if each.slip.kind == "side" and max(math.dist(again.at(name), net.at(name)) for name in net.point) < 0.1:
            continue
        scored.append((each.habit - again.chi_square / 2.0, each.slip, again))
    return sorted(scored, key=lambda each: -each[0])


def _round(net: PlaceNet, near: Spots) -> tuple[list[PlaceSlip], PlaceNet | None]:
    """Return the slips that explain the measurements best, the likeliest first, and the net with that one mended."""
    part: tuple[PlaceNet, list[int]] | None = (net, list(range(len(net.observations))))
    if len(net.observations) > MOST_AT_ONCE:
        part = _part(net)
    scored = [] if part is None else _scored(part[0], {key: near[key] for key in _spots(part[0])})
    if part is None or not scored:
        return [], None
    rows = part[1]
    slips = [
        replace(slip, row=rows[slip.row], other_row=rows[slip.other_row] if slip.other_row >= 0 else -1, share=share)
        for place, share in named_slips([score for score, *_ in scored], MOST_NAMED)
        for slip in (scored[place][1],)
    ]
    settled = scored[0][2]
    start = {**_spots(net), **{name_key(name): settled.at(name) for name in part[0].point}}
    try:
        return slips, adjust_place_net(_mended(net.observations, slips[0]), net.known, start)
    except InputError:  # hardly to be had: as mended it was settled just now
        return slips, None


def find_place_slips(
    net: PlaceNet, near: Mapping[str, tuple[float, float]] | None = None
) -> tuple[tuple[PlaceSlip, ...], ...]:
    """Return what probably went wrong in a net whose measurements do not agree; nothing when they do.

    Each measurement that others check is left out in turn, so that one that is far wrong draws nothing aside while it
    is judged; every slip of the pen that would bring it near to what the others say is then tried by adjusting the net
    again. How much better it agrees, times how often that slip is made, says how likely it is. When the likeliest has
    been mended and the rest still does not agree, the search goes on for the next. Nothing is changed: these are
    questions to the person who wrote the numbers.

    Parameters
    ----------
    net : PlaceNet
        Adjusted as written.
    near : mapping of str to (float, float), optional
        Where the points were placed before the adjustment, by `name_key`. [m]

    Returns
    -------
    tuple of tuple of PlaceSlip
        For each slip its explanations, the likeliest first.
    """
    found: list[tuple[PlaceSlip, ...]] = []
    current: PlaceNet | None = net
    while current is not None and len(found) < MOST_ROUNDS and disagrees(current.solution):
        slips, current = _round(current, {**_spots(current), **(near or {})})
        if slips:
            found.append(tuple(slips))
    return tuple(found)
