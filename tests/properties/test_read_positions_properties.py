"""Readers of positions under damage: any text, any XML and any bytes are read or refused in words."""

from __future__ import annotations

import tempfile
import tracemalloc
from pathlib import Path

import laspy
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from spadework.errors import InputError, SpadeworkError
from spadework.read import ALL_KINDS, read_file, read_text
from spadework.readings_positions import CloudPoints
from spadework.site import load_site
from spadework.survey import load_survey
from spadework.units import LengthUnit

SOUND = {
    "string-line": "string,along (m),drop (m),note\nA,0,0.412,\nA,2,0.455,TOE\nB,0,0.398,\nB,2,0.441,\n",
    "slope-walk": "from,to,distance (m),slope (%),bearing\nP,A,10.00,3.5,N30E\nA,B,10.00,-2.0,30-15-00\n",
    "radial": "station,point,angle (dms),distance (m),vertical angle (dms),rod (m),hi (m)\n"
    "S1,H1,0-00-00,18.420,,,1.52\nS1,1,34-15-30,12.07,-1-20-00,1.60,\n",
    "stadia": "set-up,point,azimuth (gon),upper (ft),middle (ft),lower (ft),zenith\nS1,1,120.5,4.31,4.16,4.02,91.5\n",
    "ties": "point,from A (m),from B (ft-in),side\nT1,6.20,5' 1\",left\nT2,4.85,7' 3 1/2\",R\n",
    "long-ties": "point,from,distance (m)\nT1,A,6.20\nT1,B,5.1\nT1,C,3.3\n",
    "track": "name,lat,lon,ele (m)\nA,51.5001,-0.12,18.2\nB,51-30-01,-0.1201,\n",
    "stations": "point,station,offset,rod (m)\nBM1,,,1.5\n1,1+05.00,L 2.5,1.4/1.3/1.2\n2,1+05.00,R 2.5,1.3\n",
    "labels": "point,rod (m)\nA1,1.52\nB-2,1.61\nC3,1.70\n",
    "gpx": "<gpx>\n<wpt lat='51.5' lon='0.1'><ele>20</ele><name>P1</name></wpt>\n<trk><trkseg>"
    "<trkpt lat='51.6' lon='0.1'/></trkseg></trk></gpx>",
    "landxml": '<LandXML>\n<Units><Metric linearUnit="meter"/></Units>\n<Surfaces><Surface name="Y"><Definition>'
    '<Pnts><P id="1">0 0 10</P><P id="2">0 4 11</P><P id="3">4 4 14</P></Pnts><Faces><F>1 2 3</F></Faces>'
    "</Definition></Surface></Surfaces></LandXML>",
}
snippets = st.sampled_from(
    [
        *(
            "from A",
            "to B (m)",
            "distance",
            "slope (%)",
            "angle (gon)",
            "bearing",
            "upper",
            "lower",
            "lat",
            "side",
            "drop",
        ),
        *(",", ";", "\t", "\n", '"', "'", "°", "N", "S68-05-27W", "90 gon", "-", "%", "1:2", "5", "1e308", "nan", "-0"),
        *("2+40 L 12", "B-3", "CL", "4.31/4.16/4.02", "9/9", "<", ">", "</", "/>", "&amp;", "&x;", "<!DOCTYPE", "]]>"),
        *("<P id='1'>", "1 2 3", "lat='91'", "i='1'", "<?xml version='1.0' encoding='utf-7'?>", "\x00", "٣", "½"),
    ]
)
kinds = st.sampled_from([None, None, None, *ALL_KINDS])
units = st.sampled_from([None, *LengthUnit])


def damaged(data: st.DataObject, text: str) -> str:
    """Return a text with pieces cut out, doubled or written over."""
    for _ in range(data.draw(st.integers(1, 4))):
        start = data.draw(st.integers(0, len(text)))
        stop = data.draw(st.integers(start, min(len(text), start + 30)))
        piece = data.draw(snippets | st.text(max_size=3) | st.just(text[start:stop] * 2) | st.just(""))
        text = text[:start] + piece + text[stop:]
    return text


@pytest.mark.parametrize("name", SOUND)
def test_sound_text_is_read_when_nothing_is_damaged(name: str) -> None:
    """Every text that is damaged below is read as what it is when whole."""
    found = read_text(SOUND[name], units=LengthUnit.METRE)
    others = {"stadia": "radial", "long-ties": "ties", "stations": "rod-list", "labels": "rod-list", "gpx": "track"}
    assert found.kind == others.get(name, name)
    assert len(found.reading.line) > 0  # type: ignore[union-attr]  # none of them is a raster


@settings(max_examples=300, deadline=None)
@given(st.sampled_from(sorted(SOUND)), st.data(), units, kinds)
def test_damaged_text_is_read_or_refused_when_read(
    name: str, data: st.DataObject, unit: LengthUnit | None, kind: str | None
) -> None:
    """A damaged text is read, with finite numbers or none, or refused in words."""
    text = damaged(data, SOUND[name])
    refusal: InputError | None = None
    try:
        reading = read_text(text, units=unit, kind=kind).reading
    except InputError as error:
        refusal = error
    if refusal is not None:
        assert all(fault.what for fault in refusal.faults)
        return
    for values in vars(reading).values():
        if isinstance(values, np.ndarray) and values.dtype.kind == "f":
            assert not np.isinf(values).any()


TABLES = (
    "places = { A = [0, 0], B = [9, 0], C = [4, 9], S1 = [0, 0, 100], P = [1, 1, 100], H1 = [0, 18] }",
    "strings = { A = { from = [0, 0], to = [9, 0] }, B = { from = [0, 3], to = [9, 3] } }\nline-level = 101",
    "origin = [3, 3]\nbearing = 20\nline-level = 100",
    "baseline = { from = [0, 0], bearing = 45, station = 100 }",
    'grid = { spacing = "2 m" }',
    "take-heights = true",
    'tape = { length = "30 m", true-length = "29.99 m" }',
    "",
)


@settings(max_examples=60, deadline=None)
@given(st.sampled_from(sorted(SOUND)), st.data(), st.sampled_from(TABLES), st.sampled_from(TABLES))
def test_damaged_survey_is_placed_or_refused_when_loaded(
    name: str, data: st.DataObject, first: str, second: str
) -> None:
    """A damaged file behind a whole site, with tables that suit it or not, gives a ground or a refusal in words."""
    text = damaged(data, SOUND[name]) if data.draw(st.booleans()) else SOUND[name]
    with tempfile.TemporaryDirectory() as where:
        folder = Path(where)
        (folder / "r.txt").write_text(text, encoding="utf-8", errors="replace")
        (folder / "p.csv").write_text(
            "point,east (m),north (m),level (m)\n1,0,0,100\n2,5,0,101\nT1,0,5,100\n", encoding="utf-8"
        )
        site = (
            '[site]\nunits = "m"\ndatum = { point = "BM1", level = 100 }\n'
            f'[[readings]]\nfile = "r.txt"\n{first}\n[[readings]]\nfile = "p.csv"\n{second}\n[features]\n'
        )
        (folder / "site.toml").write_text(site, encoding="utf-8")
        told = ""
        try:
            survey = load_survey(load_site(folder))
        except SpadeworkError as error:
            told = str(error)
            assert told.strip()
            return
        assert np.isfinite(survey.ground.level).all()


def las_bytes() -> bytes:
    """Bytes of a small LAS file."""
    header = laspy.LasHeader(point_format=1, version="1.2")
    header.scales = np.full(3, 0.001)
    las = laspy.LasData(header)
    row = np.arange(60)
    las.x, las.y, las.z = row % 8 / 2, row // 8 / 2, 100 + row % 5 / 100
    with tempfile.TemporaryDirectory() as folder:
        las.write(Path(folder) / "a.las")
        return (Path(folder) / "a.las").read_bytes()


PLY = b"ply\nformat binary_little_endian 1.0\nelement vertex 20\nproperty float x\nproperty float y\nproperty float z\n"
CLOUDS = {
    "a.las": las_bytes(),
    "a.ply": PLY + b"end_header\n" + np.random.default_rng(1).uniform(0, 5, (20, 3)).astype("<f4").tobytes(),
    "a.xyz": b"".join(b"%d %d %d.5\n" % (row % 5, row // 5, 100 + row % 3) for row in range(20)),
}


@settings(max_examples=100, deadline=None)
@given(st.sampled_from(sorted(CLOUDS)), st.data())
def test_damaged_cloud_is_read_or_refused_when_read(name: str, data: st.DataObject) -> None:
    """A cloud with bytes changed, cut or added is read or refused in words, and never fills memory."""
    content = bytearray(CLOUDS[name])
    for _ in range(data.draw(st.integers(1, 4))):
        at = data.draw(st.integers(0, len(content) - 1) | st.integers(0, min(400, len(content) - 1)))
        piece = data.draw(st.binary(max_size=8))
        cut = data.draw(st.integers(0, 8) | st.just(len(content)))
        content[at : at + min(cut, len(piece)) if cut < 9 else len(content)] = piece
        content = content or bytearray(b"x")
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / name
        path.write_bytes(bytes(content))
        told, cloud = "", None
        tracemalloc.start()
        try:
            cloud = read_file(path, name=name, vertical_unit="m").reading
        except InputError as error:
            told = str(error).strip()
        finally:
            peak = tracemalloc.get_traced_memory()[1]
            tracemalloc.stop()
        assert told or cloud is not None
        assert not isinstance(cloud, CloudPoints) or np.isfinite(cloud.east + cloud.north + cloud.level).all()
        assert peak < 800e6
