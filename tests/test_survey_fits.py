"""A file with axes or a datum of its own is laid over the others by the points that they share."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from spadework.errors import InputError
from surveyed_yard import DATUM, POINTS, YARD, check_yard, level, surveyed


def test_fit_when_a_file_has_axes_of_its_own(tmp_path: Path) -> None:
    """A list in other axes, turned by 30 degrees and shifted, is laid over the yard by three common points."""
    turn = math.radians(30)
    rows = []
    for name, east, north in (*YARD[:3], ("X1", 20.0, 14.0)):
        e, n = east * math.cos(turn) - north * math.sin(turn) + 500, east * math.sin(turn) + north * math.cos(turn) - 80
        rows.append(f"{name},{e:.4f},{n:.4f}\n")
    text = "point,east (m),north (m)\n" + "".join(rows)
    readings = '[[readings]]\nfile = "a.csv"\n\n[[readings]]\nfile = "b.csv"\nfit = "turn"'
    survey = surveyed(tmp_path, readings, {"a.csv": POINTS, "b.csv": text})
    assert survey.shots is not None
    row = survey.shots.rows("X1")[0]
    assert (survey.shots.east[row], survey.shots.north[row]) == pytest.approx((20.0, 14.0), abs=0.0005)
    assert any("b.csv fitted on 3 common points: turned 30.0" in sentence for sentence in survey.sentences)


def test_fit_when_east_and_north_are_swapped(tmp_path: Path) -> None:
    """Common points that only fit mirrored are told by that."""
    text = "point,east (m),north (m)\n" + "".join(f"{n},{o},{e}\n" for n, e, o in YARD)
    readings = '[[readings]]\nfile = "a.csv"\n\n[[readings]]\nfile = "b.csv"\nfit = "turn"'
    with pytest.raises(InputError, match="Are east and north swapped"):
        surveyed(tmp_path, readings, {"a.csv": POINTS, "b.csv": text})


def test_fit_when_too_few_points_are_common(tmp_path: Path) -> None:
    """One common point cannot turn a file."""
    readings = '[[readings]]\nfile = "a.csv"\n\n[[readings]]\nfile = "b.csv"\nfit = "turn"'
    files = {"a.csv": POINTS, "b.csv": "point,east (m),north (m)\nQ1,1,2\nZ,3,4\n"}
    with pytest.raises(InputError, match="too few of its points are named"):
        surveyed(tmp_path, readings, files)


def test_fit_asks_in_feet_when_the_site_is_in_feet(tmp_path: Path) -> None:
    """East of Q3, 50.85 ft, is written 58.05: the digits are exchanged in feet, as they were written."""
    foot = 0.3048
    true = {name: (round(east / foot, 2), round(north / foot, 2)) for name, east, north in YARD}
    assert true["Q3"][0] == 50.85
    rows = [f"{name},{east},{north},{level(east, north):.2f}\n" for name, (east, north) in true.items()]
    text = "point,east (ft),north (ft),level (ft)\n" + "".join(rows)
    files = {"a.csv": text, "b.csv": text.replace("Q3,50.85,", "Q3,58.05,")}
    readings = '[[readings]]\nfile = "a.csv"\n\n[[readings]]\nfile = "b.csv"\nfit = "turn"'
    survey = surveyed(tmp_path, readings, files, head='units = "ft"')
    asked = [notice for notice in survey.notices if "did you mean" in notice]
    assert len(asked) == 1
    assert "its east is 58.05 ft, did you mean 50.85 ft (two digits exchanged)?" in asked[0]


def test_levels_when_a_second_list_starts_from_points_of_the_first(tmp_path: Path) -> None:
    """A rod list without the datum counts from the bench mark that it shares with an earlier one."""
    first = f"point,east (m),north (m),rod (m)\nBM1,,,1.500\nQ1,2,3,{101.5 - level(2, 3):.4f}\n"
    rows = "".join(f"{n},{e},{o},{102.2 - level(e, o):.4f}\n" for n, e, o in YARD)
    second = "point,east (m),north (m),rod (m)\n" + rows
    readings = '[[readings]]\nfile = "one.csv"\n\n[[readings]]\nfile = "two.csv"'
    survey = surveyed(tmp_path, readings, {"one.csv": first, "two.csv": second}, head=DATUM)
    check_yard(survey)
    assert "Levels taken over from earlier files at Q1." in survey.sentences


@pytest.mark.parametrize("turned", [False, True])
def test_levels_are_moved_when_a_file_is_on_a_datum_of_its_own(tmp_path: Path, *, turned: bool) -> None:
    """A list 37.5 m lower: moved by the mean of two common levels, one of them 4 cm out; each point stands once."""
    turn = math.radians(20) if turned else 0.0
    rows = []
    for name, east, north in (*YARD[:2], YARD[3], ("X1", 20.0, 14.0)):
        e, n = east * math.cos(turn) + north * math.sin(turn), north * math.cos(turn) - east * math.sin(turn)
        high = "" if name == "Q4" else f"{level(east, north) - 37.5 + (0.04 if name == 'Q2' else 0.0):.4f}"
        rows.append(f"{name},{e:.4f},{n:.4f},{high}\n")
    readings = '[[readings]]\nfile = "a.csv"\n\n[[readings]]\nfile = "b.csv"\nfit-levels = true'
    readings += '\nfit = "turn"' if turned else ""
    files = {"a.csv": POINTS, "b.csv": "point,east (m),north (m),level (m)\n" + "".join(rows)}
    survey = surveyed(tmp_path, readings, files)
    check_yard(survey, places=0.001, levels=0.001)
    assert survey.shots is not None
    assert len(survey.shots) == len(YARD) + 1
    row = survey.shots.rows("X1")[0]
    place = survey.shots.east[row], survey.shots.north[row], survey.shots.level[row]
    assert place == pytest.approx((20.0, 14.0, level(20.0, 14.0) - 0.02), abs=0.001)
    said = next(sentence for sentence in survey.sentences if sentence.startswith("Levels of b.csv moved by +37.480 m"))
    assert "Q1 +0.020 m" in said
    assert "Q2 -0.020 m" in said


def test_levels_are_refused_when_no_level_is_common(tmp_path: Path) -> None:
    """A datum needs one point that both files levelled."""
    readings = '[[readings]]\nfile = "a.csv"\n\n[[readings]]\nfile = "b.csv"\nfit-levels = true'
    files = {"a.csv": POINTS, "b.csv": "point,east (m),north (m),level (m)\nZ,1,2,3\n"}
    with pytest.raises(InputError, match="too few of its points are named"):
        surveyed(tmp_path, readings, files)
