"""Cautions: what could hurt somebody or break a rule, each raised by the plan's own numbers.

They are reminders and they defer: local code and licensed practice come first. Each names where its figure comes from.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from spadework.pad import Pad
from spadework.units import FOOT, LengthUnit, format_area, format_length

__all__ = ["Caution", "DigFacts", "cautions_for"]

# 29 CFR 1926.651(c)(2) and (j)(2), 1926.652(a)(1): a way out from 4 ft of depth, spoil 2 ft back, protection from 5 ft.
EGRESS_DEPTH = 4 * FOOT
PROTECTION_DEPTH = 5 * FOOT
SPOIL_SETBACK = 2 * FOOT
# International Residential Code R105.2: retaining walls up to 4 ft, from the bottom of the footing, need no permit.
WALL_PERMIT_HEIGHT = 4 * FOOT
# Prince George's County, Maryland, asks for a permit from 2 ft: the lowest limit known to us.
WALL_ASK_HEIGHT = 2 * FOOT
# International Residential Code R105.2: detached one-storey buildings, 120 ft² up to the 2006 code, 200 ft² from 2009.
PERMIT_AREAS = (120 * FOOT**2, 200 * FOOT**2)
# Common Ground Alliance best practices ask for 18 in, several states for 24 in, each side of a mark: the stricter.
HAND_DIG_ZONE = 24 * 0.0254
# Table 11.1: in-place soils 3/4:1 to 1:1, fills 1.5:1 to 2:1, wet clay 2:1 to 3:1, low cuts and fills, under 2 to 3 m,
# 2:1 or flatter (horizontal to vertical).
LOW_VOLUME_ROADS = (
    "Keller & Sherar, Low-Volume Roads Engineering (USDA Forest Service, 2003), Table 11.1, from memory, medium "
    "confidence"
)
STEEPEST_CUT, STEEPEST_FILL, GENTLE = 1.0, 1 / 1.5, 1 / 2.0
HIGH_BANK = 2.0
# Common practice, no source: what is lower than this is shaped with the rake.
LEAST_FACE = 0.1


@dataclass(frozen=True, slots=True)
class Caution:
    """One caution.

    Parameters
    ----------
    name : str
        Short name, stable for programs: ``utilities``, ``deep-dig``, ...
    text : str
        What to mind, in whole sentences.
    source : str
        Where the figure comes from.
    """

    name: str
    text: str
    source: str


@dataclass(frozen=True, slots=True)
class DigFacts:
    """The plan's own numbers that raise cautions.

    Parameters
    ----------
    deepest_dig : float
        Greatest depth from the ground to the formation, strip included, or to the foot of the frame in its trench. [m]
    exposed_edge : float
        Finish level less the lowest ground along the edge. [m]
    exposed_limit : float, optional
        The user's own limit on it. [m]
    embedment : float
        Depth of the edge's foot below the lowest ground along it. [m]
    coarse_levels : bool
        Whether any level comes from a phone or another instrument unfit for a pad.
    ground_above : float
        Greatest height of the ground outside above the finish level; 0 where there is none. [m]
    bars_below : float
        How far down from the finish level bars are driven; 0 where there are none. [m]
    cut_height, fill_height : float
        Greatest height of a cut bank and of a fill bank; 0 where there is none. [m]
    """

    deepest_dig: float
    exposed_edge: float
    exposed_limit: float | None = None
    embedment: float = 0.0
    coarse_levels: bool = False
    ground_above: float = 0.0
    bars_below: float = 0.0
    cut_height: float = 0.0
    fill_height: float = 0.0


def cautions_for(pad: Pad, facts: DigFacts, unit: LengthUnit) -> tuple[Caution, ...]:
    """Return the cautions that a plan raises, the gravest first, in the user's unit.

    Parameters
    ----------
    pad : Pad
        The pad.
    facts : DigFacts
        The plan's numbers.
    unit : LengthUnit
        Unit to print lengths in.

    Returns
    -------
    tuple of Caution
        Never empty: finding buried services and asking the local authority always apply.
    """
    return (
        *_digging(facts, unit),
        *(_banks(pad, facts, unit) if pad.edge.kind == "bank" else _edge(facts, unit)),
        *_timber(pad, facts, unit),
        *_building(pad, unit),
        *_levels(facts),
        Caution(
            "local-code",
            "Local code, the permit office and licensed practice come first; everything on this sheet defers to them.",
            "common practice, no source",
        ),
    )


def _digging(facts: DigFacts, unit: LengthUnit) -> Iterator[Caution]:
    """Yield the cautions about digging at all and about digging deep."""
    yield Caution(
        "utilities",
        "Before any digging, have buried services marked: call the utility-locating service (811 in "
        "the USA, two to three "
        "working days ahead; every country has its own). "
        f"Dig by hand within {format_length(HAND_DIG_ZONE, unit)} of a mark.",
        "Common Ground Alliance best practices (18 in) and state laws (24 in), from memory; Kentucky 811: 2 ft",
    )
    depth = format_length(facts.deepest_dig, unit)
    if facts.deepest_dig >= PROTECTION_DEPTH:
        yield Caution(
            "deep-dig",
            f"The deepest dig is {depth}. From {format_length(PROTECTION_DEPTH, unit)} a cut must be "
            "sloped, stepped or shored "
            "before anybody goes in: earth falls without warning and kills. Get somebody competent to say how.",
            "29 CFR 1926.652(a)(1)",
        )
    elif facts.deepest_dig >= EGRESS_DEPTH:
        yield Caution(
            "deep-dig",
            f"The deepest dig is {depth}. From {format_length(EGRESS_DEPTH, unit)} there must be a "
            "way out close by, and from "
            f"{format_length(PROTECTION_DEPTH, unit)} the sides must be sloped, stepped or shored. "
            "Treat this one the same.",
            "29 CFR 1926.651(c)(2) and 1926.652(a)(1)",
        )
    if facts.deepest_dig > 0:
        yield Caution(
            "spoil",
            f"Heap the soil at least {format_length(SPOIL_SETBACK, unit)} back from the edge of the digging.",
            "29 CFR 1926.651(j)(2)",
        )


def _edge(facts: DigFacts, unit: LengthUnit) -> Iterator[Caution]:
    """Yield the cautions about the exposed height of the edge."""
    exposed = format_length(facts.exposed_edge, unit)
    total = facts.exposed_edge + facts.embedment
    if total >= WALL_PERMIT_HEIGHT:
        yield Caution(
            "edge-height",
            f"The edge stands {exposed} above the ground. From "
            f"{format_length(WALL_PERMIT_HEIGHT, unit)}, measured from the "
            "bottom of its footing, most places ask for a permit and an engineer's design. Spadework "
            "does not design walls.",
            "International Residential Code R105.2",
        )
    elif total >= WALL_ASK_HEIGHT:
        yield Caution(
            "edge-height",
            f"The edge stands {exposed} above the ground. Some places ask for a permit from "
            f"{format_length(WALL_ASK_HEIGHT, unit)}, most from "
            f"{format_length(WALL_PERMIT_HEIGHT, unit)} measured from the "
            "bottom of the footing: ask. Soil behind it pushes; drain it, and pin it well.",
            "Prince George's County, Maryland (2 ft); International Residential Code R105.2 (4 ft)",
        )
    if facts.exposed_limit is not None and facts.exposed_edge > facts.exposed_limit + 1e-9:
        yield Caution(
            "edge-limit",
            f"The edge stands {exposed} above the ground, more than your limit of "
            f"{format_length(facts.exposed_limit, unit)}.",
            "the site file",
        )


def _banks(pad: Pad, facts: DigFacts, unit: LengthUnit) -> Iterator[Caution]:
    """Yield the cautions about the steepness and the height of banks."""
    for word, slope, height, steepest, soils in (
        ("cut", pad.edge.cut_slope, facts.cut_height, STEEPEST_CUT, "most soils in place stand at 1 up in 0.75 to 1"),
        ("fill", pad.edge.fill_slope, facts.fill_height, STEEPEST_FILL, "most fills stand at 1 up in 1.5 to 2"),
    ):
        if height < LEAST_FACE:
            continue
        run, tall = 1.0 / slope, format_length(height, unit)
        if slope > steepest * (1 + 1e-9):
            yield Caution(
                f"{word}-slope",
                f"The {word} bank is 1 up in {run:.2g} along, up to {tall} high, steeper than such soil is trusted to "
                f"stand: {soils}, clay that gets wet at 1 in 2 to 3. Lay it flatter, hold it with an edge, or ask.",
                LOW_VOLUME_ROADS,
            )
        elif slope > GENTLE * (1 + 1e-9):
            yield Caution(
                f"{word}-slope",
                f"The {word} bank is 1 up in {run:.2g} along, up to {tall} high. Low banks keep their turf at 1 in 2 "
                "or flatter, clay that gets wet wants 1 in 2 to 3: turf or plant it at once, and keep water off it.",
                LOW_VOLUME_ROADS,
            )
        if height >= HIGH_BANK:
            yield Caution(
                "bank-height",
                f"The {word} bank is up to {tall} high. From about {format_length(HIGH_BANK, unit)} a slope wants "
                "somebody competent to judge the soil and the water in it; many places ask for a permit to grade.",
                LOW_VOLUME_ROADS,
            )


def _timber(pad: Pad, facts: DigFacts, unit: LengthUnit) -> Iterator[Caution]:
    """Yield the cautions about the ground that stands above the edge, and about what the edge is made of."""
    if facts.ground_above >= LEAST_FACE:
        yield Caution(
            "cut-face",
            f"Outside the edge the ground stands up to {format_length(facts.ground_above, unit)} above the finish "
            "level, and nothing holds it. Lay it back, no steeper than 1 up in 1.5 along (34°) in soil that is loose "
            "or wet, and lead its water away from the pad.",
            "29 CFR 1926 Subpart P, Appendix B, Table B-1: soil of type C",
        )
    if pad.edge.kind != "timber":
        return
    yield Caution(
        "timber",
        "Timber in the ground must be treated for it: ground contact, use category UC4A or better. Coat what you cut "
        "and drill. Wear gloves and a mask at the saw, and burn no offcuts.",
        "AWPA Standard U1 (use category); the rest common practice, no source",
    )
    if facts.bars_below > 0:
        yield Caution(
            "bars",
            f"Bars are driven {format_length(facts.bars_below, unit)} down from the finish level, deeper than the "
            "digging: be sure of buried services along the whole edge first, also where nothing is dug.",
            "common practice, no source",
        )


def _building(pad: Pad, unit: LengthUnit) -> Iterator[Caution]:
    """Yield the cautions about the building on the pad and the water around it."""
    length, width = pad.building or (0.0, 0.0)
    area = length * width if pad.building else pad.area
    if area >= PERMIT_AREAS[0]:
        what = "building" if pad.building else "pad"
        yield Caution(
            "permit-area",
            f"The {what} covers {format_area(area, unit)}. Common limits above which a detached "
            "building needs a permit are "
            f"{format_area(PERMIT_AREAS[0], unit)} and {format_area(PERMIT_AREAS[1], unit)}: ask locally. "
            "Free of a permit is not free of the code.",
            "International Residential Code R105.2, editions to 2006 and from 2009",
        )
    fall, run = 6 * 0.0254, 10 * FOOT
    yield Caution(
        "drainage",
        f"Shape the ground to fall away from the building: {format_length(fall, unit)} in the first "
        f"{format_length(run, unit)} (5 %), or to a drain where something is in the way.",
        "International Residential Code R401.3",
    )


def _levels(facts: DigFacts) -> Iterator[Caution]:
    """Yield the caution about levels that are too coarse."""
    if facts.coarse_levels:
        yield Caution(
            "coarse-levels",
            "Some levels come from a phone or from satellite positions. Those are good to metres, a "
            "pad needs millimetres: "
            "never set a base from them.",
            "Chen, Gao, Liu & Sun, Sensors 2019: vertical RMS 1.65 m for a dual-frequency phone",
        )
