"""All that a check writes, by name, and the folder that takes it whole or not at all."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from spadework.fieldcheck import FieldCheck
from spadework.write.check_json import check_bytes
from spadework.write.check_table import check_table
from spadework.write.folder import write_folder

__all__ = ["check_files", "write_check"]


def check_files(
    checks: Sequence[FieldCheck], notices: Sequence[str] = (), overrides: Sequence[str] = ()
) -> dict[str, bytes]:
    """Return every file of a check.

    Parameters
    ----------
    checks : sequence of FieldCheck
        In the order in which they were made; the last is the one that is drawn and listed.
    notices, overrides : sequence of str
        What the user should know; rules that were set aside.

    Returns
    -------
    dict of str to bytes
        Contents by file name. The same check gives the same bytes.
    """
    from spadework.write.canvas import png_bytes, svg_bytes  # noqa: PLC0415 -- the same
    from spadework.write.check_drawing import check_page  # noqa: PLC0415 -- matplotlib takes long to import

    page = check_page(checks, overrides)
    return {
        "check.json": check_bytes(checks, notices, overrides),
        "check.csv": check_table(checks[-1]),
        "check.svg": svg_bytes(page, "check"),
        "check.png": png_bytes(page),
    }


def write_check(
    checks: Sequence[FieldCheck], folder: Path, notices: Sequence[str] = (), overrides: Sequence[str] = ()
) -> tuple[Path, ...]:
    """Write a check into a folder, whole or not at all.

    Parameters
    ----------
    checks : sequence of FieldCheck
        In the order in which they were made.
    folder : Path
        New, empty, or holding an earlier check that nobody has changed.
    notices, overrides : sequence of str
        What the user should know; rules that were set aside.

    Returns
    -------
    tuple of Path
        What was written.

    Raises
    ------
    InputError
        When the folder holds anything else; nothing is written then.
    """
    contents = check_files(checks, notices, overrides)
    write_folder(folder, contents)
    return tuple(folder / name for name in contents)
