"""What comes out of a search: spots, alternatives, and the place for a proof."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from spadework.pad import Placement

if TYPE_CHECKING:
    from spadework.placement.objective import Objective
    from spadework.placement.spot_map import FinishCurve, SpotMap

__all__ = ["Proof", "SearchResult", "Spot"]


@dataclass(frozen=True, slots=True)
class Spot:
    """A placement, and what it costs.

    Parameters
    ----------
    placement : Placement
        Position, bearing and finish level.
    formation : float
        Level dug or filled to. [m]
    value : float
        The goal's weighted sum.
    cut, fill : float
        Soil dug, in the bank, and made up, compacted. [m³]
    over, short : float
        Soil left over, in the bank, and soil to buy, compacted. [m³]
    ground_low, ground_high : float
        Lowest and highest ground under the pad, before it is stripped. [m]
    edge_low, edge_high : float
        Lowest and highest ground along the pad's edge, before it is stripped. [m]
    what_differs : str
        For an alternative: what it trades against the best spot, as a sentence.
    rise : float, optional
        For an alternative: by how much the value rises on the easiest way of moving the pad from here to a cheaper
        spot; infinite where no way of allowed positions leads there, ``None`` where it lies in no valley of its own.
    moved : float, optional
        Barrow loads times their way, worked out where the goal counts it. [m]
    """

    placement: Placement
    formation: float
    value: float
    cut: float
    fill: float
    over: float
    short: float
    ground_low: float
    ground_high: float
    edge_low: float
    edge_high: float
    what_differs: str = ""
    rise: float | None = None
    moved: float | None = None

    @property
    def exposed_edge(self) -> float:
        """Greatest height of the finish above the ground along the edge; below zero where all of it is sunk. [m]"""
        return self.placement.finish - self.edge_low

    @property
    def wall(self) -> float:
        """Greatest height between finish and ground along the edge, whichever is above. [m]"""
        return max(self.edge_high - self.placement.finish, self.placement.finish - self.edge_low)


@dataclass(frozen=True, slots=True)
class Proof:
    """A bound that no allowed placement can beat.

    Parameters
    ----------
    best : float
        Value of the best spot.
    lower_bound : float
        No allowed placement has a lower value.
    gap : float
        ``(best - lower_bound) / best``; zero where both are zero.
    method : str
        How the bound was got.
    statement : str
        The same as a sentence, with volumes in the user's unit.
    nodes : int
        Boxes of placements that were bounded.
    finished : bool
        Whether the gap was closed as far as was asked, or the effort was spent before.
    seconds : float
        Time that it took; two proofs that differ in nothing else are equal. [s]
    """

    best: float
    lower_bound: float
    gap: float
    method: str
    statement: str
    nodes: int = 0
    finished: bool = True
    seconds: float = field(default=0.0, compare=False)


@dataclass(frozen=True, slots=True)
class SearchResult:
    """The best spot found and what else was.

    Parameters
    ----------
    best : Spot
        The spot of least value.
    alternatives : tuple of Spot
        Up to three spots that really differ from the best and from each other, the best of them first.
    evaluated : int
        Placements tried after the grid was cut to what is clear of every limit on position.
    searched : str
        What was searched, as a sentence.
    proof : Proof, optional
        ``None`` where the search gives no bound.
    notices : tuple of str
        What the user should know, as sentences.
    reserve : float
        Soil that every spot gets besides its own cut, in the bank: out of the trench of the edge. [m³]
    spot_map : SpotMap, optional
        What every position tried costs; ``None`` where the position is not free.
    finish_curve : FinishCurve, optional
        What the best position and bearing cost at each finish level.
    objective : Objective, optional
        The exact objective that was searched, for further questions.
    """

    best: Spot
    alternatives: tuple[Spot, ...]
    evaluated: int
    searched: str
    proof: Proof | None = None
    notices: tuple[str, ...] = ()
    reserve: float = 0.0
    spot_map: SpotMap | None = field(default=None, compare=False, repr=False)
    finish_curve: FinishCurve | None = field(default=None, compare=False, repr=False)
    objective: Objective | None = field(default=None, compare=False, repr=False)
