"""Which soil goes where: from the cells that are cut to those that are filled, with least barrowing."""

from __future__ import annotations

from spadework.haul.carrier import YardCarrier
from spadework.haul.cells import Cells, soil_cells
from spadework.haul.heaps import Heap, find_heaps
from spadework.haul.moves import Haul, Move, plan_haul
from spadework.haul.transport import TransportPlan, least_transport
from spadework.haul.ways import UPHILL, walking_distances

__all__ = [
    "UPHILL",
    "Cells",
    "Haul",
    "Heap",
    "Move",
    "TransportPlan",
    "YardCarrier",
    "find_heaps",
    "least_transport",
    "plan_haul",
    "soil_cells",
    "walking_distances",
]
