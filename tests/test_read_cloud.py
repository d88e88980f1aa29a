"""Scans and lidar tiles: real ones against their own classes and another reader, made ones against closed forms."""

from __future__ import annotations

import tracemalloc
from pathlib import Path

import laspy
import numpy as np
import pytest
from pyproj import CRS

from clouds import TOWN, YARD, tile
from spadework.errors import InputError
from spadework.positions.ground_filter import GroundFilter
from spadework.read import read_file
from spadework.read.cloud import filter_cloud, measured, read_cloud
from spadework.read.cloud_files import open_cloud
from spadework.readings_positions import CloudPoints
from spadework.site import load_site
from spadework.survey import load_survey
from studies.cloud_memory import study

SURVEY_FOOT = 1200 / 3937


@pytest.fixture(scope="session")
def yard() -> Path:
    """The real yard."""
    return tile(YARD)


def made(path: Path, place: np.ndarray, *, classes: np.ndarray | None = None, crs: str | None = None) -> Path:
    """Write points by another library."""
    header = laspy.LasHeader(point_format=6, version="1.4")
    header.scales, header.offsets = np.full(3, 0.0001), np.floor(place.min(axis=0))
    if crs:
        header.add_crs(CRS.from_user_input(crs))
    las = laspy.LasData(header)
    las.x, las.y, las.z = place.T
    if classes is not None:
        las.classification = classes
    las.write(path)
    return path


def plane(place: np.ndarray) -> np.ndarray:
    """Level of a plane."""
    return 100.0 + 0.05 * place[:, 0] - 0.02 * place[:, 1]


def lawn(count: int, *, seed: int = 5, noise: float = 0.0) -> np.ndarray:
    """Points on a plane of 20 by 10 m."""
    rng = np.random.default_rng(seed)
    place = np.column_stack([rng.uniform(0, 20, count), rng.uniform(0, 10, count), np.zeros(count)])
    place[:, 2] = plane(place) + rng.normal(0, noise, count) if noise else plane(place)
    return place


def test_yard_is_read_when_it_has_ground_points(yard: Path) -> None:
    """The real yard: 9,808 points of the ground class, thinned; means agree with the points by another reader."""
    recognised = read_file(yard, vertical_unit="us-ft")
    cloud = recognised.reading
    assert isinstance(cloud, CloudPoints)
    assert any("9,808 of them of the ground class" in note for note in cloud.note)
    las = laspy.read(yard)
    ground = np.asarray(las.classification) == 2
    east, north, level = (np.asarray(axis)[ground] * SURVEY_FOOT for axis in (las.x, las.y, las.z))
    assert cloud.level.min() >= level.min()
    assert cloud.level.max() <= level.max()
    column = ((east - np.asarray(las.x).min() * SURVEY_FOOT) / cloud.spacing).astype(int)
    row = ((north - np.asarray(las.y).min() * SURVEY_FOOT) / cloud.spacing).astype(int)
    cells = {cell: level[rows].mean() for cell, rows in grouped(row * 10_000 + column).items()}
    assert len(cells) == len(cloud)
    np.testing.assert_allclose(sorted(cells.values()), np.sort(cloud.level), atol=1e-6)
    assert cloud.loss < 0.02
    assert CRS(cloud.crs).axis_info[0].unit_name == "metre"


def grouped(keys: np.ndarray) -> dict[int, np.ndarray]:
    """Rows by key."""
    order = np.argsort(keys, kind="stable")
    found, start = np.unique(keys[order], return_index=True)
    return dict(zip(found.tolist(), np.split(order, start[1:]), strict=True))


def test_yard_asks_for_its_vertical_unit_when_nothing_says_it(yard: Path) -> None:
    """Its system speaks of east and north only, in feet: levels may be either."""
    with pytest.raises(InputError, match="in what unit the levels are"):
        read_cloud(yard)


def shares(path: Path, scale: float) -> dict[int, float]:
    """Return for each class of a tile the share of its points that the ground filter keeps."""
    source = open_cloud(path, path.name)
    factors = np.full(3, scale)
    extent = measured(source, factors, path.name)
    found = filter_cloud(source, factors, extent, GroundFilter())
    las = laspy.read(path)
    place = np.column_stack([las.x, las.y, las.z]) * scale
    kept = found.is_ground(place, extent)
    classes = np.asarray(las.classification)
    return {int(name): float(kept[classes == name].mean()) for name in np.unique(classes)}


def test_filter_finds_the_ground_when_the_yard_hides_its_classes(yard: Path) -> None:
    """Against the yard's own classes: under 0.5 % of ground missed, under 1 % of house and tree kept."""
    kept = shares(yard, SURVEY_FOOT)
    assert kept[2] > 0.995
    assert kept[5] < 0.01  # tree
    assert kept[6] < 0.01  # house
    assert kept[4] < 0.01  # shrubs


def test_filter_keeps_most_ground_when_a_town_has_trees_and_houses() -> None:
    """In the town nine in ten of the points of the ground class stay; its other points have no class to test by."""
    assert shares(tile(TOWN), 0.3048)[2] > 0.9


def test_site_is_planned_from_a_scan_when_it_names_one(tmp_path: Path, yard: Path) -> None:
    """A site with the real yard has a ground within the levels of its lawn, in metres."""
    text = (
        f'[site]\nunits = "m"\n[[readings]]\nfile = "{yard.as_posix()}"\nvertical-unit = "us-ft"\nspacing = "500 mm"\n'
        '[pad]\nsize = ["2 m", "2 m"]\n'
    )
    (tmp_path / "site.toml").write_text(text, encoding="utf-8")
    survey = load_survey(load_site(tmp_path))
    assert 1353.7 * SURVEY_FOOT < survey.ground.level.min() < survey.ground.level.max() < 1355.2 * SURVEY_FOOT
    assert survey.shots is None
    assert survey.crs


def test_plane_comes_back_when_a_scan_is_thinned(tmp_path: Path) -> None:
    """Means of points on a plane lie on the plane, so thinning loses nothing."""
    cloud = read_cloud(made(tmp_path / "a.las", lawn(40_000)))
    np.testing.assert_allclose(cloud.level, plane(np.column_stack([cloud.east, cloud.north])), atol=1e-4)
    assert cloud.loss < 1e-4
    assert len(cloud) < 4000


def test_house_and_shrubs_go_when_a_scan_has_no_classes(tmp_path: Path) -> None:
    """A house of 6 by 5 m and 30 % of shrubs over a plane are left out; the rest is the plane within its noise."""
    place = lawn(40_000, noise=0.01)
    rng = np.random.default_rng(6)
    house = (place[:, 0] > 10) & (place[:, 0] < 16) & (place[:, 1] > 3) & (place[:, 1] < 8)
    shrub = ~house & (rng.uniform(size=len(place)) < 0.3)
    place[house, 2] += 3.0
    place[shrub, 2] += rng.uniform(0.3, 2.0, shrub.sum())
    cloud = read_cloud(made(tmp_path / "a.laz", place))
    off = cloud.level - plane(np.column_stack([cloud.east, cloud.north]))
    assert np.abs(off).max() < 0.06
    inside = (cloud.east > 10.5) & (cloud.east < 15.5) & (cloud.north > 3.5) & (cloud.north < 7.5)
    assert not inside.any()


@pytest.mark.parametrize("form", ["ascii", "binary_little_endian", "binary_big_endian"])
def test_ply_is_read_when_text_or_binary(tmp_path: Path, form: str) -> None:
    """The same points come back from all three forms, with other properties between and faces after."""
    place = lawn(3000).astype("f8")
    head = f"ply\nformat {form} 1.0\nelement vertex {len(place)}\nproperty double x\nproperty double y\n"
    head += (
        "property uchar red\nproperty double z\nelement face 0\nproperty list uchar int vertex_indices\nend_header\n"
    )
    if form == "ascii":
        body = "".join(f"{e!r} {n!r} 7 {z!r}\n" for e, n, z in place.tolist()).encode()
    else:
        mark = "<" if "little" in form else ">"
        rows = np.zeros(len(place), [("x", f"{mark}f8"), ("y", f"{mark}f8"), ("red", "u1"), ("z", f"{mark}f8")])
        rows["x"], rows["y"], rows["z"] = place.T
        body = rows.tobytes()
    path = tmp_path / "a.ply"
    path.write_bytes(head.encode() + body)
    cloud = read_cloud(path)
    assert any("3,000 points" in note for note in cloud.note)
    np.testing.assert_allclose(cloud.level, plane(np.column_stack([cloud.east, cloud.north])), atol=1e-9)


def test_text_is_read_when_it_has_three_numbers_to_a_line(tmp_path: Path) -> None:
    """Commas or blanks, further columns and a row of headings are all taken."""
    path = tmp_path / "a.xyz"
    path.write_text("x y z\n" + "".join(f"{e:.6f},{n:.6f} {z:.6f} 9\n" for e, n, z in lawn(3000)), encoding="utf-8")
    cloud = read_cloud(path)
    np.testing.assert_allclose(cloud.level, plane(np.column_stack([cloud.east, cloud.north])), atol=2e-6)


def las_cut_short(path: Path) -> bytes:
    """Bytes of a LAS file without its end."""
    return made(path, lawn(2000)).read_bytes()[:-5000]


PLY = b"ply\nformat binary_little_endian 1.0\nelement vertex 9\nproperty float x\nproperty float y\nproperty float z\n"
BROKEN = [
    ("a.las", b"LASF" + b"\x00" * 50, "damaged"),
    ("a.ply", PLY, "header does not end"),
    ("a.ply", PLY + b"end_header\n" + b"\x00" * 30, "ends 7 vertices early"),
    ("a.ply", PLY.replace(b"float z", b"float w") + b"end_header\n", "names no vertices"),
    ("a.ply", PLY.replace(b"property float z", b"property list uchar int z") + b"end_header\n", "not understood"),
    ("a.xyz", b"1 2 3\n1 2\n1 2 x\n", "holds no three numbers"),
    ("a.xyz", b"# nothing\n", "holds no points"),
    ("a.xyz", b"1 2 3\n90000 2 3\n5 5 5\n", "reaches over 90 km"),
    ("a.xyz", b"\x00\x01\x02", "no point cloud"),
]


@pytest.mark.parametrize(("name", "content", "message"), BROKEN, ids=[row[2] for row in BROKEN])
def test_broken_cloud_is_refused_when_read(tmp_path: Path, name: str, content: bytes, message: str) -> None:
    """Damaged and hostile files are refused in words."""
    (tmp_path / name).write_bytes(content)
    with pytest.raises(InputError, match=message):
        read_file(tmp_path / name, name=name)


def test_cloud_is_refused_when_it_is_cut_short(tmp_path: Path) -> None:
    """A file that holds fewer points than its header says is damaged."""
    (tmp_path / "b.las").write_bytes(las_cut_short(tmp_path / "a.las"))
    with pytest.raises(InputError, match="damaged or cut short"):
        read_cloud(tmp_path / "b.las")


def test_axes_are_made_when_the_grid_stretches_here(tmp_path: Path) -> None:
    """A cloud in the web's Mercator, half as large again as the ground at 48° north, is brought to true metres."""
    place = lawn(20_000) * [1.5, 1.5, 1.0] + [1_300_000, 6_100_000, 0]
    cloud = read_cloud(made(tmp_path / "a.las", place, crs="EPSG:3857"), use_classes=False)
    reach = np.ptp(cloud.east), np.ptp(cloud.north)
    assert reach == pytest.approx((30 * np.cos(np.radians(47.95)), 15 * np.cos(np.radians(47.95))), rel=0.03)
    assert any("brought to true metres" in note for note in cloud.note)


def test_memory_stays_bounded_when_a_tile_is_large(tmp_path: Path) -> None:
    """The short form of the study: a tile of 300,000 points keeps to the ground and under 300 MB in its own process."""
    row = study(300_000, tmp_path)
    assert row["memory"] < 300
    assert row["rms"] < 0.015
    assert row["loss"] < 0.03
    assert row["kept"] <= 51_000


def test_pieces_are_let_go_when_a_cloud_is_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Four times as many points take no more memory: nothing of a piece outlives it but its share of the sample."""
    monkeypatch.setattr("spadework.read.cloud_files.CHUNK", 5_000)
    monkeypatch.setattr("spadework.read.cloud.SAMPLE", 1_000)
    peaks = []
    for count in (10_000, 60_000, 240_000):  # the first only warms up
        place = lawn(count)
        path = made(tmp_path / f"{count}.las", place, classes=np.full(count, 2))
        tracemalloc.start()
        read_cloud(path, spacing=0.5)
        peaks.append(tracemalloc.get_traced_memory()[1])
        tracemalloc.stop()
    assert peaks[2] - peaks[1] < 1e6
