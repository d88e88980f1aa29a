"""Breaklines, holes, reach and rasters of a site file, through to the ground."""

from __future__ import annotations

import json
import re
from pathlib import Path

import numpy as np
import pytest
import shapely

from command_line import run
from spadework.errors import GroundError, InputError, PlacementError
from spadework.ground.raster_doubt import RasterDoubt
from spadework.plan import make_plan
from spadework.site import load_site
from spadework.survey import Survey, load_survey, plan_inputs
from spadework.write.sheet_words import sure_words

FIXED_PAD = '[pad]\nsize = ["2 m", "2 m"]\nposition = ["5 m", "6 m"]\nbearing = 0\n'
HEAD = '[site]\nname = "Bank"\nunits = "m"\n'
SHOTS = """point,east,north,level,note
A1,0,5,101,TOP
A2,10,5,101,TOP
B1,0,0,100,
B2,10,0,100,
C1,0,10,101,
C2,10,10,101,
D1,5,3,100.5,
D2,7,7,100.2,
D3,3,8,101.1,
"""


def survey(folder: Path, *tables: str, readings: str = '[[readings]]\nfile = "p.csv"\n') -> Survey:
    """The survey of a site with these tables."""
    (folder / "p.csv").write_text(SHOTS, encoding="utf-8")
    (folder / "site.toml").write_text("\n".join((HEAD, readings, *tables)), encoding="utf-8")
    return load_survey(load_site(folder))


def kept_lines(made: Survey) -> list[list[tuple[float, float]]]:
    """Ends of the sides that are kept."""
    ground = made.ground
    places = np.column_stack([ground.east, ground.north]) + ground.origin
    return [[(float(e), float(n)) for e, n in places[pair]] for pair in ground.kept.tolist()]


def test_breakline_by_names_is_kept(tmp_path: Path) -> None:
    """Two shots named in order."""
    made = survey(tmp_path, '[[breakline]]\nname = "top"\npoints = ["A1", "A2"]\n')
    assert kept_lines(made) == [[(0.0, 5.0), (10.0, 5.0)]]
    assert made.ground.level_at(np.array([[5.0, 5.0]])) == pytest.approx([101.0])


def test_breakline_by_codes_in_the_notes_is_kept(tmp_path: Path) -> None:
    """The codes are turned on by [features]."""
    assert kept_lines(survey(tmp_path)) == []
    assert kept_lines(survey(tmp_path, "[features]\n")) == [[(0.0, 5.0), (10.0, 5.0)]]


def test_breakline_by_corners_has_levels_of_its_own(tmp_path: Path) -> None:
    """The third number is the level, in the units of the site."""
    made = survey(tmp_path, '[[breakline]]\ncorners = [[1, 1, "100.2 m"], [9, 1, 100.2]]\n')
    assert made.ground.level_at(np.array([[5.0, 1.0]])) == pytest.approx([100.2])
    assert made.ground.shot_count == 9


def test_breaklines_come_from_geojson_and_from_a_list(tmp_path: Path) -> None:
    """Lines with heights in site axes; a list of points in order."""
    line = {"type": "LineString", "coordinates": [[1, 1, 100.2], [9, 1, 100.2]]}
    member = {"type": "name", "properties": {"name": "site"}}
    feature = {"type": "Feature", "properties": {"name": "drive"}, "geometry": line}
    (tmp_path / "l.geojson").write_text(
        json.dumps({"type": "FeatureCollection", "crs": member, "features": [feature]}), encoding="utf-8"
    )
    (tmp_path / "l.csv").write_text("point,east,north,level\nq,1,1.5,100.4\nr,9,1.5,100.4\n", encoding="utf-8")
    for file, north, level in (("l.geojson", 1.0, 100.2), ("l.csv", 1.5, 100.4)):
        made = survey(tmp_path, f'[[breakline]]\nfile = "{file}"\n')
        assert made.ground.level_at(np.array([[5.0, north]])) == pytest.approx([level])


@pytest.mark.parametrize(
    ("table", "error", "wanted"),
    [
        ('[[breakline]]\npoints = ["A1", "A9"]\n', InputError, r"site.toml line 9: no shot is called 'A9'"),
        ("[[breakline]]\ncorners = [[1, 1], [9, 1]]\n", GroundError, r"site.toml line 9\) has no level at its ends"),
        ('[[breakline]]\nname = "x"\n', InputError, r"\[breakline 1\] has none of points, corners, file"),
        ('[[breakline]]\npoints = ["A1"]\n', InputError, "two places at least"),
        ('[[hole]]\npoints = ["A1", "A2"]\n', InputError, "3 corners at least"),
        ('[[hole]]\nfile = "pond.geojson"\n', InputError, "does not exist"),
        ('[ground]\nreach = "1 mm"\n', InputError, "A reach from 50 mm to 1 km"),
        ("[[hole]]\ncorners = [[2, 2], [8, 8], [8, 2], [2, 8]]\n", GroundError, "crosses itself"),
    ],
)
def test_faults_name_their_line(tmp_path: Path, table: str, error: type[Exception], wanted: str) -> None:
    """What is wrong, where, and what to do."""
    with pytest.raises(error, match=wanted):
        survey(tmp_path, table)


def test_hole_by_corners_is_cut_out_and_said(tmp_path: Path) -> None:
    """4 m² of 100 m² less; the shot inside says nothing of the ground."""
    made = survey(tmp_path, '[[hole]]\nname = "pond"\ncorners = [[6, 6], [8, 6], [8, 8], [6, 8]]\n')
    assert made.ground.area == pytest.approx(96)
    assert np.isnan(made.ground.level_at(np.array([[7.0, 7.0]]))).all()
    said = " ".join(made.ground.notices)
    assert "no ground is drawn through them: D2" in said
    assert "No ground in pond: 4.00 m² less." in said


def test_hole_by_shots_follows_them(tmp_path: Path) -> None:
    """A triangle of shots: its sides are breaklines, its area is gone."""
    made = survey(tmp_path, '[[hole]]\npoints = ["D1", "D2", "D3"]\n')
    assert len(kept_lines(made)) == 3
    hole = shapely.Polygon([(5, 3), (7, 7), (3, 8)])
    assert made.ground.area == pytest.approx(100 - hole.area)


def test_outline_and_reach_bound_the_ground(tmp_path: Path) -> None:
    """An outline of 64 m²; a reach that peels the long sides."""
    made = survey(tmp_path, "[ground]\ncorners = [[1, 1], [9, 1], [9, 9], [1, 9]]\n")
    assert made.ground.area == pytest.approx(64)
    assert made.study is not None
    assert len(made.study.process) == 9  # shots beyond the outline still say how sure the ground is
    reached = survey(tmp_path, '[ground]\nreach = "3 m"\n')
    assert reached.ground.area < 100
    assert "as [ground] reach says" in reached.ground.notices[-1]


def notched(folder: Path, ground: str = "", pad: str = "") -> Path:
    """An L of shots 2 m apart, 20 m by 20 m with legs 8 m wide, in feet and inches."""
    east, north = (values.ravel() for values in np.meshgrid(np.arange(0, 21, 2.0), np.arange(0, 21, 2.0)))
    there = (east <= 8) | (north <= 8)
    rows = [
        f"P{i},{e},{n},{100 + 0.02 * e:.3f}" for i, (e, n) in enumerate(zip(east[there], north[there], strict=True))
    ]
    (folder / "shots.csv").write_text("point,east,north,level\n" + "\n".join(rows) + "\n", encoding="utf-8")
    head = '[site]\nunits = "ft-in"\n[[readings]]\nfile = "shots.csv"\nunits = "m"\n'
    (folder / "site.toml").write_text(f"{head}{ground}{pad}", encoding="utf-8")
    return folder / "site.toml"


def test_notch_is_left_out_unless_told_otherwise(tmp_path: Path) -> None:
    """By itself the ground ends within 3 m of its shots, and says so in feet; "none" keeps half of the notch.

    By hand: the L is 20² - 12² = 256 m², and the hull spans half of the notch of 12 m by 12 m.
    """
    cut = load_survey(load_site(notched(tmp_path))).ground
    assert 256 <= cut.area < 256 + 72 / 2
    (said,) = [notice for notice in cut.notices if "[ground] reach" in notice]
    assert "9' 10 1/8\" from a shot" in said
    assert "no shot supports the ground from P" in said
    whole = load_survey(load_site(notched(tmp_path, '[ground]\nreach = "none"\n'))).ground
    assert whole.area == pytest.approx(256 + 72)
    set_by_hand = load_survey(load_site(notched(tmp_path, '[ground]\nreach = "1.35 m"\n'))).ground
    assert set_by_hand.area == pytest.approx(256)


def test_plan_in_the_notch_says_why_there_is_no_ground(tmp_path: Path) -> None:
    """A pad where the ground was left out does not fit, and the error says what was left out and how to keep it."""
    pad = '[pad]\nsize = ["3 m", "2 m"]\nposition = ["11.5 m", "11.5 m"]\n'
    loaded = load_site(notched(tmp_path, pad=pad))
    with pytest.raises(PlacementError, match=r'no shot supports the ground[\s\S]*"none" keeps everything'):
        make_plan(plan_inputs(loaded, load_survey(loaded)))


@pytest.mark.parametrize(("reach", "wanted"), [('"nonee"', '"none"'), ('"1 mm"', "A reach from 50 mm to 1 km")])
def test_reach_that_is_none_is_told(tmp_path: Path, reach: str, wanted: str) -> None:
    """A word that is not known, with the nearest; a reach out of bounds."""
    with pytest.raises(InputError, match=wanted):
        load_site(notched(tmp_path, f"[ground]\nreach = {reach}\n"))


def test_messages_of_the_ground_are_in_the_users_unit(tmp_path: Path) -> None:
    """Two shots of one place at two levels, on a site in feet: no metre is said."""
    file = notched(tmp_path)
    with (tmp_path / "shots.csv").open("a", encoding="utf-8") as shots:
        shots.write("Q1,4.002,4.0,100.5\n")
    with pytest.raises(GroundError, match=r"their levels are 328' 4 1/8\" and 329' 8 3/4\"") as told:
        load_survey(load_site(file))
    assert re.search(r"\d m\b", str(told.value)) is None


def raster_site(folder: Path, *tables: str) -> Survey:
    """A raster of 1 m cells that is 0.5 m too low, and nine shots."""
    rows = [" ".join(f"{99.5 + 0.1 * (8.5 - row):.3f}" for _ in range(12)) for row in range(12)]
    rows[4] = " ".join(["-9999" if column == 5 else word for column, word in enumerate(rows[4].split())])
    head = "ncols 12\nnrows 12\nxllcorner -1\nyllcorner -1\ncellsize 1\nNODATA_value -9999\n"
    (folder / "dem.asc").write_text(head + "\n".join(rows) + "\n", encoding="utf-8")
    places = [(1, 1), (9, 1), (1, 9), (9, 9), (5, 2), (5, 8), (2, 5), (8, 5), (4, 4)]
    lines = [f"S{i},{e},{n},{100 + 0.1 * n - 0.1 * 2.0:.3f}" for i, (e, n) in enumerate(places, 1)]
    (folder / "shots.csv").write_text("point,east,north,level\n" + "\n".join(lines) + "\n", encoding="utf-8")
    readings = '[[readings]]\nfile = "dem.asc"\nvertical-unit = "m"\n[[readings]]\nfile = "shots.csv"\n'
    return survey(folder, *tables, readings=readings)


@pytest.mark.parametrize(
    ("said", "sd", "noise", "source"),
    [
        ('sd = "50 mm"\n', 0.05, 0.03, "as [[readings]] sd says"),
        ('sd = "50 mm"\nnoise = "10 mm"\n', 0.05, 0.01, "as [[readings]] sd says"),
        ('instrument = "lidar"\n', 0.1, 0.06, "as lidar usually is (US Geological Survey"),
    ],
)
def test_raster_is_as_sure_as_the_site_file_says(
    tmp_path: Path, said: str, sd: float, noise: float, source: str
) -> None:
    """Its own figures, or those of its instrument; six tenths are noise of the cells where only the whole is given."""
    raster_site(tmp_path)
    made = survey(tmp_path, readings=f'[[readings]]\nfile = "dem.asc"\nvertical-unit = "m"\n{said}')
    assert made.study is not None
    doubt = made.study.process
    assert isinstance(doubt, RasterDoubt)
    assert (doubt.instrument_sd, doubt.noise) == pytest.approx((sd, noise))
    assert doubt.shift == pytest.approx((sd**2 - noise**2) ** 0.5)
    assert doubt.source.startswith(source)


def test_raster_of_which_nothing_is_known_says_so(tmp_path: Path) -> None:
    """Without a word about its levels and without shots, survey and plan say that it cannot be said, and the remedy."""
    raster_site(tmp_path)
    pad = FIXED_PAD
    made = survey(tmp_path, pad, readings='[[readings]]\nfile = "dem.asc"\nvertical-unit = "m"\n')
    assert made.study is None
    assert "nothing is known of how sure the raster's levels are" in made.unsure
    plan = make_plan(plan_inputs(load_site(tmp_path), made))
    assert plan.confidence is None
    assert plan.unsure == made.unsure
    assert sure_words(plan) == made.unsure


def test_tied_raster_is_as_sure_as_its_shots_leave_it(tmp_path: Path) -> None:
    """Nine shots leave a process of the differences, and the plan says how sure it is."""
    made = raster_site(tmp_path, FIXED_PAD)
    assert made.study is not None
    assert isinstance(made.study.process, RasterDoubt)
    assert made.study.process.rest is not None
    plan = make_plan(plan_inputs(load_site(tmp_path), made))
    assert plan.confidence is not None
    assert plan.confidence.cut.sd > 0
    assert all(np.isfinite(stake.sd) for stake in plan.confidence.stakes if stake.corner)


def test_raster_is_tied_to_the_shots_beside_it(tmp_path: Path) -> None:
    """The plane of the shots is the ground; how far off the raster was is said, and its single gap is filled."""
    made = raster_site(tmp_path)
    assert made.tied is not None
    assert made.tied.how == "smooth"
    tried = np.array([[2.5, 2.5], [5.2, 6.9], [8.0, 8.0]])
    assert made.ground.level_at(tried) == pytest.approx(100 + 0.1 * tried[:, 1] - 0.2, abs=2e-3)
    assert made.tied.after_rms < 0.002
    assert any("Tied to 9 shots: shifted by" in sentence for sentence in made.sentences)
    assert any("1 gap of 1 cell" in notice for notice in made.ground.notices)
    assert made.shots is not None
    assert len(made.shots) == 9


def test_gap_stays_when_the_user_says_so(tmp_path: Path) -> None:
    """With gaps = 0 nothing is filled."""
    made = raster_site(tmp_path, "[ground]\ngaps = 0\n")
    assert any("no ground there" in notice for notice in made.ground.notices)


def test_hole_is_cut_out_of_a_raster(tmp_path: Path) -> None:
    """A pond drawn by its corners."""
    made = raster_site(tmp_path, "[[hole]]\ncorners = [[6, 6], [8, 6], [8, 8], [6, 8]]\n")
    assert made.ground.area == pytest.approx(11 * 11 - 4)


def test_two_rasters_are_refused(tmp_path: Path) -> None:
    """The ground is one raster."""
    raster_site(tmp_path)
    text = (tmp_path / "site.toml").read_text(encoding="utf-8") + '\n[[readings]]\nfile = "dem.asc"\nkind = "raster"\n'
    (tmp_path / "site.toml").write_text(text, encoding="utf-8")
    with pytest.raises(InputError, match="2 files of readings are rasters"):
        load_survey(load_site(tmp_path))


def test_ground_command_draws_the_pictures_and_tells_the_relief(tmp_path: Path) -> None:
    """Four pictures, the tie of the raster in the print and in the document for programs."""
    raster_site(tmp_path)
    result = run("ground", tmp_path, "--out", tmp_path / "pictures")
    assert result.status == 0, result.err
    drawn = sorted(path.name for path in (tmp_path / "pictures").iterdir() if not path.name.startswith("."))
    assert drawn == ["ground.png", "ground.svg", "perspective.png", "perspective.svg"]
    assert "10.0 % to 10.0 % over the middle eight tenths of it" in result.out
    assert "The raster against the shots, before and after it was tied" in result.out
    content = json.loads(run("ground", tmp_path, "--json").out)
    assert content["slopes"]["steepest"] == pytest.approx(0.1, abs=2e-3)
    assert content["hollows"] == []
    assert content["tied"]["how"] == "smooth"
    assert len(content["tied"]["shots"]) == 9
