"""The pictures of the ground: the files by name, and the folder that takes them whole or not at all."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from spadework.write.folder import write_folder

if TYPE_CHECKING:
    from spadework.write.ground_picture import GroundPicture

__all__ = ["ground_files", "write_ground"]


def ground_files(picture: GroundPicture) -> dict[str, bytes]:
    """Return the pictures of a ground: the map and the view in perspective, for a page and for a screen.

    Parameters
    ----------
    picture : GroundPicture
        What they show.
    """
    from spadework.write.canvas import png_bytes, svg_bytes  # noqa: PLC0415 - bring the drawing library with them
    from spadework.write.ground_picture import ground_page  # noqa: PLC0415
    from spadework.write.perspective import perspective_page  # noqa: PLC0415

    page, view = ground_page(picture), perspective_page(picture)
    return {
        "ground.svg": svg_bytes(page, "ground"),
        "ground.png": png_bytes(page),
        "perspective.svg": svg_bytes(view, "perspective"),
        "perspective.png": png_bytes(view),
    }


def write_ground(picture: GroundPicture, folder: Path) -> tuple[Path, ...]:
    """Write the pictures of a ground into a folder, whole or not at all.

    Parameters
    ----------
    picture : GroundPicture
        What they show.
    folder : Path
        New, empty, or holding earlier results that nobody has changed.

    Raises
    ------
    InputError
        When the folder holds anything else; nothing is written then.
    """
    contents = ground_files(picture)
    write_folder(folder, contents)
    return tuple(folder / name for name in contents)
