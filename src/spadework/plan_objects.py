"""What a plan is made from, and what it is: frozen objects that hold the results of every step."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from spadework.build import BuildOptions, BuildPlan
from spadework.build.cautions import Caution
from spadework.confidence import UNSURE, Confidence, GroundStudy
from spadework.confidence.luck import Luck
from spadework.earthwork import Banks, Earthwork, SoilAccount
from spadework.factors import SoilFactors
from spadework.ground import Ground
from spadework.haul import UPHILL, Haul
from spadework.levels import ReducedLevels
from spadework.levels.net_book import ReducedNet
from spadework.pad import Pad
from spadework.placement import Goal, GoalTerms, Limits, SearchResult
from spadework.placement.what_if import Effect
from spadework.positions.net_fit import PlaceFit
from spadework.shots import Shots
from spadework.stakeout import TAPE_SD, StakeOut
from spadework.units import LengthUnit

__all__ = ["Plan", "PlanInputs", "Reference"]

Reference = tuple[str, float, float]
"""Name, east and north of a fixed point to tape from. [m]"""


@dataclass(frozen=True)
class PlanInputs:
    """Everything that a plan is made from.

    Parameters
    ----------
    name : str
        Name of the site.
    date : str
        Day of the plan, ``YYYY-MM-DD``.
    units : LengthUnit
        The user's unit.
    ground : Ground
        The surface.
    pad : Pad
        What is wanted.
    limits : Limits
        Where it may go and how high.
    goal : Goal
        What should be least.
    soil : SoilFactors
        How the soil swells and shrinks.
    shots : Shots, optional
        The shots that the ground was made from, and those that only mark a place; ``None`` for a raster.
    levels : tuple of ReducedLevels
        The level books behind the shots.
    net : PlaceFit, optional
        What was measured in plan between points, adjusted together.
    level_nets : tuple of ReducedNet
        Files of levelled lines, adjusted.
    references : tuple of Reference
        Fixed points to tape from, two where stakes are to have ties.
    bench : (str, float), optional
        Bench mark to set the instrument up from, and its level. [m]
    datum, crs : str
        In words: what levels refer to; the coordinate reference system, empty where there is none.
    hi : float, optional
        Height of instrument that the grade rods are for. [m]
    tape : float
        Length of the tape. [m]
    grid : float, optional
        Spacing of the depth grid; chosen from the pad where not given. [m]
    how, notices, overrides : tuple of str
        How the numbers were got; what the user should know; rules that were set aside, to be printed on every sheet.
    coarse_levels : bool
        Whether any level comes from an instrument unfit for a pad.
    offset : float
        How far beyond the corners the offset stakes stand; zero for none. [m]
    side_spacing : float, optional
        Distance between stakes along the sides; chosen from the pad where not given. [m]
    fixed_points : tuple of Reference
        Further points that can be found again, to tape from where the references see a stake badly.
    tape_sd : float
        Standard deviation of one taped distance. [m]
    paper : str
        ``"A4"`` or ``"Letter"``.
    build : BuildOptions, optional
        What is chosen about frame, materials, prices and crew; common practice where not given.
    barrow : float, optional
        Loose volume of one barrow load; a garden barrow where not given. [m³]
    uphill : float
        Metres of level way that a metre of rise counts for with the barrow. [m/m]
    study : GroundStudy, optional
        How well the shots describe the ground; without it the plan does not say how sure it is.
    least : str or mapping of str to float
        The words that the goal was asked for by.
    terms : GoalTerms, optional
        Prices and rates that it rests on, to ask what if they were others.
    rank : str
        ``"drawn"`` takes the best spot of the drawn surface, ``"expected"`` that of least expected cost.
    unsure : str
        Why it does not.
    """

    name: str
    date: str
    units: LengthUnit
    ground: Ground
    pad: Pad
    limits: Limits
    goal: Goal
    soil: SoilFactors
    shots: Shots | None = None
    levels: tuple[ReducedLevels, ...] = ()
    references: tuple[Reference, ...] = ()
    bench: tuple[str, float] | None = None
    datum: str = ""
    crs: str = ""
    hi: float | None = None
    tape: float = 30.0
    grid: float | None = None
    how: tuple[str, ...] = ()
    notices: tuple[str, ...] = ()
    overrides: tuple[str, ...] = ()
    coarse_levels: bool = False
    offset: float = 0.0
    side_spacing: float | None = None
    fixed_points: tuple[Reference, ...] = ()
    tape_sd: float = TAPE_SD
    paper: str = "A4"
    build: BuildOptions | None = None
    study: GroundStudy | None = None
    barrow: float | None = None
    uphill: float = UPHILL
    rank: str = "drawn"
    unsure: str = ""
    least: str | Mapping[str, float] = "digging"
    terms: GoalTerms | None = None
    net: PlaceFit | None = None
    level_nets: tuple[ReducedNet, ...] = ()


@dataclass(frozen=True)
class Plan:
    """A plan: what it was made from, the chosen spot, and what follows from it.

    The first attributes are those of `PlanInputs`; ``search``, ``earthwork``, ``soil``, ``stakeout``, ``build``,
    ``confidence`` and ``cautions`` are the results, and ``notices`` gathers what every step has to say.
    """

    name: str
    date: str
    units: LengthUnit
    datum: str
    crs: str
    shots: Shots | None
    levels: tuple[ReducedLevels, ...]
    ground: Ground
    pad: Pad
    limits: Limits
    goal: Goal
    references: tuple[Reference, ...]
    bench: tuple[str, float] | None
    search: SearchResult
    earthwork: Earthwork
    soil: SoilAccount
    stakeout: StakeOut
    cautions: tuple[Caution, ...]
    how: tuple[str, ...]
    notices: tuple[str, ...]
    overrides: tuple[str, ...]
    paper: str = "A4"
    build: BuildPlan | None = None
    confidence: Confidence | None = None
    haul: Haul | None = None
    banks: Banks | None = None
    luck: Luck | None = None
    what_if: tuple[Effect, ...] | None = None
    unsure: str = UNSURE
    net: PlaceFit | None = None
    level_nets: tuple[ReducedNet, ...] = ()
