"""The tree of errors, and what every fault in somebody's input must say.

A fault names five things: what is wrong, the value, the rule it breaks, where it stands, and what to do about it.
Faults are collected, so that one run reports all of them.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

__all__ = [
    "Fault",
    "GroundError",
    "InputError",
    "MisclosureError",
    "PlacementError",
    "Source",
    "SpadeworkError",
    "SurveyError",
    "UnitError",
]

MOST_FAULTS_SHOWN = 50


@dataclass(frozen=True, slots=True)
class Source:
    """Where a number was typed.

    Parameters
    ----------
    file : str
        File name as the user gave it; ``"standard input"`` for pasted text.
    line : int, optional
        Line in the file, counted from 1.
    column : str, optional
        Heading of the column, or the key in a site file.
    """

    file: str = ""
    line: int | None = None
    column: str | None = None

    def __str__(self) -> str:
        """Return ``plot7.csv line 14, column rod``, leaving out what is not known."""
        place = self.file
        if self.line is not None:
            place = f"{place} line {self.line}" if place else f"line {self.line}"
        if self.column:
            place = f"{place}, column {self.column}" if place else f"column {self.column}"
        return place


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing wrong with the input, said so that its author can mend it.

    Parameters
    ----------
    what : str
        What is wrong, as the start of a sentence with the value in it: ``foresight 41.10 m is outside the rod``.
    rule : str
        The rule that it breaks: ``a rod reading lies between 0 and 5 m``.
    remedy : str
        What to do: ``correct the line, or give rod-length``.
    source : Source
        Where it stands.
    value : str
        The offending text just as it was written.
    """

    what: str
    rule: str = ""
    remedy: str = ""
    source: Source = Source()
    value: str = ""

    def __str__(self) -> str:
        """Return the fault as one line: where, what, rule, remedy."""
        where = str(self.source)
        head = f"{where}: {self.what}" if where else self.what
        if self.value and self.value not in head:
            head = f"{head} (found {self.value!r})"
        sentences = [head, *(part[0].upper() + part[1:] for part in (self.rule, self.remedy) if part)]
        return " ".join(sentence if sentence.endswith((".", "?", "!")) else f"{sentence}." for sentence in sentences)


class SpadeworkError(Exception):
    """Anything that stops the work and that the user can do something about."""

    exit_status = 1


class InputError(SpadeworkError):
    """The call or a file is wrong. Carries every fault that was found.

    Parameters
    ----------
    faults : Fault or iterable of Fault
        At least one.
    """

    exit_status = 2

    def __init__(self, faults: Fault | Iterable[Fault]) -> None:
        self.faults: tuple[Fault, ...] = (faults,) if isinstance(faults, Fault) else tuple(faults)
        if not self.faults:
            raise ValueError("an InputError needs at least one fault")
        super().__init__(str(self))

    def __str__(self) -> str:
        """Return a line for each fault; beyond fifty only how many more there are."""
        shown = [str(fault) for fault in self.faults[:MOST_FAULTS_SHOWN]]
        more = len(self.faults) - len(shown)
        if more:
            shown.append(f"... and {more} more faults of {len(self.faults)}.")
        return "\n".join(shown)


class UnitError(InputError):
    """A length, volume or slope that cannot be read without guessing."""


class SurveyError(SpadeworkError):
    """The input is well formed, but the survey or the limits do not allow an answer."""


class MisclosureError(SurveyError):
    """A level run does not close within its tolerance."""


class GroundError(SurveyError):
    """The shots do not describe a ground."""


class PlacementError(SurveyError):
    """No placement keeps all the limits."""
