"""The page of readings: every example on it is read as the kind under whose heading it stands."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from spadework.read import ALL_KINDS, read_text
from spadework.units import LengthUnit

PAGE = (Path(__file__).parents[1] / "docs" / "readings.md").read_text(encoding="utf-8")
SECTIONS = {
    "Strings and a tape": "string-line",
    "Tape and clinometer": "slope-walk",
    "Transit, total station": "radial",
    "Tape ties": "ties",
    "Along a baseline, and by the squares of a grid": "rod-list",
    "A phone's track": "track",
}


def examples() -> dict[str, str]:
    """Every example by the heading above it."""
    found = {}
    for section in PAGE.split("\n## ")[1:]:
        heading, _, body = section.partition("\n")
        for number, block in enumerate(re.findall(r"```text\n(.*?)```", body, re.DOTALL)):
            found[heading if number == 0 else f"{heading} ({number})"] = block
    return found


@pytest.mark.parametrize("heading", sorted(SECTIONS))
def test_example_is_read_as_its_section_says(heading: str) -> None:
    """The example has rows, and is recognised without a hint."""
    found = read_text(examples()[heading], units=LengthUnit.METRE)
    assert found.kind == SECTIONS[heading]
    assert len(found.reading.line) >= 3  # type: ignore[union-attr]  # none of them is a raster


def test_every_kind_is_on_the_page() -> None:
    """The table at the top names every kind that there is."""
    assert [kind for kind in ALL_KINDS if f"| `{kind}` |" not in PAGE] == []
