"""Builds HTML out of words that are always escaped, and of elements."""

from __future__ import annotations

import html
from collections.abc import Iterable, Sequence

__all__ = ["Markup", "element", "inline_script_text", "items", "joined", "table"]

EMPTY = {"br", "input"}
"""Elements that never hold anything, and have no end tag."""


class Markup(str):
    """HTML that is ready: made by `element`, or by us and not by the user."""

    __slots__ = ()


def element(name: str, /, *children: str, **attributes: str) -> Markup:
    """Return an element; what is not `Markup` yet is escaped.

    Parameters
    ----------
    name : str
        Its tag.
    *children : str
        What it holds.
    **attributes : str
        Its attributes; a trailing underscore is dropped, other underscores become hyphens.
    """
    inside = "".join(_safe(child) for child in children)
    written = "".join(
        f' {key.rstrip("_").replace("_", "-")}="{html.escape(value, quote=True)}"' for key, value in attributes.items()
    )
    return Markup(f"<{name}{written}>" if name in EMPTY else f"<{name}{written}>{inside}</{name}>")


def joined(parts: Iterable[str]) -> Markup:
    """Return parts one after another, those that are not `Markup` escaped."""
    return Markup("\n".join(_safe(part) for part in parts))


def items(kind: str, parts: Iterable[str], **attributes: str) -> Markup:
    """Return a list, ``ul`` or ``ol``, of parts."""
    return element(kind, joined(element("li", part) for part in parts), **attributes)


def table(headings: Sequence[str], rows: Iterable[Sequence[str]], *, caption: str = "") -> Markup:
    """Return a table; the first cell of each row is its heading. One wider than its page is moved sideways by itself.

    Parameters
    ----------
    headings : sequence of str
        One for each column.
    rows : iterable of sequence of str
        Cells.
    caption : str
        What it shows.
    """
    head = element("thead", element("tr", *(element("th", words, scope="col") for words in headings)))
    body = element("tbody", joined(_row(row) for row in rows))
    made = element("table", *([element("caption", caption)] if caption else []), head, body)
    return element("div", made, class_="wide", tabindex="0")


def inline_script_text(written: str) -> Markup:
    """Return JSON for the inside of a script; what would end the script early is written so that it cannot."""
    return Markup(written.replace("<", "\\u003c"))


def _row(cells: Sequence[str]) -> Markup:
    """Return a row; a cell that is an element already stays as it is."""
    first, *rest = cells
    others = (cell if isinstance(cell, Markup) and cell.startswith("<td") else element("td", cell) for cell in rest)
    return element("tr", element("th", first, scope="row"), *others)


def _safe(words: str) -> str:
    """Return words escaped, and markup as it is."""
    return words if isinstance(words, Markup) else html.escape(words, quote=True)
