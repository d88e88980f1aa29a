"""An invented yard of known levels, to be measured in every way, and the check that a survey gives it back."""

from __future__ import annotations

from pathlib import Path

import pytest

from spadework.site import load_site
from spadework.survey import Survey, load_survey

__all__ = ["BOOK_CLOSED", "DATUM", "HOUSE", "POINTS", "STATION", "YARD", "check_yard", "level", "surveyed"]

# Points of an invented yard: name, east, north. [m]
YARD = (
    ("Q1", 2.0, 3.0),
    ("Q2", 9.0, 2.5),
    ("Q3", 15.5, 4.0),
    ("Q4", 3.5, 9.0),
    ("Q5", 10.0, 10.5),
    ("Q6", 16.0, 11.0),
    ("Q7", 6.5, 6.0),
)
STATION = ("S1", 8.0, -4.0)
HOUSE = (("H1", 0.0, 0.0), ("H2", 18.0, 0.0))


def level(east: float, north: float) -> float:
    """Level of the yard: a plane with a hollow. [m]"""
    return 100.0 + 0.03 * east - 0.05 * north + 0.002 * (east - 9.0) ** 2


def surveyed(
    folder: Path, readings: str, files: dict[str, str], *, head: str = 'units = "m"', rest: str = ""
) -> Survey:
    """Write a site and load its survey."""
    for name, text in files.items():
        (folder / name).write_text(text, encoding="utf-8")
    text = f'[site]\nname = "Yard"\n{head}\n\n{readings}\n\n[pad]\nsize = ["3 m", "2 m"]\n\n{rest}\n'
    (folder / "site.toml").write_text(text, encoding="utf-8")
    return load_survey(load_site(folder))


def check_yard(survey: Survey, *, places: float = 0.002, levels: float | None = 0.003) -> None:
    """Every point of the yard is where it was, and as high as it was."""
    assert survey.shots is not None
    for name, east, north in YARD:
        row = survey.shots.rows(name)[0]
        assert survey.shots.east[row] == pytest.approx(east, abs=places), name
        assert survey.shots.north[row] == pytest.approx(north, abs=places), name
        if levels is not None:
            assert survey.shots.level[row] == pytest.approx(level(east, north), abs=levels), name


POINTS = "point,east (m),north (m),level (m)\n" + "".join(f"{n},{e},{o},{level(e, o):.4f}\n" for n, e, o in YARD)
BOOK = "point,BS (m),IS (m),FS (m)\nBM1,1.500,,\n" + "".join(f"{n},,{101.5 - level(e, o):.4f},\n" for n, e, o in YARD)
BOOK_CLOSED = f"{BOOK}BM1,,,1.500\n"
DATUM = 'units = "m"\ndatum = { point = "BM1", level = 100.0 }'
