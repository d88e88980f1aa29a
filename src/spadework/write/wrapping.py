"""Breaks text into lines by its measured width, so that it stays within its place on a page."""

from __future__ import annotations

from typing import Any

from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties

__all__ = ["wrapped"]

MOST_KEPT = 20_000
_WIDTHS: dict[tuple[str, float, str, float], float] = {}
"""Widths of words measured before, by word, size, weight and resolution. [points]"""


def wrapped(
    figure: Figure, words: str, room: float, size: float, *, most: int | None = None, weight: str = "normal"
) -> list[str]:
    """Return text broken into lines.

    Parameters
    ----------
    figure : Figure
        Where it is going to stand.
    words : str
        The text.
    room : float
        Greatest width of a line. [points]
    size : float
        Size of the writing. [points]
    most : int, optional
        Greatest number of lines; what is left over ends in an ellipsis.
    weight : str
        ``"normal"`` or ``"bold"``.

    Returns
    -------
    list of str
        At least one line. A word wider than a line is broken.
    """
    renderer: Any = figure.canvas.get_renderer()  # type: ignore[attr-defined]
    font = FontProperties(size=size, weight=weight)

    def width(text: str) -> float:
        key = (text, size, weight, figure.dpi)
        if key not in _WIDTHS:
            if len(_WIDTHS) >= MOST_KEPT:
                _WIDTHS.clear()
            _WIDTHS[key] = float(renderer.get_text_width_height_descent(text, font, False)[0]) * 72.0 / figure.dpi
        return _WIDTHS[key]

    # Word by word, for a page has hundreds and its neighbours have the same; a space is what it adds between two.
    space = width("n n") - 2.0 * width("n")
    lines: list[str] = []
    line, wide = "", 0.0
    for word in words.split():
        longer = wide + space + width(word) if line else width(word)
        if longer <= room:
            line, wide = f"{line} {word}".strip(), longer
            continue
        if line:
            lines.append(line)
        while width(word) > room:
            count = next(i for i in range(len(word), 0, -1) if i == 1 or width(word[:i]) <= room)
            lines.append(word[:count])
            word = word[count:]  # noqa: PLW2901 - the rest of a word too wide for a line
        line, wide = word, width(word)
    lines.append(line)
    if most is not None and len(lines) > most:
        last = lines[most - 1]
        while last and width(f"{last}…") > room:
            last = last[:-1]
        lines = [*lines[: most - 1], f"{last}…"]
    return lines
