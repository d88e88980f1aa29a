"""What headings mean."""

from __future__ import annotations

import pytest

from spadework.read.headings import MEANING_OF, SYNONYMS, nearest_heading, read_heading, unit_named


@pytest.mark.parametrize(
    ("text", "meaning", "unit"),
    [
        ("rod (ft)", "rod", "decimal feet"),
        ("E [m]", "east", "metres"),
        ("BS_ft", "backsight", "decimal feet"),
        ("rod, ft-in", "rod", "feet and inches"),
        ("Rod reading in feet", "rod", "decimal feet"),
        ("Northing/m", "north", "metres"),
        ("Level (m AOD)", "level", "metres"),
        ("staff (mm)", "rod", "millimetres"),
        ("rod (decimal ft)", "rod", "decimal feet"),
        ("sag (in)", "", "inches"),
        ("B.S.", "backsight", None),
        ("I.F.S.", "intermediate", None),
        ("Back-sight", "backsight", None),
        ("HI / HPC", "hi", None),
        ("Height of collimation", "hi", None),
        ("Reduced level (RL)", "level", None),
        ("elev(derived)", "level", None),
        ("x", "east", None),
        ("Y", "north", None),
        ("Remarks", "note", None),
        ("Set-up", "setup", None),
        ("adj_mm", "", "millimetres"),
        ("foo", "", None),
        ("", "", None),
    ],
)
def test_heading_is_understood_when_written_so(text: str, meaning: str, unit: str | None) -> None:
    """Meaning and unit are found whatever the brackets, dots, dashes and case."""
    heading = read_heading(text)
    assert heading.meaning == meaning
    assert (heading.unit.label if heading.unit else None) == unit
    assert not heading.unknown_unit


@pytest.mark.parametrize("text", ["rod (furlong)", "E [km]", "BS (yards)"])
def test_unknown_unit_is_kept_when_it_stands_in_brackets(text: str) -> None:
    """What stands in the place of a unit and is none is not passed over."""
    assert read_heading(text).unknown_unit


def test_synonyms_are_unique_when_all_are_listed() -> None:
    """No heading has two meanings."""
    assert len(MEANING_OF) == sum(len(words) for words in SYNONYMS.values())


def test_nearest_heading_is_offered_when_mistyped() -> None:
    """A slip of the pen comes close to what was meant; a different word to nothing."""
    assert nearest_heading("norht (m)", ("east", "north")) == "north"
    assert nearest_heading("colour", ("east", "north", "rod")) == ""


@pytest.mark.parametrize(
    ("words", "metres"),
    [("mm", 0.001), ("cm", 0.01), ("ft", 0.3048), ("in", 0.0254), ("US survey feet", 1200 / 3937), ("m", 1.0)],
)
def test_unit_has_its_size_when_named(words: str, metres: float) -> None:
    """International foot and inch exactly; survey foot 1200/3937 m (US Federal Register 85 FR 62698)."""
    unit = unit_named(words)
    assert unit is not None
    assert unit.times / unit.over == pytest.approx(metres, rel=1e-15)
