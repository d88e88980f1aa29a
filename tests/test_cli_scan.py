"""Tests of ``spadework scan``: the command, its files and what it refuses."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
import rasterio
import shapely
from affine import Affine
from pyproj import Transformer

from command_line import run, says_no_traceback
from spadework.pad import Pad, Placement
from spadework.read.raster_windows import raster_windows
from spadework.survey_scan import scan_file
from terrain import fractal_levels

FOOT = 0.3048
US_FOOT = 1200 / 3937
PAD = ("--pad", "6 x 4 m", "--soil", "loam", "--bearings", "6")


def write_raster(
    path: Path, levels: np.ndarray, *, cell: float = 1.0, crs: str | None = "EPSG:25832", **more: object
) -> Path:
    """Write levels as a GeoTIFF with its lower left corner at 500000, 5000000."""
    north = 5_000_000.0 + cell * levels.shape[0]
    with rasterio.open(
        path, "w", driver="GTiff", width=levels.shape[1], height=levels.shape[0], count=1, dtype="float32", crs=crs,
        transform=Affine(cell, 0, 500_000.0, 0, -cell, north), **{"nodata": -9999.0, **more},
    ) as target:  # fmt: skip
        target.write(levels.astype(np.float32), 1)
    return path


@pytest.fixture(scope="module")
def ground() -> np.ndarray:
    """Rough ground, 60 by 70 cells. [m]"""
    return fractal_levels(0, 0, 60, 70)


def test_scan_writes_spots_that_agree_with_one_another(tmp_path: Path, ground: np.ndarray) -> None:
    """Table, JSON, GeoJSON, picture and map come from one search; the pads of the world map are those printed."""
    raster = write_raster(tmp_path / "dem.tif", ground)
    out, cost = tmp_path / "spots", tmp_path / "cost.tif"
    result = run("scan", raster, *PAD, "--spots", "4", "--accuracy", "3 cm", "--out", out, "--map", cost, "--json")
    assert result.status == 0, result.err
    printed = json.loads(result.out)
    assert sorted(path.name for path in out.iterdir() if not path.name.startswith(".")) == [
        "scan.json", "spots.csv", "spots.geojson", "spots.png",
    ]  # fmt: skip
    assert json.loads((out / "scan.json").read_text()) == printed
    assert printed["candidates"] == 60 * 70 * 6
    assert printed["noise_floor"] == pytest.approx(0.8 * 0.03 * 24.0, rel=0.01)
    with rasterio.open(cost) as found:
        value = found.read(1, masked=True)
        assert value.min() == pytest.approx(printed["least_over_cells"], rel=1e-6)
        first = min(printed["spots"], key=lambda spot: spot["value_over_cells"])
        assert value[first["cell_row"], first["cell_column"]] == pytest.approx(first["value_over_cells"], rel=1e-6)
        assert found.crs.to_epsg() == 25832
        assert found.transform == Affine(1, 0, 500_000.0, 0, -1, 5_000_060.0)
    features = json.loads((out / "spots.geojson").read_text())["features"]
    back = Transformer.from_crs("OGC:CRS84", "EPSG:25832", always_xy=True)
    for feature, spot in zip(features, printed["spots"], strict=True):
        ring = shapely.Polygon([back.transform(*point) for point in feature["geometry"]["coordinates"][0]])
        assert ring.area == pytest.approx(24.0, rel=1e-3)
        assert ring.centroid.distance(shapely.Point(spot["east"], spot["north"])) < 0.01
    rows = (out / "spots.csv").read_text(encoding="utf-8-sig").splitlines()
    assert len(rows) == 5
    assert f"{printed['spots'][0]['cut']:.4f}" in rows[1]


def test_scan_prints_which_number_is_which(tmp_path: Path, ground: np.ndarray) -> None:
    """The list says what is exact on the triangles, what the search went by, and sends people to measure the spot."""
    result = run("scan", write_raster(tmp_path / "dem.tif", ground), *PAD, "--spots", "2", "--accuracy", "2 cm")
    assert result.status == 0, result.err
    for words in (
        "exact on the triangles",
        "over cells",
        "25,200 poses",
        "0.38 m³",
        "Before you dig",
        "utility-locating",
    ):
        assert words in result.out, words


def test_scan_in_feet_is_the_scan_in_metres(tmp_path: Path, ground: np.ndarray) -> None:
    """A raster in survey feet, levels too, gives the same soil as the same raster in metres."""
    metres = scan_file(write_raster(tmp_path / "m.tif", ground), Pad.rectangle(6.0, 4.0), soil=0.9, bearings=4, spots=2)
    path = tmp_path / "ft.tif"
    with rasterio.open(
        path, "w", driver="GTiff", width=70, height=60, count=1, dtype="float64", crs="EPSG:2263",
        transform=Affine(1 / US_FOOT, 0, 980_000.0, 0, -1 / US_FOOT, 200_000.0),
    ) as target:  # fmt: skip
        target.write(ground.astype(np.float32).astype(np.float64) / FOOT, 1)
    feet = scan_file(path, Pad.rectangle(6.0, 4.0), soil=0.9, bearings=4, spots=2, vertical_unit="ft")
    assert feet.lattice.cell == pytest.approx((1.0, 1.0))
    assert feet.scan.spots.value == pytest.approx(metres.scan.spots.value, rel=1e-3)
    assert feet.spots[0].spot.cut == pytest.approx(metres.spots[0].spot.cut, rel=1e-3)
    assert "in metres" in feet.crs


def test_scan_stays_in_the_boundary_and_off_the_keep_out(tmp_path: Path, ground: np.ndarray) -> None:
    """A boundary and a keep-out in longitude and latitude hold to their setback and clearance."""
    raster = write_raster(tmp_path / "dem.tif", ground)
    turn = Transformer.from_crs("EPSG:25832", "OGC:CRS84", always_xy=True)

    def outline(name: str, corners: list[tuple[float, float]]) -> Path:
        ring = [list(turn.transform(500_000 + e, 5_000_000 + n)) for e, n in [*corners, corners[0]]]
        feature = {
            "type": "Feature",
            "properties": {"name": name},
            "geometry": {"type": "Polygon", "coordinates": [ring]},
        }
        (tmp_path / f"{name}.geojson").write_text(json.dumps({"type": "FeatureCollection", "features": [feature]}))
        return tmp_path / f"{name}.geojson"

    land = [(5.0, 5.0), (50.0, 8.0), (48.0, 55.0), (6.0, 50.0)]
    pond = [(20.0, 20.0), (30.0, 22.0), (25.0, 34.0)]
    result = run(
        "scan", raster, *PAD, "--json", "--boundary", outline("land", land), "--setback", "2 m",
        "--keep-out", outline("pond", pond), "--clearance", "1.5 m",
    )  # fmt: skip
    assert result.status == 0, result.err
    for spot in json.loads(result.out)["spots"]:
        placement = Placement(spot["east"] - 500_000, spot["north"] - 5_000_000, spot["bearing"], 0.0)
        pad = shapely.Polygon(placement.corners(Pad.rectangle(6.0, 4.0)))
        assert shapely.Polygon(land).buffer(-2.0 + 1e-3).covers(pad)
        assert pad.distance(shapely.Polygon(pond)) >= 1.5 - 1e-3


def test_scan_tells_all_faults_of_its_options_at_once() -> None:
    """Every wrong option is named with what to do, and nothing is read."""
    result = run(
        "scan", "none.tif", "--pad", "6 m", "--compacts", "9", "--setback", "1 m", "--map", "a.png", "--cut-depth", "x"
    )
    assert result.status == 2
    for words in ("--pad '6 m'", "--compacts 9", "--setback without --boundary", "a.png", "5 faults"):
        assert words in result.err, words
    says_no_traceback(result)


def test_scan_refuses_what_it_cannot_scan(tmp_path: Path, ground: np.ndarray) -> None:
    """Degrees, cells larger than the pad, undeclared stand-ins, a limit out of reach: each has its remedy."""
    small = ground[:20, :20]
    degrees = tmp_path / "deg.tif"
    with rasterio.open(
        degrees, "w", driver="GTiff", width=20, height=20, count=1, dtype="float32", crs="EPSG:4326",
        transform=Affine(1e-5, 0, 9.0, 0, -1e-5, 45.0),
    ) as target:  # fmt: skip
        target.write(small.astype(np.float32), 1)
    coarse = write_raster(tmp_path / "coarse.tif", small, cell=30.0)
    stand_in = np.where(np.arange(400).reshape(20, 20) % 50 == 0, -9999.0, small)
    undeclared = write_raster(tmp_path / "stand-in.tif", stand_in, nodata=None)
    unnamed = write_raster(tmp_path / "unnamed.tif", small, crs=None)
    fine = write_raster(tmp_path / "fine.tif", small)
    cases = (
        (degrees, (), 2, "rio warp", "EPSG:32632"),
        (coarse, (), 2, "larger than the pad", "finer raster"),
        (undeclared, (), 2, "-9999", "nodata"),
        (unnamed, (), 2, "--crs", "local"),
        (fine, ("--greatest-fall", "1 mm"), 1, "fall of 0.001 m", "Relax"),
    )
    for raster, more, status, *words in cases:
        result = run("scan", raster, *PAD, *more)
        assert result.status == status, result.err
        assert all(word in result.err for word in words), result.err
        says_no_traceback(result)


def test_map_that_fails_leaves_nothing_behind(tmp_path: Path, ground: np.ndarray) -> None:
    """Where the scan ends without spots no half map is left, and an earlier one stands."""
    raster, cost = write_raster(tmp_path / "dem.tif", ground), tmp_path / "cost.tif"
    cost.write_bytes(b"earlier")
    result = run("scan", raster, *PAD, "--map", cost, "--greatest-fall", "1 mm")
    assert result.status == 1
    assert cost.read_bytes() == b"earlier"
    assert sorted(path.name for path in tmp_path.iterdir()) == ["cost.tif", "dem.tif"]


def test_windows_of_a_raster_are_whole_steps_of_its_levels(tmp_path: Path, ground: np.ndarray) -> None:
    """Levels are rounded to 0.1 mm, missing cells are marked, and a window is a part of the whole."""
    holed = np.where(np.arange(60 * 70).reshape(60, 70) % 97 == 0, -9999.0, ground)
    with raster_windows(write_raster(tmp_path / "dem.tif", holed)) as windows:
        whole = windows.levels(0, 0, 60, 70)
        assert (windows.levels(7, 11, 20, 30) == whole[7:27, 11:41]).all()
        known = holed > -9999.0
        assert (whole[~known] == -(2**31)).all()
        assert np.abs(whole[known] * 1e-4 - holed[known]).max() <= 0.5e-4 + 2e-5  # and the file's own 32 bits
        assert windows.lattice.centres(np.array(0), np.array(0)).tolist() == [500_000.5, 5_000_059.5]


def test_site_gives_pad_goal_and_soil(tmp_path: Path, ground: np.ndarray) -> None:
    """With --site the pad is the site file's; what a scan does not look at is named, a wrong finish is refused."""
    raster = write_raster(tmp_path / "dem.tif", ground)
    site = tmp_path / "site.toml"
    text = '[site]\nname = "Shed"\nunits = "m"\n[[readings]]\nfile = "x.csv"\n[pad]\nsize = ["6 m", "4 m"]\n'
    soil = '[goal]\nleast = "balance"\nlimits = { exposed-edge = "300 mm" }\n[soil]\nkind = "clay"\n'
    (tmp_path / "x.csv").write_text("east,north,level\n0,0,1\n9,0,1\n0,9,1\n")
    site.write_text(text + soil)
    result = run("scan", raster, "--site", site, "--bearings", "4", "--json")
    assert result.status == 0, result.err
    printed = json.loads(result.out)
    assert printed["goal"] == "balance"
    assert printed["pad"]["area"] == pytest.approx(24.0)
    assert "leaves aside: exposed-edge" in result.err
    site.write_text(text + 'finish = "flush"\n' + soil)
    refused = run("scan", raster, "--site", site)
    assert refused.status == 2
    assert "flush" in refused.err
    assert "site.toml" in refused.err
