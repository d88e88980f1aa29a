"""Point clouds in pieces: LAS and LAZ, PLY, and text of three numbers to a line."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Protocol

import numpy as np
import numpy.typing as npt

from spadework.errors import Fault, InputError, Source
from spadework.read.las_header import check_las_header
from spadework.readings import FloatArray

__all__ = ["CHUNK", "CloudFile", "CloudPiece", "open_cloud"]

CHUNK = 500_000
"""Points held at a time, unless each is longer than usual."""
MOST_BYTES = 64 * 1024 * 1024
MOST_POINTS = 2_000_000_000
GROUND_CLASS = 2
"""Class of ground points, and below of noise: American Society for Photogrammetry and Remote Sensing, LAS 1.4 R15."""
NOISE_CLASSES = (7, 18)
LONGEST_HEADER = 65_536
PLY_TYPES = {
    **dict.fromkeys(("char", "int8"), "i1"),
    **dict.fromkeys(("uchar", "uint8"), "u1"),
    **dict.fromkeys(("short", "int16"), "i2"),
    **dict.fromkeys(("ushort", "uint16"), "u2"),
    **dict.fromkeys(("int", "int32"), "i4"),
    **dict.fromkeys(("uint", "uint32"), "u4"),
    **dict.fromkeys(("float", "float32"), "f4"),
    **dict.fromkeys(("double", "float64"), "f8"),
}


@dataclass(frozen=True)
class CloudPiece:
    """Some points of a cloud.

    Parameters
    ----------
    place : array, shape (n, 3)
        East, north and level, in the units of the file.
    ground : array of bool, shape (n,), optional
        Whether each is of the ground class; None where the file has no classes.
    """

    place: FloatArray
    ground: npt.NDArray[np.bool_] | None = None


class CloudFile(Protocol):
    """A cloud that can be read from its start as often as is needed."""

    crs: Any
    notes: list[str]

    def pieces(self) -> Iterator[CloudPiece]:
        """Yield the points, so many at a time."""


def open_cloud(path: Path, label: str) -> CloudFile:
    """Return a cloud by its first bytes.

    Raises
    ------
    InputError
        The file cannot be read or is no cloud.
    """
    try:
        with path.open("rb") as stream:
            head = stream.read(LONGEST_HEADER)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        what, remedy = f"the file cannot be read: {reason}", "give the path of a file that can be read"
        raise InputError(Fault(what, "", remedy, Source(label))) from None
    if head.startswith(b"LASF"):
        _, record = check_las_header(head, path.stat().st_size, label)
        return LasFile(path, label, max(1, min(CHUNK, MOST_BYTES // record)))
    if head.startswith((b"ply\n", b"ply\r")):
        return ply_file(path, label, head)
    if b"\x00" in head:
        what, rule = "this is no point cloud", "clouds are LAS, LAZ, PLY, or text with three numbers to a line"
        raise InputError(Fault(what, rule, "export it as one of these", Source(label)))
    return TextFile(path, label)


@dataclass
class LasFile:
    """Points of a LAS or LAZ file."""

    path: Path
    label: str
    chunk: int
    crs: Any = None
    notes: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        with self._opened() as reader:
            try:
                self.crs = reader.header.parse_crs()
            except Exception as error:  # noqa: BLE001 - whatever the records of the header hold
                self.notes.append(
                    f"the coordinate reference system of the file cannot be read ({type(error).__name__})"
                )
            if not 0 < reader.header.point_count <= MOST_POINTS:
                what = f"the file says that it holds {reader.header.point_count:,} points"
                raise InputError(Fault(what, "a cloud holds some", "export it again", Source(self.label)))

    def _opened(self) -> Any:
        import laspy  # noqa: PLC0415 - takes long to import

        try:
            return laspy.open(self.path)  # type: ignore[attr-defined]  # the library exports it
        except Exception as error:  # noqa: BLE001 - damaged headers break the library in many ways
            raise InputError(self._damaged(error)) from None

    def _damaged(self, error: Exception) -> Fault:
        what = f"the file is damaged or cut short: {str(error)[:120] or type(error).__name__}"
        return Fault(what, "a LAS file holds as many points as its header says", "copy it again", Source(self.label))

    def pieces(self) -> Iterator[CloudPiece]:
        """Yield the points, noise and withheld ones left out."""
        with self._opened() as reader:
            left = reader.header.point_count
            chunks = reader.chunk_iterator(min(self.chunk, left))
            while left > 0:
                try:
                    chunk = next(chunks, None)
                    if chunk is None:
                        break
                    place = np.column_stack([np.asarray(chunk.x), np.asarray(chunk.y), np.asarray(chunk.z)])
                    classes = np.asarray(chunk.classification)
                    withheld = np.asarray(chunk.withheld, dtype=bool)
                except Exception as error:  # noqa: BLE001 - damaged points break the library in many ways
                    raise InputError(self._damaged(error)) from None
                left -= len(place)
                kept = ~(np.isin(classes, NOISE_CLASSES) | withheld) & np.isfinite(place).all(axis=1)
                yield CloudPiece(np.asarray(place[kept], dtype=np.float64), (classes == GROUND_CLASS)[kept])
            if left > 0:
                raise InputError(self._damaged(ValueError(f"{left:,} points are missing")))


def ply_file(path: Path, label: str, head: bytes) -> PlyFile:
    """Return a PLY file by its header.

    Raises
    ------
    InputError
        The header is broken, or its vertices have no x, y and z.
    """
    end = head.find(b"end_header")
    stop = head.find(b"\n", end)
    if end < 0 or stop < 0:
        raise InputError(Fault("the PLY header does not end", "it ends with end_header", "", Source(label, 1)))
    form, count, names, types, before = "", -1, [], [], False
    element = ""
    for number, line in enumerate(head[:end].decode("ascii", "replace").splitlines(), 1):
        words = line.split()
        if not words:
            continue
        if words[0] == "format" and len(words) > 1:
            form = words[1]
        elif words[0] == "element" and len(words) == 3 and words[2].isdecimal():
            before = before or (words[1] != "vertex" and count < 0)
            element = words[1]
            if element == "vertex":
                count = int(words[2])
        elif words[0] == "property" and element == "vertex":
            if len(words) != 3 or words[1] not in PLY_TYPES:
                what = f"the property {line.strip()!r} of a vertex is not understood"
                raise InputError(Fault(what, "vertices have plain numbers", "export without it", Source(label, number)))
            names.append(words[2])
            types.append(PLY_TYPES[words[1]])
    marks = {"ascii": "=", "binary_little_endian": "<", "binary_big_endian": ">"}
    if form not in marks or not 0 < count <= MOST_POINTS or before or not {"x", "y", "z"} <= set(names):
        what = "the PLY header names no vertices with x, y and z before all else"
        rule = "the format is ascii or binary, and its first element vertex has the properties x, y and z"
        raise InputError(Fault(what, rule, "export it again as a point cloud", Source(label, 1)))
    if len(set(names)) < len(names):
        raise InputError(Fault("a property of the vertices stands twice", "", "export it again", Source(label, 1)))
    row = np.dtype([(name, marks[form] + kind) for name, kind in zip(names, types, strict=True)])
    return PlyFile(path, label, row, count, stop + 1, form == "ascii")


@dataclass
class PlyFile:
    """Vertices of a PLY file."""

    path: Path
    label: str
    row: np.dtype[Any]
    count: int
    start: int
    text: bool
    crs: Any = None
    notes: list[str] = field(default_factory=lambda: ["z is taken as up"])

    def pieces(self) -> Iterator[CloudPiece]:
        """Yield the vertices."""
        names = self.row.names or ()
        with self.path.open("rb") as stream:
            stream.seek(self.start)
            left = self.count
            if self.text:
                columns = [names.index(axis) for axis in ("x", "y", "z")]
                lines = (stream.readline() for _ in range(left))
                yield from text_pieces(lines, self.label, columns, first=0, count=left)
                return
            while left > 0:
                wanted = min(left, CHUNK)
                block = stream.read(wanted * self.row.itemsize)
                if len(block) < wanted * self.row.itemsize:
                    what = f"the file ends {left - len(block) // self.row.itemsize:,} vertices early"
                    rule = "a PLY file holds as many vertices as its header says"
                    raise InputError(Fault(what, rule, "copy it again", Source(self.label)))
                table = np.frombuffer(block, dtype=self.row)
                place = np.column_stack([table[axis].astype(np.float64) for axis in ("x", "y", "z")])
                yield CloudPiece(place[np.isfinite(place).all(axis=1)])
                left -= wanted


@dataclass
class TextFile:
    """Lines of three numbers or more: east, north, level."""

    path: Path
    label: str
    crs: Any = None
    notes: list[str] = field(default_factory=lambda: ["the first three numbers of a line are east, north and level"])

    def pieces(self) -> Iterator[CloudPiece]:
        """Yield the points."""
        with self.path.open("rb") as stream:
            yield from text_pieces(stream, self.label, [0, 1, 2], first=1, count=None)


def text_pieces(
    lines: Iterator[bytes] | Any, label: str, columns: list[int], *, first: int, count: int | None
) -> Iterator[CloudPiece]:
    """Yield the points of lines of numbers; a first line of headings and comments are left out.

    Raises
    ------
    InputError
        Lines that hold no three numbers: the first few of them.
    """
    rows: list[list[float]] = []
    faults: list[Fault] = []
    needed = max(columns) + 1
    seen = 0
    for number, line in enumerate(lines, 1):
        cells = line.replace(b",", b" ").replace(b";", b" ").split(None, needed)[:needed]
        if (not cells and count is None) or line.startswith((b"#", b"//")):
            continue
        try:
            rows.append([float(cells[column]) for column in columns])
        except (ValueError, IndexError):
            if first and seen == 0 and not rows and number <= 2:
                continue
            shown = line[:60].decode("utf-8", "replace").strip()
            what, rule = f"the line {shown!r} holds no three numbers", "a line is east, north and level"
            faults.append(Fault(what, rule, "correct it or take it out", Source(label, number if first else None)))
            if len(faults) >= 20:
                break
        if len(rows) >= CHUNK:
            seen += len(rows)
            yield _finite(rows)
            rows = []
    if faults:
        raise InputError(faults)
    seen += len(rows)
    if not seen:
        raise InputError(Fault("the file holds no points", "a line is east, north and level", "", Source(label, 1)))
    if rows:
        yield _finite(rows)


def _finite(rows: list[list[float]]) -> CloudPiece:
    """Return the rows that are numbers all through."""
    place = np.array(rows, dtype=np.float64)
    return CloudPiece(place[np.isfinite(place).all(axis=1)])
