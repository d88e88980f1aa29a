"""Find the line on which a value of a JSON text stands: Python's parser tells it for broken text only."""

from __future__ import annotations

import json
import re
from collections.abc import Sequence

__all__ = ["line_of"]

_BLANK = re.compile(r"[ \t\n\r]*")


def line_of(text: str, path: Sequence[str | int]) -> int:
    """Return the line, counted from 1, on which the value at a path begins.

    Parameters
    ----------
    text : str
        Well-formed JSON.
    path : sequence of str or int
        Keys and positions from the outermost value inwards: ``("features", 0, "geometry")``.

    Returns
    -------
    int
        Line of the value; of the innermost value on the way where the path leads nowhere.
    """
    place = _skip(text, 0)
    for step in path:
        inner = _member(text, place, step)
        if inner is None:
            break
        place = inner
    return text.count("\n", 0, place) + 1


def _skip(text: str, place: int) -> int:
    """Return the first place from `place` on that is not blank."""
    match = _BLANK.match(text, place)
    return match.end() if match else place


def _member(text: str, place: int, step: str | int) -> int | None:
    """Return where the member called `step` of the object or array at `place` begins."""
    decoder = json.JSONDecoder()
    closing = {"{": "}", "[": "]"}.get(text[place])
    if closing is None:
        return None
    found = None
    place = _skip(text, place + 1)
    position = 0
    while text[place] != closing:
        name: str | int = position
        if closing == "}":
            name, place = decoder.raw_decode(text, place)
            place = _skip(text, _skip(text, place) + 1)
        if name == step:
            found = place  # an object that repeats a key means its last, as Python's parser takes it
        _, place = decoder.raw_decode(text, place)
        place = _skip(text, place)
        if text[place] == ",":
            place = _skip(text, place + 1)
        position += 1
    return found
