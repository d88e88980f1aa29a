"""What a survey is: everything that was measured, reduced and laid into one set of axes."""

from __future__ import annotations

from dataclasses import dataclass, field

from spadework.confidence import GroundStudy
from spadework.ground import Ground
from spadework.ground.tied_raster import TiedRaster
from spadework.levels import ReducedLevels
from spadework.levels.net_book import ReducedNet
from spadework.placement import KeepOut
from spadework.positions.net_fit import PlaceFit
from spadework.read import Recognised
from spadework.read.outline import Mark
from spadework.readings import FloatArray
from spadework.shots import Shots
from spadework.survey_features import Features
from spadework.survey_places import Places

__all__ = ["Survey"]


@dataclass(frozen=True)
class Survey:
    """Everything that was measured, reduced and laid into one set of axes.

    Parameters
    ----------
    ground : Ground
        The surface.
    shots : Shots, optional
        All shots, also those that only mark a place or only have a level; ``None`` for a raster.
    levels : tuple of ReducedLevels
        The level books.
    boundary : tuple of array, shape (n, 2)
        Rings, the outer first; empty where the site has no boundary. [m]
    keep_outs : tuple of KeepOut
        What the pad keeps clear of.
    marks : tuple of Mark
        Named points of an outline file.
    bench : (str, float), optional
        Bench mark, or the level line, and its level. [m]
    crs : str
        Coordinate reference system of the axes; empty where there is none.
    sentences : tuple of str
        What each file was read as, and how its levels closed.
    notices, overrides : tuple of str
        What the user should know; rules that were set aside.
    coarse_levels : bool
        Whether any level comes from an instrument unfit for a pad.
    features : Features
        What the codes in the notes make of the shots.
    recognised : tuple of Recognised
        What each file was taken for, column by column.
    study : GroundStudy, optional
        What is known of how sure the ground is.
    unsure : str
        Why that is not known, where it is not.
    tied : TiedRaster, optional
        How a raster was tied to shots.
    net : PlaceFit, optional
        What was measured in plan between points, adjusted together.
    level_nets : tuple of ReducedNet
        Files of levelled lines, adjusted.
    """

    ground: Ground
    shots: Shots | None
    levels: tuple[ReducedLevels, ...]
    boundary: tuple[FloatArray, ...] = ()
    keep_outs: tuple[KeepOut, ...] = ()
    marks: tuple[Mark, ...] = ()
    bench: tuple[str, float] | None = None
    crs: str = ""
    sentences: tuple[str, ...] = ()
    notices: tuple[str, ...] = ()
    overrides: tuple[str, ...] = ()
    coarse_levels: bool = False
    study: GroundStudy | None = None
    unsure: str = ""
    places: Places = field(default_factory=lambda: Places(None), repr=False, compare=False)
    features: Features = field(default_factory=Features)
    recognised: tuple[Recognised, ...] = field(default=(), repr=False)
    tied: TiedRaster | None = None
    net: PlaceFit | None = None
    level_nets: tuple[ReducedNet, ...] = ()
