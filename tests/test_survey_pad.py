"""Pads of every shape through a whole site: the plan, its files, and the plan read back."""

from __future__ import annotations

import json
import math
import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import shapely

from command_line import run
from spadework.errors import InputError
from spadework.plan import make_plan
from spadework.read.plan_document import read_plan_document
from spadework.site import load_site
from spadework.survey import load_survey, plan_inputs
from spadework.survey_pad import site_pad
from spadework.units import LengthUnit, parse_length
from spadework.write.plan_json import plan_bytes, plan_document
from spadework.write.sheet_words import summary_rows

SAMPLES = Path(__file__).parents[1] / "sample_surveys"
HOOK = [[10.0, 4.0], [14.0, 4.0], [14.0, 6.0], [12.0, 6.0], [12.0, 9.0], [10.0, 9.0]]
SHAPES = {
    "L": 'size = ["5 m", "4 m"]\nnotch = { corner = "C", size = ["2 m", "1.5 m"] }',
    "circle": 'diameter = "3.6 m"',
}


def yard(folder: Path, pad: str, *, edge: str = '{ kind = "retained" }') -> Path:
    """A copy of the laser yard with another pad, put where it is so that nothing is searched."""
    shutil.copytree(SAMPLES / "laser-yard", folder)
    file = folder / "site.toml"
    text = file.read_text(encoding="utf-8")
    start, end = text.index("building ="), text.index("finish   =")
    bearing = "" if "diameter" in pad else "bearing = 20\n"
    beam = text.index("edge     ="), text.index("[goal]")
    text = (
        f"{text[:start]}{pad}\nposition = [13.5, 9.3]\n{bearing}{text[end : beam[0]]}edge = {edge}\n\n{text[beam[1] :]}"
    )
    if "bank" in edge:  # which has no edge to be limited
        text = text.replace('limits = { exposed-edge = "600 mm" }', "")
    file.write_text(text, encoding="utf-8")
    return folder


def drawn(folder: Path, ring: list[list[float]], **properties: str) -> None:
    """Write a pad as GeoJSON."""
    shape = {"type": "Polygon", "coordinates": [[*ring, ring[0]]]}
    feature = {"type": "Feature", "properties": properties, "geometry": shape}
    (folder / "pad.geojson").write_text(json.dumps(feature), encoding="utf-8")


def test_pad_when_a_file_draws_it(tmp_path: Path) -> None:
    """With bearing zero about its middle the pad lies where it was drawn."""
    folder = yard(tmp_path / "yard", 'file = "pad.geojson"\ncrs = "site"')
    drawn(folder, HOOK)
    found = site_pad(load_site(folder), "local")
    assert found.middle is not None
    on_map = np.array(found.middle) + found.pad.outline[:, ::-1]
    assert shapely.Polygon(on_map).symmetric_difference(shapely.Polygon(HOOK)).area == pytest.approx(0.0, abs=1e-9)


def test_pad_when_its_file_holds_two(tmp_path: Path) -> None:
    """Both are named, with what to do."""
    folder = yard(tmp_path / "yard", 'file = "pad.geojson"\ncrs = "site"')
    ring = [[0, 0], [1, 0], [1, 1], [0, 0]]
    feature = {
        "type": "Feature",
        "properties": {"name": "barn"},
        "geometry": {"type": "Polygon", "coordinates": [ring]},
    }
    both = {"type": "FeatureCollection", "features": [feature, feature]}
    (folder / "pad.geojson").write_text(json.dumps(both), encoding="utf-8")
    with pytest.raises(InputError, match=r"holds 2 areas: 'barn', 'barn'.*role = \"pad\""):
        site_pad(load_site(folder), "local")


def test_pad_when_its_file_has_a_hole(tmp_path: Path) -> None:
    """A pad has no hole."""
    folder = yard(tmp_path / "yard", 'file = "pad.geojson"\ncrs = "site"')
    rings = [[[0, 0], [9, 0], [9, 9], [0, 9], [0, 0]], [[3, 3], [3, 4], [4, 4], [3, 3]]]
    feature = {"type": "Feature", "properties": {}, "geometry": {"type": "Polygon", "coordinates": rings}}
    (folder / "pad.geojson").write_text(json.dumps(feature), encoding="utf-8")
    with pytest.raises(InputError, match="has a hole"):
        site_pad(load_site(folder), "local")


def test_circle_lies_one_way(tmp_path: Path) -> None:
    """No bearing is searched for a round pad, and the notice says how it is worked out."""
    site = load_site(yard(tmp_path / "yard", SHAPES["circle"]))
    inputs = plan_inputs(site, load_survey(site))
    assert inputs.limits.bearing.fixed == 0.0
    assert any("polygon of" in notice and "within" in notice for notice in inputs.notices)


@pytest.mark.parametrize(("unit", "step"), [("m", 0.001), ("ft", 0.003048), ("ft-in", 0.003175)])
def test_circle_is_said_to_be_off_by_what_a_tape_can_show(tmp_path: Path, unit: str, step: float) -> None:
    """How far the polygon lies off the circle, by its rings, rounded up to what is read on the site's tape."""
    site = replace(load_site(yard(tmp_path / "yard", SHAPES["circle"])), units=LengthUnit(unit))
    drawn = site_pad(site, "local")
    (notice,) = drawn.notices
    told = notice.partition("within ")[2].partition(" of the circle")[0]
    circle = shapely.Point(0.0, 0.0).buffer(1.8, quad_segs=4096).exterior
    off = shapely.hausdorff_distance(shapely.LinearRing(drawn.pad.outline), circle, densify=0.01)
    said = parse_length(told, LengthUnit(unit))
    assert off - 1e-6 <= said
    assert said <= off + step + 1e-6


def dug_as_planned(folder: Path, out: Path, to: Path) -> None:
    """Check levels of the formation at what is marked on the ground: all are in tolerance."""
    wanted = read_plan_document(out)
    names, places = wanted.pad.marked
    at = wanted.placement.to_site(places)
    rows = "\n".join(f"{n},{e:.4f},{m:.4f},{wanted.formation:.3f}" for n, (e, m) in zip(names, at, strict=True))
    (to / "dug.csv").write_text(f"point,east,north,level\n{rows}\n", encoding="utf-8")
    words = ("check", folder, to / "dug.csv", "--plan", out, "--stage", "formation", "--out", to / "check")
    checked = run(*words)
    assert checked.status == 0, checked.err + checked.out


def test_plan_and_check_of_a_round_pad(tmp_path: Path) -> None:
    """Everything is written, with the radius on the sheet; levels as planned are in tolerance."""
    folder = yard(tmp_path / "yard", SHAPES["circle"])
    done = run("plan", folder, "--out", tmp_path / "out")
    assert done.status == 0, done.err
    plan = json.loads((tmp_path / "out" / "plan.json").read_text(encoding="utf-8"))
    assert plan["pad"]["shape"] == "circle"
    assert plan["pad"]["radius"] == pytest.approx(1.8)
    assert [stake["name"] for stake in plan["stakes"]] == ["M", "A", "B", "C", "D"]
    assert plan["pad"]["area"] == pytest.approx(math.pi * 1.8**2)
    sheet = (tmp_path / "out" / "field-sheet.html").read_text(encoding="utf-8")
    assert "round, " in sheet
    assert "Check the radii" in sheet
    dug_as_planned(folder, tmp_path / "out", tmp_path)


def test_plan_and_check_of_an_l(tmp_path: Path) -> None:
    """Its document and its sheet are made of six corners; levels as planned are in tolerance."""
    folder = yard(tmp_path / "yard", SHAPES["L"])
    site = load_site(folder)
    made = make_plan(plan_inputs(site, load_survey(site), date="2026-05-02"))
    (tmp_path / "plan.json").write_bytes(plan_bytes(made))
    plan = plan_document(made)
    assert plan["pad"]["shape"] == "L"
    assert [stake["name"] for stake in plan["stakes"]] == ["A", "B", "C", "D", "E", "F"]
    assert "L, 5.000\u00a0m by 4.000\u00a0m over all" in dict(summary_rows(made))["Pad"]
    dug_as_planned(folder, tmp_path, tmp_path)


def test_plan_when_a_round_pad_has_banks(tmp_path: Path) -> None:
    """Banks run out from the rim of a circle as from any other outline."""
    site = load_site(yard(tmp_path / "yard", 'diameter = "1 m"', edge='{ kind = "bank", cut = "1:1.5", fill = "1:2" }'))
    made = make_plan(plan_inputs(site, load_survey(site)))
    assert made.banks is not None
    rim = shapely.Polygon(made.banks.outline)
    pad = shapely.Polygon(made.search.best.placement.corners(made.pad))
    assert rim.buffer(1e-6).contains(pad)
    # Banks are never wider than the deepest cut or fill at their slopes, 2 along for 1 up at most.
    assert rim.hausdorff_distance(pad) <= 2.0 * max(made.earthwork.deepest_cut, made.earthwork.deepest_fill) + 0.2


def test_timber_edge_goes_round_an_l(tmp_path: Path) -> None:
    """The frame of an L has six sides, one corner that turns inward, and its trench is counted in the level."""
    folder = yard(tmp_path / "yard", SHAPES["L"], edge='{ kind = "timber", beam = "100 x 150" }')
    site = load_site(folder)
    plan = make_plan(plan_inputs(site, load_survey(site), date="2026-05-02"))
    assert plan.build is not None
    assert plan.build.edge is not None
    assert [side.name for side in plan.build.edge.sides] == ["AB", "BC", "CD", "DE", "EF", "FA"]
    assert sum(angle > 180 for side in plan.build.edge.sides for angle in side.angles[:1]) == 1
    assert plan.search.reserve > 0
    assert plan.soil.short_compacted.likely == pytest.approx(0.0, abs=1e-6)


def test_timber_edge_is_refused_round_a_circle(tmp_path: Path) -> None:
    """It says so in the site file's own words, with what to do instead, and writes nothing."""
    folder = yard(tmp_path / "yard", SHAPES["circle"], edge='{ kind = "timber", beam = "100 x 150" }')
    done = run("plan", str(folder), "--out", str(tmp_path / "out"))
    assert done.status == 2
    assert "edge is timber, and the pad is round" in done.err
    assert "as many as you want to saw" in done.err
    assert not (tmp_path / "out").exists()
