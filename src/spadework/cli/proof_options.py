"""When the proof may stop, as a user says it: by its gap, by time."""

from __future__ import annotations

import math
import sys
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import click

from spadework.errors import Fault, InputError, Source

if TYPE_CHECKING:
    from spadework.placement import ProofEffort

__all__ = ["proof_effort", "proof_options"]

LONGEST = 86_400.0
"""A day. [s]"""


def proof_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """Add ``--gap`` and ``--seconds`` to a command."""
    gap = click.option(
        "--gap",
        metavar="SHARE",
        help="Stop the proof once no spot can be better by more than this share, such as 0.1% (as an amount, half a "
        "litre for each tenth of a per cent, if that is more).  [default: 1%]",
    )
    seconds = click.option(
        "--seconds",
        metavar="SECONDS",
        help="Stop each proof after this time with what it has, instead of after a counted effort: another machine "
        "may then print another bound.",
    )
    return gap(seconds(command))


def proof_effort(gap: str | None, seconds: str | None) -> ProofEffort:
    """Return when a proof may stop.

    Parameters
    ----------
    gap : str, optional
        Share of the best value, ``"0.1%"`` or ``"0.001"``.
    seconds : str, optional
        Time.

    Raises
    ------
    InputError
        With every fault of the two.
    """
    from spadework.placement import ProofEffort

    usual, faults = ProofEffort(), []
    share, longest = usual.share, usual.seconds
    if gap is not None:
        text = gap.strip()
        share = _number(text.removesuffix("%")) / (100.0 if text.endswith("%") else 1.0)
        if not 0 < share < 1:
            faults.append(
                Fault(
                    f"--gap {gap} is no share",
                    rule="a gap is more than 0 and less than 100 %",
                    remedy="Give one such as 0.1% or 0.001",
                    source=Source("--gap"),
                    value=gap,
                )
            )
    if seconds is not None:
        longest = _number(seconds)
        if not 0 < longest <= LONGEST:
            faults.append(
                Fault(
                    f"--seconds {seconds} is no time",
                    rule=f"a proof runs for more than 0 and at most {LONGEST:,.0f} seconds",
                    remedy="Give a number such as 30",
                    source=Source("--seconds"),
                    value=seconds,
                )
            )
    if faults:
        raise InputError(faults)
    amount = usual.amount * min(share / usual.share, 1.0)
    return ProofEffort(share, amount, usual.work if seconds is None else sys.maxsize, longest)


def _number(text: str) -> float:
    """Return a number, or one that is none."""
    try:
        return float(text)
    except ValueError:
        return math.nan
