"""Which of the ways to measure positions a row of headings belongs to, and what its headings mean there."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import TYPE_CHECKING

from spadework.positions.grid_labels import read_label
from spadework.read.headings import Heading, letters
from spadework.read.table import EMPTY, RawTable

if TYPE_CHECKING:
    from spadework.read.recognise import Headings

__all__ = ["MOST_TIES", "places_in_names", "position_kind", "settled_meaning", "tie_reference"]

MOST_TIES = 12
TIE = re.compile(
    r"(?:(?:tape )?dist(?:ance)?\.? )?(?:from|to) (.+)|dist(?:ance)?\.? (?!along|across|in )(.+)", re.IGNORECASE
)
UNIT_AT_END = re.compile(r"\s*[(\[{][^)\]}]*[)\]}]\s*$|[ _,](?:m|cm|mm|ft|in)$")
DISTANCES = frozenset(("distance", "slopedistance", "horizontaldistance"))
ALONG = frozenset(("along", "distancealong", "distalong", "alongdistance", "north", "x"))
MOSTLY = 0.6


def tie_reference(text: str) -> str:
    """Return the point that a heading such as ``from A (m)`` or ``distance to H1`` counts from, or nothing."""
    found = TIE.fullmatch(" ".join(UNIT_AT_END.sub("", text.strip()).replace("_", " ").split()))
    name = (found.group(1) or found.group(2) or "").strip() if found else ""
    return "" if letters(name) in ("point", "line", "string") else name


def position_kind(table: RawTable, headings: Headings) -> tuple[str, str] | None:
    """Return the kind of a table that says where points are, and why; None where it is another kind.

    Parameters
    ----------
    table : RawTable
        Its rows: point names that are places themselves are told by how they look.
    headings : Headings
        The row of headings.
    """
    meanings = headings.meanings
    has_distance = bool(meanings & DISTANCES)
    stadia = "interval" in meanings or {"upper", "lower"} <= meanings
    inclined = bool(meanings & {"slope", "vertical", "zenith"})
    if {"latitude", "longitude"} <= meanings:
        return "track", "name latitude and longitude"
    if {"from", "to"} <= meanings and has_distance and inclined and "direction" not in meanings:
        return "slope-walk", "name the two ends of legs, their length and their slope"
    if meanings & {"direction", "bearing"} and (has_distance or stadia):
        return "radial", "name directions and distances"
    if sum(1 for heading in headings.headings if tie_reference(heading.text)) >= 2 and "rod" not in meanings:
        return "ties", "name distances from several points"
    if {"point", "from"} <= meanings and has_distance and "to" not in meanings and not inclined:
        return "ties", "name points and their distances from others"
    if "drop" in meanings and ("string" in meanings or {"east", "north"} <= meanings) and has_along(headings):
        return "string-line", "name strings, distances along them and drops"
    if {"east", "north"} <= meanings or not meanings & {"point", "station", "number"}:
        return None
    if "rod" in meanings or {"upper", "middle", "lower"} <= meanings:
        if {"station", "offset"} <= meanings:
            return "rod-list", "name station, offset and rod readings"
        if places_in_names(table, headings):
            return "rod-list", "name rod readings, and the points are called after their places"
    if "level" in meanings and {"station", "offset"} <= meanings:
        return "points", "name station, offset and levels"
    if "level" in meanings and places_in_names(table, headings):
        return "points", "name levels, and the points are called after their places"
    return None


def has_along(headings: Headings) -> bool:
    """Say whether a column counts distance along a string."""
    return any(heading.meaning in DISTANCES or heading.meaning == "north" for heading in headings.headings)


def places_in_names(table: RawTable, headings: Headings) -> bool:
    """Say whether most points are called after their place, as ``B-3`` or ``2+40 L 12``."""
    column = next(
        (
            place
            for wanted in ("point", "station", "number")
            for place, heading in enumerate(headings.headings)
            if heading.meaning == wanted
        ),
        None,
    )
    if column is None:
        return False
    names = [row[column] for row in table.rows[headings.row + 1 : headings.row + 201] if column < len(row)]
    names = [name for name in names if name not in EMPTY]
    return bool(names) and sum(1 for name in names if read_label(name) is not None) >= MOSTLY * len(names)


def settled_meaning(heading: Heading, kind: str, present: Sequence[str], used: int) -> tuple[str, str] | None:
    """Return what a heading means in a table of positions, and why; None where it means what it always does.

    Parameters
    ----------
    heading : Heading
        As recognised by itself.
    kind : str
        Kind of table.
    present : sequence of str
        What all headings mean by themselves.
    used : int
        How many ties were found before.
    """
    meaning = heading.meaning
    if kind == "level-net":
        if meaning == "slopedistance" and letters(heading.text).startswith("sd"):
            return "sd", "standard deviation of the rise"
        if meaning == "setup" and "setups" not in present:
            return "setups", "how many set-ups"
        if meaning in DISTANCES:
            return "distance", "length of the line"
    if kind == "ties":
        if (name := tie_reference(heading.text)) and "from" not in present and used < MOST_TIES:
            return f"tie{used + 1}", f"distance from {name}"
        if meaning in DISTANCES:
            return "distance", "heading"
        if meaning == "to" and "point" not in present:
            return "point", "the point that was tied"
    if kind == "string-line":
        if meaning in DISTANCES or (meaning == "north" and "distance" not in present):
            return "distance", "distance along the string"
        if meaning == "east" and "string" not in present:
            return "string", "strings lie side by side: named by their distance across"
    if kind == "slope-walk":
        if meaning in DISTANCES:
            return "distance", "distance along the slope"
        if meaning == "vertical":
            return "slope", "inclination of the leg"
        if meaning == "rod" and heading.text.strip().casefold() == "reading":
            return "", "not needed for this kind of table"
    if kind == "radial":
        renamed = {"station": "setup", "from": "setup", "to": "point", "targetheight": "rod", "hi": "ih"}
        if meaning == "point" and "setup" not in present and "to" in present:
            return "setup", "where the instrument stood"
        if meaning in renamed and not (meaning == "station" and "setup" in present):
            return renamed[meaning], "heading"
        if meaning in ("slopedistance", "horizontaldistance"):
            return meaning, "heading"
        if meaning == "slope":
            return "vertical", "inclination of the sight"
    if kind == "track" and meaning == "level":
        return "level", "height as the device gives it"
    return None
