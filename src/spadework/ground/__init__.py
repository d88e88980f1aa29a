"""The surface that the shots describe: plane triangles, and nothing outside them."""

from spadework.ground.breaklines import Breakline
from spadework.ground.checks import check_shots
from spadework.ground.index import BucketIndex
from spadework.ground.raster import raster_ground
from spadework.ground.surface import Ground, MeanPlane
from spadework.ground.triangulate import triangulate_shots

__all__ = ["Breakline", "BucketIndex", "Ground", "MeanPlane", "check_shots", "raster_ground", "triangulate_shots"]
