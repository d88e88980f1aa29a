"""A whole plan written into a folder."""

from __future__ import annotations

import hashlib
import os
import subprocess
import sys
from pathlib import Path
from unittest import mock

import pytest

import spadework
from sample_plan import sample_plan
from spadework.errors import InputError
from spadework.units import LengthUnit
from spadework.write import drawings, plan_files, write_plan
from spadework.write.canvas import png_bytes
from spadework.write.drawing import yard_page
from spadework.write.drawings import edge_drawings
from spadework.write.results import exchange_files

NAMES = [
    "build-sheet.html",
    "cutting-list.csv",
    "cutting-list.svg",
    "depth-map.png",
    "depth-map.svg",
    "depth.tif",
    "depths.csv",
    "edge.png",
    "edge.svg",
    "field-sheet.html",
    "field-sheet.pdf",
    "ground.svg",
    "ground.xml",
    "hours.csv",
    "levels.csv",
    "materials.csv",
    "perspective.svg",
    "plan.json",
    "sections.png",
    "sections.svg",
    "stakes.csv",
    "yard.png",
    "yard.svg",
]


@pytest.fixture(scope="module")
def drawn() -> dict[str, bytes]:
    """The files of the sample plan."""
    return plan_files(sample_plan())


def test_write_plan_writes_every_file(tmp_path: Path, drawn: dict[str, bytes]) -> None:
    """Every file, none empty, and what is returned is what is there."""
    written = write_plan(sample_plan(), tmp_path / "plan")
    assert sorted(path.name for path in written) == NAMES
    assert {path.name: path.read_bytes() for path in written} == drawn
    assert all(path.stat().st_size > 200 for path in written)


def test_longitude_and_latitude_are_written_only_for_a_place_on_earth(drawn: dict[str, bytes]) -> None:
    """GeoJSON, GPX and KML come with a coordinate reference system, and not without."""
    placed = {"stakes.geojson", "stakes.gpx", "stakes.kml"}
    with_system = set(exchange_files(sample_plan(crs="EPSG:25832")))
    assert with_system - set(NAMES) == placed
    assert placed.isdisjoint(drawn)


def test_write_plan_writes_nothing_when_the_folder_is_taken(tmp_path: Path) -> None:
    """Somebody's file stops it, and stays alone."""
    (tmp_path / "holiday.txt").write_text("sun")
    with pytest.raises(InputError, match=r"holiday\.txt"):
        write_plan(sample_plan(), tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == ["holiday.txt"]


@pytest.mark.parametrize("unit", list(LengthUnit))
def test_an_override_is_printed_on_every_sheet(unit: LengthUnit) -> None:
    """Whatever a reader opens says what was let pass; the picture is drawn from the same page as the SVG."""
    plan = sample_plan(unit, overrides=("OVERRIDDEN",))
    with mock.patch.object(drawings, "png_bytes", return_value=b""):  # a picture of words is not read here
        files = plan_files(plan)
    for name in NAMES:
        if not name.endswith((".png", ".pdf")):  # the PDF's own tests read its pages
            assert b"OVERRIDDEN" in files[name], name


def test_an_override_is_in_the_pictures_too() -> None:
    """They are drawn from the same page as the SVG: without the words they are others."""
    plan, without = sample_plan(overrides=("OVERRIDDEN",)), sample_plan()
    assert png_bytes(yard_page(plan)) != png_bytes(yard_page(without))
    assert edge_drawings(plan)["edge.png"] != edge_drawings(without)["edge.png"]


def test_the_same_plan_gives_the_same_bytes_in_another_process(drawn: dict[str, bytes]) -> None:
    """Nothing depends on the time, on the order of sets or on what was drawn before."""
    program = (
        "import hashlib; from sample_plan import sample_plan; from spadework.write import plan_files;"
        "print({n: hashlib.sha256(c).hexdigest() for n, c in plan_files(sample_plan()).items()})"
    )
    environment = {
        "PYTHONPATH": os.pathsep.join([str(Path(spadework.__file__).parents[1]), str(Path(__file__).parent)]),
        "PYTHONHASHSEED": "7",
        "PATH": "",
        "HOME": str(Path.home()),
    }
    run = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True, env=environment)
    here = {name: hashlib.sha256(content).hexdigest() for name, content in drawn.items()}
    assert run.stdout.strip() == str(here)
