"""Points that are known already, by name: what other points are measured from."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from typing import NamedTuple

from spadework.shots import Shots

__all__ = ["KnownPlace", "Places", "known_places", "name_key"]


class KnownPlace(NamedTuple):
    """A point that is known.

    Parameters
    ----------
    east, north : float
        Position; NaN where it is not known. [m]
    level : float
        Level; NaN where it is not known. [m]
    place_sd : float
        Standard deviation of each coordinate; NaN where nobody knows it. [m]
    """

    east: float = math.nan
    north: float = math.nan
    level: float = math.nan
    place_sd: float = math.nan

    @property
    def placed(self) -> bool:
        """Whether its position is known."""
        return math.isfinite(self.east + self.north)

    @property
    def levelled(self) -> bool:
        """Whether its level is known."""
        return math.isfinite(self.level)


Places = Mapping[str, KnownPlace]
"""Known points by `name_key`."""


def name_key(name: str) -> str:
    """Return a name as it is compared: without regard to case and to blanks around it."""
    return name.strip().casefold()


def known_places(parts: Iterable[Shots], levels: Mapping[str, float] | None = None) -> dict[str, KnownPlace]:
    """Return every named point of some shots, and of some levels by name.

    Parameters
    ----------
    parts : iterable of Shots
        The first position and the first level of a name count.
    levels : mapping of str to float, optional
        Levels by name, which come first. [m]
    """
    found: dict[str, KnownPlace] = {name_key(name): KnownPlace(level=level) for name, level in (levels or {}).items()}
    for shots in parts:
        for row, name in enumerate(shots.point):
            before = found.get(name_key(name), KnownPlace())
            east, north, level = float(shots.east[row]), float(shots.north[row]), float(shots.level[row])
            sd = math.nan if shots.position_sd is None else float(shots.position_sd[row])
            found[name_key(name)] = KnownPlace(
                *((before.east, before.north) if before.placed else (east, north)),
                before.level if before.levelled else level,
                before.place_sd if before.placed else sd,
            )
    return found
