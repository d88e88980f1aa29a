"""Codes in the notes of shots: fences, houses, trees, drains and banks without drawing anything."""

from __future__ import annotations

import difflib
import math
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from spadework.errors import Fault, InputError
from spadework.pad_rings import first_crossing
from spadework.placement import KeepOut
from spadework.readings import FloatArray
from spadework.shots import Shots
from spadework.site import Site
from spadework.site_positions import FeatureTable
from spadework.units import LengthUnit, format_length, parse_length

__all__ = ["CODES", "Features", "find_features", "read_code"]

CODES: dict[str, FeatureTable] = {
    **dict.fromkeys(("FENCE", "BOUNDARY"), FeatureTable(role="boundary")),
    **dict.fromkeys(("HOUSE", "WALL"), FeatureTable(role="reference")),
    **dict.fromkeys(("TREE", "SHRUB", "POLE"), FeatureTable(role="keep-out")),
    **dict.fromkeys(("DRAIN", "SEWER", "GAS", "WATER", "CABLE"), FeatureTable(role="line", clearance=1.0)),
    **dict.fromkeys(("TOP", "TOE", "RIDGE", "DITCH", "KERB"), FeatureTable(role="breakline")),
}
"""Codes that need no table of their own. The metre beside a buried line is common practice, no source."""
TRUNK_TO_ROOTS = 12.0
"""Roots are kept clear out to twelve times the width of the trunk (BS 5837:2012, clause 4.6, from memory)."""
PLAIN_CLEARANCE = 2.0
"""Kept clear around a tree without a size (common practice, no source). [m]"""
MOST_ROOTS = 15.0
"""The greatest radius that BS 5837:2012 asks for (from memory). [m]"""
NEARLY = 0.8
"""How alike a word is to a code that it is asked about, as `difflib` counts: DRIAN and DRAIN are, WELL and WALL not."""
HALF_WIDTH = 0.05
"""A buried line is a strip of twice this width, besides its clearance. [m]"""
UNIT = re.compile(r"(?:mm|cm|m|in|ft)\b|[\"']", re.IGNORECASE)
CODE = re.compile(r"([A-Za-z](?:[A-Za-z_-]*[A-Za-z])?)(?:[ #_-]*(\d{1,3}))?(?:[ ,;:]+(.*))?\s*", re.DOTALL)


@dataclass(frozen=True)
class Features:
    """What the codes in the notes make of the shots.

    Parameters
    ----------
    boundary : tuple of array, shape (n, 2)
        One ring, or none. [m]
    keep_outs : tuple of KeepOut
        Trees, houses and buried lines.
    references : tuple of str
        Two fixed points to tape from, or none.
    breaklines : tuple of tuple of str
        Lines along which the ground bends, by the names of shots in their order.
    notices : tuple of str
        What was made of them, in sentences.
    """

    boundary: tuple[FloatArray, ...] = ()
    keep_outs: tuple[KeepOut, ...] = ()
    references: tuple[str, ...] = ()
    breaklines: tuple[tuple[str, ...], ...] = ()
    notices: tuple[str, ...] = ()


def read_code(note: str, codes: Mapping[str, FeatureTable]) -> tuple[str, str, str] | None:
    """Return code, number and the rest of a note such as ``TREE 400mm`` or ``TOP 2``; None where it begins with none.

    A number without a unit tells lines of one code apart; a length is a size.
    """
    found = CODE.fullmatch(note.strip())
    if not found:
        return None
    word, number, rest = found.group(1).upper(), found.group(2) or "", (found.group(3) or "").strip()
    if number and UNIT.match(rest):
        number, rest = "", f"{number} {rest}"
    return (word, number, rest) if word in codes else None


def find_features(site: Site, shots: Shots) -> Features:
    """Return what the codes in the notes make of the shots.

    Without a table ``[features]`` in the site file notes are only notes. An empty one turns the codes of `CODES` on;
    its entries add to them and change them. What the site file says itself comes first: its boundary, its references,
    and its keep-outs at the same shot.

    Parameters
    ----------
    site : Site
        The site file.
    shots : Shots
        All of them.

    Raises
    ------
    InputError
        A boundary of fewer than three points, or one that crosses itself.
    """
    if site.features is None:
        return Features()
    codes = CODES | {name.strip().upper(): table for name, table in site.features.items()}
    groups: dict[tuple[str, str], list[tuple[int, str]]] = {}
    for row, note in enumerate(shots.note):
        code = read_code(note, codes)
        if code is not None and math.isfinite(float(shots.east[row] + shots.north[row])):
            groups.setdefault(code[:2], []).append((row, code[2]))
    lines = {key: [row for row, _ in rows] for key, rows in groups.items()}
    roles = {key: codes[key[0]] for key in groups}
    notices = list(_nearly(shots, codes))
    boundary = _boundary(site, shots, {key: lines[key] for key in lines if roles[key].role == "boundary"}, notices)
    fixed = [row for key, rows in lines.items() if roles[key].role == "reference" for row in rows]
    references = _references(site, shots, fixed, notices)
    keep_outs = []
    for key, rows in groups.items():
        table = roles[key]
        if table.role == "keep-out":
            keep_outs += list(_round(site, shots, key[0], table, rows))
        elif table.role == "line":
            keep_outs += list(_strip(shots, key, table, lines[key]))
        elif table.role == "reference" and len(rows) > 2:
            ring = np.column_stack([shots.east[lines[key]], shots.north[lines[key]]])
            keep_outs.append(KeepOut.polygon(_name(key), ring, table.clearance or 0.0, shots.source(rows[0][0])))
    notices += _widthless(site, shots, groups, roles)
    if keep_outs:
        unit = site.units
        told = [f"{each.name} ({format_length(each.clearance, unit)} clear)" for each in keep_outs]
        notices.append(f"Kept out of by the codes in the notes: {', '.join(told[:12])}.")
    breaklines = tuple(
        tuple(shots.point[row] for row in lines[key])
        for key in lines
        if roles[key].role == "breakline" and len(lines[key]) > 1
    )
    if breaklines:
        notices.append(f"Lines along which the ground bends, by the codes in the notes: {len(breaklines)}.")
    return Features(boundary, tuple(keep_outs), references, breaklines, tuple(notices))


def _nearly(shots: Shots, codes: Mapping[str, FeatureTable]) -> Iterator[str]:
    """Ask about notes whose first word is no code but nearly one: a drain that is misspelt is not kept clear of."""
    asked: dict[str, list[int]] = {}
    for row, note in enumerate(shots.note):
        found = CODE.fullmatch(note.strip())
        if found and found.group(1).upper() not in codes:
            asked.setdefault(found.group(1).upper(), []).append(row)
    for word, rows in asked.items():
        if close := difflib.get_close_matches(word, codes, n=1, cutoff=NEARLY):
            names = ", ".join(shots.point[row] for row in rows[:8]) + (", ..." if len(rows) > 8 else "")
            yield f"“{word}” in the notes of {names} is no code, and was left as a note: did you mean {close[0]}?"


def _widthless(
    site: Site,
    shots: Shots,
    groups: Mapping[tuple[str, str], list[tuple[int, str]]],
    roles: Mapping[tuple[str, str], FeatureTable],
) -> Iterator[str]:
    """Say which trees have a number in their note that is no width, because it has no unit."""
    spoken_for = _spoken_for(site)
    for key, rows in groups.items():
        if roles[key].role != "keep-out" or roles[key].clearance is not None:
            continue
        for row, rest in rows:
            if shots.point[row].strip().casefold() in spoken_for:
                continue
            if _size(site, rest) == 0.0 and re.search(r"\d", f"{key[1]} {rest}"):
                yield (
                    f"“{shots.note[row].strip()}” at {shots.point[row]} has no width with a unit: "
                    f"{format_length(PLAIN_CLEARANCE, site.units)} are kept clear around it. "
                    f"A width is written like {key[0]} {'400mm' if site.units is LengthUnit.METRE else '16in'}."
                )


def _name(key: tuple[str, str]) -> str:
    """Return what a group of points is called."""
    return " ".join(filter(None, (key[0].lower(), key[1])))


def _boundary(
    site: Site, shots: Shots, lines: Mapping[tuple[str, str], list[int]], notices: list[str]
) -> tuple[FloatArray, ...]:
    """Return the ring through the points of the boundary in their order, where the site file draws none itself."""
    table = site.boundary
    if not lines or (table is not None and (table.points or table.corners is not None or table.file)):
        return ()
    key, rows = next(iter(lines.items()))
    if len(rows) > 3 and shots.point[rows[0]] == shots.point[rows[-1]]:
        rows = rows[:-1]
    if len(rows) < 3:
        what = f"{len(rows)} shots are coded {key[0]}, too few for a boundary"
        remedy = f'Shoot its other corners, or say [features] {key[0]} = "none"'
        raise InputError(Fault(what, "a boundary has three corners or more", remedy, shots.source(rows[0])))
    ring = np.column_stack([shots.east[rows], shots.north[rows]])
    crossing = first_crossing(ring)
    if crossing is not None:
        one, other = (" to ".join(shots.point[rows[(side + i) % len(rows)]] for i in (0, 1)) for side in crossing)
        what = f"the boundary through the shots coded {key[0]} crosses itself: {one} meets {other}"
        remedy = "Bring the shots into their order round the yard, or name them so under [boundary] points"
        rule = "its corners stand in the order in which they were shot"
        raise InputError(Fault(what, rule, remedy, shots.source(rows[crossing[1]])))
    names = ", ".join(shots.point[row] for row in rows)
    notices.append(f"Boundary through the shots coded {key[0]}, in their order: {names}.")
    return (ring,)


def _references(site: Site, shots: Shots, rows: list[int], notices: list[str]) -> tuple[str, ...]:
    """Return the two fixed points that stand farthest apart, where the site file names none."""
    if site.stakes.references is not None or len(rows) < 2:
        return ()
    place = np.column_stack([shots.east[rows], shots.north[rows]])
    away = np.hypot(*(place[:, None, :] - place[None, :, :]).transpose(2, 0, 1))
    one, two = sorted(np.unravel_index(int(np.argmax(away)), away.shape))
    names = shots.point[rows[int(one)]], shots.point[rows[int(two)]]
    notices.append(f"Stakes are tied to {names[0]} and {names[1]}, the fixed points farthest apart.")
    return names


def _round(site: Site, shots: Shots, code: str, table: FeatureTable, rows: list[tuple[int, str]]) -> Iterator[KeepOut]:
    """Yield a circle around each tree: twelve trunks wide, or as the table says."""
    spoken_for = _spoken_for(site)
    for row, rest in rows:
        name = shots.point[row]
        if name.strip().casefold() in spoken_for:
            continue
        radius = table.clearance
        if radius is None:
            radius = min(TRUNK_TO_ROOTS * _size(site, rest), MOST_ROOTS) or PLAIN_CLEARANCE
        centre = float(shots.east[row]), float(shots.north[row])
        yield KeepOut.circle(f"{code.lower()} {name}", centre, radius, shots.source(row))


def _spoken_for(site: Site) -> set[str]:
    """Return the shots that a keep-out of the site file stands at."""
    return {keep.at.strip().casefold() for keep in site.keep_outs if isinstance(keep.at, str)}


def _size(site: Site, text: str) -> float:
    """Return the first length in a note, 0 where there is none. [m]"""
    for found in re.finditer(r"\d+(?:\.\d+)?\s*(?:(?:mm|cm|m|in|ft)\b|[\"'])", text, re.IGNORECASE):
        try:
            return parse_length(found.group(), site.units)
        except InputError:
            continue
    return 0.0


def _strip(shots: Shots, key: tuple[str, str], table: FeatureTable, rows: list[int]) -> Iterator[KeepOut]:
    """Yield a narrow strip for each stretch of a buried line; a single point is a circle."""
    clearance = table.clearance or 0.0
    place = np.column_stack([shots.east[rows], shots.north[rows]])
    if len(rows) == 1:
        yield KeepOut.circle(_name(key), (float(place[0, 0]), float(place[0, 1])), clearance, shots.source(rows[0]))
    for number, (start, end) in enumerate(pairwise(place)):
        along = end - start
        length = float(np.hypot(*along))
        if length < 1e-6:
            continue
        aside = np.array([-along[1], along[0]]) / length * HALF_WIDTH
        ring = np.array([start + aside, end + aside, end - aside, start - aside])
        name = _name(key) if len(rows) == 2 else f"{_name(key)}, stretch {number + 1}"
        yield KeepOut.polygon(name, ring, clearance, shots.source(rows[number]))
