"""A lock on a results folder, so that two runs never write into it at once.

The operating system lets go of it when a run ends, however it ends, so there is no stale lock to clear by hand.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from spadework.errors import Fault, InputError, Source

__all__ = ["LOCK", "lock_folder"]

LOCK = ".spadework-lock"


@contextmanager
def lock_folder(folder: Path) -> Iterator[None]:
    """Hold the lock of a folder that exists.

    Parameters
    ----------
    folder : Path
        Folder that is going to be written into.

    Raises
    ------
    InputError
        When another run holds it.
    """
    path = folder / LOCK
    handle = os.open(path, os.O_RDWR | os.O_CREAT | getattr(os, "O_NOFOLLOW", 0), 0o644)
    try:
        # The file that was locked may be the one that an earlier run has just taken away: then it guards nothing.
        if not (_grab(handle) and path.exists() and path.stat().st_ino == os.fstat(handle).st_ino):
            raise InputError(
                Fault(
                    "another run is writing into this folder",
                    "one run writes into a folder at a time",
                    "wait until it has finished, or give another folder",
                    Source(str(folder)),
                )
            )
        try:
            yield
        finally:
            if sys.platform != "win32":  # an open file cannot be taken away there; it is taken away below
                path.unlink(missing_ok=True)
    finally:
        os.close(handle)
    if sys.platform == "win32":
        path.unlink(missing_ok=True)


def _grab(handle: int) -> bool:
    """Return whether the lock was free and is now ours."""
    try:
        if sys.platform == "win32":
            import msvcrt  # noqa: PLC0415 - only there on Windows

            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
        else:
            import fcntl  # noqa: PLC0415 - not there on Windows

            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        return False
    return True
