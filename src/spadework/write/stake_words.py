"""What an exported stake says of itself in one line: its mark, how deep to dig, its levels and its ties."""

from __future__ import annotations

import math

from spadework.plan import Plan
from spadework.stakeout import Stake, depth_mark
from spadework.units import format_length

__all__ = ["stake_words"]


def stake_words(stake: Stake, plan: Plan) -> str:
    """Return mark, depth, levels and ties of a stake in words.

    Parameters
    ----------
    stake : Stake
        The stake.
    plan : Plan
        Its plan.
    """

    def length(metres: float) -> str:
        return format_length(metres, plan.units)

    parts = []
    if stake.kind == "offset":
        parts.append(f"{length(stake.away)} beyond {stake.of} on the line {stake.line}")
    elif stake.kind == "side":
        parts.append(f"{length(stake.away)} from {stake.of} on the side {stake.line}")
    if math.isfinite(stake.ground_level):
        parts += [
            depth_mark(stake.depth, plan.units),
            f"dig {length(stake.dig)} in all",
            f"ground {length(stake.ground_level)}",
        ]
    parts += [f"formation {length(stake.formation)}", f"finish {length(stake.finish)}"]
    parts += [f"{length(tie.distance)} from {tie.reference}" for tie in stake.ties]
    if stake.third is not None:
        parts.append(f"{length(stake.third.distance)} from {stake.third.reference}")
    return "; ".join(parts)
