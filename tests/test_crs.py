"""Coordinate reference systems: texts that name one, and texts that name nothing."""

from __future__ import annotations

import pytest
from pyproj import CRS

from spadework.errors import InputError, Source
from spadework.read.crs import crs_text, parse_crs
from spadework.read.projection import site_projection


@pytest.mark.parametrize("text", ["local", " Local ", "", "site"])
def test_parse_crs_when_axes_are_the_sites_own(text: str) -> None:
    """The word local stands for plain metres."""
    assert parse_crs(text) is None


@pytest.mark.parametrize("text", ["EPSG:999999", "UTM 32", "27700-ish"])
def test_parse_crs_when_it_names_nothing(text: str) -> None:
    """A text that names no system is shown, with how one is written."""
    with pytest.raises(InputError, match=text) as caught:
        parse_crs(text, Source("site.toml", 3, "crs"))
    assert "EPSG:27700 for instance" in str(caught.value)


def test_parse_crs_when_local_is_misspelt() -> None:
    """The nearest right word is offered."""
    with pytest.raises(InputError, match="Did you mean 'local'"):
        parse_crs("locla")


@pytest.mark.parametrize("text", ["EPSG:25832", "EPSG:27700", "EPSG:4326"])
def test_crs_text_when_the_system_has_a_number(text: str) -> None:
    """A system with a number is written by it, and reads back as itself."""
    assert crs_text(CRS(CRS(text).to_wkt())) == text


def test_crs_text_when_the_system_is_our_own() -> None:
    """One made for a site is written in full, and reads back as itself."""
    made = site_projection(9.0, 48.0)
    assert CRS(crs_text(made)).equals(made)
