"""Bytes to lines: byte-order marks, encodings, newlines, and what is no text at all."""

from __future__ import annotations

import difflib
import re
import sys
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

from spadework.errors import Fault, InputError, Source

__all__ = ["MOST_BYTES", "MOST_LINES", "STANDARD_INPUT", "SourceText", "lines_of_bytes", "lines_of_text", "open_text"]

STANDARD_INPUT = "standard input"
MOST_LINES = 1_000_000
MOST_BYTES = 256 * 1024 * 1024
MOST_LINE = 100_000
CHUNK = 1024 * 1024

# Files that people hand in by mistake, by their first bytes.
NOT_TEXT: tuple[tuple[bytes, str, str], ...] = (
    (b"PK\x03\x04", "a workbook or zip archive", "save the sheet as CSV and give that"),
    (b"\xd0\xcf\x11\xe0", "an old workbook or document", "save the sheet as CSV and give that"),
    (b"%PDF", "a PDF", "copy the table as text, or ask its author for the CSV"),
    (b"\x89PNG", "a PNG picture", "type the readings into a text file"),
    (b"\xff\xd8\xff", "a JPEG picture", "type the readings into a text file"),
    (b"\x1f\x8b", "a gzip archive", "unpack it first"),
    (b"LASF", "a lidar point cloud", "give it by its file name, as kind cloud"),
    (b"SQLite format 3", "a database", "export the table as CSV"),
    (b"{\\rtf", "a word-processor document", "save it as plain text"),
)
TIFF_MARKS = (b"II*\x00", b"MM\x00*", b"II+\x00", b"MM\x00+")
BYTE_ORDER_MARKS: tuple[tuple[bytes, str, str], ...] = (
    (b"\xef\xbb\xbf", "utf-8", "UTF-8 with a byte-order mark"),
    (b"\xff\xfe", "utf-16-le", "UTF-16 with a byte-order mark"),
    (b"\xfe\xff", "utf-16-be", "UTF-16 with a byte-order mark"),
)
CONTROL = re.compile(r"[\x00-\x08\x0e-\x1f\x7f\x80-\x84\x86-\x9f\ud800-\udfff]")
# What word processors and web pages put in the place of spaces and minus signs, and marks that show nothing.
PLAIN = {
    **dict.fromkeys(map(ord, "\u00a0\u2002\u2003\u2007\u2008\u2009\u200a\u202f\u3000\x0b\x0c"), " "),
    **dict.fromkeys(map(ord, "\u2212\ufe63\uff0d"), "-"),
    **dict.fromkeys(map(ord, "\u200b\u200c\u200d\u200e\u200f\u2060\ufeff"), None),
}


@dataclass(frozen=True)
class SourceText:
    """The lines of a file, a paste or a string.

    Parameters
    ----------
    file : str
        Name to be said in messages.
    lines : tuple of str
        Lines without their ends; line ``i`` of the tuple is line ``i + 1`` of the file.
    notes : tuple of str
        What was found about the encoding, where it is not plain UTF-8.
    """

    file: str
    lines: tuple[str, ...]
    notes: tuple[str, ...] = ()


def open_text(path: str | Path, *, name: str | None = None) -> SourceText:
    """Return the lines of a file, or of standard input where the path is ``-``.

    Parameters
    ----------
    path : str or Path
        File to read.
    name : str, optional
        Name to be said in messages; the path itself otherwise.

    Raises
    ------
    InputError
        The file is missing, empty, too long, or not text.
    """
    if str(path) == "-":
        return lines_of_bytes(chunks_of(sys.stdin.buffer), name or STANDARD_INPUT)
    label = name or str(path)
    try:
        with Path(path).open("rb") as stream:
            return lines_of_bytes(chunks_of(stream), label)
    except (OSError, ValueError) as error:
        raise InputError(unreadable(Path(path), label, error)) from None


def chunks_of(stream: Iterable[bytes]) -> Iterator[bytes]:
    """Yield a binary stream in pieces of bounded size."""
    read = stream.read  # type: ignore[attr-defined]  # any binary stream
    while chunk := read(CHUNK):
        yield chunk


def unreadable(path: Path, label: str, error: Exception) -> Fault:
    """Return why a file cannot be opened, with the nearest name that does exist."""
    reason = getattr(error, "strerror", None) or str(error)
    remedy = "give the path of a file that can be read, or - for standard input"
    if isinstance(error, FileNotFoundError) and path.parent.is_dir():
        names = sorted(entry.name for entry in path.parent.iterdir())
        if near := difflib.get_close_matches(path.name, names, n=1):
            remedy = f"did you mean {near[0]}?"
    return Fault(f"the file cannot be read: {reason}", remedy=remedy, source=Source(label), value=path.name)


def lines_of_bytes(chunks: Iterable[bytes], name: str) -> SourceText:
    """Return the lines of a stream of bytes, refusing early what is too long to be readings.

    Parameters
    ----------
    chunks : iterable of bytes
        Pieces in order; reading stops as soon as a limit is passed, so memory stays bounded.
    name : str
        Name to be said in messages.

    Raises
    ------
    InputError
        Empty, too long, or not text.
    """
    pieces: list[bytes] = []
    size = feeds = returns = 0
    for chunk in chunks:
        if not pieces:
            refuse_known_formats(chunk, name)
        pieces.append(chunk)
        size += len(chunk)
        feeds += chunk.count(b"\n")
        returns += chunk.count(b"\r")
        if max(feeds, returns) > MOST_LINES or size > MOST_BYTES:
            raise InputError(too_long(name, max(feeds, returns)))
    text, notes = decode(b"".join(pieces), name)
    return lines_of_text(text, name, notes=notes)


def refuse_known_formats(head: bytes, name: str) -> None:
    """Raise where the first bytes belong to a format that is no text."""
    for mark, what, remedy in NOT_TEXT:
        if head.startswith(mark):
            raise InputError(binary(name, what, remedy))
    if head.startswith(TIFF_MARKS):
        raise InputError(binary(name, "a TIFF raster", "give it by its file name, as kind raster"))


def too_long(name: str, lines: int) -> Fault:
    """Return the fault of a file over the limits."""
    remedy = "thin it, cut it to the site, or give a large surface as an elevation raster"
    if lines > MOST_LINES:
        return Fault(
            f"the file goes on after line {MOST_LINES:,}; it was not read further",
            f"a file of readings holds at most {MOST_LINES:,} lines",
            remedy,
            Source(name, MOST_LINES + 1),
        )
    rule = f"a file of readings holds at most {MOST_BYTES // 1024**2} MB"
    return Fault("the file is too large for readings; it was not read further", rule, remedy, Source(name))


def binary(name: str, what: str, remedy: str, line: int | None = None) -> Fault:
    """Return the fault of a file that is no text."""
    return Fault(f"this is {what}, not a text file", "readings are read from plain text", remedy, Source(name, line))


def decode(content: bytes, name: str) -> tuple[str, tuple[str, ...]]:
    """Return the text of some bytes, and what is worth saying about its encoding."""
    for mark, encoding, note in BYTE_ORDER_MARKS:
        if content.startswith(mark):
            try:
                return content[len(mark) :].decode(encoding), (note,)
            except UnicodeDecodeError as error:
                raise InputError(undecodable(content, name, error.start, note)) from None
    if encoding := unmarked_utf16(content):
        try:
            return content.decode(encoding), ("UTF-16 without a byte-order mark",)
        except UnicodeDecodeError as error:
            raise InputError(undecodable(content, name, error.start, "damaged UTF-16")) from None
    try:
        return content.decode("utf-8"), ()
    except UnicodeDecodeError as error:
        start = error.start
    try:
        return content.decode("cp1252"), ("not UTF-8: read as Windows-1252",)
    except UnicodeDecodeError:
        raise InputError(undecodable(content, name, start, "neither UTF-8 nor Windows-1252")) from None


def unmarked_utf16(content: bytes) -> str:
    """Return the byte order of UTF-16 text that lacks its mark, told by where the zero bytes stand."""
    sample = content[:4096]
    half = len(sample) // 2
    if half < 2 or len(content) % 2:
        return ""
    even, odd = sample[0::2].count(0), sample[1::2].count(0)
    if odd > 0.7 * half and even == 0:
        return "utf-16-le"
    if even > 0.7 * half and odd == 0:
        return "utf-16-be"
    return ""


def undecodable(content: bytes, name: str, start: int, what: str) -> Fault:
    """Return the fault of bytes that no text encoding explains."""
    line = content.count(b"\n", 0, start) + 1
    return binary(name, f"binary or damaged ({what})", "give the file as plain UTF-8 text", line)


def lines_of_text(text: str, name: str = STANDARD_INPUT, *, notes: tuple[str, ...] = ()) -> SourceText:
    """Return the lines of a text; Windows, Unix and old Macintosh line ends all count as one.

    Parameters
    ----------
    text : str
        What was typed or pasted.
    name : str, optional
        Name to be said in messages.
    notes : tuple of str, optional
        What is known of the encoding already.

    Raises
    ------
    InputError
        Empty, too long, or holding control characters.
    """
    if not text.isascii():
        text = text.translate(PLAIN)
    elif "\x0b" in text or "\x0c" in text:
        text = text.replace("\x0b", " ").replace("\x0c", " ")
    text = text.replace("\r\n", "\n").replace("\r", "\n").rstrip("\x1a\n")
    if text.count("\n") >= MOST_LINES:
        raise InputError(too_long(name, MOST_LINES + 1))
    if found := CONTROL.search(text):
        line = text.count("\n", 0, found.start()) + 1
        code = f"binary (a control character, code {ord(found.group()):#04x}, stands in line {line})"
        raise InputError(binary(name, code, "give the readings as plain text", line))
    lines = tuple(text.split("\n"))
    if longest := next((i for i, line in enumerate(lines, 1) if len(line) > MOST_LINE), 0):
        what = f"the line is {len(lines[longest - 1]):,} characters long"
        rule = f"a line of readings has at most {MOST_LINE:,}"
        raise InputError(Fault(what, rule, "give one row per line", Source(name, longest)))
    if not any(line.strip() for line in lines):
        what, rule = "the file is empty", "a file of readings has a row of headings and at least one row below it"
        raise InputError(Fault(what, rule, "write the readings into it, or give another file", Source(name, 1)))
    return SourceText(name, lines, notes)
