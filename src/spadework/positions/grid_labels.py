"""What a point's name says of its place: ``B-3`` on a lettered grid, ``2+40 L 12`` along a line."""

from __future__ import annotations

import re
from dataclasses import dataclass

__all__ = ["GridLabel", "StationLabel", "read_label", "read_offset", "read_station"]

# Bench marks, turning points and set-ups have such names; they are no squares of a grid.
NO_SQUARE = frozenset(("BM", "TBM", "TP", "CP", "HI", "STA", "STN", "SU"))
SQUARE = re.compile(r"([A-Z]{1,2})[-. ]?(\d{1,3})", re.IGNORECASE | re.ASCII)
STATION = re.compile(r"([+-]?)(\d{1,5})\+(\d{2,3})((?:\.\d+)?)", re.ASCII)
AMOUNT = r"(\d{1,6}(?:\.\d+)?)"
OFFSET = re.compile(
    rf"(?:{AMOUNT} ?(L|R|LT|RT|LEFT|RIGHT)|(L|R|LT|RT|LEFT|RIGHT) ?{AMOUNT}|(CL|C/L|C)|([+-]?\d{{1,6}}(?:\.\d+)?))",
    re.IGNORECASE | re.ASCII,
)


@dataclass(frozen=True, slots=True)
class GridLabel:
    """A corner of a lettered grid.

    Parameters
    ----------
    column, row : int
        Counted from 0: ``A1`` is column 0, row 0.
    """

    column: int
    row: int


@dataclass(frozen=True, slots=True)
class StationLabel:
    """A place by its distance along a line and its distance from it.

    Parameters
    ----------
    station : float
        Along the line, in the unit of the label.
    offset : float
        To the right of the line as stations grow, negative to the left, in the same unit.
    """

    station: float
    offset: float = 0.0


def read_label(text: str) -> GridLabel | StationLabel | None:
    """Return what a name says of a place, or None.

    Parameters
    ----------
    text : str
        ``A1``, ``B-3``, ``AA12``; ``2+40``, ``2+40 L 12``, ``0+35.5 R4``, ``1+00 CL``.

    Returns
    -------
    GridLabel or StationLabel or None
        Columns are lettered ``A`` to ``Z``, ``AA``, ``AB``, ... Two figures after the plus sign make a full station 100
        units (1+53.25 is 153.25 from the start: NPTEL course 105107122, Surveying, module 4), three make it 1,000.
    """
    plain = " ".join(text.split())
    square = SQUARE.fullmatch(plain)
    if square:
        letters, number = square.group(1).upper(), int(square.group(2))
        if letters in NO_SQUARE or number == 0:
            return None
        column = 0
        for letter in letters:
            column = column * 26 + ord(letter) - ord("A") + 1
        return GridLabel(column - 1, number - 1)
    found = STATION.match(plain)
    if not found:
        return None
    station = read_station(found.group())
    rest = plain[found.end() :].strip(" ,;")
    if station is None or not rest:
        return None if station is None else StationLabel(station)
    # A number alone behind a station is no offset in a name: which side would it be?
    offset = None if re.fullmatch(r"[\d.]+", rest) else read_offset(rest)
    return None if offset is None else StationLabel(station, offset)


def read_station(text: str) -> float | None:
    """Return the distance that ``2+40`` or ``0+35.5`` stands for, in its own unit; None where it is no station."""
    found = STATION.fullmatch(text.replace(" ", ""))
    if not found:
        return None
    sign, whole, figures, part = found.groups()
    station = float(int(whole) * (1000 if len(figures) == 3 else 100)) + float(figures + part)
    return -station if sign == "-" else station


def read_offset(text: str) -> float | None:
    """Return the offset that ``L 12``, ``12 R``, ``CL`` or ``-3.5`` stands for, right positive; None for none."""
    found = OFFSET.fullmatch(" ".join(text.split()))
    if not found:
        return None
    before, side_after, side_before, after, centre, signed = found.groups()
    if centre:
        return 0.0
    if signed is not None:
        return float(signed)
    side = (side_after or side_before).upper()
    return float(before or after) * (-1.0 if side.startswith("L") else 1.0)
