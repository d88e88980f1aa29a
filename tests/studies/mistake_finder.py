"""How often the finder of mistakes names the true reading: random level books with one slip planted in each.

Run it with ``python tests/studies/mistake_finder.py`` (about a minute): it prints the tables of docs/accuracy.md. Ways
of keeping the book, each of 3 to 8 set-ups with 2 to 8 shots from each:

- ``loop``: from a bench mark over turning points back to it, and nothing else;
- ``two marks``: the same with a second bench mark halfway;
- ``checked``: from each new set-up one or two shots of the one before are read again;
- ``rod list``: from each set-up of a laser the bench mark, or two points of the one before, are read.

Half of the books are written in millimetres, half in hundredths of a foot; a reading has a standard deviation of 1.5 mm
before it is rounded. The slip is planted on a reading that others check: on one that nothing checks none can be seen.
"""

from __future__ import annotations

import math
import random
import sys
import time
from collections import Counter, defaultdict
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from spadework.levels import tolerance_rule
from spadework.levels.reading_net import ReadingNet, readings_of_book, solve_readings
from spadework.levels.reduction import reduce_by_hi
from spadework.levels.setups import point_identity, stand_set_ups
from spadework.levels.slips import Slip, exchanged_digits, find_slips
from spadework.readings import LevelBook

FOOT = 0.3048
KINDS = ("exchanged", "whole", "minus", "inches", "columns", "turning point")
STYLES = ("loop", "two marks", "checked", "rod list")
READING_SD = 0.0015
ROD = 4.0


@dataclass
class Sighting:
    """One reading of the true survey: which set-up, which point, as what, and what the rod shows. [m]"""

    set_up: int
    point: str
    column: str
    value: float


@dataclass(frozen=True)
class Survey:
    """A true survey as it is written down, and its bench marks."""

    sightings: tuple[Sighting, ...]
    known: dict[str, float]
    step: float

    @property
    def is_feet(self) -> bool:
        """Whether it is written in feet."""
        return self.step > 0.0011


def written(value: float, step: float) -> float:
    """A reading rounded to the step of its book."""
    return round(value / step) * step


def ground(chance: random.Random) -> dict[str, float]:
    """The fall of a yard and its unevenness."""
    return {"fall": chance.uniform(0.0, 0.08), "rough": chance.uniform(0.02, 0.15)}


def random_survey(chance: random.Random, style: str, *, feet: bool, overhead: bool = False) -> Survey:
    """A survey of a yard in the given style; with ``overhead`` one turning point is a mark above the line of sight."""
    step = 0.01 * FOOT if feet else 0.001
    shape = ground(chance)
    set_ups = chance.randint(3, 8) if style != "rod list" else chance.randint(2, 5)
    level: dict[str, float] = {"BM1": 100.0}
    turns: list[str] = []
    shots: list[list[str]] = []
    for k in range(set_ups):
        away = 12.0 * (k if k <= set_ups / 2 else set_ups - k)
        names = [f"T{k + 1}", *(f"{k + 1}{chr(97 + i)}" for i in range(chance.randint(2, 8)))]
        for name in names:
            level[name] = 100.0 - shape["fall"] * (away + chance.uniform(-8, 8)) + chance.gauss(0, shape["rough"])
        turns.append(names[0])
        shots.append(names[1:])
    turns[-1] = "BM1"
    known = {"BM1": 100.0}
    if style == "two marks":
        turns[set_ups // 2 - 1 if set_ups > 3 else 0] = "BM2"
        level["BM2"] = written(level["T1"], step)
        known["BM2"] = level["BM2"]
    sightings: list[Sighting] = []
    start = "BM1"
    reads: list[tuple[int, str, str]] = []
    for k in range(set_ups):
        reads.append((k, start, "BS"))
        reads += [(k, name, "IS") for name in shots[k]]
        if style == "checked" and k:
            reads += [(k, name, "IS") for name in chance.sample(shots[k - 1], min(2, chance.randint(1, 2)))]
        if style == "rod list" and k:
            reads += (
                [(k, "BM1", "IS")]
                if chance.random() < 0.5 and k < set_ups - 1
                else [(k, name, "IS") for name in chance.sample(shots[k - 1], 2)]
            )
        reads.append((k, turns[k], "FS"))
        start = turns[k]
    if overhead:
        middle = [name for name in turns[:-1] if name not in known] or turns[:1]
        level[chance.choice(middle)] += chance.uniform(2.6, 3.2)
    for k in range(set_ups):
        seen = [level[name] for number, name, _ in reads if number == k]
        low = [each for each in seen if each < min(seen) + 2.3]
        line = max(low) + chance.uniform(0.25, max(0.3, ROD - 0.2 - (max(low) - min(low))) if not overhead else 1.0)
        line = min(line, min(low) + ROD - 0.1)
        sightings += [
            Sighting(k, name, column, written(line - level[name] + chance.gauss(0, READING_SD), step))
            for number, name, column in reads
            if number == k
        ]
    return Survey(tuple(sightings), known, step)


def as_book(survey: Survey, values: list[float] | None = None) -> tuple[LevelBook, list[tuple[int, bool]]]:
    """The survey as a level book, a turning point in one row; for each sighting its row and whether it is a BS."""
    rows: list[list[float]] = []
    names: list[str] = []
    places: list[tuple[int, bool]] = []
    used = values or [sighting.value for sighting in survey.sightings]
    before: Sighting | None = None
    for sighting, value in zip(survey.sightings, used, strict=True):
        turning = sighting.column == "BS" and before is not None and before.column == "FS"
        if not turning:
            rows.append([math.nan] * 3)
            names.append(sighting.point)
        rows[-1][("BS", "IS", "FS").index(sighting.column)] = value
        places.append((len(rows) - 1, sighting.column == "BS"))
        before = sighting
    table = np.array(rows)
    blank = np.full(len(rows), math.nan)
    book = LevelBook(
        point=tuple(names),
        backsight=table[:, 0],
        intermediate=table[:, 1],
        foresight=table[:, 2],
        known=blank,
        distance=blank,
        note=("",) * len(rows),
        line=np.arange(2, 2 + len(rows)),
        reading_resolution=survey.step,
    )
    return book, places


def net_of(book: LevelBook, known: dict[str, float], sd: float = READING_SD) -> ReadingNet:
    """The book's readings, adjusted."""
    identity = point_identity(book.point)
    levels = np.array([known.get(name, math.nan) for name in book.point])
    setups = stand_set_ups(book, identity, levels)
    heights = reduce_by_hi(book, setups)
    return solve_readings(readings_of_book(book, setups, heights, tolerance_rule(), sd))


def planted(chance: random.Random, kind: str, true: float, survey: Survey) -> float | None:
    """What is written in place of a true reading; None where that slip cannot be made on it."""
    step = survey.step
    if kind == "exchanged":
        others = {
            n: w for n, w in exchanged_digits(round(abs(true) / step)).items() if n * step <= ROD + 1 and true > 0
        }
        if not others:
            return None
        number = chance.choices(list(others), weights=list(others.values()))[0]
        return number * step
    if kind == "whole":
        unit = FOOT if survey.is_feet else 1.0
        choices = [true + change for change in (unit, -unit) if 0 < true + change <= ROD + 0.5]
        return chance.choice(choices) if choices and true > 0 else None
    if kind == "minus":
        return -true if true < -10 * step else None
    if kind == "inches":
        feet, part = divmod(true / FOOT, 1.0)
        inches = round(part * 12)
        if not 0 < inches < 12:
            return None
        # 5 ft 4 in written as 5.4 or as 5.04; 5 ft 11 in only as 5.11.
        slip = inches / 10 if inches < 10 and chance.random() < 0.6 else inches / 100
        return None if abs(slip - part) * FOOT < 0.02 else (feet + slip) * FOOT
    raise ValueError(kind)


@dataclass(frozen=True)
class Case:
    """A book with a slip: where it is and what was meant."""

    book: LevelBook
    known: dict[str, float]
    row: int
    is_backsight: bool
    meant: float
    other_row: int = -1


def random_case(chance: random.Random, style: str, kind: str) -> Case:
    """A random book of that style with one slip of that kind, on a reading that others check, large enough to see."""
    while True:
        feet = kind == "inches" or chance.random() < 0.5
        survey = random_survey(chance, style, feet=feet, overhead=kind == "minus")
        clean, places = as_book(survey)
        values = [sighting.value for sighting in survey.sightings]
        net = net_of(clean, survey.known)
        redundancy, readings = net.solution.redundancy, net.readings
        checked = {
            (int(readings.row[i]), bool(readings.is_backsight[i])) for i in np.flatnonzero(redundancy > 0.01).tolist()
        }
        if kind == "columns":
            k = chance.randrange(max(s.set_up for s in survey.sightings) + 1)
            first = next(i for i, s in enumerate(survey.sightings) if s.set_up == k and s.column == "BS")
            last = next(i for i, s in enumerate(survey.sightings) if s.set_up == k and s.column == "FS")
            if abs(values[first] - values[last]) < 0.02 or not {places[first], places[last]} <= checked:
                continue
            values[first], values[last] = values[last], values[first]
            book, _ = as_book(survey, values)
            return Case(book, survey.known, places[first][0], True, values[last], places[last][0])
        if kind == "turning point":
            # Its two readings, which stand in one row of a book and in two of a list.
            k = chance.randrange(1, max(s.set_up for s in survey.sightings) + 1)
            first = next(i for i, s in enumerate(survey.sightings) if s.set_up == k and s.column == "BS")
            last = next(i for i, s in enumerate(survey.sightings) if s.set_up == k - 1 and s.column == "FS")
            same = survey.sightings[first].point == survey.sightings[last].point
            if not same or abs(values[first] - values[last]) < 0.02 or not {places[first], places[last]} <= checked:
                continue
            values[first], values[last] = values[last], values[first]
            book, _ = as_book(survey, values)
            return Case(book, survey.known, places[first][0], True, values[last], places[last][0])
        at = chance.choice([i for i, place in enumerate(places) if place in checked])
        true = values[at]
        wrong = planted(chance, kind, true, survey)
        if wrong is None or abs(wrong - true) < 0.02:
            continue
        values[at] = wrong
        if kind == "inches":
            feet_part, part = divmod(true / FOOT, 1.0)
            true = feet_part * FOOT + round(part * 12) * FOOT / 12
        book, _ = as_book(survey, values)
        return Case(book, survey.known, *places[at], true)


def found_at(case: Case, slips: tuple[tuple[Slip, ...], ...]) -> tuple[int, bool]:
    """At which place (1 first, 0 nowhere) the true reading is named with what was meant, and whether the place was."""
    for place, slip in enumerate(slips[0] if slips else (), start=1):
        rows = {(slip.row, slip.is_backsight), (slip.other_row, False)}
        if (
            slip.kind == "columns"
            and case.other_row >= 0
            and (case.row, True) in rows
            and slip.other_row == case.other_row
        ):
            return place, True
        if (
            case.other_row < 0
            and (slip.row, slip.is_backsight) == (case.row, case.is_backsight)
            and abs(slip.meant - case.meant) <= 0.6 * case.book.reading_resolution
        ):
            return place, True
    first = slips[0][0] if slips else None
    return 0, first is not None and (first.row, first.is_backsight) == (case.row, case.is_backsight)


def search(case_book: LevelBook, known: dict[str, float], sd: float = READING_SD) -> tuple[tuple[Slip, ...], ...]:
    """What the finder says of a book."""
    return find_slips(net_of(case_book, known, sd), case_book, 2 * tolerance_rule().allowed(1))


def shares(count: int, seed: int = 20) -> Iterator[tuple[str, str, int, float, float, float]]:
    """For each kind and style: how many books, share named first, among the first four, and noticed at all."""
    for kind in KINDS:
        for style in STYLES:
            chance = random.Random(f"{seed} {kind} {style}")  # noqa: S311 - a study, not a secret
            places: Counter[int] = Counter()
            noticed = 0
            for _ in range(count):
                case = random_case(chance, style, kind)
                slips = search(case.book, case.known)
                place, _ = found_at(case, slips)
                places[place] += 1
                noticed += bool(slips)
            yield kind, style, count, places[1] / count, 1 - places[0] / count, noticed / count


def accused(count: int, seed: int = 21, *, sd: float = READING_SD) -> float:
    """Share of clean books in which some reading is called wrong; ``sd`` is what the finder takes a reading for."""
    wrong = 0
    for number in range(count):
        chance = random.Random(f"{seed} {number}")  # noqa: S311 - a study, not a secret
        survey = random_survey(chance, STYLES[number % len(STYLES)], feet=number % 8 < 4)
        book, _ = as_book(survey)
        wrong += bool(search(book, survey.known, sd))
    return wrong / count


def main(count: int) -> None:
    """Print the tables."""
    started = time.perf_counter()
    table: dict[str, dict[str, tuple[float, float, float]]] = defaultdict(dict)
    for kind, style, _, first, named, noticed in shares(count // len(STYLES)):
        table[kind][style] = (first, named, noticed)
    print(f"| slip | {' | '.join(STYLES)} | all |")
    for kind, styles in table.items():
        cells = [
            f"{100 * first:.0f} / {100 * named:.0f} / {100 * noticed:.0f}" for first, named, noticed in styles.values()
        ]
        mean = [100 * sum(each[i] for each in styles.values()) / len(styles) for i in range(3)]
        print(f"| {kind} | {' | '.join(cells)} | {mean[0]:.0f} / {mean[1]:.0f} / {mean[2]:.0f} |")
    for sd in (READING_SD, READING_SD / 1.5, READING_SD / 2):
        print(f"clean books accused, reading taken for {1000 * sd:.2f} mm: {100 * accused(count, sd=sd):.2f} %")
    print(f"{time.perf_counter() - started:.0f} s for {count} books of each kind")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 1000)
