"""Bytes to lines."""

from __future__ import annotations

import io
from pathlib import Path

import pytest

from spadework.errors import InputError
from spadework.read.text import STANDARD_INPUT, lines_of_bytes, lines_of_text, open_text

ROWS = ("point;east;note", "A;1,5;½ brick")


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252"])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"], ids=["unix", "windows", "old macintosh"])
def test_lines_are_the_same_when_encoded_otherwise(encoding: str, end: str) -> None:
    """Encoding and line ends make no difference to the lines."""
    content = end.join(ROWS).encode(encoding)
    assert lines_of_bytes([content], "a.csv").lines == ROWS


def test_encoding_is_said_when_it_had_to_be_guessed() -> None:
    """Text that is not UTF-8 is read as Windows-1252, and that is said."""
    source = lines_of_bytes(["½".encode("cp1252") + b",1\n"], "a.csv")
    assert source.lines == ("½,1",)
    assert source.notes == ("not UTF-8: read as Windows-1252",)


def test_line_numbers_hold_when_a_line_has_odd_breaks() -> None:
    """Form feeds and Unicode line separators do not count as lines, as in any editor."""
    assert len(lines_of_text("a\x0cb\nc\u2028d\n").lines) == 2


def test_spaces_and_minus_are_plain_when_copied_from_a_page() -> None:
    """Hard spaces, zero-width marks and the minus sign become what a keyboard writes."""
    assert lines_of_text("\ufeffA\u00a01\u200b,\u22120.5").lines == ("A 1,-0.5",)


@pytest.mark.parametrize(
    ("head", "word"),
    [
        (b"PK\x03\x04rest", "workbook"),
        (b"%PDF-1.7", "PDF"),
        (b"\x89PNG\r\n", "picture"),
        (b"\x1f\x8b\x08", "gzip"),
        (b"LASF\x00\x00", "point cloud"),
        (b"II*\x00\x08", "raster"),
    ],
)
def test_known_format_is_named_when_it_is_no_text(head: bytes, word: str) -> None:
    """A file of a known binary format is refused by the name of the format."""
    with pytest.raises(InputError, match=word):
        lines_of_bytes([head], "a.csv")


def test_line_is_named_when_a_control_character_stands_in_it() -> None:
    """A zero byte within text names its line."""
    with pytest.raises(InputError) as raised:
        lines_of_text("a,b\n1,2\n3,\x004\n5,6\n")
    assert raised.value.faults[0].source.line == 3


def test_line_is_named_when_it_is_endless() -> None:
    """A line of a hundred thousand characters and more is no row of readings."""
    with pytest.raises(InputError) as raised:
        lines_of_text("a,b\n" + "1" * 100_001)
    assert raised.value.faults[0].source.line == 2


@pytest.mark.parametrize(
    "content", [b"", b"\n\n  \n", b"\xef\xbb\xbf", b"\x1a"], ids=["nothing", "blank", "mark", "end"]
)
def test_empty_file_is_refused_when_it_holds_nothing(content: bytes) -> None:
    """A file without a visible character is said to be empty."""
    with pytest.raises(InputError, match="is empty"):
        lines_of_bytes([content], "a.csv")


def test_pasted_text_is_read_when_the_path_is_a_dash(monkeypatch: pytest.MonkeyPatch) -> None:
    """A dash stands for standard input, which gives its name to messages."""

    class Pipe:
        buffer = io.BytesIO(b"a,b\n1,2\n")

    monkeypatch.setattr("sys.stdin", Pipe())
    source = open_text("-")
    assert (source.file, source.lines) == (STANDARD_INPUT, ("a,b", "1,2"))


def test_file_is_read_when_it_ends_in_a_dos_mark(tmp_path: Path) -> None:
    """The end-of-file mark of old programs is no row."""
    path = tmp_path / "old.csv"
    path.write_bytes(b"a,b\r\n1,2\r\n\x1a")
    assert open_text(path).lines == ("a,b", "1,2")
