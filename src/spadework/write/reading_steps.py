"""How readings are taken with each instrument: steps that can be followed in the yard, and the lines to write on."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

__all__ = ["Ways", "reading_rows", "ways_of"]

NAMED = (("H1", "house corner"), ("H2", "house corner"), ("F1", ""), ("F2", ""), ("F3", ""), ("F4", ""), ("T1", ""))
"""Points that have a line of their own on the form, and what is printed beside them."""


@dataclass(frozen=True, slots=True)
class Ways:
    """How one instrument is used.

    Parameters
    ----------
    name : str
        As people call it.
    line : str
        What has the level that all others count from.
    grid : bool
        Whether drops are taken over a taped grid, and not rods at points.
    steps : tuple of str
        With ``{bench}``, ``{far}``, ``{closed}``, ``{string}`` and ``{step}`` for what depends on site and unit.
    """

    name: str
    line: str
    grid: bool
    steps: tuple[str, ...]

    def said(self, words: Mapping[str, str]) -> list[str]:
        """Return the steps with the words of a site."""
        return [step.format(**words) for step in self.steps]


@cache
def ways_of() -> Mapping[str, Ways]:
    """Return how each instrument is used, by its name: what ``templates/reading-steps.toml`` holds."""
    text = (files("spadework.write") / "templates" / "reading-steps.toml").read_text(encoding="utf-8")
    tables = tomllib.loads(text)
    common = tables.pop("common")
    return {
        name: Ways(
            table["name"],
            table["line"],
            table["readings"] == "drops",
            (*table["steps"], *common[table["readings"]]),
        )
        for name, table in tables.items()
    }


def reading_rows(count: int) -> list[Sequence[str]]:
    """Return the lines of a form: the bench mark, places to be named, numbered points, and the bench mark again.

    Parameters
    ----------
    count : int
        Numbered points.
    """
    rows: list[Sequence[str]] = [("S1", "BM1", "-", "-", "", "bench mark, first")]
    rows += [("", name, "", "", "", note) for name, note in NAMED]
    rows += [("", str(number), "", "", "", "") for number in range(1, count + 1)]
    rows.append(("", "BM1", "-", "-", "", "bench mark, last"))
    return rows
