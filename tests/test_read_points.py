"""Point lists as text, and how a kind is recognised or overruled."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from spadework.errors import InputError
from spadework.read import Recognised, read_file, read_text
from spadework.readings import LevelBook, PointList, RodList
from spadework.units import LengthUnit


def points_of(text: str, **options: str) -> tuple[PointList, Recognised]:
    """Read a text in metres that must be a point list."""
    recognised = read_text(text, units=LengthUnit.METRE, **options)
    assert isinstance(recognised.reading, PointList)
    return recognised.reading, recognised


@pytest.mark.parametrize(
    "text",
    [
        "P,N,E,Z,D\n7,2.5,1.5,100.25,oak\n",
        "Northing;Easting;Elevation;Name;Code\n2,5;1,5;100,25;7;oak\n",
        "X\tY\tZ\tpt\tremarks\n1.5\t2.5\t100.25\t7\toak\n",
        "no  desc  rl      north  east\n7   oak   100.25  2.5    1.5\n",
        "| E | N | level | point | note |\n|---|---|---|---|---|\n| 1.5 | 2.5 | 100.25 | 7 | oak |\n",
        "point east (m) north (m) level (m) note\n7 1.5 2.5 100.25 oak\n",
    ],
    ids=["PNEZD", "decimal commas", "xyz", "spaces", "bars", "single spaces"],
)
def test_points_are_the_same_when_columns_come_in_any_order(text: str) -> None:
    """Any order of headings, any synonym, any separator: the same point."""
    points, recognised = points_of(text)
    assert points.point == ("7",)
    assert points.note == ("oak",)
    np.testing.assert_array_equal([points.east[0], points.north[0], points.level[0]], [1.5, 2.5, 100.25])
    assert recognised.sentence == "read as points: 1 point, metres"


def test_order_is_obeyed_when_the_list_has_no_headings() -> None:
    """Without headings the order that was given is used; a dash leaves a column out."""
    points, recognised = points_of("7,2.5,1.5,ignored,100.25\n", kind="points", order="P,N,E,-,Z")
    assert (points.north[0], points.east[0], points.level[0]) == (2.5, 1.5, 100.25)
    assert list(points.line) == [1]
    assert recognised.reason == "order P,N,E,-,Z given"
    assert recognised.notes == ("1 column not used: column 4",)


@pytest.mark.parametrize(
    ("order", "message"),
    [
        ("P,Q,E", "letter 'Q'"),
        ("PNNZ", "'N' twice"),
        (" ", "empty"),
        ("PNE", "headings are 3"),
        ("PZD-E", "no column is headed north"),
    ],
)
def test_order_is_refused_when_it_does_not_fit(order: str, message: str) -> None:
    """An order with unknown or doubled letters, or for other columns, is refused."""
    with pytest.raises(InputError, match=message):
        read_text("7,2.5,1.5,100.25,5\n", units=LengthUnit.METRE, kind="points", order=order)


def test_order_is_refused_when_the_list_has_headings() -> None:
    """Headings and an order could contradict one another."""
    with pytest.raises(InputError, match="Leave the order out"):
        read_text("P,N,E,Z\n7,2.5,1.5,100.25\n", units=LengthUnit.METRE, order="PENZ")


@pytest.mark.parametrize(
    ("order", "text", "reading"),
    [("PENR", "7,1,2,1.5\n", RodList), ("PBF", "A,1.5,-\nB,-,1.2\n", LevelBook)],
    ids=["rod-list", "level-book"],
)
def test_kind_follows_when_only_the_order_is_given(order: str, text: str, reading: type) -> None:
    """The letters of the order say what kind of table it is."""
    assert isinstance(read_text(text, units=LengthUnit.METRE, order=order).reading, reading)


def test_kind_is_overruled_when_given() -> None:
    """A list that has levels and rods is read as points where that is wanted; the rods are named as not used."""
    text = "point,east,north,level,rod\nA,1,2,100.5,1.5\n"
    assert read_text(text, units=LengthUnit.METRE).kind == "rod-list"
    points, recognised = points_of(text, kind="points")
    assert points.level[0] == 100.5
    assert recognised.notes == ("1 column not used: rod",)


@pytest.mark.parametrize("kind", ["points", None])
def test_places_have_no_level_when_there_are_only_positions(kind: str | None) -> None:
    """Positions without levels are points where no other column could be the level."""
    points, recognised = points_of("point,east,north\nA,1,2\n", kind=kind)
    assert np.isnan(points.level[0])
    assert recognised.sentence == "read as points: 1 point, none with a level, metres"
    with pytest.raises(InputError, match="level"):
        read_text("point,east,north,levvel\nA,1,2,3\n", units=LengthUnit.METRE, kind="points")


def test_several_remarks_are_joined_when_there_are_several_columns() -> None:
    """Code and description are both remarks."""
    points, _ = points_of("P,E,N,Z,code,description\n7,1,2,100,TR,old oak\n")
    assert points.note == ("TR old oak",)


def test_kind_is_refused_when_it_is_not_known() -> None:
    """A kind that there is not is answered with those that there are."""
    with pytest.raises(InputError, match="rod-list"):
        read_text("a", kind="rodlist")


@pytest.mark.parametrize(("name", "head"), [("a.tif", b"x"), ("a.txt", b"ncols 4\nnrows 4\n"), ("b.bin", b"II*\x00")])
def test_raster_is_handed_on_when_recognised(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str, head: bytes
) -> None:
    """A raster is known by its ending or its first bytes and goes to its own reader with its options."""
    from spadework.read import raster  # noqa: PLC0415 - rasterio is only needed here
    from spadework.readings import RasterReading  # noqa: PLC0415 - the same

    asked: list[object] = []

    def read_raster(path: Path, **options: object) -> RasterReading:
        asked.append((path, options))
        return RasterReading(np.zeros((2, 3)), np.zeros((2, 3)), np.zeros((2, 3)), crs="EPSG:25832", cell=1.0)

    monkeypatch.setattr(raster, "read_raster", read_raster)
    path = tmp_path / name
    path.write_bytes(head)
    recognised = read_file(path, window=(0, 0, 1, 1), site_crs="EPSG:25832")
    assert recognised.kind == "raster"
    assert recognised.sentence == "read as raster: 2 × 3 cells of 1 m, EPSG:25832"
    assert asked == [(path, {"window": (0, 0, 1, 1), "vertical_unit": None, "site_crs": "EPSG:25832"})]
