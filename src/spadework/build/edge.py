"""The timber edge of a pad: level top all round, stepped into the slope, pinned, and the trench it stands in."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from spadework.build.bars import Bar, Lag, Screw, drive_bars, drive_lags, drive_screws
from spadework.build.corners import SHARPEST, corner_angles, inside_corner, is_square, saw_angle, taken_off
from spadework.build.courses import Side, courses_needed, side_runs
from spadework.build.joints import Laying, Piece, cut_runs
from spadework.build.lumber import Section
from spadework.build.options import EdgeOptions
from spadework.build.trench import Trench, dig_trench
from spadework.build.words import small
from spadework.earthwork import EdgeProfile
from spadework.pad import Pad
from spadework.units import LengthUnit

__all__ = ["EdgePlan", "edge_plan", "frame_sides", "no_frame_because"]

MOST_COURSES = 20
"""A frame taller than this is a wall, and is not drawn up."""

ROUNDING = {LengthUnit.METRE: 0.01, LengthUnit.FOOT: 0.0127, LengthUnit.FOOT_INCH: 0.0127}
"""Steps stand at whole centimetres or half inches. [m]"""


@dataclass(frozen=True)
class EdgePlan:
    """Everything of the frame, as it is drawn and counted.

    Parameters
    ----------
    section : Section
        The timber as it lies.
    options : EdgeOptions
        What was chosen.
    top : float
        Level of the top, the finish level. [m]
    longest : float
        Longest timber it was laid out for. [m]
    sides : tuple of Side
        Clockwise from corner A.
    pieces : tuple of Piece
    bars : tuple of Bar
    screws : tuple of Screw
    lags : tuple of Lag
    trenches : tuple of Trench
        One for each side.
    notices : tuple of str
        What the user should know.
    """

    section: Section
    options: EdgeOptions
    top: float
    longest: float
    sides: tuple[Side, ...]
    pieces: tuple[Piece, ...]
    bars: tuple[Bar, ...]
    screws: tuple[Screw, ...]
    lags: tuple[Lag, ...]
    trenches: tuple[Trench, ...]
    notices: tuple[str, ...]

    @property
    def tallest(self) -> Side:
        """The side with the greatest exposed height; of several, the one that shows most."""
        return max(self.sides, key=lambda side: side.tallness)

    @property
    def exposed(self) -> float:
        """Greatest height of the frame above the ground. [m]"""
        return self.tallest.exposed

    @property
    def foot_to_top(self) -> float:
        """Greatest height of the frame from its foot. [m]"""
        return self.section.height * max(side.courses for side in self.sides)

    @property
    def foot_depth(self) -> float:
        """Depth of the foot below the ground where the frame stands highest above it. [m]"""
        profile = self.tallest.profile
        lowest = int(profile.level.argmin())
        return profile.lowest - float(self.tallest.underside(float(profile.distance[lowest])))

    @property
    def deepest_foot(self) -> float:
        """Greatest depth of the foot below the ground outside, to which its trench is dug. [m]"""
        return max(side.greatest_embedment() for side in self.sides)

    @property
    def bars_below(self) -> float:
        """How far down from the top the longest bar is driven. [m]"""
        return max(bar.length for bar in self.bars)

    @property
    def ground_above(self) -> float:
        """Greatest height of the ground outside above the top of the frame; 0 where there is none. [m]"""
        return max(0.0, *(side.profile.highest - self.top for side in self.sides))

    @property
    def timber_length(self) -> float:
        """Length of all pieces, laps included. [m]"""
        return math.fsum(piece.length for piece in self.pieces)

    @property
    def joints(self) -> int:
        """Number of lap joints."""
        return sum(piece.joint_end for piece in self.pieces)

    @property
    def bar_counts(self) -> dict[float, int]:
        """Number of bars by length as sold, shortest first."""
        return dict(sorted(Counter(bar.length for bar in self.bars).items()))

    @property
    def trench_volume(self) -> float:
        """Soil out of the trenches, in the bank. [m³]"""
        return math.fsum(trench.volume for trench in self.trenches)

    @property
    def trench_length(self) -> float:
        """Length of the trenches. [m]"""
        return math.fsum(trench.length for trench in self.trenches if trench.deepest > 0)


def no_frame_because(
    pad: Pad, profiles: Sequence[EdgeProfile], top: float, section: Section, options: EdgeOptions
) -> str:
    """Return why the frame of a pad is not drawn up, as a sentence; empty where it is."""
    if pad.radius is not None:
        return (
            "A timber frame has straight sides, and the pad is round: its frame is not drawn up. Give it a retained "
            "edge or a bank, or a polygon of as many corners as you want to saw."
        )
    angles = corner_angles(pad.outline)
    for i, name in enumerate(pad.names):
        if min(angles[i], 360.0 - angles[i]) < SHARPEST:
            return (
                f"Corner {name} is {angles[i]:.0f}°, too sharp for timbers to meet: the frame is not drawn up. Give it "
                f"{SHARPEST:.0f}° or more, or cut the corner off."
            )
        after = (i + 1) % len(angles)
        least = sum(taken_off(float(angles[at]), section.breadth) for at in (i, after))
        if pad.sides[i] < max(least, options.least_piece):
            return (
                f"Side {name}{pad.names[after]} is {pad.sides[i]:.2f} m long, too short for a timber: the frame is not "
                "drawn up. Give it longer sides."
            )
    courses = max(courses_needed(side, top, section.height, options.embedment) for side in profiles)
    if courses > MOST_COURSES:
        return (
            f"The edge would take {courses} courses of {section.name}: that is a wall. It is not drawn up; get a "
            "design for it."
        )
    return ""


def frame_sides(  # noqa: PLR0917 -- what a frame is made from
    profiles: Sequence[EdgeProfile],
    top: float,
    section: Section,
    options: EdgeOptions,
    unit: LengthUnit,
    angles: Sequence[float] | None = None,
) -> tuple[Side, ...]:
    """Return the courses of each side, whatever timbers they are cut from.

    Parameters
    ----------
    profiles, top, section, options, unit, angles
        As for `edge_plan`.
    """
    corners = [90.0] * len(profiles) if angles is None else [float(angle) for angle in angles]
    return tuple(
        Side(
            profile,
            top,
            section.height,
            side_runs(
                profile,
                top,
                section.height,
                embedment=options.embedment,
                reach=options.lap,
                least=options.least_piece,
                step=ROUNDING[unit],
            ),
            (corners[i], corners[(i + 1) % len(corners)]),
        )
        for i, profile in enumerate(profiles)
    )


def edge_plan(
    profiles: Sequence[EdgeProfile],
    *,
    top: float,
    formation: float,
    strip: float,
    section: Section,
    longest: float,
    options: EdgeOptions,
    unit: LengthUnit,
    angles: Sequence[float] | None = None,
) -> EdgePlan:
    """Return the frame along the sides of a pad.

    The outline of the pad is the outer face of the timber. At square corners, turned outward or inward, every other
    course of a side runs through; at others both timbers are sawn to half the angle.

    Parameters
    ----------
    profiles : sequence of EdgeProfile
        The ground along each side, clockwise.
    top, formation : float
        Finish level, and the level dug or filled to. [m]
    strip : float
        Turf and topsoil taken off inside the outline. [m]
    section : Section
        The timber.
    longest : float
        Longest timber to use. [m]
    options : EdgeOptions
    unit : LengthUnit
        Unit of the notices, and of the marks that steps are rounded to.
    angles : sequence of float, optional
        Inside each corner, from the first side's first on; right angles where not given. [deg]
    """
    sides = frame_sides(profiles, top, section, options, unit, angles)
    pieces = cut_runs(sides, Laying(section.breadth, longest, options.lap, options.stagger, options.least_piece))
    bars = drive_bars(sides, pieces, section.breadth, options)
    width = section.breadth + options.trench_room
    return EdgePlan(
        section=section,
        options=options,
        top=top,
        longest=longest,
        sides=sides,
        pieces=pieces,
        bars=bars,
        screws=drive_screws(pieces, options.screw_spacing),
        lags=drive_lags(sides, pieces, options.lap),
        trenches=tuple(dig_trench(side, formation=formation, strip=strip, width=width) for side in sides),
        notices=_notices(sides, bars, section, options, unit),
    )


def _corner_words(sides: Sequence[Side]) -> Iterator[str]:
    """Yield how timbers meet at corners that are not square, and where the outline turns inward."""
    for before, side in zip((sides[-1], *sides[:-1]), sides, strict=True):
        angle, name = side.angles[0], side.name[: len(side.name) // 2]
        if not is_square(angle):
            yield (
                f"Corner {name} is {angle:.1f}°: saw {before.name} and {side.name} there {saw_angle(angle):.1f}° off "
                "square, in every course, and tie them with a flat bracket, as they do not overlap."
            )
        elif inside_corner(angle):
            yield (
                f"The frame turns inward at corner {name}: every other course of {before.name} and {side.name} runs on "
                "there by the thickness of the timber, behind the end of the other."
            )


def _notices(
    sides: Sequence[Side], bars: Sequence[Bar], section: Section, options: EdgeOptions, unit: LengthUnit
) -> tuple[str, ...]:
    """Return what the builder should know of the frame."""
    said: list[str] = []
    short = [bar for bar in bars if bar.anchor < options.bar_anchor - 1e-9]
    if short:
        worst = min(short, key=lambda bar: bar.anchor)
        reach = "do not reach through the frame" if worst.anchor <= 0 else "are short in the ground"
        said.append(
            f"{len(short)} bars {reach}: on side {worst.side} the longest, {small(worst.length, unit)}, leaves "
            f"{small(worst.anchor, unit)} below the frame, and {small(options.bar_anchor, unit)} is "
            "wanted. Get longer bars (edge bar-lengths), or ask for a design."
        )
    said.extend(_corner_words(sides))
    most = max(side.courses for side in sides)
    off = max(-section.off_low, section.off_high) * most
    if off > 0.002:
        said.append(
            f"Timbers vary: {most} course{'s' if most > 1 else ''} of {section.name} may be out by "
            f"{small(off, unit)}. Measure yours before you dig the trench, and level every course."
        )
    return tuple(said)
