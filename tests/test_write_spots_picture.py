"""The picture and the raster of every spot: the same to the byte, and the numbers of the search."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from rasterio.io import MemoryFile

from command_line import run
from sample_sites import SAMPLES, inputs_of, place, plan_of
from spadework.placement import SearchResult
from spadework.plan import PlanInputs
from spadework.write.spots_picture import spots_bytes


@pytest.fixture(scope="module")
def found() -> tuple[PlanInputs, SearchResult]:
    """The sample yard and its search."""
    return inputs_of("laser-yard"), plan_of("laser-yard").search


def test_raster_holds_the_map(found: tuple[PlanInputs, SearchResult]) -> None:
    """North is up, cells are centred on the positions, and no value is lost or moved."""
    inputs, result = found
    spots = result.spot_map
    assert spots is not None
    with MemoryFile(spots_bytes(inputs, result, ".tif")) as memory, memory.open() as raster:
        value = raster.read(1, masked=True)[::-1]
        row, column = np.unravel_index(np.nanargmin(spots.value), spots.value.shape)
        assert raster.xy(len(spots.north) - 1 - row, column) == pytest.approx((spots.east[column], spots.north[row]))
        assert "m3" in raster.descriptions[0]
    assert (np.ma.getmaskarray(value) == np.isnan(spots.value)).all()
    assert value.compressed() == pytest.approx(spots.value[np.isfinite(spots.value)], rel=1e-6)


def test_picture_says_what_it_shows(found: tuple[PlanInputs, SearchResult]) -> None:
    """Title, best spot and proof stand on it as text, and the same search gives the same bytes."""
    inputs, result = found
    picture = spots_bytes(inputs, result, ".svg")
    assert picture == spots_bytes(inputs, result, ".svg")
    text = picture.decode()
    assert "Damson garden: every spot" in text
    assert "best:" in text
    assert "No spot allowed here needs less than" in text
    assert spots_bytes(inputs, result, ".png").startswith(b"\x89PNG")


def test_command_writes_the_map(tmp_path: Path) -> None:
    """``--map`` writes the picture that its name asks for, and refuses a name that asks for none."""
    target = tmp_path / "spots.svg"
    place("laser-yard", "--map", str(target))
    assert target.read_bytes().startswith(b"<?xml")
    refused = run("place", SAMPLES / "laser-yard", "--map", tmp_path / "spots.doc")
    assert refused.status == 2
    assert "ends in .svg, .png or .tif" in refused.err
    assert not (tmp_path / "spots.doc").exists()
