"""From angles, distances, strings and ties to east, north and level: pure geometry, no files and no printing."""

from __future__ import annotations

from spadework.positions.baseline import Baseline, LabelGrid
from spadework.positions.fit import PlaneFit, fit_positions
from spadework.positions.grid_labels import GridLabel, StationLabel, read_label
from spadework.positions.places import KnownPlace, known_places
from spadework.positions.polar import bearing_and_distance, intersect_bearings, polar
from spadework.positions.radial import reduce_radial
from spadework.positions.slope_walk import reduce_slope_walk, slope_parts
from spadework.positions.stadia import ThreeWires, stadia_parts, three_wires
from spadework.positions.string_lines import StringLine, reduce_string_lines
from spadework.positions.tape import Tape
from spadework.positions.ties import TiedPoint, place_by_ties, place_by_two_ties, reduce_ties

__all__ = [
    "Baseline",
    "GridLabel",
    "KnownPlace",
    "LabelGrid",
    "PlaneFit",
    "StationLabel",
    "StringLine",
    "Tape",
    "ThreeWires",
    "TiedPoint",
    "bearing_and_distance",
    "fit_positions",
    "intersect_bearings",
    "known_places",
    "place_by_ties",
    "place_by_two_ties",
    "polar",
    "read_label",
    "reduce_radial",
    "reduce_slope_walk",
    "reduce_string_lines",
    "reduce_ties",
    "slope_parts",
    "stadia_parts",
    "three_wires",
]
