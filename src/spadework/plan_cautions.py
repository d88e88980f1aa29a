"""The numbers of a plan that raise cautions."""

from __future__ import annotations

from spadework.build import BuildPlan
from spadework.build.cautions import DigFacts
from spadework.earthwork import Banks, Earthwork
from spadework.pad import Pad
from spadework.placement import Limits

__all__ = ["dig_facts"]


def dig_facts(  # noqa: PLR0917 -- a plan's parts
    pad: Pad,
    limits: Limits,
    finish: float,
    volumes: Earthwork,
    built: BuildPlan,
    banks: Banks | None,
    *,
    coarse_levels: bool,
) -> DigFacts:
    """Return the numbers that raise cautions."""
    if banks is not None:
        return DigFacts(
            deepest_dig=max(volumes.deepest_cut + pad.strip, banks.cut_height + pad.strip, 0.0),
            exposed_edge=0.0,
            coarse_levels=coarse_levels,
            cut_height=banks.cut_height,
            fill_height=banks.fill_height,
        )
    edge = built.edge
    return DigFacts(
        # The trench of a frame goes deeper than the formation, and somebody kneels in it.
        deepest_dig=max(volumes.deepest_cut + pad.strip, 0.0 if edge is None else edge.deepest_foot, 0.0),
        exposed_edge=finish - volumes.edge_low,
        exposed_limit=limits.exposed_edge,
        embedment=0.0 if edge is None else edge.foot_depth,
        coarse_levels=coarse_levels,
        ground_above=max(volumes.edge_high - finish, 0.0),
        bars_below=0.0 if edge is None else edge.bars_below,
    )
