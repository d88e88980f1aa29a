"""Positions from one system to another: a published example, and what is said or refused."""

from __future__ import annotations

import numpy as np
import pytest
from pyproj import CRS

from spadework.errors import InputError, Source
from spadework.read.transform import convert


def test_convert_when_on_the_british_grid() -> None:
    """The worked example: 52°39'27.2531" N, 1°43'4.5177" E on OSGB36 is 651 409.903 E, 313 177.270 N.

    Ordnance Survey, A guide to coordinate systems in Great Britain, annexe C.1 (quoted from memory).
    """
    lat, lon = 52 + 39 / 60 + 27.2531 / 3600, 1 + 43 / 60 + 4.5177 / 3600
    east, north, notes = convert(CRS("EPSG:4277"), CRS("EPSG:27700"), np.array([lon]), np.array([lat]))
    assert (east[0], north[0]) == pytest.approx((651_409.903, 313_177.270), abs=0.001)
    assert notes == ()


def test_convert_when_the_datum_changes() -> None:
    """A step that is known to about a metre only says so."""
    *_, notes = convert(CRS("OGC:CRS84"), CRS("EPSG:25832"), np.array([11.4]), np.array([48.0]))
    assert len(notes) == 1
    assert "known to about 1 m" in notes[0]


def test_convert_when_no_way_is_known() -> None:
    """Two datums without a known step between them are refused, not laid on each other."""
    invented = CRS.from_wkt(
        'GEOGCS["Invented",DATUM["Invented 1901",SPHEROID["Bessel 1841",6377397.155,299.1528128]],'
        'PRIMEM["Greenwich",0],UNIT["degree",0.0174532925199433]]'
    )
    with pytest.raises(InputError, match=r"plot\.tif: no way from Invented to ETRS89"):
        convert(invented, CRS("EPSG:25832"), np.array([11.4]), np.array([48.0]), source=Source("plot.tif"))


def test_convert_when_the_place_is_outside_the_system() -> None:
    """A place where the other system is not used is told by its numbers, with where it is used."""
    with pytest.raises(
        InputError, match=r"from 47\.9, 11\.4 to 48, 11\.5 .* lie where ETRS89 .* is not used"
    ) as caught:
        convert(CRS("OGC:CRS84"), CRS("EPSG:25832"), np.array([47.9, 48.0]), np.array([11.4, 11.5]))
    assert "longitude comes first" in str(caught.value)
