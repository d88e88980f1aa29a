"""The steps in their order, each with its check, made from the plan's own numbers."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from spadework.build.corners import saw_angle
from spadework.build.edge import EdgePlan
from spadework.build.fabric import FabricOrder
from spadework.build.options import StoneOptions
from spadework.build.stone import LayerOrder, lift_depth, lifts_for
from spadework.build.words import listed, small
from spadework.earthwork import Banks, Earthwork, SoilAccount
from spadework.pad import Pad
from spadework.units import FOOT, LengthUnit, format_area, format_length, format_volume

__all__ = ["Step", "WorkFacts", "order_of_work"]

CLOSE_ENOUGH = {LengthUnit.METRE: 0.005, LengthUnit.FOOT: FOOT / 50, LengthUnit.FOOT_INCH: FOOT / 48}
"""What string and straight-edge can tell: 5 mm, 0.02 ft, 1/4 in. Common practice, no source. [m]"""

WORKING_WIDTH = 0.6
"""Room to dig a trench from: common practice, no source. [m]"""

LEAST = 0.001
"""Less soil than this is nothing to do: a litre. [m³]"""


@dataclass(frozen=True, slots=True)
class Step:
    """One step.

    Parameters
    ----------
    title : str
        In a few words.
    text : str
        What to do, in whole sentences.
    check : str
        How to know that it is right, before the next step.
    """

    title: str
    text: str
    check: str


@dataclass(frozen=True)
class WorkFacts:
    """The plan's own numbers that the steps are made from."""

    pad: Pad
    finish: float
    earthwork: Earthwork
    soil: SoilAccount
    edge: EdgePlan | None
    layers: tuple[LayerOrder, ...]
    fabric: FabricOrder | None
    stone: StoneOptions
    unit: LengthUnit
    banks: Banks | None = None

    def length(self, metres: float) -> str:
        """Return a level or a length as it is printed."""
        return format_length(metres, self.unit)

    def small(self, metres: float) -> str:
        """Return a depth as it is spoken of."""
        return small(metres, self.unit)

    def volume(self, cubic_metres: float) -> str:
        """Return a volume as it is printed."""
        return format_volume(cubic_metres, self.unit)


def order_of_work(facts: WorkFacts) -> tuple[Step, ...]:
    """Return the steps.

    Parameters
    ----------
    facts : WorkFacts

    Returns
    -------
    tuple of Step
        From the marks on the ground to the finished level.
    """
    return (
        *_ground_steps(facts),
        *_edge_steps(facts),
        *_fill_steps(facts),
        *_stone_steps(facts),
        *_bank_steps(facts),
        *_last(facts),
    )


def _ground_steps(facts: WorkFacts) -> Iterator[Step]:
    work, length, volume = facts.earthwork, facts.length, facts.volume
    sides = facts.pad.sides
    square = (
        f"Tape both diagonals: each is {length(math.hypot(*(float(side) for side in sides[:2])))} when it is square."
        if facts.pad.is_rectangle
        else "Tape every side and every diagonal against the stake table."
    )
    yield Step(
        "Find what is buried, then set out",
        "Have buried services marked. Drive the corner stakes by their ties, and offset stakes clear of the digging; "
        f"pull strings at the finish level, {length(facts.finish)}.",
        square,
    )
    banks = "" if facts.banks is None else " and where its banks come"
    if work.strip_volume > LEAST:
        yield Step(
            "Strip",
            f"Take {facts.small(facts.pad.strip)} of turf and topsoil off the whole pad{banks}, "
            f"{volume(work.strip_volume)} in the ground. Heap it apart: it goes back on top of "
            "gardens, never under the base.",
            "Only subsoil shows, without roots.",
        )
    if work.cut <= LEAST:
        return
    if facts.edge is not None and work.fill > LEAST:
        # The soil stays where it is until the frame stands that it is rammed against: nothing is handled twice.
        yield Step(
            "Dig along the sides",
            f"Where the ground stands above the formation, {length(work.formation)}, dig down to it in a strip "
            f"{facts.small(WORKING_WIDTH)} wide inside the strings, to have room for the trench. Put that soil "
            "straight on the low part, clear of the line of the trench, and leave the middle standing.",
            f"Measure down from the strings: {facts.small(facts.finish - work.formation)} along sides that are dug.",
        )
        return
    yield from _digging(facts, "Dig")


def _digging(facts: WorkFacts, title: str) -> Iterator[Step]:
    """Yield the digging itself."""
    work = facts.earthwork
    made_up = work.fill > LEAST
    later = ", and more where it is made up later" if made_up else ""
    carry = (
        " Carry each load straight to where it is made up, the farthest place first, as the list of the moves says: "
        "nothing is heaped in between."
        if made_up
        else ""
    )
    yield Step(
        title,
        f"Dig to the formation, {facts.length(work.formation)}: {facts.volume(work.cut)} in the ground, at most "
        f"{facts.small(work.deepest_cut)} below the stripped ground.{carry}",
        f"Measure down from the strings: {facts.small(facts.finish - work.formation)} where it is dug, to within "
        f"{facts.small(CLOSE_ENOUGH[facts.unit])}{later}.",
    )


def _edge_steps(facts: WorkFacts) -> Iterator[Step]:
    edge, length = facts.edge, facts.length
    if edge is None:
        return
    deepest = max(edge.trenches, key=lambda trench: trench.deepest)
    if deepest.deepest > 0:
        yield Step(
            "Dig the trench for the frame",
            f"Along the sides, {facts.small(deepest.width)} wide, down to the foot of the timber: deepest on side "
            f"{deepest.side}, {facts.small(deepest.deepest)} below the dug ground, stepped as the drawing of each side "
            f"shows. {facts.volume(edge.trench_volume)} in the ground. Lay it along the inside: some goes back beside "
            "the timber, the rest makes up the low part.",
            f"The foot of the lowest course is a whole number of courses of {facts.small(edge.section.height)} below "
            "the string at the finish level.",
        )
    courses = max(side.courses for side in edge.sides)
    lowest = [side.name for side in edge.sides if side.courses == courses]
    word = "course" if courses == 1 else "courses"
    corners = "At square corners every other course runs through."
    sawn = [
        f"{side.name[: len(side.name) // 2]} {saw_angle(side.angles[0]):.1f}°"
        for side in edge.sides
        if saw_angle(side.angles[0])
    ]
    if sawn:
        corners += f" At the others both timbers are sawn off square: {listed(sawn)}; a flat bracket ties them."
    yield Step(
        "Lay the frame",
        f"Start with the lowest course, on side{'s' if len(lowest) > 1 else ''} {listed(lowest)}, and work up: "
        f"{courses} {word}, {len(edge.pieces)} pieces, {edge.joints} lap joints. {corners} Screw each course to the "
        f"one below; {len(edge.lags)} lag screws hold corners and joints.",
        f"Level every course as it is laid, end to end and across; the top is {length(facts.finish)} all round.",
    )
    counts = ", ".join(f"{count} of {facts.small(long)}" for long, count in edge.bar_counts.items())
    yield Step(
        "Square it and pin it",
        f"Drive the bars through drilled holes, flush with the top: {counts}.",
        "Tape the diagonals once more before the first bar: they are equal."
        if facts.pad.is_rectangle
        else "Tape every side and diagonal against the stake table once more, before the first bar.",
    )


def _fill_steps(facts: WorkFacts) -> Iterator[Step]:
    """Yield the making up: inside the frame, which holds it where it stands above the ground outside."""
    work, length, volume = facts.earthwork, facts.small, facts.volume
    packed, by_hand = facts.soil.packed_compacted.likely, length(lift_depth("hand-tamper"))
    fill = work.fill - facts.soil.spared_compacted.likely
    if packed > LEAST:
        yield Step(
            "Ram the trench full",
            f"Fill the room beside the timber with soil out of the trench, up to the dug ground: {volume(packed)} once "
            f"compacted, in lifts of no more than {by_hand} loose. Ram it with a hand tamper, and let "
            "nothing push the frame outwards.",
            "The timber still follows the string, and no heel leaves a print beside it.",
        )
    if facts.edge is not None and work.cut > LEAST and work.fill > LEAST:
        yield from _digging(facts, "Dig the rest")
    if fill > LEAST:
        where = "Fill" if facts.edge is None else "Fill inside the frame"
        factors = facts.soil.factors
        factor = factors.loose_per_bank / factors.compacted_per_bank
        lifts = lifts_for(work.deepest_fill, factor, facts.stone.compactor)
        each = length(lift_depth(facts.stone.compactor))
        yield Step(
            "Make up",
            f"{where} to the formation, {volume(fill)} once compacted, at most {length(work.deepest_fill)} "
            f"deep, in {lifts} lift{'s' if lifts > 1 else ''} of no more than {each} loose. Loosen the stripped ground "
            "with a fork before the first, so that the fill keys into it.",
            "Tamp each lift until a heel leaves no print, before the next one goes on.",
        )


def _stone_steps(facts: WorkFacts) -> Iterator[Step]:
    down, near = facts.finish - facts.earthwork.formation, CLOSE_ENOUGH[facts.unit]
    yield Step(
        "Tamp the formation",
        "Go over the whole formation with the compactor. Dig out what stays soft, and fill the place with stone.",
        f"No heel leaves a print, and the strings stand {facts.small(down)} above it everywhere, to within "
        f"{facts.small(near)}.",
    )
    if facts.fabric is not None:
        way = "along" if facts.fabric.along else "across"
        yield Step(
            "Lay the fabric",
            f"{facts.fabric.sheets} sheets {way} the pad, overlapped {facts.small(facts.fabric.overlap)} and turned "
            f"up {facts.small(facts.fabric.upstand)} at the edge; {facts.fabric.staples} staples.",
            "No soil shows, and no sheet is pulled tight over a hollow.",
        )
    foot = facts.earthwork.formation
    for layer in facts.layers:
        foot += layer.depth
        lifts = "one lift" if layer.lifts == 1 else f"{layer.lifts} equal lifts"
        yield Step(
            f"Lay {layer.material}",
            f"{facts.volume(layer.loose.likely)} loose, in {lifts}, tamped to {facts.small(layer.depth)}.",
            f"Its top is {facts.small(facts.finish - foot)} below the strings, lift by lift, under a straight-edge."
            if facts.finish - foot > 1e-6
            else "A straight-edge from frame to frame, drawn over the whole pad, rides on it and rocks nowhere.",
        )


def _bank_steps(facts: WorkFacts) -> Iterator[Step]:
    """Yield what is done to the slopes of banks, once the pad is made."""
    banks, edge = facts.banks, facts.pad.edge
    if banks is None:
        return
    slopes = [
        f"{word} 1 up in {1.0 / slope:.2g} along"
        for word, slope, area in (
            ("cut", edge.cut_slope, banks.cut_area),
            ("fill", edge.fill_slope, banks.fill_area),
        )
        if area > LEAST
    ]
    if not slopes:
        return
    deep = facts.pad.strip
    soil = (
        f"Spread topsoil {facts.small(deep)} deep over them again, about "
        f"{facts.volume(deep * (banks.cut_area + banks.fill_area))} from the heap of the strip"
        if deep > 0
        else "Spread topsoil over them"
    )
    area = format_area(banks.cut_area + banks.fill_area, facts.unit)
    yield Step(
        "Trim and turf the banks",
        f"Trim the slopes from the stakes of top and toe to the edge: {', '.join(slopes)}. Build fill out a little too "
        f"wide and cut it back, so that it is firm to the face. {soil}, and turf or seed {area} at once.",
        "A batter board of the slope, laid on the bank, rocks nowhere; water from above is led past it.",
    )


def _last(facts: WorkFacts) -> Iterator[Step]:
    yield Step(
        "Check the whole",
        f"Read the level of every stake and of the middle: {facts.length(facts.finish)}, to within "
        f"{facts.small(CLOSE_ENOUGH[facts.unit])}. Put back the topsoil outside, falling away from the edge.",
        "Strings from corner to corner touch where they cross.",
    )
