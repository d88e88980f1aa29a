"""``spadework ground``, ``place`` and ``plan``: from a site file to a plan, against closed forms."""

from __future__ import annotations

import json
import math
import re
import shutil
from pathlib import Path
from typing import Any

import pytest

from command_line import Result, run
from sample_sites import SAMPLES, place
from spadework.plan import make_plan
from spadework.site import load_site
from spadework.survey import load_survey, plan_inputs
from spadework.write import check_folder
from spadework.write.plan_json import plan_bytes

SLOPE = 0.08
EVERY_FILE = {
    "plan.json",
    "stakes.csv",
    "depths.csv",
    "levels.csv",
    "materials.csv",
    "cutting-list.csv",
    "hours.csv",
    "build-sheet.html",
    "yard.svg",
    "yard.png",
    "field-sheet.html",
    "field-sheet.pdf",
    "cutting-list.svg",
    "depth-map.png",
    "depth-map.svg",
    "depth.tif",
    "edge.png",
    "edge.svg",
    "ground.svg",
    "ground.xml",
    "perspective.svg",
    "sections.png",
    "sections.svg",
    "soil-moves.csv",
    "soil-moves.svg",
    "finish-levels.csv",
    "spots.png",
    "spots.svg",
    "spots.tif",
    "what-if.png",
    "what-if.svg",
}


def plane_site(folder: Path, *, bearing: float = 0.0, origin: tuple[float, float] = (0.0, 0.0), pad: str = "") -> Path:
    """Write a site on a plane that rises by ``SLOPE`` across a pad 6 m long and 4 m wide, finish at its middle.

    Level 100 stands at the middle of the pad, which lies at the origin, with the given bearing.
    """
    folder.mkdir(exist_ok=True)
    across = (math.cos(math.radians(bearing)), -math.sin(math.radians(bearing)))
    rows = ["point,east (m),north (m),level (m)"]
    for number, (east, north) in enumerate((e, n) for e in range(-10, 11, 5) for n in range(-10, 11, 5)):
        # Every figure is written out, so that what is read is the plane to the last digit of a double.
        level = 100.0 + SLOPE * (east * across[0] + north * across[1])
        rows.append(f"P{number},{east + origin[0]!r},{north + origin[1]!r},{level!r}")
    (folder / "points.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    pad = pad or f'finish = "100 m"\nposition = [{origin[0]!r}, {origin[1]!r}]\nbearing = {bearing!r}\n'
    (folder / "site.toml").write_text(
        '[site]\nname = "Plane"\nunits = "m"\n[[readings]]\nfile = "points.csv"\n'
        f'[pad]\nsize = ["6 m", "4 m"]\n{pad}[goal]\nleast = "balance"\n[soil]\nswell = 0.25\nshrink = 0\n',
        encoding="utf-8",
    )
    return folder


def plan_of(result: Result) -> dict[str, Any]:
    """The plan that ``--json`` printed."""
    assert result.status == 0, result.err
    found: dict[str, Any] = json.loads(result.out)
    return found


@pytest.mark.parametrize("origin", [(0.0, 0.0), (500_000.0, -400_000.0)], ids=["at the origin", "500 km away"])
@pytest.mark.parametrize("bearing", [0.0, 33.0, 90.0, 217.5])
def test_cut_and_fill_are_those_of_the_wedge(tmp_path: Path, bearing: float, origin: tuple[float, float]) -> None:
    """On a plane of slope s across W, level at mid height, cut = fill = L W² s / 8, wherever and however it lies."""
    site = load_site(plane_site(tmp_path / "site", bearing=bearing, origin=origin))
    # What the command prints with --json (below), without the drawings that it makes.
    plan = json.loads(plan_bytes(make_plan(plan_inputs(site, load_survey(site)))))
    expected = 6.0 * 4.0**2 * SLOPE / 8
    assert plan["earthwork"]["cut"] == pytest.approx(expected, abs=1e-9)
    assert plan["earthwork"]["fill"] == pytest.approx(expected, abs=1e-9)
    assert plan["soil"]["cut_loose"]["likely"] == pytest.approx(1.25 * expected, abs=1e-9)


def test_spot_lies_along_the_contour_when_the_ground_is_a_plane(tmp_path: Path) -> None:
    """A wedge of L W² s / 8 is least with the short side up the slope, so the length lies along the contour."""
    site = plane_site(tmp_path / "site", bearing=33.0, pad="bearing = 'free'\n")
    best = json.loads(run("place", site, "--json").out)["best"]
    assert math.sin(math.radians(best["bearing"] - 33.0)) == pytest.approx(0.0, abs=1e-3)
    assert best["cut"] == pytest.approx(6.0 * 4.0**2 * SLOPE / 8, rel=1e-6)


def test_ground_is_the_plane_that_was_put_in(tmp_path: Path) -> None:
    """Mean slope, direction of fall, extent and levels of a plane are those it was made with."""
    site = plane_site(tmp_path / "site", bearing=33.0)
    result = run("ground", site, "--json")
    assert result.status == 0, result.err
    ground = json.loads(result.out)
    assert ground["mean_plane"]["slope"] == pytest.approx(SLOPE, abs=1e-12)
    # The plane rises to the right of the bearing, at 33 + 90 degrees, and falls the other way.
    assert ground["mean_plane"]["falls_towards"] == pytest.approx(303.0, abs=1e-9)
    assert ground["mean_plane"]["rms"] == pytest.approx(0.0, abs=1e-9)
    assert ground["area"] == pytest.approx(400.0, abs=1e-9)
    assert ground["points"] == 25
    said = run("ground", site).out
    assert "25 points" in said
    assert "falling towards 303°" in said


def test_plan_writes_every_file_and_says_where(tmp_path: Path) -> None:
    """The folder holds every promised file, their names are printed, and the date is the one given."""
    result = run("plan", SAMPLES / "laser-yard", "--out", "results", "--date", "2027-03-01", folder=tmp_path)
    assert result.status == 0, result.err
    written = {path.name for path in (tmp_path / "results").iterdir() if not path.name.startswith(".")}
    assert written == EVERY_FILE
    assert "Written into results: " in result.out
    assert all(name in result.out for name in EVERY_FILE)
    assert json.loads((tmp_path / "results" / "plan.json").read_text(encoding="utf-8"))["date"] == "2027-03-01"
    assert "Caution: Before any digging" in result.err


def test_stakes_are_printed_with_what_to_dig(tmp_path: Path) -> None:
    """Each printed stake has the depth to dig and the ties of the table that is written, in the site's unit."""
    result = run("plan", SAMPLES / "string-grid", "--out", tmp_path / "out", drawn=False)
    plan = json.loads((tmp_path / "out" / "plan.json").read_text(encoding="utf-8"))
    lines = result.out.splitlines()
    start = next(n for n, line in enumerate(lines) if line.startswith("stake "))
    headings = ["stake", "east", "north", "ground", "formation", "dig", "fill", "to A1", "to G1"]
    assert re.split(r" {2,}", lines[start]) == headings
    for stake, line in zip(plan["stakes"], lines[start + 1 : start + 5], strict=True):
        cells = re.split(r" {2,}", line)
        assert cells[0] == stake["name"]
        assert cells[headings.index("dig")] == _feet_and_inches(stake["dig"])  # plan.json is in decimal feet here


def _feet_and_inches(feet: float) -> str:
    """Feet and inches to the nearest eighth, worked out apart from the printing of the package."""
    whole_feet, rest = divmod(math.floor(feet * 96 + 0.5), 96)
    whole, part = divmod(rest, 8)
    names = ["", " 1/8", " 1/4", " 3/8", " 1/2", " 5/8", " 3/4", " 7/8"]
    return f"{whole_feet}' {whole}{names[part]}\""


@pytest.fixture(scope="module")
def planned(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Result]:
    """The site on a plane, planned into ``out`` beside it, and what the command left behind."""
    folder = tmp_path_factory.mktemp("plane")
    site = plane_site(folder / "site", bearing=33.0)
    return folder, run("plan", site, "--out", folder / "out", "--json", drawn=False)


def test_json_is_the_same_as_the_file_when_both_are_had(planned: tuple[Path, Result]) -> None:
    """What ``--json`` prints is the file plan.json, byte for byte; its cut is the wedge's."""
    folder, result = planned
    assert result.out == (folder / "out" / "plan.json").read_text(encoding="utf-8")
    assert plan_of(result)["earthwork"]["cut"] == pytest.approx(6.0 * 4.0**2 * SLOPE / 8, abs=1e-9)


def test_readings_are_planned_when_they_are_pasted(tmp_path: Path, planned: tuple[Path, Result]) -> None:
    """Readings from standard input give the same plan as the file they were copied from."""
    site = plane_site(tmp_path / "site", bearing=33.0)
    from_file = plan_of(planned[1])
    text = (site / "site.toml").read_text(encoding="utf-8")
    (site / "site.toml").write_text(text.replace('"points.csv"', '"-"'), encoding="utf-8")
    copied = (site / "points.csv").read_bytes()
    (site / "points.csv").unlink()
    pasted = plan_of(run("plan", site, "--out", tmp_path / "pasted", "--json", stdin=copied, drawn=False))
    for part in ("placement", "earthwork", "stakes", "depth_grid"):
        assert pasted[part] == from_file[part]


def test_earlier_results_are_replaced_but_nothing_else(tmp_path: Path, planned: tuple[Path, Result]) -> None:
    """A second run writes over its own files; a folder with a file of somebody else's is refused at once."""
    shutil.copytree(planned[0], tmp_path, dirs_exist_ok=True)
    site, out = tmp_path / "site", tmp_path / "out"
    assert run("plan", site, "--out", out, "--date", "2027-03-01", drawn=False).status == 0
    assert json.loads((out / "plan.json").read_text(encoding="utf-8"))["date"] == "2027-03-01"
    (out / "my notes.txt").write_text("keep", encoding="utf-8")
    before = {path.name: path.read_bytes() for path in out.iterdir()}
    result = run("plan", site, "--out", out)
    assert result.status == 2
    assert "my notes.txt" in result.err
    assert {path.name: path.read_bytes() for path in out.iterdir()} == before


def test_alternatives_differ_and_say_how(tmp_path: Path) -> None:
    """Three other spots are offered, none better than the best, each with what it trades."""
    found = json.loads(place("laser-yard", "--json").out)
    assert len(found["alternatives"]) == 3
    for spot in found["alternatives"]:
        assert spot["value"] >= found["best"]["value"]
        assert spot["what_differs"]
    said = place("laser-yard").out
    spots = said[: said.index("By what is to be expected")]
    for number in (1, 2, 3):
        assert spots.count(f"\nother {number}") == 2, spots  # a row and a sentence for each


def test_misclosure_is_let_pass_and_printed_when_the_option_says_so(tmp_path: Path) -> None:
    """A run over its tolerance stops; with the option the plan goes on and carries the words everywhere."""
    site = tmp_path / "site"
    shutil.copytree(SAMPLES / "laser-yard", site)
    text = (site / "site.toml").read_text(encoding="utf-8")
    (site / "site.toml").write_text(text + '\n[levels]\ntolerance = "1 mm"\n', encoding="utf-8")
    out = tmp_path / "out"
    stopped = run("plan", site, "--out", out)
    assert (stopped.status, stopped.out) == (1, "")
    assert "-0.003 m" in stopped.err
    assert not out.exists()
    passed = run("plan", site, "--out", out, "--allow-misclosure", drawn=False)
    assert passed.status == 0, passed.err
    assert "misclosure" in passed.err
    assert json.loads((out / "plan.json").read_text(encoding="utf-8"))["overrides"]
    assert check_folder(out)
