"""Rules of a site file between a pad whose edge is a bank and what is asked of it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import Any

from spadework.errors import Fault, Source

__all__ = ["bank_faults"]

Written = Mapping[str, Any]
NOT_WITH_BANKS = {
    "wall": (
        "counts the height of the edge",
        "a bank has no edge that shows: its sides run out to the ground",
        'Choose another, such as "digging" or "cost"; or give the pad a retained edge',
    ),
    "moved": (
        "counts barrowing",
        "barrowing is made least for vertical sides; with banks it is told for the spot chosen",
        'Choose another, such as "digging" or "hours"; or give the pad a retained edge',
    ),
}


def bank_faults(written: Written, source: Callable[[tuple[str | int, ...]], Source]) -> Iterator[Fault]:
    """Yield a fault for each goal and limit that a pad with banks cannot have.

    Parameters
    ----------
    written : mapping
        The site file as it is written.
    source : callable
        Returns file and line of a key.
    """
    goal = _table(written, "goal")
    if _table(_table(written, "pad"), "edge").get("kind") != "bank":
        return
    least = goal.get("least")
    asked = [least] if isinstance(least, str) else list(least) if isinstance(least, Mapping) else []
    words = [str(word).strip().casefold() for word in asked]
    for word, (what, rule, remedy) in NOT_WITH_BANKS.items():
        if word in words:
            path = ("goal", "least") if isinstance(least, str) else ("goal", "least", asked[words.index(word)])
            yield Fault(
                f'[goal] least has "{word}", which {what}, and [pad] edge is a bank', rule, remedy, source(path)
            )
    if "cost" in words and "wall" in _table(goal, "prices"):
        what, rule, _ = NOT_WITH_BANKS["wall"]
        remedy = "Take that price out, or give the pad a retained edge"
        where = source(("goal", "prices", "wall"))
        yield Fault(f"[goal] prices has wall, which {what}, and [pad] edge is a bank", rule, remedy, where)
    if "exposed-edge" in _table(goal, "limits"):
        yield Fault(
            "[goal] limits has exposed-edge, and [pad] edge is a bank",
            "it limits the height of an edge with vertical sides; beside a bank none shows",
            "Take it out; fill-depth limits how high the pad may stand above the ground under it, cut-depth how deep",
            source(("goal", "limits", "exposed-edge")),
        )


def _table(written: Written, key: str) -> Written:
    """Return a table within another, empty where it is missing or is none."""
    inner = written.get(key)
    return inner if isinstance(inner, Mapping) else {}
