"""What the numbers of a raster mean: units, scale, cells without a value, and levels that cannot be."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from rasters import fault, hills, saved
from spadework.read.raster import read_raster


def test_read_raster_when_values_have_scale_and_offset(tmp_path: Path) -> None:
    """Level is value times scale plus offset, then the unit."""
    values = np.round((hills() - 500.0) * 100).astype(np.int16)
    reading = read_raster(saved(tmp_path, values, scale=0.01, offset=500.0, unit="ft"))
    np.testing.assert_allclose(reading.level, (values * 0.01 + 500.0) * 0.3048, rtol=1e-15)
    assert any("times 0.01 plus 500" in note for note in reading.note)


@pytest.mark.parametrize(
    ("unit", "factor"),
    [
        ("m", 1.0),
        ("metre", 1.0),
        ("cm", 0.01),
        ("ft", 0.3048),
        ("US survey foot", 1200 / 3937),
        ("us-ft", 1200 / 3937),
    ],
)
@pytest.mark.parametrize("said_by", ["tag", "option"])
def test_read_raster_when_levels_have_a_unit(unit: str, factor: float, said_by: str, tmp_path: Path) -> None:
    """The band's unit, or the one asked for, turns levels to metres; both kinds of foot are exact by definition."""
    values = hills()
    path = saved(tmp_path, values, unit=unit if said_by == "tag" else "mm")
    reading = read_raster(path, vertical_unit=unit if said_by == "option" else None)
    np.testing.assert_allclose(reading.level, values.astype(np.float64) * factor, rtol=1e-15)
    assert any(unit in note for note in reading.note)


def test_read_raster_when_the_system_has_a_vertical_axis(tmp_path: Path) -> None:
    """A compound system says the vertical unit: U.S. survey feet, 1200/3937 m each."""
    values = hills()
    reading = read_raster(saved(tmp_path, values, crs="EPSG:26915+6360"))
    np.testing.assert_allclose(reading.level, values.astype(np.float64) * 1200 / 3937, rtol=1e-12)
    assert reading.crs == "EPSG:26915"


def test_read_raster_when_the_unit_is_said_nowhere(tmp_path: Path) -> None:
    """With metres across, metres up are taken, and it is said."""
    assert any("taken in metres" in note for note in read_raster(saved(tmp_path, hills())).note)


@pytest.mark.parametrize("kind", ["declared", "not a number", "mask", "option", "infinite"])
def test_read_raster_when_cells_have_no_value(kind: str, tmp_path: Path) -> None:
    """Declared numbers, NaN, masks and a number given by the caller all come out as NaN; the rest keeps its level."""
    values = hills()
    missing = np.zeros(values.shape, dtype=bool)
    missing[3:7, 50:] = True
    options: dict[str, Any] = {}
    profile: dict[str, Any] = {}
    if kind == "declared":
        values[missing], profile["nodata"] = -9999.0, -9999.0
    elif kind == "not a number":
        values[missing] = np.nan
    elif kind == "mask":
        values[missing], profile["mask"] = 777.0, ~missing
    elif kind == "infinite":
        values[missing] = -np.inf
    else:
        values[missing], options["nodata"] = 777.0, 777.0
    reading = read_raster(saved(tmp_path, values, **profile), **options)
    np.testing.assert_array_equal(np.isnan(reading.level), missing)
    np.testing.assert_array_equal(reading.level[~missing], values[~missing])
    assert any("40 of 2,400 cells have no value" in note for note in reading.note)


@pytest.mark.parametrize("stand_in", [-9999, -32768, 0, 32767])
def test_read_raster_when_a_stand_in_is_not_declared(stand_in: int, tmp_path: Path) -> None:
    """A number far from all others that is commonly written for no value is refused, with the way out."""
    values = np.round(hills()).astype(np.int16)
    values[:2, :5] = stand_in
    path = saved(tmp_path, values)
    told = fault(path)
    others = values[values != stand_in]
    assert f"10 cell(s) hold {stand_in}, all others lie from {others.min()} to {others.max()}" in told
    assert f"Give nodata = {stand_in}" in told
    assert "declares no such number" in told
    assert np.isnan(read_raster(path, nodata=stand_in).level).sum() == 10


def test_read_raster_when_a_stand_in_is_declared_wrongly(tmp_path: Path) -> None:
    """A file that declares another number than it uses is found out."""
    values = hills()
    values[0, 0] = np.finfo(np.float32).min
    told = fault(saved(tmp_path, values, nodata=-9999.0))
    assert "1 cell(s) hold -3.40282e+38" in told
    assert "declares -9999 for that" in told


def test_read_raster_when_the_shore_is_at_nought(tmp_path: Path) -> None:
    """Nought beside low ground is a level like any other."""
    values = hills() - 500.0
    values[:2, :5] = 0.0
    assert np.isfinite(read_raster(saved(tmp_path, values)).level).all()


def test_read_raster_when_so_high_up_that_a_tape_differs(tmp_path: Path) -> None:
    """At 2,000 m a tape is longer than the plan by 2,000 in 6,371,009."""
    said = " / ".join(read_raster(saved(tmp_path, hills() + 1500.0)).note)
    assert "taped distances are 1 in 3,1" in said
    assert 3_100 < 6_371_009 / 2_000 < 3_200


def test_read_raster_when_levels_are_whole_metres(tmp_path: Path) -> None:
    """Levels in whole metres are read, and said to be too coarse."""
    said = read_raster(saved(tmp_path, np.round(hills()).astype(np.int16))).note
    assert any("steps of 1 m: too coarse" in note for note in said)


@pytest.mark.parametrize(("shift", "unit"), [(9_500.0, "m"), (-1_200.0, "m")])
def test_read_raster_when_levels_are_out_of_this_world(shift: float, unit: str, tmp_path: Path) -> None:
    """Levels that no land has are refused."""
    assert "Land lies between -500 and 9,000 m" in fault(saved(tmp_path, hills() + shift, unit=unit))


def test_read_raster_when_units_contradict_or_are_unknown(tmp_path: Path) -> None:
    """A band and a system that say different units, and a word that is none, are refused; the option settles it."""
    path = saved(tmp_path, hills(), crs="EPSG:26915+6360", unit="m")
    assert "the band says 'm', the coordinate reference system says 'US survey foot'" in fault(path)
    assert read_raster(path, vertical_unit="m").level[0, 0] == hills()[0, 0]
    assert "the vertical unit 'fathom' is not known" in fault(saved(tmp_path, hills(), unit="fathom", name="b.tif"))


def test_read_raster_when_values_are_depths(tmp_path: Path) -> None:
    """A system whose vertical axis points down holds depths: refused."""
    path = saved(tmp_path, hills(), crs="EPSG:25832+5715")
    assert "they are depths" in fault(path)


def test_read_raster_when_nothing_has_a_value(tmp_path: Path) -> None:
    """A raster of holes only is refused."""
    path = saved(tmp_path, np.full((20, 30), -9999.0, dtype=np.float32), nodata=-9999.0)
    assert "none of the 600 cells here has a value" in fault(path)
