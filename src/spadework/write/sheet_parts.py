"""The parts of the field sheet that hold figures: stakes, ties, rods, depths, soil, and how the levels closed."""

from __future__ import annotations

import math
from collections.abc import Iterator

from spadework.earthwork import Range
from spadework.factors import container_volume
from spadework.plan import Plan
from spadework.stakeout import depth_mark, skew_angle
from spadework.units import FOOT, LengthUnit, barrow_loads, format_volume, volume_label
from spadework.units import format_length as plain_length
from spadework.units import unit_label as plain_label
from spadework.write.markup import Markup, element, items, joined, table
from spadework.write.sheet_words import kept_together

__all__ = ["depth_part", "level_part", "rod_part", "setting_out_part", "soil_part", "stake_part"]


def stake_part(plan: Plan) -> Markup:
    """Return what to do at each stake."""
    unit = plan.units
    rows = [
        (
            stake.name,
            element("td", element("b", depth_mark(stake.depth, unit))),
            format_length(stake.dig, unit, with_unit=False),
            _rod_cell(plan, stake.ground_level),
        )
        for stake in plan.stakeout.stakes
    ]
    headings = ("Stake", "Mark", f"Dig in all [{unit_label(unit)}]", "Rod now")
    strip = (
        f"First strip {format_length(plan.pad.strip, unit)} of turf and topsoil and keep it apart. "
        "The mark is what is left to do after that: C cut, dig down; F fill, make up; GRADE, leave. "
        if plan.pad.strip > 0
        else "The mark is what there is to do: C cut, dig down; F fill, make up; GRADE, leave. "
    )
    words = f"{strip}“Dig in all” is measured from the ground as it stands, strip included."
    rods = "“Rod now” proves stake and instrument: before any digging the rod on the ground must read that."
    return joined([element("p", words), table(headings, rows), element("p", rods, class_="small")])


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
    rows = [
        (words, format_length(height, unit, with_unit=False), _rod_cell(plan, height)) for words, height in surfaces
    ]
    return joined([_reading(plan), table(("Rod stands on", f"Level [{unit_label(unit)}]", "Rod must read"), rows)])


def setting_out_part(plan: Plan) -> Markup:
    """Return how the stakes are taped, in order, and how they are proved square."""
    return joined([items("ol", _steps(plan)), _position_table(plan)])


def depth_part(plan: Plan) -> Markup:
    """Return the cut sheet as a grid, corner A at its top left."""
    grid, unit = plan.stakeout.grid, plan.units
    headings = ["across ↓ along →", *(_short(value, unit) for value in grid.along)]
    rows = [
        (
            _short(across, unit),
            *("" if math.isnan(depth) else depth_mark(float(depth), unit) for depth in depths),
        )
        for across, depths in zip(grid.across, grid.depth, strict=True)
    ]
    words = (
        f"Distances from A in {unit_label(unit)}: along towards B, across to the right of it. "
        "Each mark is measured from the stripped ground to the formation."
    )
    return joined([element("p", words), table(headings, rows)])


def soil_part(plan: Plan) -> Markup:
    """Return the soil in the bank, in the barrow and rammed in place, with barrow loads."""
    soil, tray = plan.soil, container_volume()
    nothing = "—"

    def volume(cubic_metres: float) -> str:
        return format_volume(cubic_metres, plan.units).split(" ")[0]

    def cell(found: Range) -> Markup:
        if found.high - found.low < 5e-3:
            return element("td", volume(found.likely))
        spread = element("span", f"{volume(found.low)}–{volume(found.high)}", class_="small")
        return element("td", volume(found.likely), Markup("<br>"), spread)

    def loads(found: Range) -> str:
        return str(barrow_loads(found.likely, tray))

    rows = [
        ("Strip", cell(soil.strip), nothing, nothing, nothing),
        ("Cut", cell(soil.cut_bank), cell(soil.cut_loose), nothing, loads(soil.cut_loose)),
        ("Fill", nothing, nothing, cell(soil.fill_compacted), nothing),
        ("Over", cell(soil.over_bank), cell(soil.over_loose), nothing, loads(soil.over_loose)),
        ("To buy", nothing, cell(soil.short_loose), cell(soil.short_compacted), loads(soil.short_loose)),
    ]
    words = (
        f"Volumes in {volume_label(plan.units)}: in the bank as it lies, loose in the barrow, rammed in place; "
        "small, the range that the factors leave open. "
        f"Soil: {soil.factors.kind}. Dug, it swells by {soil.factors.swell:.0%}; rammed in place it takes "
        f"{soil.factors.shrink:.0%} less room than it did in the ground. "
        f"A load is a barrow of {format_volume(tray, plan.units, decimals=3)} loose. "
        "The strip is kept apart, never used as fill."
    )
    return joined(
        [
            element("p", words),
            table(("", "Bank", "Loose", "Rammed", "Loads"), rows),
            element("p", f"Factors: {soil.factors.source}", class_="small") if soil.factors.source else "",
        ]
    )


def level_part(plan: Plan) -> Markup:
    """Return how each run of levels closed and what looks wrong in the books."""
    unit, lines = plan.units, []
    for reduced in plan.levels:
        for run in reduced.runs:
            ways = f"{run.start} to {run.end}, {run.setups} {'set-up' if run.setups == 1 else 'set-ups'}"
            if run.kind == "open":
                lines.append(f"{ways}: ends on nothing known, so that nothing checks it.")
                continue
            verdict = {True: "within", False: "NOT WITHIN", None: "not compared with"}[run.within]
            lines.append(
                f"{ways}: misclosure {format_length(run.misclosure, unit, sign=True)}, {verdict} the "
                f"{format_length(run.allowed, unit)} that {run.rule or 'the rule'} allows."
            )
        lines += reduced.suspects
    return items("ul", lines) if lines else Markup("")


def _rod_cell(plan: Plan, level: float) -> Markup:
    """Return the cell of a rod reading: from the plan's HI, and again by the page from the one that is typed."""
    hi = plan.stakeout.hi
    words = "" if hi is None else format_length(hi - level, plan.units)
    return element("td", words, class_="rod", data_level=repr(float(level)))


def _reading(plan: Plan) -> Markup:
    """Return the place where today's reading is typed."""
    unit, bench = plan.units, plan.bench
    example = plain_length(1.325 + (plan.search.best.placement.finish if bench is None else 0.0), unit, with_unit=False)
    if bench is None:
        asked = f"Height of instrument, HI, in the levels of this sheet [{unit_label(unit)}]"
        rule = "There is no bench mark on this plan. The rod must read HI less the level wanted."
    else:
        asked = f"Today's rod reading on {bench[0]} [{unit_label(unit)}]"
        rule = (
            f"{bench[0]} is at {format_length(bench[1], unit)}. HI is that level plus the reading on it; the rod "
            "must then read HI less the level wanted. Set up anew, read anew."
        )
    box = element(
        "input", id="reading", inputmode="text", autocomplete="off", aria_describedby="hi", placeholder=example
    )
    known = "" if plan.stakeout.hi is None else f"HI {format_length(plan.stakeout.hi, unit)}"
    label = element("label", asked, for_="reading")
    return joined(
        [element("p", rule), element("p", label, box, class_="ask"), element("p", known, id="hi", role="status")]
    )


def _steps(plan: Plan) -> Iterator[str]:
    """Yield the steps of setting out."""
    unit, found = plan.units, plan.stakeout
    yield "Hold the tape level and pulled straight for every distance; on a slope plumb down from its end."
    if len(found.references) >= 2:
        first, second = (name for name, _, _ in found.references[:2])
        for stake in found.stakes:
            ties = " and ".join(f"{format_length(tie.distance, unit)} from {tie.reference}" for tie in stake.ties)
            where = {
                "left": f"to the left of the line from {first} to {second}",
                "right": f"to the right of the line from {first} to {second}",
                "on": f"on the line through {first} and {second}",
            }[stake.side]
            yield f"Stake {stake.name}: {ties}, {where}."
    else:
        yield "Set out the stakes by their east and north in the table below: this plan names no two references."
    sides = ", ".join(f"{side.start}{side.end} {format_length(side.length, unit)}" for side in found.sides)
    yield f"Check the sides: {sides}."
    if found.diagonals:
        across = ", ".join(f"{span.start}{span.end} {format_length(span.length, unit)}" for span in found.diagonals)
        yield f"Check the diagonals: {across}."
    if plan.pad.is_rectangle:
        yield _squaring(plan)
    yield "Drive a second stake clear of the digging on the line of each side before you dig the first ones away."


def _squaring(plan: Plan) -> str:
    """Return what to do when the diagonals differ, and how much it matters.

    Keep the base and move both far corners the same way: US Army carpentry course EN0069, "Squaring building lines".
    """
    along, across = float(plan.pad.sides[0]), float(plan.pad.sides[1])
    step = 0.01 if plan.units is LengthUnit.METRE else FOOT / 24
    total = math.sqrt(4 * (along**2 + across**2) - step**2)
    angle = skew_angle(along, across, (total + step) / 2, (total - step) / 2)
    off = format_length(across * math.sin(math.radians(angle)), plan.units)
    return (
        "If the two diagonals differ, keep A and B and move C and D the same way, by the same amount, "
        f"until they agree. Diagonals that differ by {format_length(step, plan.units)} put C and D {off} out of square."
    )


def _position_table(plan: Plan) -> Markup:
    """Return ties, positions and ground levels of the stakes."""
    unit, found = plan.units, plan.stakeout
    names = [f"From {name}" for name, _, _ in found.references]
    ties = [
        (stake.name, *(format_length(tie.distance, unit, with_unit=False) for tie in stake.ties))
        for stake in found.stakes
    ]
    places = [
        (
            stake.name,
            *(format_length(value, unit, with_unit=False) for value in (stake.east, stake.north, stake.ground_level)),
        )
        for stake in found.stakes
    ]
    known = [
        (name, *(format_length(value, unit, with_unit=False) for value in (east, north)), "")
        for name, east, north in found.references
    ]
    label = unit_label(unit)
    return joined(
        [
            table(("Stake", *names), ties, caption=f"Ties [{label}]") if names else "",
            table(("", "East", "North", "Ground"), [*places, *known], caption=f"Positions and ground levels [{label}]"),
        ]
    )


def format_length(metres: float, unit: LengthUnit, *, sign: bool = False, with_unit: bool = True) -> str:
    """Return a length as text that no line breaks inside."""
    return kept_together(plain_length(metres, unit, sign=sign, with_unit=with_unit))


def unit_label(unit: LengthUnit) -> str:
    """Return the unit for a heading, with a hyphen that does not break."""
    return plain_label(unit).replace("-", "\u2011")


def _short(metres: float, unit: LengthUnit) -> str:
    """Return a round distance without the zeros that say nothing."""
    words = format_length(float(metres), unit, with_unit=False)
    return words.removesuffix('\u00a00"') if unit is LengthUnit.FOOT_INCH else words.rstrip("0").rstrip(".")
