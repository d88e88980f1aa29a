"""How sure each instrument is: every row against a second copy, and every instrument of a site file has a row."""

from __future__ import annotations

from statistics import NormalDist

import pytest

from spadework.factors import factor_row, load_table
from spadework.levels.fit import DEFAULT_INSTRUMENT, instrument_precision
from spadework.site_schema import INSTRUMENTS

# Level and place, standard deviations in mm, and what kind of level it gives. Common practice but for the lidar (US
# Geological Survey, 3DEP quality levels, from memory) and the phone (Sensors 2019: 0.81 m across, 1.65 m in height).
EXPECTED = {
    "builders-level": (2.0, 30.0, "reading"),
    "rotary-laser": (2.0, 30.0, "reading"),
    "digital-level": (0.5, 30.0, "reading"),
    "string-line": (5.0, 30.0, "drop"),
    "water-level": (3.0, 30.0, "drop"),
    "hand-level": (15.0, 30.0, "reading"),
    "clinometer": (50.0, 50.0, "reading"),
    "a-frame": (20.0, 50.0, "reading"),
    "h-frame": (10.0, 50.0, "reading"),
    "sighting-water-level": (30.0, 50.0, "reading"),
    "total-station": (3.0, 5.0, "level"),
    "transit": (10.0, 10.0, "level"),
    "gnss-rtk": (20.0, 10.0, "level"),
    "lidar": (100.0, 350.0, "level"),
    "lidar-ql0": (50.0, 350.0, "level"),
    "lidar-ql3": (200.0, 1410.0, "level"),
    "global-elevation-model": (2430.0, 3600.0, "level"),
    "phone": (1650.0, 810.0, "level"),
    "tape": (10.0, 30.0, "drop"),
}


def test_every_row_when_walked() -> None:
    """Each row holds what the second copy says, in millimetres."""
    rows = load_table("instruments")
    assert {row.name: (row.value, row.extra["position"], row.extra["kind"]) for row in rows} == EXPECTED
    assert {row.unit for row in rows} == {"mm"}


def test_directions_and_distances_when_an_instrument_sights_places() -> None:
    """Seconds of arc of one direction and millimetres of one distance, common practice: the second copy of both."""
    rows = {row.name: row.extra for row in load_table("instruments")}
    assert {name: extra["direction"] for name, extra in rows.items() if "direction" in extra} == {
        "clinometer": 3600.0,
        "total-station": 5.0,
        "transit": 60.0,
    }
    assert {name: extra["distance"] for name, extra in rows.items() if "distance" in extra} == {"tape": 10.0}


@pytest.mark.parametrize("name", INSTRUMENTS)
def test_row_when_a_site_file_may_name_the_instrument(name: str) -> None:
    """Whatever a site file may call its instrument has a standard deviation."""
    assert factor_row("instruments", name).value > 0


def test_noise_of_a_cell_when_a_row_may_stand_for_a_raster() -> None:
    """Noise by the second copy: repeatability of 60, 30 and 120 mm; 2 m in 90 of 100 between two places of the globe.

    The last is that of a difference, so a place has ``2 / (1.645 √2)`` = 0.86 m; and 4 m in 90 of 100 are 2.43 m.
    """
    noise = {row.name: row.extra["noise"] for row in load_table("instruments") if "noise" in row.extra}
    near_by = 1000 * 2 / (NormalDist().inv_cdf(0.95) * 2**0.5)
    expected = {"lidar": 60.0, "lidar-ql0": 30.0, "lidar-ql3": 120.0, "global-elevation-model": near_by}
    assert noise == pytest.approx(expected, rel=0.01)
    assert factor_row("instruments", "global-elevation-model").value == pytest.approx(4000 / 1.645, rel=0.01)


def test_precision_when_no_instrument_is_named() -> None:
    """A builder's level is assumed, and said to be: 2 mm for a reading."""
    precision = instrument_precision(assumed=True)
    assert precision.reading_sd == pytest.approx(0.002)
    assert precision.words == f"{DEFAULT_INSTRUMENT}, assumed"
