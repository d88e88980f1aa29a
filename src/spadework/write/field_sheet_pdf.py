"""``field-sheet.pdf``: the field sheet on paper, its plan to scale, with room to write what is found.

Text is text, drawings are vectors, and the same plan gives the same bytes.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

from reportlab.platypus import KeepTogether, PageBreak, Spacer

from spadework.plan import Plan
from spadework.stakeout import Stake, depth_mark, error_words
from spadework.stakeout.round_pad import MIDDLE
from spadework.units import format_barrow_loads, format_length, format_volume, unit_label
from spadework.write.depth_map import depth_figure
from spadework.write.pdf_page import Sheet, page_room, printed
from spadework.write.pdf_parts import framed, grid, heading, numbered, pairs, title, words
from spadework.write.pdf_sure import sure_pages
from spadework.write.scaled_map import map_scale, scale_words, scaled_map
from spadework.write.section_drawing import section_figure
from spadework.write.sheet_log import stages
from spadework.write.sheet_stakes import square_rows
from spadework.write.sheet_words import barrow_of, origin_words, summary_rows

__all__ = ["field_sheet_pdf"]

WRITE = 7.0  # more height for rows that are written into [points]


def field_sheet_pdf(plan: Plan) -> bytes:
    """Return the field sheet as a PDF file, on the plan's paper.

    Parameters
    ----------
    plan : Plan
        The plan.
    """
    name = plan.name or "Plan"
    foot = "  ·  ".join([f"{name}, {plan.date}", *plan.overrides])
    return printed(lambda sheet: _story(plan, sheet), paper=plan.paper, title=f"{name}: field sheet", foot=foot)


def _story(plan: Plan, sheet: Sheet) -> list[Any]:
    """Return what stands on the pages, in their order."""
    wide, high = page_room(plan.paper)
    return [
        *_front(plan, wide),
        PageBreak(),
        *_map(plan, sheet, wide, high),
        PageBreak(),
        *_stakes(plan, wide),
        *_setting_out(plan, wide),
        PageBreak(),
        *_dig_plan(plan, sheet, wide, high),
        PageBreak(),
        *_sections(plan, sheet, wide, high),
        PageBreak(),
        *_soil(plan, wide),
        *sure_pages(plan, wide),
        *_shopping(plan, wide),
        *_how(plan),
    ]


def _front(plan: Plan, wide: float) -> Iterator[Any]:
    """Yield name, overrides, origin, figures, cautions, and the levels to work to."""
    yield title(plan.name or "Plan")
    if plan.overrides:
        yield framed(plan.overrides, wide)
        yield Spacer(0, 6)
    loads = format_barrow_loads(plan.soil.cut_loose.likely, barrow_of(plan))
    yield pairs([*origin_words(plan), *summary_rows(plan), ("Cut, in barrows", loads)], wide)
    yield heading("Before you dig")
    yield numbered((f"{caution.text} ({caution.source})" for caution in plan.cautions), bullets=True)
    yield heading("Levels and rod readings")
    if plan.bench is None:
        yield words("There is no bench mark on this plan. The rod must read HI less the level wanted.")
    else:
        bench = format_length(plan.bench[1], plan.units)
        yield words(
            f"{plan.bench[0]} is at {bench}. HI is that level plus the rod reading on it; the rod must then "
            "read HI less the level wanted. Without an instrument, measure down from a level string: its level takes "
            "the place of HI."
        )
    hi = plan.stakeout.hi
    today = "" if hi is None else format_length(hi, plan.units)
    unit = unit_label(plan.units)
    rows = [["Today's reading on the bench mark", "", ""], [f"HI [{unit}]", today, ""]]
    for name, level in _surfaces(plan):
        rod = "" if hi is None else format_length(hi - level, plan.units, with_unit=False)
        rows.append([name, format_length(level, plan.units, with_unit=False), rod])
    yield grid(
        ("", f"Level [{unit}]", f"Rod must read [{unit}]"), rows, [wide * 0.5, wide * 0.25, wide * 0.25], tall=WRITE
    )


def _surfaces(plan: Plan) -> Iterator[tuple[str, float]]:
    """Yield name and level of each surface that is worked to, the lowest first. [m]"""
    for _, said, level in stages(plan):
        if level is not None:
            yield said[0].upper() + said[1:], level


def _map(plan: Plan, sheet: Sheet, wide: float, high: float) -> Iterator[Any]:
    """Yield the page of the plan to scale."""
    size = (wide / 72, (high - 66) / 72)
    scale, _ = map_scale(plan, *size)
    yield heading(f"Stakes, cut and fill: {scale_words(plan, scale)}")
    yield words(
        f"To this scale when printed on {plan.paper} at full size. Square: corner; ring: offset stake; bar: point on "
        "a side; triangle: reference. Slanting lines: cut; level lines: fill. Marks count from the stripped ground, "
        "those of offset stakes from the ground beside them.",
        small=True,
    )
    yield sheet.drawing(scaled_map(plan, *size))


def _stakes(plan: Plan, wide: float) -> Iterator[Any]:
    """Yield the table of stakes, with room to tick and to write."""
    unit, found = plan.units, plan.stakeout
    label = unit_label(unit)
    yield heading("At each stake, in the order in which they are set")
    strip = (
        f"First strip {format_length(plan.pad.strip, unit)} of turf and topsoil and keep it apart. "
        if plan.pad.strip > 0
        else ""
    )
    yield words(
        f"{strip}C: cut, dig down; F: fill, make up; GRADE: leave. “Dig in all” counts from the ground as it stands. "
        "An offset stake, A/AB say, stands clear of the digging: its mark counts from the ground beside it."
    )
    names = [name for name, _, _ in found.references]
    sure = plan.confidence is not None
    headings = [
        "Stake",
        "Where",
        "Mark",
        *([f"Good to ± [{label}]"] if sure else []),
        f"Dig in all [{label}]",
        f"Ground [{label}]",
    ]
    headings += [f"From {name} [{label}]" for name in names]
    headings += ["Third tie", "Likely error"] if names else []
    headings += ["Set", "Found"]
    shares = [34, 74, 52, *((44,) if sure else ()), 46, 54, *(50 for _ in names), *((62, 34) if names else ()), 26, 46]
    rows = [_stake_row(stake, plan) for stake in found.ordered()]
    yield grid(headings, rows, [wide * share / sum(shares) for share in shares])


def _stake_row(stake: Stake, plan: Plan) -> list[str]:
    """Return the cells of one stake."""
    unit = plan.units

    def length(metres: float) -> str:
        return format_length(metres, unit, with_unit=False) if math.isfinite(metres) else ""

    corner = "corner" if plan.pad.radius is None else "middle" if stake.name == MIDDLE else "quarter point"
    where = {"corner": corner, "offset": f"beyond {stake.of}", "side": f"from {stake.of}"}[stake.kind]
    if stake.kind != "corner":
        where = f"{format_length(stake.away, unit)} {where}"
    ties = [length(tie.distance) for tie in stake.ties]
    if ties:
        third = "" if stake.third is None else f"{length(stake.third.distance)} from {stake.third.reference}"
        ties += [third, error_words(stake.expected_error, unit)]
    good = []
    if plan.confidence is not None:
        good = [next((length(s.give_or_take) for s in plan.confidence.stakes if s.name == stake.name), "")]
    levels = [depth_mark(stake.depth, unit), *good, length(stake.dig), length(stake.ground_level)]
    return [stake.name, where, *levels, *ties, "☐", ""]


def _setting_out(plan: Plan, wide: float) -> Iterator[Any]:
    """Yield how the stakes are taped and proved square."""
    unit, found = plan.units, plan.stakeout
    yield heading("Setting out")
    steps = ["Hold the tape level and pulled straight for every distance; on a slope plumb down from its end."]
    what = "corners" if plan.pad.radius is None else "middle and the quarter points"
    if len(found.references) >= 2:
        first, second = (name for name, _, _ in found.references[:2])
        sides = {stake.side for stake in found.stakes}
        where = {"left": "to the left of", "right": "to the right of", "on": "on"}
        said = "; ".join(
            f"{', '.join(s.name for s in found.stakes if s.side == side)} {where[side]}" for side in sorted(sides)
        )
        steps.append(f"Seen along the line from {first} to {second}: {said} it. Set the {what} by their ties.")
    else:
        steps.append(f"Set the {what} by east and north: this plan names no two references.")
        steps += [
            f"{s.name}: east {format_length(s.east, unit)}, north {format_length(s.north, unit)}." for s in found.stakes
        ]
    spans = [*found.sides, *found.diagonals]
    steps.append("Check: " + ", ".join(f"{s.start}{s.end} {format_length(s.length, unit)}" for s in spans) + ".")
    if plan.pad.is_rectangle:
        steps.append(
            "If the two diagonals differ, keep A and B and move C and D the same way, by the same amount, until they "
            "agree."
        )
    if plan.pad.radius is not None:
        steps.append(
            f"Scratch the rim with a tape hooked on M, held at {format_length(plan.pad.radius, unit)}. Strings from M "
            "over the quarter points carry the offset stakes, and bring M back where they cross."
        )
        yield numbered(steps)
        return
    steps.append(
        "Strings over two corners and beyond carry the offset stakes and the points on the sides; strings between "
        "offset stakes bring a corner back where they cross."
        if found.offsets
        else "Drive a second stake clear of the digging on the line of each side before you dig the first ones away."
    )
    yield numbered(steps)
    if plan.pad.is_rectangle:
        rows = square_rows(plan)
        heads = ["Diagonals differ by", *(difference for difference, _ in rows)]
        cells = ["C and D are off by", *(off for _, off in rows)]
        yield KeepTogether([grid(heads, [cells], [wide * 0.25, *[wide * 0.12] * len(rows)])])


def _dig_plan(plan: Plan, sheet: Sheet, wide: float, high: float) -> Iterator[Any]:
    """Yield the map of depths."""
    yield heading("Dig plan: depths over the pad")
    yield sheet.drawing(depth_figure(plan, wide / 72, min(wide * 0.95, high - 30) / 72))


def _sections(plan: Plan, sheet: Sheet, wide: float, high: float) -> Iterator[Any]:
    """Yield the sections."""
    yield heading("Sections")
    yield sheet.drawing(section_figure(plan, wide / 72, min(wide * 0.95, high - 30) / 72))


def _soil(plan: Plan, wide: float) -> Iterator[Any]:
    """Yield the soil in its three states."""
    soil, tray = plan.soil, barrow_of(plan)
    yield heading("Soil")
    trench = [
        [
            "Trench",
            *(format_volume(v.likely, plan.units) for v in (soil.trench_bank, soil.trench_loose)),
            "",
            format_barrow_loads(soil.trench_loose.likely, tray),
        ],
        ["Back beside the frame", "", "", format_volume(soil.packed_compacted.likely, plan.units), ""],
        ["Where the frame stands, less", "", "", format_volume(soil.spared_compacted.likely, plan.units), ""],
    ]
    trench = trench if soil.trench_bank.likely > 0 else []
    rows = [
        ["Strip", format_volume(soil.strip.likely, plan.units), "", "", ""],
        [
            "Cut",
            *(format_volume(v.likely, plan.units) for v in (soil.cut_bank, soil.cut_loose)),
            "",
            format_barrow_loads(soil.cut_loose.likely, tray),
        ],
        *trench[:1],
        ["Fill", "", "", format_volume(soil.fill_compacted.likely, plan.units), ""],
        *trench[1:],
        [
            "Over",
            *(format_volume(v.likely, plan.units) for v in (soil.over_bank, soil.over_loose)),
            "",
            format_barrow_loads(soil.over_loose.likely, tray),
        ],
        [
            "To buy",
            "",
            *(format_volume(v.likely, plan.units) for v in (soil.short_loose, soil.short_compacted)),
            format_barrow_loads(soil.short_loose.likely, tray),
        ],
    ]
    yield grid(("Soil", "In the bank", "Loose", "Rammed", "Barrows"), rows, [wide / 5] * 5)


def _shopping(plan: Plan, wide: float) -> Iterator[Any]:
    """Yield what is to be bought."""
    if plan.build is None or not plan.build.materials:
        return
    yield heading("To buy")
    rows = [[line.what, f"{line.quantity:g} {line.unit}", line.detail] for line in plan.build.materials]
    yield grid(("What", "How much", "Detail"), rows, [wide * 0.3, wide * 0.2, wide * 0.5])


def _how(plan: Plan) -> Iterator[Any]:
    """Yield how the numbers were got and what the user should know."""
    yield heading("How the numbers were got")
    yield numbered(plan.how, bullets=True)
    if plan.notices:
        yield heading("To know")
        yield numbered(plan.notices, bullets=True)
