"""Broken files of readings, each with a sound brother: one clear message with the line, and nothing else."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from spadework.errors import InputError
from spadework.read import read_file, read_text
from spadework.read.text import CHUNK, MOST_LINES, lines_of_bytes
from spadework.units import LengthUnit

FOLDER = Path(__file__).parent / "broken" / "readings"

# File, line at fault (None where the whole file is no text), words that must be said, kind of the sound brother.
BROKEN: tuple[tuple[str, int | None, tuple[str, ...], str], ...] = (
    ("binary.csv", 2, ("not a text file",), "rod-list"),
    ("book-empty-reading.csv", 5, ("G2", "gap in the book"), "level-book"),
    ("book-gap.csv", 5, ("G2", "gap in the book", "line 4"), "level-book"),
    ("book-length-without-sight.csv", 4, ("30", "no backsight"), "level-book"),
    ("book-rod-too-long.csv", 3, ("15.51", "Did you mean 1.551?"), "level-book"),
    ("book-sight-too-long.csv", 3, ("2500", "unit"), "level-book"),
    ("book-two-benches.csv", 6, ("BM1", "50.300", "50.000", "line 2"), "level-book"),
    ("book-two-sights-in-a-row.csv", 4, ("CP1", "intermediate"), "level-book"),
    ("book-without-unit.csv", 2, ("no unit", "BS", "1.204"), "level-book"),
    ("empty.csv", 1, ("empty",), "rod-list"),
    ("grid-letter.txt", 3, ("O.4l", "0.41"), "drop-grid"),
    ("grid-negative-distance.txt", 2, ("-2", "negative"), "drop-grid"),
    ("grid-not-in-order.txt", 1, ("1.5 comes after 3",), "drop-grid"),
    ("grid-too-deep.txt", 4, ("49.0", "too large"), "drop-grid"),
    ("grid-two-units.txt", 2, ("1' 2\"", "metres"), "drop-grid"),
    ("grid-unequal-rows.txt", 3, ("2 drops", "3 distances"), "drop-grid"),
    ("net-no-rise.csv", 3, ("P to Q", "no difference of level"), "level-net"),
    ("net-rise-and-fall.csv", 3, ("both a rise and a fall",), "level-net"),
    ("net-set-ups-by-half.csv", 3, ("1.5", "set-ups"), "level-net"),
    ("one-column.txt", 1, ("Dear Ann", "columns"), "drop-grid"),
    ("only-comments.csv", 1, ("only comments",), "rod-list"),
    ("points-doubled-headings.csv", 1, ("'Z'", "'Level'", "level"), "points"),
    ("points-latitude.csv", 3, ("151.501", "latitude"), "points"),
    ("points-level-impossible.csv", 4, ("101170,0",), "points"),
    ("points-mixed-decimal-marks.csv", 3, ("101.285", "12,50", "line 2"), "points"),
    ("points-unknown-headings.csv", 1, ("un, deux, trois",), "points"),
    ("points-without-headings.csv", 1, ("no row of headings", "P,N,E,Z,D"), "points"),
    ("radial-decimal-under-dms.csv", 3, ("117.2240", "117-22-40"), "radial"),
    ("radial-seventy-minutes.csv", 3, ("34-75-30", "60"), "radial"),
    ("radial-zenith-as-vertical.csv", 3, ("91.4", "zenith"), "radial"),
    ("rod-bare-number-in-feet-and-inches.txt", 2, ("5.02", "feet, or inches?"), "rod-list"),
    ("rod-commented-row.csv", 3, ("comment mark", "row"), "rod-list"),
    ("rod-feet-and-inches-among-decimals.txt", 3, ("5' 1 3/8\"", "decimal feet"), "rod-list"),
    ("rod-feet-or-inches.txt", 2, ("5.02", "decimal feet", "?"), "rod-list"),
    ("rod-half-a-position.csv", 4, ("no north",), "rod-list"),
    ("rod-letter-o.csv", 3, ("1.6O5", "1.605"), "rod-list"),
    ("rod-millimetres.csv", 2, ("1402", "millimetres?"), "rod-list"),
    ("rod-missing-column.csv", 1, ("north", "rod-list"), "rod-list"),
    ("rod-misspelt-heading.csv", 1, ("rodd (m)", "Did you mean rod"), "rod-list"),
    ("rod-no-row.csv", 1, ("no row below",), "rod-list"),
    ("rod-ragged.csv", 4, ("4 cells", "6"), "rod-list"),
    ("rod-rows-above-headings.csv", 1, ("above the headings",), "rod-list"),
    ("rod-swapped-columns.csv", 2, ("32.10", "swapped?", "east"), "rod-list"),
    ("rod-unit-contradicted.csv", 4, ("5' 7 5/8\"", "metres"), "rod-list"),
    ("rod-unit-unknown.csv", 1, ("furlong", "not a unit"), "rod-list"),
    ("rod-without-name.csv", 4, ("no point name",), "rod-list"),
    ("string-without-name.csv", 2, ("names no string",), "string-line"),
    ("ties-without-distance.csv", 3, ("T2 has no distance",), "ties"),
    ("ties-wrong-side.csv", 3, ("'up'", "left or right"), "ties"),
    ("track-cut-short.gpx", 3, ("not well-formed",), "track"),
    ("walk-percent-or-degrees.csv", 2, ("3.5", "percent or degrees?"), "slope-walk"),
    ("walk-too-steep.csv", 3, ("62°", "percent?"), "slope-walk"),
    ("workbook.csv", None, ("workbook", "CSV"), "rod-list"),
)
# A sight after a foresight has no set-up, and so has every further one: the same gap, seen twice.
SEEN_TWICE = {"book-gap.csv"}


def units_of(name: str) -> LengthUnit | None:
    """Unit of the site in which a file is read."""
    return None if "without-unit" in name else LengthUnit.METRE


@pytest.mark.parametrize(("name", "line", "words", "kind"), BROKEN, ids=[row[0] for row in BROKEN])
def test_broken_file_is_refused_when_read(name: str, line: int | None, words: tuple[str, ...], kind: str) -> None:
    """A broken file gets one message that names file, line and value; exit status 2."""
    with pytest.raises(InputError) as raised:
        read_file(FOLDER / name, units=units_of(name), name=name)
    faults = raised.value.faults
    assert len(faults) == (2 if name in SEEN_TWICE else 1)
    assert (faults[0].source.file, faults[0].source.line) == (name, line)
    message = str(faults[0])
    assert [word for word in words if word not in message] == []
    assert faults[0].remedy
    assert raised.value.exit_status == 2


@pytest.mark.parametrize(("name", "line", "words", "kind"), BROKEN, ids=[row[0] for row in BROKEN])
def test_sound_brother_is_read_when_the_fault_is_mended(
    name: str, line: int | None, words: tuple[str, ...], kind: str
) -> None:
    """The same file without its fault is read as what it is."""
    stem, ending = name.rsplit(".", 1)
    recognised = read_file(FOLDER / f"{stem}.good.{ending}", units=units_of(name))
    assert recognised.kind == kind
    assert recognised.sentence.startswith(f"read as {kind}: ")


def test_folder_and_table_agree_when_listed() -> None:
    """Every file in the folder is tested."""
    found = {path.name for path in FOLDER.iterdir()}
    listed = {row[0] for row in BROKEN}
    assert found == listed | {f"{name.rsplit('.', 1)[0]}.good.{name.rsplit('.', 1)[1]}" for name in listed}


def test_ten_million_lines_are_refused_when_streamed() -> None:
    """A file of ten million lines is refused soon after the limit, without reading the rest of it."""
    row = b"P1,,1.234,\n"
    rows_per_chunk = CHUNK // len(row)
    taken = 0

    def endless() -> Iterator[bytes]:
        nonlocal taken
        yield b"point,BS,IS,FS\n"
        for _ in range(10_000_000 // rows_per_chunk):
            taken += 1
            yield row * rows_per_chunk

    with pytest.raises(InputError, match="1,000,000 lines") as raised:
        lines_of_bytes(endless(), "book.csv")
    assert raised.value.faults[0].source.line == MOST_LINES + 1
    assert taken == MOST_LINES // rows_per_chunk + 1


def test_all_faults_are_named_when_a_file_has_several() -> None:
    """Faults of different rows and columns come in one go, in the order of the lines."""
    text = "point,east,north,rod\nA,1.0,2.0,1.2O\nB,x,2.0,1.2\n,1.0,2.0,1.2\nD,1.0,2.0,12.2\nE,1.0,2.0,1.5\n"
    with pytest.raises(InputError) as raised:
        read_text(text, units=LengthUnit.METRE, name="several.csv")
    places = [(fault.source.line, fault.source.column) for fault in raised.value.faults]
    assert places == [(2, "rod"), (3, "east"), (4, "point"), (5, "rod")]


@pytest.mark.parametrize("name", ["nothing-here.csv", "rod-ragged.cvs"], ids=["unknown", "near another"])
def test_missing_file_is_refused_when_read(name: str) -> None:
    """A file that is not there is named; a near name is offered."""
    with pytest.raises(InputError, match="cannot be read") as raised:
        read_file(FOLDER / name)
    assert ("rod-ragged.csv" in str(raised.value)) == (name == "rod-ragged.cvs")


def test_folder_is_refused_when_given_for_a_file() -> None:
    """A folder in the place of a file is an input error, not a traceback."""
    with pytest.raises(InputError, match="cannot be read"):
        read_file(FOLDER)


@pytest.mark.parametrize("name", ["fence.geojson", "walk.kml", "lot.dxf"])
def test_other_formats_are_refused_when_given_as_readings(tmp_path: Path, name: str) -> None:
    """Formats that are no readings are refused by name, with what to do."""
    path = tmp_path / name
    path.write_text("{}", encoding="utf-8")
    with pytest.raises(InputError, match="not a table of readings"):
        read_file(path)
