"""The banks in cells: how much is cut and filled in each, beyond the pad's edge."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import shapely

from spadework.earthwork import Banks, LevelRule, pad_levels_batch
from spadework.earthwork.bank_shape import BankShape, bank_shape
from spadework.ground import Ground
from spadework.haul.cells import Cells, cell_pieces
from spadework.pad import Pad, Placement
from spadework.readings import FloatArray

__all__ = ["with_banks"]

LEAST = 1e-6
"""A piece of less is rounding. [m²]"""


def with_banks(cells: Cells, ground: Ground, pad: Pad, placement: Placement, banks: Banks) -> Cells:
    """Return the cells of a pad and those of its banks.

    Each part of the plan beyond the pad is divided like the pad. Where the bank's plane is taken off the ground, the
    volumes of a piece are those of a pad with vertical sides, as they are for the part as a whole. Facets stand in for
    the cones of round corners; what they lack is shared out over all.

    Parameters
    ----------
    cells : Cells
        Those of the pad.
    ground, pad, placement
        The digging.
    banks : Banks
        Its banks.

    Returns
    -------
    Cells
        Their cuts and fills add up to those of pad and banks.
    """
    disturbed = shapely.Polygon(placement.to_pad(banks.outline))
    reach = float(shapely.hausdorff_distance(disturbed.exterior, shapely.LinearRing(pad.outline))) + cells.size
    shape = bank_shape(pad, reach, faceted=True)
    rows: list[tuple[FloatArray, float, float, float, float]] = []
    zones: list[str] = []
    for number in range(len(shape)):
        part = shapely.intersection(shapely.Polygon(shape.outline(number)), disturbed)
        if part.is_empty:
            continue
        lowered, raised = _grounds(ground, pad, placement, shape, number)
        zone = _zone(pad, shape, number)
        for ring in cell_pieces(part, cells.size):
            piece = shapely.Polygon(ring)
            if piece.area < LEAST:
                continue
            middle = np.asarray(piece.centroid.coords[0])
            block = Pad(ring - middle, pad.build_up, pad.strip)
            pose = np.append(placement.to_site(middle[None])[0], placement.bearing)[None]
            rule = LevelRule("fixed", finish=placement.finish)
            cut, fill = (pad_levels_batch(surface, block, pose, rule) for surface in (lowered, raised))
            dug, made_up = np.nan_to_num(float(cut.cut[0])), np.nan_to_num(float(fill.fill[0]))
            stripped = float(ground.level_at(pose[:, :2])[0]) - pad.strip
            # The plane of the bank at the middle of the piece: the ground less what was taken off it.
            off = stripped - (float(cut.ground_mean[0] if dug > made_up else fill.ground_mean[0]) - pad.strip)
            rows.append((middle, piece.area, dug, made_up, (stripped + placement.formation(pad) + off) / 2))
            zones.append(zone)
    if not rows:
        return cells
    centre = np.array([row[0] for row in rows])
    area, cut_there, fill_there, level = np.array([row[1:] for row in rows]).T
    zone_names = cells.zone or ("",) * len(cells)
    return Cells(
        centre=np.concatenate([cells.centre, centre]),
        area=np.concatenate([cells.area, area]),
        cut=np.concatenate([cells.cut, _scaled(cut_there, banks.cut)]),
        fill=np.concatenate([cells.fill, _scaled(fill_there, banks.fill)]),
        level=np.concatenate([cells.level, level]),
        size=cells.size,
        zone=(*zone_names, *zones),
    )


def _grounds(ground: Ground, pad: Pad, placement: Placement, shape: BankShape, number: int) -> tuple[Ground, Ground]:
    """Return the ground less the cut bank of a part, and the ground plus its fill bank: the index is shared."""
    local = Placement(
        placement.east - float(ground.origin[0]), placement.north - float(ground.origin[1]), placement.bearing, 0.0
    )
    far = shape.distance(number, local.to_pad(np.column_stack([ground.east, ground.north])))
    found = []
    for by in (-pad.edge.cut_slope * far, pad.edge.fill_slope * far):
        raised = replace(ground, level=ground.level + by)
        raised.__dict__["index"] = ground.index
        found.append(raised)
    return found[0], found[1]


def _zone(pad: Pad, shape: BankShape, number: int) -> str:
    """Return what the bank of a part is called."""
    names, owner = pad.names, int(shape.owner[number])
    if shape.corner[number]:
        return f"the bank round {names[owner]}"
    return f"the bank along {names[owner]}-{names[(owner + 1) % len(names)]}"


def _scaled(volume: FloatArray, total: float) -> FloatArray:
    """Return volumes that sum to a total: slivers at the rim are not cut out."""
    whole = float(volume.sum())
    return volume * (total / whole) if whole > 0 else volume
