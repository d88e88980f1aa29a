"""The whole way from shots to a plan, with no files and no printing: what the command line and programs both call."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import partial

from spadework.build import BuildOptions, BuildPlan, build_plan
from spadework.build.cautions import Caution, cautions_for
from spadework.confidence import UNSURE, Confidence, GroundStudy, assess
from spadework.confidence.luck import Luck
from spadework.earthwork import (
    Banks,
    Earthwork,
    EdgeSoil,
    SoilAccount,
    banked_earthwork,
    earthwork,
    edge_profile,
    soil_account,
)
from spadework.factors import SoilFactors
from spadework.ground import Ground
from spadework.ground.water_at_pad import water_notices
from spadework.haul import UPHILL, Haul, plan_haul
from spadework.levels import ReducedLevels
from spadework.pad import Pad, Placement
from spadework.placement import (
    Goal,
    GoalTerms,
    Limits,
    ProofEffort,
    SearchResult,
    find_banked_placement,
    find_placement,
)
from spadework.placement.land import what_forbids
from spadework.plan_cautions import dig_facts
from spadework.plan_luck import with_luck
from spadework.plan_soil import bank_notice, carting_notices, edge_soil_at, mean_way, trench_words
from spadework.shots import Shots
from spadework.stakeout import TAPE_SD, StakeOut, stake_out
from spadework.units import LengthUnit

__all__ = ["Plan", "PlanInputs", "Reference", "find_spot", "make_plan"]

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
    unsure: str = UNSURE


def make_plan(
    inputs: PlanInputs,
    *,
    effort: ProofEffort | None = None,
    progress: Callable[[float, float, int], None] | None = None,
) -> Plan:
    """Choose the spot and the finish level, prove the spot, and work out what they ask for.

    Parameters
    ----------
    inputs : PlanInputs
        The survey, the pad, the limits and the goal.
    effort : ProofEffort, optional
        When the proof may stop.
    progress : callable, optional
        Called during the proof with best value, lower bound and boxes bounded so far.

    Returns
    -------
    Plan
        The whole result.

    Raises
    ------
    PlacementError
        If no placement keeps the limits.
    """
    search = find_spot(inputs, effort=effort, progress=progress)
    search, luck = with_luck(
        search, inputs.study, inputs.rank, unit=inputs.units, landmarks=(*inputs.references, *inputs.fixed_points)
    )
    placement = search.best.placement
    options = inputs.build or BuildOptions.usual(inputs.units)
    banks: Banks | None = None
    if inputs.pad.edge.retained:
        volumes = earthwork(inputs.ground, inputs.pad, placement)
    else:
        volumes, banks = banked_earthwork(inputs.ground, inputs.pad, placement)
    stakes = stake_out(
        inputs.ground,
        inputs.pad,
        placement,
        references=inputs.references,
        bench=inputs.bench,
        hi=inputs.hi,
        tape=inputs.tape,
        grid=inputs.grid,
        unit=inputs.units,
        offset=inputs.offset,
        side_spacing=inputs.side_spacing,
        fixed_points=inputs.fixed_points,
        tape_sd=inputs.tape_sd,
        forbids=partial(what_forbids, inputs.limits),
    )
    edge_soil = edge_soil_at(inputs.ground, inputs.pad, placement, options, inputs.units)
    soil = soil_account(volumes, inputs.soil, edge_soil)
    haul = _haul(inputs, placement, edge_soil, banks)
    built = build_plan(
        inputs.pad,
        placement.finish,
        edge_profile(inputs.ground, inputs.pad, placement),
        volumes,
        soil,
        options=options,
        unit=inputs.units,
        stakes=len(stakes.stakes),
        haul=mean_way(haul),
        banks=banks,
    )
    return Plan(
        name=inputs.name,
        date=inputs.date,
        units=inputs.units,
        datum=inputs.datum,
        crs=inputs.crs,
        shots=inputs.shots,
        levels=inputs.levels,
        ground=inputs.ground,
        pad=inputs.pad,
        limits=inputs.limits,
        goal=inputs.goal,
        references=inputs.references,
        bench=inputs.bench,
        search=search,
        earthwork=volumes,
        soil=soil,
        stakeout=stakes,
        cautions=cautions_for(
            inputs.pad,
            dig_facts(
                inputs.pad, inputs.limits, placement.finish, volumes, built, banks, coarse_levels=inputs.coarse_levels
            ),
            inputs.units,
        ),
        how=(*inputs.how, *trench_words(search, inputs.units), *([search.proof.statement] if search.proof else [])),
        notices=tuple(
            dict.fromkeys(
                (
                    *inputs.notices,
                    *inputs.ground.notices,
                    *search.notices,
                    *stakes.notices,
                    *built.notices,
                    *carting_notices(soil, inputs.units),
                    *water_notices(inputs.ground, inputs.pad, placement, inputs.units),
                    *(() if banks is None else (bank_notice(banks, inputs.units),)),
                )
            )
        ),
        overrides=inputs.overrides,
        paper=inputs.paper,
        build=built,
        confidence=_confidence(inputs, placement, volumes, stakes, banks),
        haul=haul,
        banks=banks,
        luck=luck,
        unsure="" if inputs.study is not None else inputs.unsure or UNSURE,
    )


def find_spot(
    inputs: PlanInputs,
    *,
    effort: ProofEffort | None = None,
    progress: Callable[[float, float, int], None] | None = None,
) -> SearchResult:
    """Find the spot, with its proof for vertical sides; for banks, without.

    Parameters
    ----------
    inputs, effort, progress
        As for `make_plan`.

    Raises
    ------
    PlacementError
        If no placement keeps the limits.
    """
    if not inputs.pad.edge.retained:
        return find_banked_placement(
            inputs.ground,
            inputs.pad,
            inputs.limits,
            inputs.goal,
            inputs.soil,
            unit=inputs.units,
            landmarks=(*inputs.references, *inputs.fixed_points),
        )
    options, keep = inputs.build or BuildOptions.usual(inputs.units), 1.0 - inputs.soil.shrink

    def reserve_at(placement: Placement) -> float:
        edge = edge_soil_at(inputs.ground, inputs.pad, placement, options, inputs.units)
        return 0.0 if edge is None else edge.reserve(keep)

    return find_placement(
        inputs.ground,
        inputs.pad,
        inputs.limits,
        inputs.goal,
        inputs.soil,
        unit=inputs.units,
        landmarks=(*inputs.references, *inputs.fixed_points),
        effort=effort or ProofEffort(),
        progress=progress,
        reserve=reserve_at if inputs.pad.edge.kind == "timber" else 0.0,
    )


def _haul(inputs: PlanInputs, placement: Placement, edge_soil: EdgeSoil | None, banks: Banks | None) -> Haul:
    """Return which soil goes where."""
    return plan_haul(
        inputs.ground,
        inputs.pad,
        placement,
        inputs.soil,
        inputs.limits,
        barrow=inputs.barrow,
        uphill=inputs.uphill,
        edge=edge_soil,
        banks=banks,
    )


def _confidence(
    inputs: PlanInputs, placement: Placement, volumes: Earthwork, stakes: StakeOut, banks: Banks | None
) -> Confidence | None:
    """Return how sure the plan is, where the shots can say so."""
    if inputs.study is None:
        return None
    found = assess(
        inputs.study.process,
        inputs.ground,
        inputs.pad,
        placement,
        volumes,
        stakes.all_stakes,
        keep=1.0 - inputs.soil.shrink,
        free_level=inputs.limits.finish.kind == "free",
        banks=banks,
    )
    return replace(found, doubtful=inputs.study.doubtful, validation=inputs.study.validation)
