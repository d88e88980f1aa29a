"""Everything that is built, from the chosen placement on: edge, cutting list, stone, hours, money, order of work."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial

from spadework.build.corners import corner_angles
from spadework.build.cutting import CuttingList, cutting_list
from spadework.build.edge import EdgePlan, edge_plan, no_frame_because
from spadework.build.fabric import FabricOrder, fabric_order
from spadework.build.hours import Hours, Quantities, hours_for
from spadework.build.lumber import section_named
from spadework.build.materials import Material, Money, materials_for, money_for
from spadework.build.options import BuildOptions
from spadework.build.order_of_work import Step, WorkFacts, order_of_work
from spadework.build.stone import LayerOrder, layer_orders
from spadework.earthwork import Banks, Earthwork, EdgeProfile, SoilAccount
from spadework.errors import Fault, InputError
from spadework.pad import Pad
from spadework.units import LengthUnit

__all__ = ["BuildPlan", "build_plan"]


@dataclass(frozen=True)
class BuildPlan:
    """What is built, bought and done.

    Parameters
    ----------
    edge : EdgePlan, optional
        The timber frame; ``None`` for another edge.
    cutting : CuttingList, optional
        What to cut it from.
    layers : tuple of LayerOrder
        Loose materials, the lowest layer first.
    fabric : FabricOrder, optional
    materials : tuple of Material
        The shopping list.
    hours : Hours
    money : Money, optional
        ``None`` where no price is given.
    steps : tuple of Step
        The order of work.
    notices : tuple of str
        What the user should know.
    """

    edge: EdgePlan | None
    cutting: CuttingList | None
    layers: tuple[LayerOrder, ...]
    fabric: FabricOrder | None
    materials: tuple[Material, ...]
    hours: Hours
    money: Money | None
    steps: tuple[Step, ...]
    notices: tuple[str, ...]


def build_plan(
    pad: Pad,
    finish: float,
    profiles: Sequence[EdgeProfile],
    work: Earthwork,
    soil: SoilAccount,
    *,
    options: BuildOptions,
    unit: LengthUnit,
    stakes: int = 0,
    haul: float | None = None,
    banks: Banks | None = None,
) -> BuildPlan:
    """Return what is built.

    Parameters
    ----------
    pad : Pad
    finish : float
        Finish level. [m]
    profiles : sequence of EdgeProfile
        The ground along each side.
    work : Earthwork
    soil : SoilAccount
    options : BuildOptions
    unit : LengthUnit
        Unit of the words, and of the steps that lengths are cut to.
    stakes : int
        How many are set out.
    haul : float, optional
        Mean way of a barrow load of soil, where it is known. [m]
    banks : Banks, optional
        Of a pad whose edge is a bank.
    """
    notices: list[str] = []
    edge: EdgePlan | None = None
    cutting: CuttingList | None = None
    if pad.edge.kind == "timber":
        section = section_named(pad.edge.beam, unit, flat=options.edge.flat)
        refused = no_frame_because(pad, profiles, finish, section, options.edge)
        if refused:
            notices.append(refused)
        else:
            lay = partial(
                edge_plan,
                profiles,
                top=finish,
                formation=work.formation,
                strip=pad.strip,
                section=section,
                options=options.edge,
                unit=unit,
                angles=corner_angles(pad.outline).tolist(),
            )
            edge, cutting = _cheapest_frame(lay, options, unit)
            notices.extend(edge.notices)
    layers, said = layer_orders(pad, work.formation, edge, options.stone, unit)
    notices.extend(said)
    fabric = fabric_order(pad, edge, options.fabric)
    if fabric is not None and not pad.is_rectangle:
        notices.append("The fabric is reckoned for the rectangle round the pad: cut off what lies beyond the outline.")
    materials = materials_for(edge, cutting, layers, fabric, options=options, unit=unit, banks=banks)
    unused = sorted(options.prices.keys() - {line.key for line in materials})
    if unused:
        known = ", ".join(line.key for line in materials if not line.key.startswith("timber-"))
        notices.append(f"No use for the price of {', '.join(unused)}: what is bought is {known or 'nothing'}.")
    factors = soil.factors
    trench = edge.trench_volume if edge else 0.0
    packed, spared = soil.packed_compacted.likely, soil.spared_compacted.likely
    carried = work.strip_volume + work.cut + trench - packed / factors.compacted_per_bank
    hours = hours_for(
        Quantities(
            stakes=stakes,
            strip=work.strip_volume,
            cut=work.cut,
            trench=trench,
            dug_loose=carried * factors.loose_per_bank,
            fill=max(work.fill - spared, 0.0),
            packed=packed,
            course_length=edge.timber_length if edge else 0.0,
            cuts=cutting.cuts if cutting else 0,
            fabric=fabric.cut if fabric else 0.0,
            stone=math.fsum(layer.compacted for layer in layers),
            stone_loose=math.fsum(layer.loose.likely for layer in layers),
            soil=soil.factors.kind,
            haul=haul,
        ),
        options.crew,
    )
    facts = WorkFacts(pad, finish, work, soil, edge, layers, fabric, options.stone, unit, banks)
    return BuildPlan(
        edge=edge,
        cutting=cutting,
        layers=layers,
        fabric=fabric,
        materials=materials,
        hours=hours,
        money=money_for(materials, hours, options),
        steps=order_of_work(facts),
        notices=tuple(dict.fromkeys(notices)),
    )


def _cheapest_frame(
    lay: Callable[..., EdgePlan], options: BuildOptions, unit: LengthUnit
) -> tuple[EdgePlan, CuttingList]:
    """Return the frame and its cutting list: laid out for each stock length as the longest, the best of them.

    Shorter timbers ask for more joints, and each joint uses up a lap; the exact list says which way is cheapest.

    Parameters
    ----------
    lay : callable
        Returns the frame for a longest timber.
    options : BuildOptions
    unit : LengthUnit
    """
    best: tuple[tuple[float, int, float], EdgePlan, CuttingList] | None = None
    lengths = {stock.length - options.trim for stock in options.stock}
    for longest in sorted((length for length in lengths if length > 2 * options.edge.lap), reverse=True):
        edge = lay(longest=longest)
        cutting = cutting_list(
            [(piece.mark, piece.length) for piece in edge.pieces],
            options.stock,
            section=edge.section.name,
            kerf=options.kerf,
            trim=options.trim,
            unit=unit,
        )
        rank = (round(cutting.value, 6), edge.joints, -longest)
        if best is None or rank < best[0]:
            best = (rank, edge, cutting)
    if best is None:
        raise InputError(
            Fault(
                "no timber is longer than two laps",
                f"each lap joint uses up {options.edge.lap:.3f} m of both timbers",
                "Name longer stock under [materials], or a shorter lap under [frame]",
            )
        )
    return best[1], best[2]
