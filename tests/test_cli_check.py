"""``spadework check``: verdict, exit status, files, and which plan it compares with."""

from __future__ import annotations

import csv
import io
import json
import shutil
from pathlib import Path

import pytest

from command_line import Result, run, says_no_traceback

SAMPLES = Path(__file__).parents[1] / "sample_surveys"


@pytest.fixture(scope="module")
def yard(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the sample of the laser and its plan."""
    folder = tmp_path_factory.mktemp("yard")
    shutil.copytree(SAMPLES / "laser-yard", folder / "laser-yard")
    assert run("plan", "laser-yard", "--date", "2026-05-02", folder=folder, drawn=False).status == 0
    return folder


def formation(yard: Path) -> float:
    """Formation level of the plan. [m]"""
    return float(json.loads((yard / "plan" / "plan.json").read_text(encoding="utf-8"))["placement"]["formation"])


def rods(yard: Path, off: dict[str, float], bench: float = 1.352, stage: str = "formation") -> str:
    """The list that the field sheet hands out, for stakes that are off by so much. The bench mark is 100.000 m."""
    rows = [f"{name},{100.0 + bench - formation(yard) - value:.3f}," for name, value in off.items()]
    return f"# units: m\n# bench: BM1 reading {bench}\n# stage: {stage}\nstake,rod,note\n" + "\n".join(rows) + "\n"


def check(folder: Path, text: str, *options: str, name: str = "levels.csv") -> Result:
    """Check a text of readings from within a folder."""
    (folder / name).write_text(text, encoding="utf-8")
    return run("check", "laser-yard", name, *options, folder=folder)


RIGHT = dict.fromkeys("ABCD", 0.0)
WRONG = {"A": 0.05, "B": 0.0, "C": -0.04, "D": 0.005}


def test_verdict_comes_first_when_in_tolerance(yard: Path) -> None:
    """The first line is the verdict; the exit status 0."""
    done = check(yard, rods(yard, RIGHT))
    assert done.status == 0, done.err
    assert done.out.startswith("In tolerance: all 4 points lie within 0.020 m of formation level ")
    assert "Checked against plan/plan.json of 2026-05-02." in done.out


def test_verdict_is_a_result_when_out_of_tolerance(yard: Path) -> None:
    """Out of tolerance is an answer, with status 0; --strict leaves with 1, after the files are written."""
    done = check(yard, rods(yard, WRONG))
    assert done.status == 0
    assert done.out.startswith("Not in tolerance: 2 of 4 points lie more than 0.020 m off formation level ")
    strict = check(yard, rods(yard, WRONG), "--strict")
    assert strict.status == 1
    assert strict.out == done.out
    assert check(yard, rods(yard, RIGHT), "--strict").status == 0


def test_files_are_written_and_written_again(yard: Path) -> None:
    """The folder gets picture, table and document; a second check takes their place."""
    for off in (WRONG, RIGHT):
        done = check(yard, rods(yard, off), "--out", "again")
        assert done.status == 0
        assert "Written into again: check.csv, check.json, check.png, check.svg." in done.out
    text = (yard / "again" / "check.csv").read_bytes().decode("utf-8")
    rows = list(csv.DictReader(io.StringIO(text, newline="")))
    assert [row["point"] for row in rows] == list("ABCD")
    assert {row["to do"] for row in rows} == {"ok"}
    assert rows[0]["verdict"].startswith("In tolerance")


def test_document_is_printed_for_programs(yard: Path) -> None:
    """``--json`` prints check.json: points with signed deviations, and what follows from them."""
    done = check(yard, rods(yard, WRONG), "--json", "--out", "json")
    made = json.loads(done.out)
    assert done.out == (yard / "json" / "check.json").read_text(encoding="utf-8")
    assert made["format"] == {"name": "spadework check", "version": 1}
    assert made["in_tolerance"] is False
    off = {point["name"]: (round(point["deviation"], 3), point["state"]) for point in made["points"]}
    assert off == {
        "A": (0.05, "high"),
        "B": (0.0, "in tolerance"),
        "C": (-0.04, "low"),
        "D": (0.005, "in tolerance"),
    }
    assert made["dig"] > 0
    assert made["bring"] > 0


def test_progress_is_shown_when_there_are_several(yard: Path) -> None:
    """Several readings give a line each, the last is the verdict."""
    (yard / "first.csv").write_text(rods(yard, WRONG), encoding="utf-8")
    (yard / "second.csv").write_text("# date: 2026-05-09\n" + rods(yard, RIGHT), encoding="utf-8")
    done = run("check", "laser-yard", "first.csv", "second.csv", "--out", "progress", folder=yard)
    assert done.status == 0, done.err
    assert done.out.startswith("In tolerance")
    table = done.out.partition("Progress")[2]
    assert [line.split()[0] for line in table.splitlines() if line.endswith(("yes", "no"))] == [
        "first.csv",
        "second.csv",
    ]
    made = json.loads((yard / "progress" / "check.json").read_text(encoding="utf-8"))
    assert [(step["file"], step["in_tolerance"]) for step in made["progress"]] == [
        ("first.csv", False),
        ("second.csv", True),
    ]


def test_tolerance_is_that_of_the_call(yard: Path) -> None:
    """A tighter tolerance turns the verdict, and is printed."""
    done = check(yard, rods(yard, RIGHT | {"D": 0.006}), "--tolerance", "5 mm")
    assert "1 of 4 points lies more than 0.005 m off" in done.out


def test_plan_is_made_again_when_there_is_none(tmp_path: Path, yard: Path) -> None:
    """Without an earlier plan the site is planned again, and gives the same levels."""
    shutil.copytree(SAMPLES / "laser-yard", tmp_path / "laser-yard")
    text = rods(yard, WRONG)
    made, read = (json.loads(check(folder, text, "--json").out) for folder in (tmp_path, yard))
    assert made["plan"] == "the plan made again from the site file"
    for one, other in zip(made["points"], read["points"], strict=True):
        assert one["deviation"] == pytest.approx(other["deviation"], abs=1e-9)


def test_plan_of_another_site_is_refused(yard: Path, tmp_path: Path) -> None:
    """A plan of another name is not compared with."""
    shutil.copytree(SAMPLES / "string-grid", yard / "string-grid", dirs_exist_ok=True)
    (yard / "levels.csv").write_text(rods(yard, RIGHT), encoding="utf-8")
    done = run("check", "string-grid", "levels.csv", folder=yard)
    assert done.status == 2
    assert "Give the folder of its plan with --plan" in done.err


def test_readings_can_be_pasted(yard: Path) -> None:
    """``-`` reads standard input."""
    done = run("check", "laser-yard", "-", "--out", "pasted", stdin=rods(yard, RIGHT), folder=yard)
    assert done.status == 0, done.err
    assert done.out.startswith("In tolerance")


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (("--tolerance", "0"), "It is above zero"),
        (("--tolerance", "tight"), "not a known row of check"),
        (("--straight-edge", "-2 m"), "longer than nothing"),
        (("--stage", "roof"), "there is no stage 'roof'"),
        (("--plan", "nowhere"), "there is no such plan"),
        (("--bench-reading", "1.4O"), "has a letter"),
        (("--out", "levels.csv"), "is a file"),
        (("--out", "laser-yard"), "files that were not written here"),
    ],
)
def test_call_is_refused_when_wrong(yard: Path, options: tuple[str, str], said: str) -> None:
    """A wrong option is refused with its value and what to give, status 2, and nothing is written."""
    shutil.rmtree(yard / "check", ignore_errors=True)
    done = check(yard, rods(yard, RIGHT), *options)
    assert done.status == 2
    assert said in done.err
    assert says_no_traceback(done)
    assert not (yard / "check").exists()


def test_faults_of_several_files_are_told_at_once(yard: Path) -> None:
    """Each file's faults are named before anything is written."""
    for name in ("one.csv", "two.csv"):
        (yard / name).write_text(rods(yard, RIGHT).replace("A,", "Z9,"), encoding="utf-8")
    done = run("check", "laser-yard", "one.csv", "two.csv", folder=yard)
    assert done.status == 2
    assert done.err.count("no stake of the plan is called 'Z9'") == 2


def test_survey_gives_no_answer_when_nothing_is_on_the_pad(yard: Path) -> None:
    """Points that all lie elsewhere leave with status 1."""
    done = check(yard, "point,east,north,level\nq,500,500,99\n", "--stage", "finish")
    assert done.status == 1
    assert "None of the 1 points lies on the pad" in done.err
