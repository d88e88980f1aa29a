"""Refuse rod readings that no rod can show, and ask what was meant."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np

from spadework.errors import Fault, Source
from spadework.levels.wording import Wording, plural
from spadework.readings import FloatArray

__all__ = ["ROD_LENGTH", "inverted_rods", "rods_out_of_range"]

ROD_LENGTH = 5.0
"""Length of the usual builder's rod. [m]"""


def _meant(text_of: Callable[[float], str], reading: float, rod_length: float) -> str:
    """Return the same digits with the decimal mark where it makes a reading of this rod."""
    for factor in (10.0, 100.0, 1000.0):
        if rod_length / 50 <= abs(reading) / factor <= rod_length:
            return f" Did you mean {text_of(reading / factor)}?"
    return ""


def rods_out_of_range(
    rods: FloatArray, where: Callable[[int], Source], what: str, words: Wording, rod_length: float = ROD_LENGTH
) -> Iterator[Fault]:
    """Give a fault for each reading beyond the rod.

    Parameters
    ----------
    rods : array, shape (n,)
        Rod readings; negative ones were read on a rod held upside down. [m]
    where : callable
        Returns the source of a row.
    what : str
        The kind of reading: ``foresight``.
    words : Wording
        For the message.
    rod_length : float
        Length of the rod. [m]

    Yields
    ------
    Fault
        With the reading that was probably meant.
    """
    for row in np.flatnonzero(np.isfinite(rods) & (np.abs(rods) > rod_length + 1e-9)).tolist():
        reading = float(rods[row])
        rule = f"a rod reading lies between 0 and {words.length(rod_length)}"
        yield Fault(
            what=f"{what} {words.length(reading)} is outside the rod",
            rule=f"{rule}.{_meant(words.number, reading, rod_length)}",
            remedy="Correct the line, or give rod-length",
            source=where(row),
        )
    for row in np.flatnonzero(np.isinf(rods)).tolist():
        yield Fault(what=f"{what} is not a number", remedy="Correct the line", source=where(row))


def inverted_rods(rods: FloatArray, lines: list[int]) -> str | None:
    """Return the notice that some readings are negative, or None."""
    rows = np.flatnonzero(rods < 0)
    if not len(rows):
        return None
    named = ", ".join(str(line) for line in sorted({lines[row] for row in rows.tolist()})[:10])
    return (
        f"{plural(len(rows), 'reading')} below zero (line {named}{', ...' if len(rows) > 10 else ''}): "
        "taken as read on a rod held upside down against something overhead."
    )
