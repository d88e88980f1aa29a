"""``--explain``: every column with its meaning, its unit and how both were found."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from spadework.cli import main

RADIAL = (
    "station,point,angle (dms),slope distance (m),zenith (gon),staff (mm),colour\n"
    "S1,H1,0-00-00,18.420,101.2,1520,red\nS1,1,34-15-30,12.07,99.3,1604,blue\n"
)


def test_columns_are_explained_when_a_file_is_given(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Meaning and unit of each column, also of the one that is not used; nothing is reduced."""
    path = tmp_path / "r.csv"
    path.write_text(RADIAL, encoding="utf-8")
    assert main(["level", str(path), "--explain"]) == 0
    printed = capsys.readouterr().out
    rows = {line.split("  ")[0]: line for line in printed.splitlines()}
    assert "read as radial: 2 shots, 1 set-up" in printed
    assert "direction" in rows["angle (dms)"]
    assert "degrees, minutes, seconds" in rows["angle (dms)"]
    assert "gon" in rows["zenith (gon)"]
    assert "millimetres" in rows["staff (mm)"]
    assert "not used" in rows["colour"]
    assert "heading not known" in rows["colour"]


@pytest.mark.parametrize("command", ["ground", "place", "plan"])
def test_every_file_is_explained_when_a_site_is_given(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], command: str
) -> None:
    """For programs: the files of a site in their order, although it lacks what a plan needs; nothing is written."""
    (tmp_path / "r.csv").write_text(RADIAL, encoding="utf-8")
    (tmp_path / "p.csv").write_text("point,X,Y,Z\nH1,0,0,100\n", encoding="utf-8")
    text = '[site]\nunits = "m"\n[[readings]]\nfile = "r.csv"\n[[readings]]\nfile = "p.csv"\n'
    (tmp_path / "site.toml").write_text(text, encoding="utf-8")
    before = sorted(tmp_path.iterdir())
    assert main([command, str(tmp_path), "--explain", "--json"]) == 0
    assert sorted(tmp_path.iterdir()) == before
    files = json.loads(capsys.readouterr().out)["files"]
    assert [(each["file"], each["kind"]) for each in files] == [("r.csv", "radial"), ("p.csv", "points")]
    assert files[0]["columns"][-1]["meaning"] is None
    east = files[1]["columns"][1]
    assert (east["meaning"], east["unit"], east["why"]) == (
        "east",
        "metres",
        "x is taken as east and y as north; unit of the site",
    )
