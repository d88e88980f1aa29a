"""Broken input, as a person would bring it: one clear message with the line, the right exit status, nothing written.

Each case takes a sound starter site, breaks one thing in it, and asks for the whole plan.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest

from command_line import run, says_no_traceback
from spadework.cli.starter import DEFAULT_PAD, Starter, starter_files
from spadework.units import LengthUnit

Break = Callable[[Path], None]


@dataclass(frozen=True)
class Case:
    """One thing that is broken, and what must be said of it.

    Parameters
    ----------
    broken : callable
        Breaks the starter site in a folder.
    place : str
        File and line that the message begins with; empty where the fault is no line's.
    wanted : tuple of str
        What the message must hold.
    status : int
        2 where the file is wrong, 1 where the survey or the limits do not allow an answer.
    kind : str
        Starter site to break.
    """

    broken: Break
    place: str
    wanted: tuple[str, ...]
    status: int = 2
    kind: str = "laser"


def replaced(name: str, old: str, new: str) -> Break:
    """Replace a text that stands in a file once."""

    def change(folder: Path) -> None:
        text = (folder / name).read_text(encoding="utf-8")
        assert text.count(old) == 1, f"{old!r} stands {text.count(old)} times in {name}"
        (folder / name).write_text(text.replace(old, new), encoding="utf-8")

    return change


def added(name: str, text: str) -> Break:
    """Put lines at the end of a file."""

    def change(folder: Path) -> None:
        with (folder / name).open("a", encoding="utf-8") as stream:
            stream.write(text)

    return change


def written(name: str, content: bytes) -> Break:
    """Put other bytes in the place of a file."""

    def change(folder: Path) -> None:
        (folder / name).write_bytes(content)

    return change


def cut_off(name: str, text: str) -> Break:
    """Drop a text and all that follows it."""

    def change(folder: Path) -> None:
        head, found, _ = (folder / name).read_text(encoding="utf-8").partition(text)
        assert found
        (folder / name).write_text(head, encoding="utf-8")

    return change


def both(*changes: Break) -> Break:
    """Make several changes."""

    def change(folder: Path) -> None:
        for one in changes:
            one(folder)

    return change


def line_of(name: str, text: str, kind: str = "laser") -> str:
    """Return ``shots.csv line 12`` for the line of the sound file that begins with a text."""
    lines = starter_files(starter(kind))[name].splitlines()
    (found,) = [number for number, line in enumerate(lines, 1) if line.startswith(text)]
    return f"{name} line {found}"


def starter(kind: str) -> Starter:
    """Return the starter site that is broken here."""
    return Starter("yard", kind, LengthUnit.METRE, DEFAULT_PAD[LengthUnit.METRE], 4.0)


def points(rows: str) -> Break:
    """Make the readings a list of points, and drop what names the shots of the starter site."""
    return both(
        written("shots.csv", f"point,east (m),north (m),level (m)\n{rows}".encode()),
        written(
            "site.toml",
            b'[site]\nunits = "m"\n[[readings]]\nfile = "shots.csv"\n[pad]\nsize = ["2 m", "1 m"]\n',
        ),
    )


SQUARE = "".join(f"P{e}{n},{e}.0,{n}.0,100.{e}{n}\n" for e in (0, 4, 8) for n in (0, 4, 8))
SWAPPED = """\
setup,point,rod (m),north (m),east (m),note
S1,BM1,21.40,15.00,1.352,doorstep
S1,P1,24.00,15.50,1.402,
S1,P2,28.00,19.00,1.455,
S1,P3,23.00,18.50,1.501,
"""
SIX_MISTAKES = """\
[site]
nmae = "Orchard"
units = "m"
[[readings]]
file = "shots.csv"
[boundary]
points = ["F1", "F2"]
setback = "-1 m"
[pad]
size = ["2 km", "3 m"]
bearing = 400
build-up = [{ material = "stone", depth = "3 m" }]
"""

CASES = {
    # The file of readings.
    "wrong unit": Case(
        replaced("shots.csv", "rod (m)", "rod (furlong)"), "shots.csv line 1", ("furlong", "not a unit")
    ),
    "missing column": Case(replaced("shots.csv", "north (m),", ""), "shots.csv line 1", ("no column is headed north",)),
    "column without heading": Case(
        both(replaced("shots.csv", "north (m)", "hue")), "shots.csv line 1", ("north", "rod-list")
    ),
    "swapped columns": Case(
        written("shots.csv", SWAPPED.encode()), "shots.csv line 2", ("21.40", "too large", "swapped?", "east")
    ),
    "letter O in a number": Case(
        replaced("shots.csv", "S1,F2,20.00,0.00,2.378", "S1,F2,2O.00,0.00,2.378"),
        line_of("shots.csv", "S1,F2"),
        ("2O.00", "20.00"),
    ),
    "feet and inches among metres": Case(
        replaced("shots.csv", "S1,F2,20.00,0.00,2.378", "S1,F2,20.00,0.00,7' 9 1/2 in"),
        line_of("shots.csv", "S1,F2"),
        ("7' 9 1/2",),
    ),
    "row cut short": Case(
        replaced("shots.csv", "S1,F2,20.00,0.00,2.378,fence corner", "S1,F2,20.00"),
        line_of("shots.csv", "S1,F2"),
        ("3 cells", "6"),
    ),
    "empty file": Case(written("shots.csv", b""), "shots.csv", ("empty",)),
    "binary file": Case(written("shots.csv", bytes(range(256)) * 9), "shots.csv line", ("not a text file",)),
    "file of spaces": Case(written("shots.csv", b" \n\n  \n"), "shots.csv", ("empty",)),
    "letter to a friend": Case(
        written("shots.csv", b"Dear Ann,\nthe garden slopes.\n"), "shots.csv line 1", ("Dear Ann", "columns")
    ),
    # The survey itself.
    "bench mark not in the readings": Case(replaced("site.toml", 'point = "BM1"', 'point = "BM7"'), "", ("BM7", "BM1")),
    "set-up on nothing known": Case(
        added("shots.csv", "S2,X1,3.00,3.00,1.100,\nS2,X2,4.00,3.00,1.200,\n"),
        "shots.csv line 35",
        ("S2", "tied to nothing"),
    ),
    "misclosure over the tolerance": Case(
        added("shots.csv", "S1,BM1,,,1.480,back on the doorstep\n"), "shots.csv line", ("BM1", "0.080 m"), status=1
    ),
    "two levels for one place": Case(
        points(SQUARE + "P44b,4.0,4.0,101.0\n"), "", ("P44", "P44b", "shots.csv"), status=1
    ),
    "shot far off its neighbours": Case(points(SQUARE + "P66,6.0,6.0,150.2\n"), "", ("P66", "accept"), status=1),
    "shots on one line": Case(points("A,0,0,100.1\nB,1,1,100.2\nC,2,2,100.3\nD,3,3,100.1\n"), "", ("line",), status=1),
    "two shots": Case(points("A,0,0,100.1\nB,1,1,100.2\n"), "", ("three",), status=1),
    "no line level": Case(
        replaced("site.toml", "line-level", "# line-level"), "site.toml line", ("line-level",), kind="string"
    ),
    "raster that is none": Case(
        written("ground.asc", b"ncols many\n"), "ground.asc", ("not an elevation raster",), kind="raster"
    ),
    # The site file.
    "six mistakes at once": Case(
        written("site.toml", SIX_MISTAKES.encode()),
        "site.toml line 2",
        ('Did you mean "name"?', "line 7", "line 8", "line 10", "line 11", "line 12", "6 faults"),
    ),
    "bad TOML": Case(
        replaced("site.toml", 'setback = "500 mm"', "setback = 500 mm"),
        line_of("site.toml", "setback"),
        ('setback = "500 mm"',),
    ),
    "missing file of readings": Case(
        replaced("site.toml", 'file = "shots.csv"', 'file = "shot.csv"'),
        line_of("site.toml", "file"),
        ("does not exist", 'Did you mean "shots.csv"?'),
    ),
    "boundary names no shot": Case(
        replaced("site.toml", '"F1", "F2"', '"F1", "FZ2"'), line_of("site.toml", "points"), ("FZ2", "F2")
    ),
    "keep-out names no shot": Case(
        replaced("site.toml", 'at     = "T1"', 'at     = "TT1"'), line_of("site.toml", "at "), ("TT1", "T1")
    ),
    "reference names no shot": Case(
        replaced("site.toml", '["H1", "H2"]', '["H1", "HH2"]'), line_of("site.toml", "references"), ("HH2", "H2")
    ),
    "boundary crosses itself": Case(
        replaced("site.toml", '"F2", "F3"', '"F3", "F2"'), "", ("boundary", "crosses itself")
    ),
    "unknown soil": Case(replaced("site.toml", '"loam"', '"laom"'), line_of("site.toml", "kind"), ("laom", "loam")),
    "outline that is no GeoJSON": Case(
        both(
            written("plot.geojson", b'{"type": "FeatureCollection", "features": [}'),
            replaced("site.toml", "points  =", 'file = "plot.geojson"  #'),
        ),
        "plot.geojson line 1",
        ("not JSON",),
    ),
    "no pad": Case(
        lambda folder: (
            (folder / "site.toml").write_text(
                (folder / "site.toml").read_text(encoding="utf-8").partition("[pad]")[0], encoding="utf-8"
            )
            and None
        ),
        "site.toml",
        ("no table [pad]",),
    ),
    "a bank without its fill slope": Case(
        replaced("site.toml", 'kind = "timber"', 'kind = "bank", cut = "1:1.5"'), "", ("bank", "fill", "both slopes")
    ),
    # The limits.
    "pad too big for the yard": Case(
        replaced("site.toml", '["4 m", "3 m"]', '["40 m", "30 m"]'),
        "",
        ("the boundary", "measured ground", "relax", "37 %"),
        status=1,
    ),
    "keep-out over the whole yard": Case(
        replaced("site.toml", 'radius = "1.2 m"', 'radius = "60 m"'), "", ("plum tree", "60.000 m", "relax"), status=1
    ),
    "edge that may not show": Case(
        replaced("site.toml", 'exposed-edge = "600 mm"', "exposed-edge = 0, cut-depth = 0"),
        "",
        ("exposed-edge", "cut-depth", "relax"),
        status=1,
    ),
}


@pytest.mark.parametrize("case", CASES.values(), ids=CASES)
def test_message_is_clear_and_nothing_is_written_when_one_thing_is_broken(tmp_path: Path, case: Case) -> None:
    """Each broken input is answered in words, with its place and the exit status, and leaves no results."""
    site, out = tmp_path / "yard", tmp_path / "out"
    site.mkdir()
    for name, text in starter_files(starter(case.kind)).items():
        (site / name).write_text(text, encoding="utf-8")
    case.broken(site)
    result = run("plan", site, "--out", out)
    assert says_no_traceback(result), result.err
    assert (result.status, result.out) == (case.status, ""), result.err
    said = result.err.replace(f"{site}/", "")
    assert case.place in said
    for words in case.wanted:
        assert words.casefold() in said.casefold(), said
    assert not out.exists()
    assert len(said.splitlines()) <= 12, "not one clear message"


BOOKS = {
    "two benches of one name": (
        "point,BS (m),IS,FS,known\nBM1,1.500,,,100.000\nA,,1.200,,\nBM1,,,1.500,101.000\n",
        "line 4",
        ("BM1", "100.000", "101.000"),
    ),
    "gap in the book": (
        "point,BS (m),IS,FS,known\nBM1,1.500,,,100.000\nA,,,1.200,\nB,,1.100,,\nBM1,,,1.300,\n",
        "line 4",
        ("B", "gap"),
    ),
    "nothing pasted": ("", "line 1", ("empty",)),
    "headings only": ("point,BS,IS,FS\n", "line 1", ("no row below",)),
    "reading beyond the rod": (
        "point,BS (m),IS,FS,known\nBM1,1.500,,,100.000\nA,,41.10,,\n",
        "line 3",
        ("41.10", "did you mean"),
    ),
    "no unit anywhere": ("point,BS,IS,FS,known\nBM1,1.500,,,100.000\nA,,1.210,,\n", "line", ("unit",)),
    "nothing known": ("point,BS (m),IS,FS\nBM1,1.500,,\nA,,1.210,\n", "line", ("known",)),
}


@pytest.mark.parametrize(("book", "place", "wanted"), BOOKS.values(), ids=BOOKS)
def test_book_is_refused_in_words_when_it_is_broken(book: str, place: str, wanted: tuple[str, ...]) -> None:
    """A broken level book, pasted, is answered with the line, and no level is printed."""
    result = run("level", "-", stdin=book)
    assert says_no_traceback(result), result.err
    assert (result.status, result.out) == (2, ""), result.err
    assert f"standard input {place}" in result.err
    for words in wanted:
        assert words.casefold() in result.err.casefold(), result.err
    assert len(result.err.splitlines()) <= 3


@pytest.mark.parametrize("name", ["level", "plan"])
def test_file_of_ten_million_lines_is_refused_by_its_line(tmp_path: Path, name: str) -> None:
    """A file no person wrote is given up at the first line too many, not read to its end."""
    site, out = tmp_path / "yard", tmp_path / "out"
    run("new", site)
    block = b"S1,P,1.00,2.00,1.000,\n" * 100_000
    with (site / "shots.csv").open("wb") as stream:
        stream.write(b"setup,point,east (m),north (m),rod (m),note\n")
        for _ in range(100):
            stream.write(block)
    call = ("level", site / "shots.csv", "--known", "P=1") if name == "level" else ("plan", site, "--out", out)
    result = run(*call)
    assert (result.status, result.out) == (2, ""), result.err
    assert "shots.csv line " in result.err
    assert len(result.err.splitlines()) == 1
    assert not out.exists()


def test_results_are_refused_when_their_folder_is_somebody_elses(tmp_path: Path) -> None:
    """A folder with a file of somebody else's, and a file in the folder's place, are refused before any work."""
    site, out = tmp_path / "yard", tmp_path / "out"
    run("new", site)
    out.mkdir()
    (out / "photo.jpg").write_bytes(b"dear")
    result = run("plan", site, "--out", out)
    assert (result.status, result.out) == (2, "")
    assert "photo.jpg" in result.err
    assert [path.name for path in out.iterdir()] == ["photo.jpg"]
    result = run("plan", site, "--out", out / "photo.jpg")
    assert (result.status, result.out) == (2, "")
    assert (out / "photo.jpg").read_bytes() == b"dear"


@pytest.mark.parametrize("name", ["ground", "place", "plan"])
def test_site_that_is_not_there_is_answered_with_one_that_is(tmp_path: Path, name: str) -> None:
    """Each command that takes a site says where there is one."""
    run("new", tmp_path / "garden")
    result = run(name, tmp_path / "gardn", folder=tmp_path)
    assert (result.status, result.out) == (2, "")
    assert "garden?" in result.err
    assert [path.name for path in tmp_path.iterdir()] == ["garden"]
