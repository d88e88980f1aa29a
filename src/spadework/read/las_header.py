"""The header of a LAS file checked against the size of the file, before any library believes it.

A damaged count would have a reader ask for more memory than there is. (American Society for Photogrammetry and Remote
Sensing, LAS Specification 1.4 R15, table 3: the public header block.)
"""

from __future__ import annotations

import struct

from spadework.errors import Fault, InputError, Source

__all__ = ["check_las_header"]

SHORTEST, LONGEST = 227, 4096
LONGEST_RECORD = 1024
COMPRESSED = 0x80
MOST_SQUEEZED = 1000
"""No compressor of points makes them smaller than a thousandth."""
RECORD_HEAD, EXTENDED_HEAD = 54, 60


def check_las_header(head: bytes, size: int, label: str) -> tuple[int, int]:
    """Return how many points a file holds and how long each is; raise where its numbers cannot be true.

    Parameters
    ----------
    head : bytes
        The first bytes of the file.
    size : int
        Length of the file. [bytes]
    label : str
        Name to be said in messages.

    Raises
    ------
    InputError
        The header is cut short, or promises more than the file can hold.
    """

    def refuse(what: str) -> InputError:
        rule = "a LAS file holds as many points and records as its header says"
        return InputError(Fault(f"the file is damaged or cut short: {what}", rule, "copy it again", Source(label)))

    if len(head) < SHORTEST:
        raise refuse("its header does not end")
    minor = head[25]
    header, points, records = struct.unpack_from("<HII", head, 94)
    form, record = head[104], struct.unpack_from("<H", head, 105)[0]
    count = struct.unpack_from("<I", head, 107)[0]
    if head[24] != 1 or minor > 5:
        raise refuse(f"its version is {head[24]}.{minor}")
    if not SHORTEST <= header <= LONGEST or not header <= points <= size:
        raise refuse(f"its points start at byte {points:,} of {size:,}")
    if minor >= 4 and len(head) >= 255 <= header:
        start, extended, long_count = struct.unpack_from("<QIQ", head, 235)
        count = long_count or count
        if extended and (start > size or extended * EXTENDED_HEAD > size):
            raise refuse(f"its header names {extended:,} records at its end")
    if records * RECORD_HEAD > points - header:
        raise refuse(f"its header names {records:,} records")
    if form & 0x3F > 10 or not 20 <= record <= LONGEST_RECORD:
        raise refuse(f"a point of it has {record:,} bytes, in format {form & 0x3F}")
    room = (size - points) * (MOST_SQUEEZED if form & (COMPRESSED | 0x40) else 1)
    if count * record > room:
        raise refuse(f"its header says {count:,} points of {record} bytes, and it is {size:,} bytes long")
    return count, record
