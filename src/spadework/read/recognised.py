"""What a file was recognised as, in a sentence, and how every column of it was understood."""

from __future__ import annotations

from dataclasses import dataclass

from spadework.readings import Reading

__all__ = ["ColumnMeaning", "Recognised"]


@dataclass(frozen=True)
class ColumnMeaning:
    """How one column was understood.

    Parameters
    ----------
    heading : str
        As written.
    meaning : str
        ``east``, ``rod``, ...; empty for a column that is not used.
    unit : str
        Unit of its plain numbers, in words; empty for words.
    why : str
        How meaning and unit were found.
    """

    heading: str
    meaning: str
    unit: str
    why: str


@dataclass(frozen=True)
class Recognised:
    """A table of readings, and what it was taken for.

    Parameters
    ----------
    reading : Reading
        The table itself.
    kind : str
        ``rod-list``, ``level-book``, ``drop-grid``, ``points`` or ``raster``.
    sentence : str
        ``read as rod-list: 41 shots, 2 set-ups, decimal feet``.
    reason : str
        What it was recognised by.
    columns : tuple of ColumnMeaning
        Every column, also those that are not used.
    notes : tuple of str
        What was set aside or filled in: comments, columns not used, names made up.
    """

    reading: Reading
    kind: str
    sentence: str
    reason: str
    columns: tuple[ColumnMeaning, ...] = ()
    notes: tuple[str, ...] = ()

    def __str__(self) -> str:
        """Return the sentence with its reason."""
        return f"{self.sentence} ({self.reason})"
