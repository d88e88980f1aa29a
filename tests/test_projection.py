"""Site axes: distances against geodesics, scales against closed forms, and systems that cannot serve."""

from __future__ import annotations

import math

import numpy as np
import pytest
from pyproj import CRS, Geod

from spadework.errors import InputError, Source
from spadework.read.projection import scale_error, site_axes, site_projection
from spadework.read.transform import convert, longitude_latitude

WGS84 = Geod(ellps="WGS84")
# Defining semi-major axis and flattening of WGS 84.
SEMI_MAJOR, FLATTENING = 6_378_137.0, 1 / 298.257223563
ECCENTRICITY_2 = FLATTENING * (2 - FLATTENING)

PLACES = [(11.45, 48.0), (-118.2, 34.0), (174.8, -41.3), (36.8, 0.0), (20.0, 78.5), (-179.99, 65.0)]


@pytest.mark.parametrize(("lon", "lat"), PLACES)
def test_site_projection_when_measured_against_geodesics(lon: float, lat: float) -> None:
    """Within 2 km of the centre every distance agrees with the geodesic to 1 mm in 100 m, and far better."""
    random = np.random.default_rng(7)
    crs = site_projection(lon, lat)
    east, north = random.uniform(-2000, 2000, (2, 200))
    degrees_lon, degrees_lat = longitude_latitude(crs, east, north)
    _, _, geodesic = WGS84.inv(degrees_lon[:100], degrees_lat[:100], degrees_lon[100:], degrees_lat[100:])
    plane = np.hypot(east[:100] - east[100:], north[:100] - north[100:])
    assert np.max(np.abs(plane / geodesic - 1.0)) < 0.001 / 100
    # 1 + e² / (2 R²) at 2 km is 5e-8.
    assert np.max(np.abs(plane / geodesic - 1.0)) < 6e-8


def test_site_projection_when_bearings_are_compared_at_the_centre() -> None:
    """North of the axes is true north at the centre, east is east, and the centre is the origin."""
    crs = site_projection(11.45, 48.0)
    lon, lat = longitude_latitude(crs, np.array([0.0, 0.0, 30.0]), np.array([0.0, 30.0, 0.0]))
    assert (lon[0], lat[0]) == pytest.approx((11.45, 48.0), abs=1e-11)
    azimuth, _, distance = WGS84.inv([11.45, 11.45], [48.0, 48.0], lon[1:], lat[1:])
    assert azimuth == pytest.approx([0.0, 90.0], abs=1e-4)
    assert distance == pytest.approx([30.0, 30.0], abs=1e-6)


def test_site_projection_when_twenty_kilometres_from_its_centre() -> None:
    """Its scale there is the closed form 1 + e² / (2 R²), R² the product of both radii of curvature."""
    lat = 48.0
    crs = site_projection(11.0, lat)
    lon, where = longitude_latitude(crs, np.array([20_000.0]), np.array([0.0]))
    sine_2 = math.sin(math.radians(lat)) ** 2
    radius_2 = SEMI_MAJOR**2 * (1 - ECCENTRICITY_2) / (1 - ECCENTRICITY_2 * sine_2) ** 2
    assert scale_error(crs, float(lon[0]), float(where[0])) == pytest.approx(20_000.0**2 / (2 * radius_2), rel=1e-3)


@pytest.mark.parametrize(("lon", "lat"), [(0.0, 89.5), (0.0, 91.0), (500.0, 10.0), (math.nan, 10.0)])
def test_site_projection_when_the_centre_is_no_site(lon: float, lat: float) -> None:
    """A pole, or no place at all, is refused."""
    with pytest.raises(InputError, match="no site can lie at"):
        site_projection(lon, lat)


def test_site_projection_when_built_on_another_datum() -> None:
    """Its longitude and latitude are those of the base given, so that no change of datum creeps in."""
    crs = site_projection(-100.0, 41.0, base=CRS("EPSG:4269"))
    assert crs.geodetic_crs is not None
    assert crs.geodetic_crs.equals(CRS("EPSG:4269"), ignore_axis_order=True)
    *_, notes = convert(CRS("EPSG:4269"), crs, np.array([-100.0]), np.array([41.0]))
    assert notes == ()


def test_scale_error_when_on_a_utm_central_meridian() -> None:
    """UTM's scale is 0.9996 on its central meridian, by definition."""
    assert scale_error(CRS("EPSG:32632"), 9.0, 48.0) == pytest.approx(0.0004, abs=1e-8)


@pytest.mark.parametrize("lat", [0.0, 30.0, 48.0, 60.0])
def test_scale_error_when_on_the_webs_mercator(lat: float) -> None:
    """The sphere's Mercator on the ellipsoid stretches by a / (N cos φ) and a / (M cos φ), N and M its radii."""
    sine_2, cosine = math.sin(math.radians(lat)) ** 2, math.cos(math.radians(lat))
    along_parallel = math.sqrt(1 - ECCENTRICITY_2 * sine_2) / cosine
    along_meridian = (1 - ECCENTRICITY_2 * sine_2) ** 1.5 / ((1 - ECCENTRICITY_2) * cosine)
    expected = max(abs(along_parallel - 1), abs(along_meridian - 1))
    assert scale_error(CRS("EPSG:3857"), 9.0, lat) == pytest.approx(expected, rel=1e-5)


def test_site_axes_when_the_grid_is_true() -> None:
    """A grid whose scale is near one is taken as it is, with nothing to say."""
    axes = site_axes(CRS("EPSG:25832"), 11.448, 47.993)
    assert axes.crs == "EPSG:25832"
    assert axes.note == ()


def test_site_axes_when_the_grid_is_a_little_short() -> None:
    """On the central meridian of UTM the plan differs from the tape by 1 in 2,500, which is said."""
    axes = site_axes(CRS("EPSG:25832"), 9.0, 48.0)
    assert axes.crs == "EPSG:25832"
    assert "by 1 in 2,500 (4.0 mm in 10 m)" in axes.note[0]


@pytest.mark.parametrize("crs", ["EPSG:3857", "EPSG:4326", "EPSG:4979"])
def test_site_axes_when_the_raster_comes_in_degrees_or_web_mercator(crs: str) -> None:
    """Degrees and stretched metres are brought to true ones, and that is said."""
    axes = site_axes(CRS(crs), 9.0, 48.0)
    made = CRS(axes.crs)
    assert scale_error(made, 9.0, 48.0) < 1e-8
    assert "metres (Site axes, transverse Mercator at 48.000000 N, 9.000000 E)" in axes.note[0]


@pytest.mark.parametrize(
    ("crs", "says"),
    [("EPSG:3857", "has distances wrong here by 49.6%"), ("EPSG:4326", "counts degrees, not metres")],
)
def test_site_axes_when_the_user_asks_for_what_cannot_serve(crs: str, says: str) -> None:
    """What the user asked for is never replaced behind his back: it is refused."""
    with pytest.raises(InputError, match=says) as caught:
        site_axes(CRS(crs), 9.0, 48.0, chosen=True, source=Source("site.toml", 4, "crs"))
    assert str(caught.value).startswith("site.toml line 4, column crs: ")
    assert "leave crs out" in str(caught.value)


def test_site_axes_when_the_grid_counts_survey_feet() -> None:
    """The same projection in metres: each coordinate is multiplied by 1200/3937, the U.S. survey foot."""
    feet = CRS("EPSG:2229")
    axes = site_axes(feet, -118.0, 34.0)
    east, north, _ = convert(feet, CRS(axes.crs), np.array([6_561_000.0]), np.array([1_822_000.0]))
    # The false origin of the definition is itself rounded, to a thousandth of a foot.
    assert (east[0], north[0]) == pytest.approx((6_561_000 * 1200 / 3937, 1_822_000 * 1200 / 3937), abs=3.1e-4)
    assert "US survey foot" in axes.note[0]


def test_site_axes_when_the_site_has_no_place() -> None:
    """No system gives axes without one."""
    axes = site_axes(None, math.nan, math.nan)
    assert (axes.crs, axes.note) == ("", ())
