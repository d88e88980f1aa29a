"""Levels taken on the work reduced from the bench mark and put in their places, in every way of measuring."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from field_checks import wanted_pad
from spadework.errors import InputError, MisclosureError
from spadework.fieldcheck import Wanted
from spadework.site import Site, load_site
from spadework.survey_check import CheckedReadings, CheckOptions, check_readings
from spadework.units import LengthUnit

WANTED = wanted_pad(bearing=25.0)  # formation 100.000 m, bench mark BM1 = 101.000 m
RIGHT = {"A": 100.0, "B": 100.013, "C": 99.988, "D": 100.027}
"""Levels that the readings below are made from. [m]"""


def site(folder: Path, datum: str = 'datum = { point = "BM1", level = 101.0 }', units: str = "m") -> Site:
    """A site file beside readings that are not looked at."""
    (folder / "shots.csv").write_text("point,east,north,rod\nBM1,,,1\n1,0,0,1\n", encoding="utf-8")
    file = folder / "site.toml"
    file.write_text(
        f'[site]\nname = "Pear court"\nunits = "{units}"\n{datum}\n[[readings]]\nfile = "shots.csv"\n', encoding="utf-8"
    )
    return load_site(file)


def checked(
    folder: Path, text: str, wanted: Wanted = WANTED, *, datum: str | None = None, **options: object
) -> CheckedReadings:
    """The check of a text of readings."""
    made = site(folder) if datum is None else site(folder, datum)
    path = folder / "levels.csv"
    path.write_text(text, encoding="utf-8")
    given = {"stage": "formation"} | options
    return check_readings(made, wanted, path, CheckOptions(**given))  # type: ignore[arg-type]


def levels_of(found: CheckedReadings) -> dict[str, float]:
    """Measured levels by name. [m]"""
    return {point.name: point.level for point in found.check.points}


def rods(hi: float) -> str:
    """Rows of stake and rod for a height of instrument: the higher the stake, the smaller the rod."""
    return "".join(f"{name},{hi - level:.3f}\n" for name, level in RIGHT.items())


def test_rod_grows_where_the_ground_is_lower(tmp_path: Path) -> None:
    """Level = bench mark + reading on it - rod: a larger rod is a lower point, which is to be filled."""
    found = checked(tmp_path, "# bench: BM1 reading 1.400\nstake,rod\nA,2.400\nB,2.430\nC,2.370\n")
    states = {point.name: (round(point.deviation, 6), point.state) for point in found.check.points}
    assert states == {"A": (0.0, "in tolerance"), "B": (-0.03, "low"), "C": (0.03, "high")}


@pytest.mark.parametrize(
    ("text", "options"),
    [
        pytest.param("# bench: BM1 reading 1.352\nstake,rod\n" + rods(102.352), {}, id="comment"),
        pytest.param("stake,rod\n" + rods(102.352), {"bench_reading": 1.352}, id="option"),
        pytest.param("stake,rod\nBM1,1.352\n" + rods(102.352), {}, id="row"),
        pytest.param("stake,rod\nBM1,1.352\n" + rods(102.352) + "BM1,1.352\n", {}, id="closed"),
        pytest.param("stake,drop\n" + rods(100.8), {"line_level": 100.8}, id="drops"),
        pytest.param("# line: 100.8 m\nstake,drop\n" + rods(100.8), {}, id="drops-comment"),
        pytest.param("stake,level\n" + "".join(f"{n},{z:.3f}\n" for n, z in RIGHT.items()), {}, id="levels"),
        pytest.param(
            "point,BS,IS,FS\nBM1,1.352,,\nA,,2.352,\nB,,2.339,\nTP,0.9,,2.1\nC,,1.164,\nD,,1.125,\nBM1,,,0.152\n",
            {},
            id="book",
        ),
        pytest.param(
            "setup,stake,rod\nS1,BM1,1.352\nS1,A,2.352\nS1,B,2.339\nS1,TP,2.1\nS2,TP,0.9\nS2,C,1.164\nS2,D,1.125\n",
            {},
            id="two-set-ups",
        ),
    ],
)
def test_levels_are_the_same_in_every_way_of_measuring(tmp_path: Path, text: str, options: dict[str, object]) -> None:
    """Rods by stake, drops below a line and level books give the levels that they were made from, at the stakes."""
    found = checked(tmp_path, text, **options)
    assert levels_of(found) == pytest.approx(RIGHT, abs=1e-9)
    for point in found.check.points:
        assert (point.east, point.north) == pytest.approx(WANTED.stakes[point.name], abs=1e-9)
    assert [point.name for point in found.check.off] == ["D"]


def test_grid_of_drops_is_taped_from_corner_a(tmp_path: Path) -> None:
    """Along runs from A to B, across to the right of it, however the pad lies; level = line less drop."""
    text = "drop\t0\t1.5\t3\n0\t0.5\t0.5\t0.52\n4\t0.48\t0.5\t0.51\n"
    found = checked(tmp_path, text, line_level=100.5)
    points = {point.name: point for point in found.check.points}
    assert levels_of(found)["A1"] == pytest.approx(100.0)
    assert levels_of(found)["A2"] == pytest.approx(100.02)
    assert levels_of(found)["C1"] == pytest.approx(99.98)
    for label, stake in (("A1", "A"), ("A2", "B"), ("C2", "C"), ("C1", "D")):
        at = (points[label].east, points[label].north)
        assert at == pytest.approx(WANTED.stakes[stake], abs=1e-9)


def test_points_with_levels_are_compared_at_their_place(tmp_path: Path) -> None:
    """A list of points needs no bench mark."""
    east, north = WANTED.stakes["C"]
    found = checked(tmp_path, f"name,east,north,level\nq,20,30,100.004\nc,{east},{north},99.996\n", datum="")
    assert levels_of(found) == pytest.approx({"q": 100.004, "c": 99.996})


def test_rods_with_positions_are_compared_at_their_place(tmp_path: Path) -> None:
    """Rows with a position stand there, rows without at their stake."""
    found = checked(tmp_path, "point,east,north,rod\nBM1,,,1.352\nm,20.1,30.2,2.352\nA,,,2.352\n")
    at = {point.name: (point.east, point.north) for point in found.check.points}
    assert at["m"] == (20.1, 30.2)
    assert at["A"] == pytest.approx(WANTED.stakes["A"])


def test_list_in_feet_is_compared_when_the_site_is_in_feet(tmp_path: Path) -> None:
    """Plain numbers are in the unit of the site unless the file says otherwise."""
    (tmp_path / "site").mkdir()
    made = site(tmp_path / "site", 'datum = { point = "BM1", level = "101 m" }', "ft")
    path = tmp_path / "levels.csv"
    path.write_text("# bench: BM1 reading 4.00\nstake,rod\nA,7.28\n", encoding="utf-8")
    wanted = replace(WANTED, units=LengthUnit.FOOT)
    found = check_readings(made, wanted, path, CheckOptions(stage="formation"))
    assert found.check.points[0].level == pytest.approx(101 - 3.28 * 0.3048, abs=1e-9)


def test_stage_of_the_call_holds_when_the_file_says_another(tmp_path: Path) -> None:
    """The call overrules the file, and says so."""
    found = checked(tmp_path, "# stage: formation\n# bench: BM1 reading 1.352\nstake,rod\nA,2.202\n", stage="finish")
    assert found.check.stage.name == "finish"
    assert found.check.within
    assert any("--stage 'finish' was given, and holds" in notice for notice in found.notices)


def test_other_site_is_told(tmp_path: Path) -> None:
    """Readings that say they are of another site are compared, and that is said."""
    found = checked(tmp_path, "# site: Plum hill\n# bench: BM1 reading 1.352\nstake,rod\nA,2.352\n")
    assert any("is of site 'Plum hill', the plan of 'Pear court'" in notice for notice in found.notices)


def test_bench_read_twice_must_agree(tmp_path: Path) -> None:
    """A last reading on the bench mark closes the check; a bad one stops it, unless that is let pass and printed."""
    text = "# bench: BM1 reading 1.352\nstake,rod\nA,2.352\nBM1,1.392\n"
    with pytest.raises(MisclosureError):
        checked(tmp_path, text)
    found = checked(tmp_path, text, allow_misclosure=True)
    assert any("allow-misclosure" in override for override in found.overrides)


@pytest.mark.parametrize(
    ("text", "options", "said"),
    [
        ("stake,rod\nA,2.352\n", {"stage": None, "bench_reading": 1.352}, "# stage: formation"),
        ("stake,rod\nA,2.352\n", {}, "no reading is on the bench mark BM1"),
        ("# bench: BM2 reading 1.352\nstake,rod\nA,2.352\n", {}, "'BM2', and the bench mark of the site is 'BM1'"),
        ("# bench: BM1 reading 1.352\nstake,rod\nA,2.352\n", {"bench_reading": 1.4}, "One set-up has one"),
        ("# bench: BM1 reading 1.352\nstake,rod\nE,2.352\n", {}, "no stake of the plan is called 'E'"),
        ("stake,level\nA,100.0\nE,100.0\n", {}, "no stake of the plan is called 'E'"),
        ("stake,drop\nA,0.352\n", {}, "Give --line-level"),
        ("drop\t0\t1\n0\t0.5\t0.6\n1\t0.5\t0.6\n", {}, "Give --line-level"),
        ("point,BS,IS,FS\nBM1,1.352,,\nQ,,2.352,\nBM1,,,1.352\n", {}, "no stake of the plan is called 'Q'"),
    ],
)
def test_readings_are_refused_when_something_is_missing(
    tmp_path: Path, text: str, options: dict[str, object], said: str
) -> None:
    """What is missing is named, with what to write."""
    with pytest.raises(InputError) as caught:
        checked(tmp_path, text, **options)
    assert said in str(caught.value)


def test_plan_is_refused_when_the_bench_mark_has_moved(tmp_path: Path) -> None:
    """A plan counted from another level of the bench mark is not compared with."""
    with pytest.raises(InputError, match="Run spadework plan again"):
        checked(
            tmp_path,
            "# bench: BM1 reading 1.352\nstake,rod\nA,2.352\n",
            datum='datum = { point = "BM1", level = 100.0 }',
        )


def test_raster_is_refused(tmp_path: Path) -> None:
    """A raster is no check of a pad."""
    path = tmp_path / "ground.asc"
    path.write_text("ncols 2\nnrows 2\n", encoding="utf-8")
    with pytest.raises(InputError, match="a raster cannot be checked"):
        check_readings(site(tmp_path), WANTED, path, CheckOptions(stage="formation"))


def test_noise_of_a_set_up_cancels(tmp_path: Path) -> None:
    """Where the instrument stands makes no difference: any height gives the same levels."""
    random = np.random.default_rng(3)
    for hi in random.uniform(101.0, 104.0, 5).round(3):
        found = checked(tmp_path, f"# bench: BM1 reading {hi - 101.0:.3f}\nstake,rod\n" + rods(hi))
        assert levels_of(found) == pytest.approx(RIGHT, abs=1e-9)


def test_notes_and_date_of_the_sheet_are_told(tmp_path: Path) -> None:
    """A note on a stake that was not read is handed on, and so is a sheet of another plan than this one."""
    text = (
        "# site: Pear court\n# plan of: 2026-01-01\n# bench: BM1 reading 1.352\n# note on B: soft, wet\n"
        "stake,rod,note\nA,2.352,\n"
    )
    said = " ".join(checked(tmp_path, text).notices)
    assert "Note on B: soft, wet" in said
    assert "plan of 2026-01-01, and the plan is of 2026-03-04 now" in said


def test_drops_are_not_asked_to_close(tmp_path: Path) -> None:
    """Drops below a line have no bench mark to come back to; the level of the line is said."""
    found = checked(tmp_path, "# line: 100.8 m\nstake,drop\n" + rods(100.8))
    assert found.notices == ()
    assert found.sentences[-1] == "Level = 100.800 m (the line) less the drop."
