"""The parts of the field sheet about stakes: what to do at each, how and in which order they are taped, squaring."""

from __future__ import annotations

import math
from collections.abc import Iterator

from spadework.plan import Plan
from spadework.stakeout import Stake, corner_shift, error_words
from spadework.units import FOOT, LengthUnit
from spadework.write.markup import Markup, element, items, joined, table
from spadework.write.sheet_lengths import inline, length, mark, unit_word, word
from spadework.write.sheet_words import grid_start, grid_words

__all__ = ["rod_cell", "setting_out_part", "square_rows", "stake_name", "stake_part"]


def stake_part(plan: Plan) -> Markup:
    """Return what to do at each stake."""
    unit = plan.units
    doubt = {stake.name: stake.give_or_take for stake in plan.confidence.stakes} if plan.confidence else {}
    good = [
        [length(doubt[stake.name], unit, with_unit=False) if stake.name in doubt else ""] if doubt else []
        for stake in plan.stakeout.all_stakes
    ]
    rows = [
        (
            stake_name(stake, plan),
            element("td", element("b", mark(stake.depth, unit))),
            *sure,
            length(stake.dig, unit, with_unit=False) if math.isfinite(stake.dig) else "",
            rod_cell(plan, stake.ground_level),
        )
        for stake, sure in zip(plan.stakeout.all_stakes, good, strict=True)
    ]
    sure_heading = [inline(["Good to ± [", unit_word(unit), "]"])] if doubt else []
    headings = (
        "Stake",
        "Mark",
        *sure_heading,
        inline(["Dig in all [", unit_word(unit), "]"]),
        word("Rod now", "Down now"),
    )
    strip: list[str] = ["The mark is what there is to do: C cut, dig down; F fill, make up; GRADE, leave. "]
    if plan.pad.strip > 0:
        strip = ["First strip ", length(plan.pad.strip, unit), " of turf and topsoil and keep it apart. "]
        strip.append("The mark is what is left to do after that: C cut, dig down; F fill, make up; GRADE, leave. ")
    strip.append("“Dig in all” is measured from the ground as it stands, strip included.")
    if plan.stakeout.offsets:
        strip.append(
            " An offset stake, A/AB say, stands clear of the digging, so nothing is stripped there: measure its mark "
            "down (C) or up (F) from the ground beside it. Write the mark and its distance on it."
        )
    now = word(
        "“Rod now” proves stake and instrument: before any digging the rod on the ground must read that.",
        "“Down now” proves stake and string: before any digging the ground must lie that far below the string.",
    )
    return joined([element("p", inline(strip)), table(headings, rows), element("p", now, class_="small")])


def stake_name(stake: Stake, plan: Plan) -> Markup:
    """Return the name of a stake, with where it stands when it is no corner."""
    if stake.kind == "corner":
        return inline([stake.name])
    where = "from" if stake.kind == "side" else "beyond"
    return inline([stake.name, element("small", " ", length(stake.away, plan.units), f" {where} {stake.of}")])


def rod_cell(plan: Plan, level: float) -> Markup:
    """Return the cell of a rod reading: from the plan's HI, and again by the page from the one that is typed."""
    hi = plan.stakeout.hi
    if not math.isfinite(level):
        return element("td", "")
    words = "" if hi is None else length(hi - level, plan.units)
    return element("td", words, class_="rod", data_level=repr(float(level)))


def setting_out_part(plan: Plan) -> Markup:
    """Return how the stakes are taped, in order, and how they are proved square."""
    return joined([items("ol", _steps(plan)), _square_table(plan), _position_tables(plan)])


def _steps(plan: Plan) -> Iterator[Markup]:
    """Yield the steps of setting out, in their order."""
    unit, found = plan.units, plan.stakeout
    yield inline(["Hold the tape level and pulled straight for every distance; on a slope plumb down from its end."])
    if len(found.references) >= 2:
        for stake in found.ordered():
            if stake.kind == "corner":
                yield _corner_step(stake, plan)
    else:
        yield inline(
            ["Set out the stakes by their east and north in the table below: this plan names no two references."]
        )
    sides = [part for side in found.sides for part in (", ", f"{side.start}{side.end} ", length(side.length, unit))]
    round_pad = plan.pad.radius is not None
    yield inline([f"Check the {'radii' if round_pad else 'sides'}: ", *sides[1:], "."])
    if found.diagonals:
        across = [
            part for span in found.diagonals for part in (", ", f"{span.start}{span.end} ", length(span.length, unit))
        ]
        yield inline([f"Check {'across' if round_pad else 'the diagonals'}: ", *across[1:], "."])
    if plan.pad.is_rectangle:
        yield _squaring(plan)
    if plan.pad.radius is not None:
        yield from _round_steps(plan)
    elif found.offsets:
        away = _offset_words(plan)
        yield inline(
            [
                "Stretch a string over the two corners of each side and beyond, and drive an offset stake on it ",
                away,
                (
                    " beyond each corner: two for each corner, the first letter says which. When the corners are dug "
                    "away, strings between offset stakes bring them back where they cross."
                ),
            ]
        )
    else:
        yield inline(
            ["Drive a second stake clear of the digging on the line of each side before you dig the first ones away."]
        )
    if found.side_points and not round_pad:
        names = ", ".join(stake.name for stake in found.side_points)
        yield inline([f"Tape the points on the sides along the same strings, each from its first letter: {names}."])
    yield inline(
        [f"Tape the points of the depth grid from {grid_start(plan)}, as the table says. {grid_words(plan)}".rstrip()]
    )


def _offset_words(plan: Plan) -> str:
    """Return how far beyond its corner each offset stake stands."""
    distances = {round(stake.away, 6) for stake in plan.stakeout.offsets}
    return length(distances.pop(), plan.units) if len(distances) == 1 else "as far as the list says"


def _round_steps(plan: Plan) -> Iterator[Markup]:
    """Yield how the rim of a round pad is marked, and how its middle is kept."""
    found, radius = plan.stakeout, length(plan.pad.radius or 0.0, plan.units)
    yield inline(["Hook the tape on a nail in M and scratch or chalk the rim with it held at ", radius, "."])
    if found.side_points:
        names = ", ".join(stake.name for stake in found.side_points)
        yield inline([f"Mark the points on the rim, each by its chord from its first letter: {names}."])
    if found.offsets:
        yield inline(
            [
                "Stretch a string from M over each quarter point and beyond, and drive an offset stake on it ",
                _offset_words(plan),
                (" beyond. When M is dug away, the strings between opposite offset stakes cross where it stood."),
            ]
        )
    else:
        yield inline(["Drive a stake beyond each quarter point on the line from M before you dig M away."])


def _corner_step(stake: Stake, plan: Plan) -> Markup:
    """Return how one corner is taped, and how sure it then is."""
    unit, found = plan.units, plan.stakeout
    first, second = (name for name, _, _ in found.references[:2])
    ties = [part for tie in stake.ties for part in (" and ", length(tie.distance, unit), f" from {tie.reference}")]
    where = {
        "left": f"to the left of the line from {first} to {second}",
        "right": f"to the right of the line from {first} to {second}",
        "on": f"on the line through {first} and {second}",
    }[stake.side]
    third: list[str] = []
    if stake.third is not None:
        standing = stake.third.reference in plan.pad.names
        third = [
            f" The two tapes cross at {stake.crossing:.0f}°, so tape a third: ",
            length(stake.third.distance, unit),
            f" from {'stake ' if standing else ''}{stake.third.reference}.",
        ]
    error = error_words(stake.expected_error, unit)
    sure = f" Likely within {error} of its place." if math.isfinite(stake.expected_error) else ""
    return inline([f"Stake {stake.name}: ", *ties[1:], f", {where}.", *third, sure])


def _squaring(plan: Plan) -> Markup:
    """Return what to do when the diagonals differ, and how much it matters.

    Keep the base and move both far corners the same way: US Army carpentry course EN0069, "Squaring building lines".
    """
    along, across = float(plan.pad.sides[0]), float(plan.pad.sides[1])
    step = 0.01 if plan.units is LengthUnit.METRE else FOOT / 24
    off = corner_shift(along, across, step)
    return inline(
        [
            (
                "If the two diagonals differ, keep A and B and move C and D the same way, by the same amount, "
                "until they agree. Diagonals that differ by "
            ),
            length(step, plan.units),
            " put C and D ",
            length(off, plan.units),
            " out of square.",
        ]
    )


def _square_table(plan: Plan) -> Markup:
    """Return what a difference between the diagonals means at the corner."""
    if not plan.pad.is_rectangle:
        return Markup("")
    caption = "How square is square enough"
    return table(("Diagonals differ by", "C and D are off by"), square_rows(plan), caption=caption)


def square_rows(plan: Plan) -> list[tuple[str, str]]:
    """Return in words how far diagonals may differ, and how far off the far corners then are."""
    along, across = float(plan.pad.sides[0]), float(plan.pad.sides[1])
    metric = plan.units is LengthUnit.METRE
    parts = (0.125, 0.25, 0.5, 0.75, 1.0)
    steps = (0.003, 0.005, 0.01, 0.02, 0.03) if metric else tuple(FOOT / 12 * part for part in parts)
    return [
        (error_words(step, plan.units), error_words(corner_shift(along, across, step), plan.units)) for step in steps
    ]


def _ground_at(plan: Plan, name: str) -> Markup | str:
    """Return the level of the ground at a reference, from which a line or an instrument can be set up again."""
    shots = plan.shots
    levels = [] if shots is None else [float(shots.level[row]) for row in shots.rows(name)]
    known = [level for level in levels if math.isfinite(level)]
    return length(known[0], plan.units, with_unit=False) if known else ""


def _position_tables(plan: Plan) -> Markup:
    """Return ties, positions and ground levels of the stakes."""
    unit, found = plan.units, plan.stakeout
    names = [f"From {name}" for name, _, _ in found.references]
    ties = [
        (
            stake.name,
            *(length(tie.distance, unit, with_unit=False) for tie in stake.ties),
            error_words(stake.expected_error, unit),
        )
        for stake in found.all_stakes
    ]
    places = [
        (
            stake.name,
            length(stake.east, unit, with_unit=False),
            length(stake.north, unit, with_unit=False),
            length(stake.ground_level, unit, with_unit=False) if math.isfinite(stake.ground_level) else "",
        )
        for stake in found.all_stakes
    ]
    known = [
        (name, length(east, unit, with_unit=False), length(north, unit, with_unit=False), _ground_at(plan, name))
        for name, east, north in found.references
    ]
    sure = (
        "Likely error: root mean square, for one taped distance off by "
        f"{error_words(found.tape_sd, unit)}; for stakes on the line of a side, by string and tape from its corners."
    )
    return joined(
        [
            table(("Stake", *names, "Likely error"), ties, caption=inline(["Ties [", unit_word(unit), "]"]))
            if names
            else "",
            element("p", sure, class_="small") if names else "",
            table(
                ("Point", "East", "North", "Ground"),
                [*places, *known],
                caption=inline(["Positions and ground levels [", unit_word(unit), "]"]),
            ),
        ]
    )
