"""The invented surveys in ``sample_surveys/`` are what their maker makes, and what their notes say."""

from __future__ import annotations

import csv
import tomllib
from pathlib import Path

import numpy as np
import pytest
import rasterio
import shapely

from make_samples import SAMPLES, make_samples, noise, yard_level

FOLDERS = ("laser-yard", "string-grid", "paddock-raster")


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Make every sample anew."""
    folder = tmp_path_factory.mktemp("samples")
    make_samples(folder)
    return folder


def laser_rows() -> list[dict[str, str]]:
    """Return the rows of the laser's shot list."""
    lines = (SAMPLES / "laser-yard" / "shots.csv").read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


@pytest.mark.parametrize("name", ["laser-yard/shots.csv", "string-grid/drops.txt", "paddock-raster/paddock.geojson"])
def test_samples_when_text_is_made_again(name: str, made: Path) -> None:
    """A sample that is text comes out the same, byte for byte."""
    assert (made / name).read_bytes() == (SAMPLES / name).read_bytes()


def test_samples_when_the_raster_is_made_again(made: Path) -> None:
    """The raster comes out with the same levels and the same place; its bytes depend on the compressor's version."""
    with (
        rasterio.open(made / "paddock-raster" / "paddock.tif") as again,
        rasterio.open(SAMPLES / "paddock-raster" / "paddock.tif") as kept,
    ):
        np.testing.assert_array_equal(again.read(1), kept.read(1))
        assert again.transform == kept.transform
        assert again.crs == kept.crs
        assert again.nodata == kept.nodata
        assert again.units == kept.units == ("metre",)


@pytest.mark.parametrize("folder", FOLDERS)
def test_samples_when_somebody_reads_the_note(folder: str) -> None:
    """Every sample says that it is invented, and its site file is TOML with a pad in it."""
    assert "**This survey is invented.**" in (SAMPLES / folder / "README.md").read_text(encoding="utf-8")
    site = tomllib.loads((SAMPLES / folder / "site.toml").read_text(encoding="utf-8"))
    assert set(site) == {"site", "readings", "boundary", "pad", "goal", "soil", "stakes"} | (
        {"keep-out"} if folder != "string-grid" else set()
    )
    for reading in site["readings"]:
        assert (SAMPLES / folder / reading["file"]).is_file()


def test_samples_when_the_laser_run_is_closed_by_hand() -> None:
    """Bench mark, turning point, bench mark: the run closes 3 mm low, as the note says."""
    rods = [float(row["rod (m)"]) for row in laser_rows() if row["point"] in ("BM1", "TP1")]
    backsights, foresights = rods[0::2], rods[1::2]
    assert sum(backsights) - sum(foresights) == pytest.approx(-0.003, abs=1e-9)


def test_samples_when_the_laser_shots_are_reduced_by_hand() -> None:
    """Rods stay on the staff, and each shot lies within 1 cm of the invented ground."""
    rows = laser_rows()
    rods = np.array([float(row["rod (m)"]) for row in rows])
    assert 0.2 < rods.min() < rods.max() < 4.5
    assert 60 <= len(rows) <= 90
    instrument = {"S1": 100.0 + 1.352, "S2": 100.0 + 1.352 - 2.139 + 1.631}
    shots = [row for row in rows if row["east (m)"]]
    level = [instrument[row["setup"]] - float(row["rod (m)"]) for row in shots]
    ground = [yard_level(float(row["east (m)"]), float(row["north (m)"])) for row in shots]
    np.testing.assert_allclose(level, ground, atol=0.01)


def test_samples_when_the_drop_grid_is_counted() -> None:
    """The grid has seven columns and six rows, every 4 ft, and no cell is empty."""
    rows = [
        line.split("\t") for line in (SAMPLES / "string-grid" / "drops.txt").read_text(encoding="utf-8").splitlines()
    ]
    assert rows[0][1:] == ["0'", "4'", "8'", "12'", "16'", "20'", "24'"]
    assert [row[0] for row in rows[1:]] == ["0'", "4'", "8'", "12'", "16'", "20'"]
    assert all(len(row) == 8 and all(cell.endswith('"') for cell in row[1:]) for row in rows[1:])


def test_samples_when_the_paddock_is_laid_over_its_raster() -> None:
    """The file is small, one corner has no value, and the fence lies inside what was measured."""
    path = SAMPLES / "paddock-raster" / "paddock.tif"
    assert path.stat().st_size < 40_000
    with rasterio.open(path) as raster:
        missing = np.ma.getmaskarray(raster.read(1, masked=True))
    assert 0 < missing.sum() < 0.1 * missing.size
    site = tomllib.loads((SAMPLES / "paddock-raster" / "site.toml").read_text(encoding="utf-8"))
    oak = shapely.Point(site["keep-out"][0]["at"])
    west, north = 682_600.0, 5_318_470.0
    assert west < oak.x < west + missing.shape[1]
    assert north - missing.shape[0] < oak.y < north


def test_noise_when_drawn_many_times() -> None:
    """The noise has the standard deviation asked for: the sum of twelve uniform numbers has a variance of one."""
    draw = noise(1)
    values = np.array([draw(2.0) for _ in range(20_000)])
    assert values.mean() == pytest.approx(0.0, abs=0.06)
    assert values.std() == pytest.approx(2.0, rel=0.03)
