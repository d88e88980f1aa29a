"""Courses of timber along one side: how many at each place, the bottom ones stepped into the slope.

The top of the frame is level all round, at the finish level; courses are counted from the top. Course ``k`` is there
wherever the courses above it do not reach far enough into the ground.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from spadework.build.corners import taken_off
from spadework.earthwork import EdgeProfile
from spadework.readings import FloatArray

__all__ = ["Run", "Side", "courses_needed", "side_runs"]

SAME = 1e-9


@dataclass(frozen=True, slots=True)
class Run:
    """One course of one side, from where it starts to where it steps up; distances along the side's outer face. [m]"""

    course: int
    start: float
    end: float

    @property
    def length(self) -> float:
        """Length along the outer face. [m]"""
        return self.end - self.start


@dataclass(frozen=True)
class Side:
    """One side of the frame.

    Parameters
    ----------
    profile : EdgeProfile
        The ground along it.
    top : float
        Level of the top of the frame. [m]
    height : float
        Height of one course. [m]
    runs : tuple of Run
        By course, then by distance.
    angles : tuple of float
        Inside the corners at its start and at its end. [deg]
    """

    profile: EdgeProfile
    top: float
    height: float
    runs: tuple[Run, ...]
    angles: tuple[float, float] = (90.0, 90.0)

    @property
    def name(self) -> str:
        """Letters of its corners."""
        return self.profile.name

    @property
    def length(self) -> float:
        """Along the outer face. [m]"""
        return self.profile.length

    def corner(self, width: float) -> float:
        """Return what a strip of some width inside this side leaves to the next side's at the far corner. [m]"""
        return taken_off(self.angles[1], width)

    @property
    def courses(self) -> int:
        """Number of courses where there are most."""
        return max(run.course for run in self.runs)

    @property
    def exposed(self) -> float:
        """Greatest height of the frame above the ground; below zero where the ground stands above it. [m]"""
        return self.top - self.profile.lowest

    @property
    def exposed_area(self) -> float:
        """Face of the frame above the ground, less what the ground stands above it. [m²]"""
        return float(np.trapezoid(self.top - self.profile.level, self.profile.distance))

    @property
    def tallness(self) -> tuple[float, float]:
        """What the sides are ranked by: the greatest exposed height to the millimetre, then the exposed area."""
        return round(self.exposed, 3), self.exposed_area

    def courses_at(self, distance: FloatArray | float) -> FloatArray:
        """Return the number of courses at distances along the side; at a step, that of the higher foot."""
        at = np.asarray(distance, dtype=np.float64)
        count = np.ones(at.shape)
        for run in self.runs:
            reached_start = (at > run.start + SAME) | (run.start <= SAME)
            reached_end = (at < run.end - SAME) | (run.end >= self.length - SAME)
            count = np.where(reached_start & reached_end, np.maximum(count, run.course), count)
        return count

    def underside(self, distance: FloatArray | float) -> FloatArray:
        """Return the level of the frame's foot at distances along the side; at a step, the higher one. [m]"""
        return self.top - self.height * self.courses_at(distance)

    def has(self, course: int, distance: float) -> bool:
        """Say whether a course is there, both its ends included."""
        return any(run.course == course and run.start - SAME <= distance <= run.end + SAME for run in self.runs)

    def stations(self) -> FloatArray:
        """Return where ground or foot change: between neighbours the ground is straight and the foot level. [m]"""
        ends = [end for run in self.runs for end in (run.start, run.end)]
        return np.unique(np.concatenate([self.profile.distance, ends]))

    def least_embedment(self) -> float:
        """Return the least depth of the foot below the ground outside, over every place along the side. [m]

        Between neighbouring stations the depth is a straight line, so its least is at an end, seen from both sides.
        """
        foot, ground = self._foot_and_ground()
        return float((np.minimum(ground[:-1], ground[1:]) - foot).min())

    def greatest_embedment(self) -> float:
        """Return the greatest depth of the foot below the ground outside, which the trench is dug to. [m]"""
        foot, ground = self._foot_and_ground()
        return float((np.maximum(ground[:-1], ground[1:]) - foot).max())

    def _foot_and_ground(self) -> tuple[FloatArray, FloatArray]:
        """Return the foot between neighbouring stations, and the ground at the stations. [m]"""
        at = self.stations()
        return self.underside((at[:-1] + at[1:]) / 2), self.profile.level_at(at)


def courses_needed(profile: EdgeProfile, top: float, height: float, embedment: float) -> int:
    """Return the courses where the ground is lowest, at least one: ``⌈(top - ground + embedment) / height⌉``."""
    return max(1, math.ceil((top - profile.lowest + embedment) / height - SAME))


def side_runs(
    profile: EdgeProfile, top: float, height: float, *, embedment: float, reach: float, least: float, step: float
) -> tuple[Run, ...]:
    """Return the courses of one side.

    With ``U_k = top - k height`` the foot of course ``k``, course ``k + 1`` is needed where ``U_k > ground -
    embedment``. It reaches ``reach`` beyond that at both ends, into ground that rises, is at least ``least`` long, and
    gaps shorter than ``least`` are closed.

    Parameters
    ----------
    profile : EdgeProfile
        The ground along the side.
    top, height : float
        Level of the top; height of one course. [m]
    embedment : float
        Least depth of the foot below the ground. [m]
    reach, least : float
        How far a course goes beyond where it is needed; shortest run and shortest gap. [m]
    step : float
        Ends are rounded outwards to it. [m]

    Returns
    -------
    tuple of Run
        Course 1 is whole; each lower one lies within the one above.
    """
    deepest = courses_needed(profile, top, height, embedment)
    found: list[Run] = []
    below: list[tuple[float, float]] = []
    for course in range(deepest, 1, -1):
        needed = _below(profile, top - (course - 1) * height + embedment)
        wider = [(start - reach, end + reach) for start, end in needed] + below
        below = _tidy(wider, profile.length, least, step)
        found.extend(Run(course, start, end) for start, end in below)
    found.append(Run(1, 0.0, profile.length))
    return tuple(sorted(found, key=lambda run: (run.course, run.start)))


def _below(profile: EdgeProfile, level: float) -> list[tuple[float, float]]:
    """Return the stretches of a side where the ground is lower than a level, exactly: it is straight between breaks."""
    at, over = profile.distance, profile.level - level
    stretches: list[tuple[float, float]] = []
    for i in range(len(at) - 1):
        first, last = float(over[i]), float(over[i + 1])
        if first >= -SAME and last >= -SAME:
            continue
        start, end = float(at[i]), float(at[i + 1])
        crossing = start + (end - start) * first / (first - last) if first != last else start
        stretches.append((crossing if first > 0 else start, crossing if last > 0 else end))
    return stretches


def _tidy(stretches: list[tuple[float, float]], length: float, least: float, step: float) -> list[tuple[float, float]]:
    """Join stretches, lengthen short ones, round their ends outwards, and take them to a corner that is near."""
    grown = []
    for start, end in stretches:
        begin, last = max(start, 0.0), min(end, length)
        size = min(max(last - begin, least), length)
        first = min(max((begin + last - size) / 2, 0.0), length - size)
        grown.append((first, first + size))
    joined: list[tuple[float, float]] = []
    for start, end in sorted(grown):
        first = math.floor(start / step + SAME) * step
        last = math.ceil(end / step - SAME) * step
        first = 0.0 if first < least else first
        last = length if last > length - least else last
        if joined and first - joined[-1][1] < least:
            joined[-1] = (joined[-1][0], max(joined[-1][1], last))
        else:
            joined.append((first, last))
    return joined
