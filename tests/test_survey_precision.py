"""How sure the shots of a site are: by the instrument that its file names, by its own figure, or as is usual."""

from __future__ import annotations

import json
import math
from pathlib import Path

import numpy as np
import pytest

from command_line import run
from spadework.errors import InputError
from spadework.site import load_site
from spadework.survey import load_survey
from spadework.survey_result import Survey
from surveyed_yard import surveyed

RODS = """setup,point,east (m),north (m),rod (m)
S1,BM1,,,1.400
S1,A,0,0,1.500
S1,B,20,0,1.520
S1,C,20,20,1.560
S1,D,0,20,1.540
S1,E,10,10,1.530
"""
SITE = """[site]
units = "m"
datum = {{ point = "BM1", level = 100.0 }}
[[readings]]
file = "{file}"
{more}
[pad]
size = [3.0, 4.0]
"""


def survey(folder: Path, file: str, text: str, more: str = "") -> Survey:
    """The survey of a site with one file of readings."""
    (folder / file).write_text(text, encoding="utf-8")
    site = SITE.format(file=file, more=more)
    if "line-level" in more or file == "points.csv":
        site = site.replace('datum = { point = "BM1", level = 100.0 }\n', "")
    (folder / "site.toml").write_text(site, encoding="utf-8")
    return load_survey(load_site(folder))


def doubts(folder: Path, file: str, text: str, more: str = "") -> dict[str, tuple[float, float]]:
    """Level and position sd of every shot; -1 where nobody knows. [m]"""
    shots = survey(folder, file, text, more).shots
    assert shots is not None
    blank = np.full(len(shots), np.nan)
    level = np.nan_to_num(blank if shots.level_sd is None else shots.level_sd, nan=-1.0)
    place = np.nan_to_num(blank if shots.position_sd is None else shots.position_sd, nan=-1.0)
    return dict(zip(shots.point, zip(level.tolist(), place.tolist(), strict=True), strict=True))


def test_standard_deviation_is_refused_when_its_unit_was_forgotten(tmp_path: Path) -> None:
    """A bare 1.5 on a site in metres is a metre and a half, which no rod is misread by; the line is named."""
    with pytest.raises(InputError) as caught:
        survey(tmp_path, "rods.csv", RODS, "sd = 1.5")
    (fault,) = caught.value.faults
    assert fault.what == "sd = 1.500 m is no standard deviation of a reading in rods.csv"
    assert fault.source.line == 6


@pytest.mark.parametrize(
    ("more", "reading", "place"),
    [
        ("", 0.002, 0.03),
        ('instrument = "hand-level"', 0.015, 0.03),
        ('instrument = "total-station"', 0.003, 0.005),
        ('sd = "4 mm"', 0.004, 0.03),
    ],
    ids=["assumed", "hand level", "total station", "given"],
)
def test_rods_carry_two_readings_when_taken_from_one_set_up(
    tmp_path: Path, more: str, reading: float, place: float
) -> None:
    """Backsight and shot: the root of two of a reading with its rounding; the place is as sure as the instrument's."""
    level, position = doubts(tmp_path, "rods.csv", RODS, more)["A"]
    assert level == pytest.approx(math.sqrt(2) * math.hypot(reading, 0.001 / math.sqrt(12)), abs=1e-6)
    assert position == pytest.approx(place)


def test_drops_carry_one_reading_each(tmp_path: Path) -> None:
    """A string is taken for what strings are, 5 mm."""
    grid = "drop 0 5 10\n0 0.50 0.52 0.55\n5 0.51 0.54 0.56\n10 0.53 0.55 0.58\n"
    found = doubts(tmp_path, "drops.txt", grid, 'line-level = "100 m"')
    assert set(found.values()) == {(0.005, 0.03)}


def test_points_are_as_sure_as_the_site_file_says(tmp_path: Path) -> None:
    """A list of points may come from anything: nothing is claimed unless the instrument or a figure is given."""
    points = "point,east,north,level\nA,0,0,100\nB,20,0,100.1\nC,20,20,100.3\nD,0,20,100.2\n"
    assert set(doubts(tmp_path, "points.csv", points).values()) == {(-1.0, -1.0)}
    assert set(doubts(tmp_path, "points.csv", points, 'instrument = "gnss-rtk"').values()) == {(0.02, 0.01)}
    assert set(doubts(tmp_path, "points.csv", points, 'sd = "7 mm"').values()) == {(0.007, -1.0)}


def test_readings_are_weighed_together_when_the_site_asks_for_least_squares(tmp_path: Path) -> None:
    """E is read 130 mm below the bench mark, then 133 mm: the mean, and a chi-square of 3 mm over four readings."""
    twice = RODS + "S2,BM1,,,1.610\nS2,E,10,10,1.743\n"
    found = survey(tmp_path, "rods.csv", twice, '[levels]\nadjust = "least-squares"')
    (levels,) = found.levels
    assert levels.fit is not None
    assert levels.fit.solution.chi_square == pytest.approx(0.003**2 / (4 * (0.002**2 + 0.001**2 / 12)), rel=1e-6)
    assert found.shots is not None
    assert found.shots.level[found.shots.rows("E")[0]] == pytest.approx(100 - 0.1315, abs=1e-9)
    assert any("1 more than needed" in sentence for sentence in found.sentences)


def test_doubt_is_written_when_a_plan_is(tmp_path: Path) -> None:
    """``levels.csv`` and ``plan.json`` have the same figure beside each level."""
    survey(tmp_path, "rods.csv", RODS)
    out = tmp_path / "out"
    result = run("plan", tmp_path, "--out", out, drawn=False)
    assert result.status == 0, result.err
    head, *rows = (out / "levels.csv").read_text(encoding="utf-8").splitlines()
    at = head.split(",").index("sd [m]")
    doubt = {row.split(",")[0]: row.split(",")[at] for row in rows}
    assert doubt["BM1"] == "0.0000"
    assert doubt["A"] == "0.0029"
    document = json.loads((out / "plan.json").read_text(encoding="utf-8"))
    assert document["levels"][0]["fit"]["verdict"] == "unchecked"
    (shot,) = [shot for shot in document["shots"] if shot["point"] == "A"]
    assert shot["level_sd"] == pytest.approx(0.00286, abs=0.00001)


def test_walk_is_less_sure_when_it_goes_on(tmp_path: Path) -> None:
    """Legs add up by their squares: four legs of 20 mm each are sure to 40 mm."""
    text = "from,to,distance (m),slope (%),bearing\nA,B,10,1,0\nB,C,10,2,90\nC,D,10,1,90\nD,E,10,1,180\n"
    survey = surveyed(
        tmp_path, '[[readings]]\nfile = "w.csv"\norigin = [0, 0]\nline-level = 100\nsd = "20 mm"', {"w.csv": text}
    )
    assert survey.shots is not None
    assert survey.shots.level_sd is not None
    sure = {name: survey.shots.level_sd[survey.shots.rows(name)[0]] for name in "BCE"}
    assert sure == {name: pytest.approx(0.02 * math.sqrt(legs)) for name, legs in {"B": 1, "C": 2, "E": 4}.items()}


def test_shots_are_as_sure_as_their_instrument_when_it_is_named(tmp_path: Path) -> None:
    """A total station's row of the table of instruments is used for radial shots: 3 mm in level, 5 mm in place."""
    rows = "S,P,10-00-00,5.000,1.2,1.5\nS,Q,80-00-00,6.000,1.3,\nS,R,150-00-00,6.000,1.1,\n"
    text = f"station,point,bearing,distance (m),rod (m),hi (m)\n{rows}"
    survey = surveyed(tmp_path, '[[readings]]\nfile = "r.csv"\nplaces = { S = [0, 0, 100] }', {"r.csv": text})
    assert survey.shots is not None
    assert survey.shots.level_sd is not None
    assert survey.shots.position_sd is not None
    row = survey.shots.rows("P")[0]
    # To the side stand 5 seconds of arc at 5 m besides, and what is written to the millimetre is rounded.
    assert (survey.shots.level_sd[row], survey.shots.position_sd[row]) == pytest.approx((0.003, 0.005), rel=0.01)
