"""The parts of the field sheet that hold figures: rods, depths, soil, and how the levels closed."""

from __future__ import annotations

import math

from spadework.earthwork import Range
from spadework.plan import Plan
from spadework.units import barrow_loads
from spadework.write.markup import Markup, element, items, joined, table
from spadework.write.sheet_lengths import (
    inline,
    length,
    mark,
    short_length,
    unit_word,
    volume,
    volume_word,
    word,
)
from spadework.write.sheet_stakes import rod_cell
from spadework.write.sheet_words import barrow_of, bearing_name, grid_start, grid_words

__all__ = ["depth_part", "level_part", "rod_part", "soil_part"]


def rod_part(plan: Plan) -> Markup:
    """Return the levels to work to, with the rod reading for today's height of instrument beside each."""
    unit, placement = plan.units, plan.search.best.placement
    level = placement.formation(plan.pad)
    surfaces = [("Formation: dig or fill to this", level)]
    for layer in plan.pad.build_up.layers:
        level += layer.depth
        surfaces.append((f"Top of {layer.material.replace('-', ' ')}", level))
    if surfaces[-1][1] < placement.finish - 1e-9 or len(surfaces) == 1:
        surfaces.append(("Finish", placement.finish))
    else:
        surfaces[-1] = (f"{surfaces[-1][0]}: finish", placement.finish)
    rows = [(words, length(height, unit, with_unit=False), rod_cell(plan, height)) for words, height in surfaces]
    headings = (
        word("Rod stands on", "Surface"),
        inline(["Level [", unit_word(unit), "]"]),
        word("Rod must read", "Down from the string"),
    )
    return table(headings, rows)


def depth_part(plan: Plan) -> Markup:
    """Return the cut sheet as a grid, the near left corner of the pad's frame at its top left."""
    grid, unit = plan.stakeout.grid, plan.units
    towards_b = bearing_name(plan).endswith("A to B")
    headings = ["across ↓ along →", *(short_length(value, unit) for value in grid.along)]
    rows = [
        (
            short_length(across, unit),
            *("" if math.isnan(depth) else mark(float(depth), unit) for depth in depths),
        )
        for across, depths in zip(grid.across, grid.depth, strict=True)
    ]
    words = inline(
        [
            f"Distances from {grid_start(plan)} in ",
            unit_word(unit),
            (
                f": along {'towards B' if towards_b else 'the bearing'}, across to the right of it. "
                f"{grid_words(plan)}Each mark is measured from the stripped ground to the formation."
            ),
        ]
    )
    return joined([element("p", words), table(headings, rows)])


def soil_part(plan: Plan) -> Markup:
    """Return the soil in the bank, in the barrow and rammed in place, with barrow loads."""
    soil, tray = plan.soil, barrow_of(plan)
    nothing = "—"

    def number(cubic_metres: float) -> Markup:
        return volume(cubic_metres, plan.units, with_unit=False)

    def cell(found: Range) -> Markup:
        if found.high - found.low < 5e-3:
            return element("td", number(found.likely))
        spread = element("span", number(found.low), "–", number(found.high), class_="small")
        return element("td", number(found.likely), Markup("<br>"), spread)

    def loads(found: Range) -> str:
        return str(barrow_loads(found.likely, tray))

    beside, stands = ("Back beside the frame", "Where the frame stands, less")
    trench = [
        ("Trench", cell(soil.trench_bank), cell(soil.trench_loose), nothing, loads(soil.trench_loose)),
        (beside, nothing, nothing, cell(soil.packed_compacted), nothing),
        (stands, nothing, nothing, cell(soil.spared_compacted), nothing),
    ]
    trench = trench if soil.trench_bank.likely > 0 else []
    rows = [
        ("Strip", cell(soil.strip), nothing, nothing, nothing),
        ("Cut", cell(soil.cut_bank), cell(soil.cut_loose), nothing, loads(soil.cut_loose)),
        *trench[:1],
        ("Fill", nothing, nothing, cell(soil.fill_compacted), nothing),
        *trench[1:],
        ("Over", cell(soil.over_bank), cell(soil.over_loose), nothing, loads(soil.over_loose)),
        ("To buy", nothing, cell(soil.short_loose), cell(soil.short_compacted), loads(soil.short_loose)),
    ]
    words = inline(
        [
            "Volumes in ",
            volume_word(plan.units),
            (
                ": in the bank as it lies, loose in the barrow, rammed in place; "
                "small, the range that the factors leave open. "
                f"Soil: {soil.factors.kind}. Dug, it swells by {soil.factors.swell:.0%}; rammed in place it takes "
                f"{soil.factors.shrink:.0%} less room than it did in the ground. A load is a barrow of "
            ),
            volume(tray, plan.units, decimals=3),
            " loose. The strip is kept apart, never used as fill.",
        ]
    )
    return joined(
        [
            element("p", words),
            table(("Soil", "Bank", "Loose", "Rammed", "Loads"), rows),
            element("p", f"Factors: {soil.factors.source}", class_="small") if soil.factors.source else "",
        ]
    )


def level_part(plan: Plan) -> Markup:
    """Return how each run of levels closed and what looks wrong in the books."""
    unit, lines = plan.units, list[str]()
    for reduced in plan.levels:
        for run in reduced.runs:
            ways = f"{run.start} to {run.end}, {run.setups} {'set-up' if run.setups == 1 else 'set-ups'}"
            if run.kind == "open":
                lines.append(f"{ways}: ends on nothing known, so that nothing checks it.")
                continue
            verdict = {True: "within", False: "NOT WITHIN", None: "not compared with"}[run.within]
            lines.append(
                inline(
                    [
                        f"{ways}: misclosure ",
                        length(run.misclosure, unit, sign=True),
                        f", {verdict} the ",
                        length(run.allowed, unit),
                        f" that {run.rule or 'the rule'} allows.",
                    ]
                )
            )
        lines += reduced.suspects
    return items("ul", lines) if lines else Markup("")
