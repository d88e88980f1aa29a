"""What a site file asks to be taken off a level book for the lengths of its sights."""

from __future__ import annotations

import numpy as np

from spadework.errors import Fault, InputError, Source
from spadework.factors import factor_row
from spadework.levels.pegs import PegTest
from spadework.levels.sights import SightRules, balance_notices, corrected_book, with_distances, with_stadia
from spadework.levels.wording import Wording
from spadework.readings import FloatArray, LevelBook, Reading
from spadework.readings_positions import SlopeWalk
from spadework.site import Site
from spadework.site_schema import ReadingsTable
from spadework.units import LengthUnit

__all__ = ["book_with_sights", "peg_words", "reach_notices", "sight_rules"]


def peg_words(test: PegTest, words: Wording) -> str:
    """Return what a peg test found, in words: by how much the line of sight rises in 100 m or 100 ft."""
    metric = words.unit is LengthUnit.METRE
    stretch, name = (100.0, "100 m") if metric else (30.48, "100 ft")
    way = "rises" if test.collimation > 0 else "falls"
    return f"a line of sight that {way} {words.fine(abs(test.collimation) * stretch)} in {name}"


def sight_rules(site: Site, table: ReadingsTable, words: Wording) -> SightRules | None:
    """Return what is to be taken off the readings of a file; None where the site file asks for nothing.

    Raises
    ------
    InputError
        When the peg test cannot be read, or is none.
    """
    if table.peg_test is None:
        return SightRules() if table.curvature else None
    if isinstance(table.peg_test, str):
        from spadework.read.peg_file import read_peg_test  # noqa: PLC0415 - few sites have one

        test = read_peg_test(site.path_to(table.peg_test), units=table.units or site.units, name=table.peg_test)
    else:
        test = table.peg_test.test
    return SightRules(test.collimation, peg_words(test, words))


def reach_notices(reading: Reading, instrument: str | None) -> list[str]:
    """Return that sights or legs are longer than their instrument reaches, where the table of instruments says so."""
    if instrument is None:
        return []
    reach = factor_row("instruments", instrument).extra.get("reach")
    lengths: list[FloatArray] = []
    if isinstance(reading, SlopeWalk):
        lengths = [reading.distance]
    elif isinstance(reading, LevelBook):
        lengths = [part for part in (reading.backsight_length, reading.sight_length) if part is not None]
    if reach is None or not lengths:
        return []
    limit = float(str(reach))
    beyond = sorted(
        {int(reading.line[row]) for part in lengths for row in np.flatnonzero(part > limit * 1.001).tolist()}  # type: ignore[union-attr]
    )
    if not beyond:
        return []
    longest = max(float(np.nanmax(part)) for part in lengths)
    lines = ", ".join(map(str, beyond[:6])) + (f" and {len(beyond) - 6} more" if len(beyond) > 6 else "")
    return [
        f"One sighting of the {instrument} reaches {limit:g} m, and some here are up to {longest:.1f} m (line {lines})."
    ]


def book_with_sights(
    book: LevelBook, rules: SightRules | None, words: Wording, *, stadia: float = 100.0, source: Source | None = None
) -> tuple[LevelBook, list[str], list[str]]:
    """Return a level book with the lengths of its sights put to use.

    Parameters
    ----------
    book : LevelBook
        As it was read.
    rules : SightRules, optional
        What to take off.
    words : Wording
        For the sentences.
    stadia : float
        Constant of the stadia wires.
    source : Source, optional
        Where that was asked for.

    Returns
    -------
    book : LevelBook
        With distances along the run, and corrected where that was asked for.
    sentences, notices : list of str
        What was done; unequal sights, readings without a length.

    Raises
    ------
    InputError
        When a correction is asked for, and the book has no lengths.
    """
    book = with_distances(with_stadia(book, stadia))
    if rules is None:
        return book, [], list(balance_notices(book, words))
    if book.sight_length is None:
        what = f"{book.file or 'the book'} has no lengths of sights, and a correction for them is asked for"
        rule = "what is taken off a reading grows with how far the rod stood"
        remedy = "Add columns BS distance and FS distance, or the stadia wires; or take peg-test and curvature out"
        raise InputError(Fault(what, rule, remedy, source or Source(book.file)))
    return corrected_book(book, rules, words)
