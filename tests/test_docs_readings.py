"""The page of readings: every example on it is read as the kind under whose heading it stands."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from spadework.read import ALL_KINDS, read_text
from spadework.units import LengthUnit

PAGE = (Path(__file__).parents[1] / "docs" / "readings.md").read_text(encoding="utf-8")
# Sections that are not headed by their kind.
OTHERS = {"Along a baseline, and by the squares of a grid": "rod-list"}


def examples() -> dict[str, tuple[str, str]]:
    """Every example and its kind, by the heading above it."""
    found = {}
    for section in PAGE.split("\n## ")[1:]:
        heading, _, body = section.partition("\n")
        named = re.match(r"`([a-z-]+)`:", heading)
        kind = named.group(1) if named else OTHERS.get(heading, "")
        if not kind:
            continue
        for number, block in enumerate(re.findall(r"```(?:text|xml)\n(.*?)```", body, re.DOTALL)):
            found[f"{heading} {number}"] = (kind, block)
    return found


@pytest.mark.parametrize("heading", sorted(examples()))
def test_example_is_read_as_its_section_says(heading: str) -> None:
    """The example has rows, and is recognised without a hint."""
    kind, block = examples()[heading]
    found = read_text(block, units=LengthUnit.METRE)
    assert found.kind == kind
    assert len(found.reading.line) > 0  # type: ignore[union-attr]  # none of them is a raster


def test_most_kinds_have_an_example() -> None:
    """Every kind that can be written as text stands on the page with one."""
    shown = {kind for kind, _ in examples().values()}
    assert {kind for kind in ALL_KINDS if kind not in ("cloud", "raster")} <= shown


def test_every_kind_is_on_the_page() -> None:
    """The table at the top names every kind that there is."""
    assert [kind for kind in ALL_KINDS if f"| `{kind}` |" not in PAGE] == []
