"""The whole way from shots to a plan, with no files and no printing: what the command line and programs both call."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import partial

from spadework.build import BuildOptions, build_plan
from spadework.build.cautions import cautions_for
from spadework.confidence import UNSURE, Confidence, assess
from spadework.confidence.luck import Luck
from spadework.earthwork import Banks, Earthwork, EdgeSoil, banked_earthwork, earthwork, edge_profile, soil_account
from spadework.ground.water_at_pad import water_notices
from spadework.haul import Haul, YardCarrier, plan_haul
from spadework.pad import Placement
from spadework.placement import ProofEffort, SearchResult, find_banked_placement, find_placement
from spadework.placement.land import what_forbids
from spadework.plan_cautions import dig_facts
from spadework.plan_luck import with_luck
from spadework.plan_objects import Plan, PlanInputs, Reference
from spadework.plan_soil import bank_notice, barrow_notice, carting_notices, edge_soil_at, mean_way, trench_words
from spadework.plan_what_if import effects_of
from spadework.stakeout import StakeOut, stake_out

__all__ = ["Plan", "PlanInputs", "Reference", "find_spot", "make_plan"]


def make_plan(
    inputs: PlanInputs,
    *,
    effort: ProofEffort | None = None,
    progress: Callable[[float, float, int], None] | None = None,
    settled: Callable[[Plan], None] | None = None,
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
    settled : callable, optional
        Called with all of the plan but its luck, as soon as the rest is sure to stay as it is, and luck takes long.

    Returns
    -------
    Plan
        The whole result.

    Raises
    ------
    PlacementError
        If no placement keeps the limits.
    """
    found = find_spot(inputs, effort=effort, progress=progress)
    first = _planned(inputs, found) if settled is not None and _luck_changes_nothing_else(inputs, found) else None
    if settled is not None and first is not None:
        settled(first)
    search, luck = with_luck(
        found, inputs.study, inputs.rank, unit=inputs.units, landmarks=(*inputs.references, *inputs.fixed_points)
    )
    return replace(first, luck=luck) if first is not None and search is found else _planned(inputs, search, luck)


def _luck_changes_nothing_else(inputs: PlanInputs, found: SearchResult) -> bool:
    """Return whether luck is weighed for the spot that was found, and neither takes another nor adds a notice."""
    objective = found.objective
    if inputs.study is None or inputs.rank != "drawn" or objective is None:
        return False
    return objective.pad.edge.retained and not objective.goal.moved


def _planned(inputs: PlanInputs, search: SearchResult, luck: Luck | None = None) -> Plan:
    """Return what the spot of a search asks for."""
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
        net=inputs.net,
        level_nets=inputs.level_nets,
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
                    *barrow_notice(search, haul, inputs.units),
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
        what_if=None if search.objective is None else effects_of(inputs, search),
        unsure="" if inputs.study is not None else inputs.unsure or UNSURE,
    )


def find_spot(
    inputs: PlanInputs,
    *,
    effort: ProofEffort | None = None,
    progress: Callable[[float, float, int], None] | None = None,
    reserve: float | None = None,
) -> SearchResult:
    """Find the spot, with its proof.

    Parameters
    ----------
    inputs, effort, progress
        As for `make_plan`.
    reserve : float, optional
        Soil that the trench of a timber edge leaves at every spot; where not given, what it leaves at the best. [m³]

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
            effort=effort or ProofEffort(),
            progress=progress,
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
        reserve=reserve if reserve is not None else reserve_at if inputs.pad.edge.kind == "timber" else 0.0,
        carrier=YardCarrier(inputs.ground, inputs.limits, inputs.soil, inputs.barrow, inputs.uphill),
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
