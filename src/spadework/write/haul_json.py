"""Which soil goes where, for programs: the part of the plan's document about the haul."""

from __future__ import annotations

from typing import Any

from spadework.haul import Haul
from spadework.write.build_json import Units

__all__ = ["haul_document"]

Json = dict[str, Any]


def haul_document(haul: Haul | None, to: Units) -> Json | None:
    """Return the haul as plain values, or nothing where it was not worked out.

    Parameters
    ----------
    haul : Haul, optional
    to : Units
        The document's units.
    """
    if haul is None:
        return None

    def place(at: tuple[float, float]) -> Json:
        return {"east": to.length(at[0]), "north": to.length(at[1])}

    return {
        "barrow": to.volume(haul.barrow),
        "uphill": haul.uphill,
        "barrow_lengths": to.length(haul.barrow_metres),
        "least_barrow_lengths": to.length(haul.least_barrow_metres),
        "moves": [
            {
                "start": move.start,
                "end": move.end,
                "bank": to.volume(move.bank),
                "loose": to.volume(move.loose),
                "compacted": to.volume(move.compacted),
                "loads": move.loads,
                "distance": to.length(move.distance),
                "rise": to.length(move.rise),
                "start_at": place(move.start_at),
                "end_at": place(move.end_at),
            }
            for move in haul.moves
        ],
        "heaps": [
            {
                "name": heap.name,
                "east": to.length(heap.east),
                "north": to.length(heap.north),
                "radius": to.length(heap.radius),
                "height": to.length(heap.height),
                "loose": to.volume(heap.volume),
            }
            for heap in haul.heaps
        ],
        "without_room": list(haul.without_room),
    }
