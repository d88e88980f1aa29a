"""Write a folder of results whole or not at all.

New files are made complete beside the old ones, then change places with them. A manifest lists what was written, with
a hash of each file, so that a later run knows its own files from everybody else's. If anything fails, or the machine
stops, the old files come back: at once, or at the start of the next run.
"""

from __future__ import annotations

import hashlib
import json
import os
import shutil
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from spadework.errors import Fault, InputError, Source, SpadeworkError
from spadework.write.lock import LOCK, lock_folder

__all__ = ["MANIFEST", "check_folder", "write_folder"]

MANIFEST = ".spadework-files"
STAGED, KEPT, DONE = ".spadework-new", ".spadework-old", ".spadework-done"
JOURNAL = "journal.json"
OURS = {MANIFEST, STAGED, KEPT, DONE, LOCK}
NOISE = {".ds_store", "thumbs.db", "desktop.ini", ".directory"}  # dropped by file browsers; left where they are
MOST_NAMED = 8


def write_folder(folder: Path, files: Mapping[str, bytes]) -> None:
    """Write all files into a folder, or leave it as it was.

    Parameters
    ----------
    folder : Path
        Made if it is not there. If it is, it may hold only files that an earlier run wrote and nobody has changed;
        those that are not written again are taken away.
    files : mapping of str to bytes
        Plain file names and contents.

    Raises
    ------
    InputError
        When the folder holds something else, is not a folder, or is being written into by another run.
    SpadeworkError
        When writing fails; what was there before is still in place.
    """
    faulty = [name for name in files if not _is_plain(name)]
    if faulty:
        raise ValueError(f"not plain file names: {', '.join(faulty)}")
    if folder.exists() and not folder.is_dir():
        raise InputError(
            Fault("it is a file", "results go into a folder", "give the name of a folder", Source(str(folder)))
        )
    made = _make(folder)
    try:
        with lock_folder(folder):
            _recover(folder)
            _swap(folder, files, _ours(folder))
    except OSError as error:
        raise SpadeworkError(_failure(folder, error)) from error
    finally:
        with suppress(OSError):  # a folder with something in it stays
            for path in made:
                path.rmdir()


def check_folder(folder: Path) -> tuple[str, ...]:
    """Return the names of the files in a folder that an earlier run wrote; refuse when there is anything else.

    Parameters
    ----------
    folder : Path
        May be missing or empty.

    Returns
    -------
    tuple of str
        Names in the manifest that are still there.

    Raises
    ------
    InputError
        Naming every file that was not written by an earlier run, or was changed since.
    """
    if not folder.is_dir():
        return ()
    if any((folder / name).exists() for name in (STAGED, KEPT, DONE)):
        with lock_folder(folder):
            _recover(folder)
    return _ours(folder)


def _ours(folder: Path) -> tuple[str, ...]:
    """Return the names that an earlier run wrote, or raise every fault of the folder."""
    hashes = _read_manifest(folder)
    faults = [_foreign(folder, [path.name for path in _others(folder, hashes)])]
    faults += [
        Fault(
            "it was changed after it was written",
            "a run replaces only its own files",
            "keep it under another name in another folder, or give another folder for the results",
            Source(str(folder / name)),
        )
        for name, expected in hashes.items()
        if (folder / name).exists() and _hash((folder / name).read_bytes()) != expected
    ]
    found = [fault for fault in faults if fault is not None]
    if found:
        raise InputError(found)
    return tuple(name for name in hashes if (folder / name).exists())


def _others(folder: Path, hashes: Mapping[str, str]) -> list[Path]:
    """Return what stands in the folder and is neither ours nor a file browser's; a link or folder is never ours."""
    return sorted(
        path
        for path in folder.iterdir()
        if path.name not in OURS
        and path.name.casefold() not in NOISE
        and not (path.name in hashes and path.is_file() and not path.is_symlink())
    )


def _foreign(folder: Path, names: list[str]) -> Fault | None:
    """Return the fault of a folder that holds somebody else's files."""
    if not names:
        return None
    more = f" and {len(names) - MOST_NAMED} more" if len(names) > MOST_NAMED else ""
    return Fault(
        f"the folder holds files that were not written here: {', '.join(names[:MOST_NAMED])}{more}",
        "results go into a new or empty folder, or over earlier results",
        f"move them away, or give another folder, such as {folder / 'plan'}",
        Source(str(folder)),
    )


def _read_manifest(folder: Path) -> dict[str, str]:
    """Return the hash of each file that an earlier run wrote."""
    path = folder / MANIFEST
    if not path.exists():
        return {}
    try:
        hashes = dict(json.loads(path.read_text(encoding="utf-8"))["files"])
    except (ValueError, KeyError, TypeError):
        hashes = {"": "unreadable"}
    if not all(_is_plain(name) for name in hashes):
        raise InputError(
            Fault(
                "the list of files written here cannot be read",
                "without it nobody can tell results from other files",
                "give another folder, or take this one away yourself if nothing in it is needed",
                Source(str(path)),
            )
        )
    return hashes


def _swap(folder: Path, files: Mapping[str, bytes], old: tuple[str, ...]) -> None:
    """Make the new files complete, then let them change places with the old; on any failure put the old back."""
    staged, kept = folder / STAGED, folder / KEPT
    hashes = {name: _hash(content) for name, content in files.items()}
    manifest = json.dumps({"written-by": "spadework", "files": hashes}, indent=1).encode()
    try:
        staged.mkdir()
        for name, content in {**files, MANIFEST: manifest}.items():
            _write(staged / name, content)
        kept.mkdir()
        before = [*old, MANIFEST] if (folder / MANIFEST).exists() else list(old)
        _write(kept / JOURNAL, json.dumps({"old": before, "new": [*files, MANIFEST]}).encode())
        for name in before:
            os.replace(folder / name, kept / name)  # noqa: PTH105 - one system call, told apart in tests
        for name in (*files, MANIFEST):
            os.replace(staged / name, folder / name)  # noqa: PTH105 - the same
        _settle(folder)
        kept.rename(folder / DONE)
    except BaseException:
        _recover(folder)
        raise
    for name in (DONE, STAGED):  # what cannot be cleared away now is cleared by the next run
        shutil.rmtree(folder / name, ignore_errors=True)


def _recover(folder: Path) -> None:
    """Undo a swap that did not come to its end, and clear away what it left. May itself be cut short and repeated."""
    kept = folder / KEPT
    if (kept / JOURNAL).exists():
        journal = _Journal.read(kept / JOURNAL)
        for name in journal.new:
            if name not in journal.old:
                (folder / name).unlink(missing_ok=True)
        for name in journal.old:
            if (kept / name).exists():
                os.replace(kept / name, folder / name)  # noqa: PTH105 - one system call, told apart in tests
        _settle(folder)
    for name in (KEPT, STAGED, DONE):
        if (folder / name).is_dir():
            shutil.rmtree(folder / name)


@dataclass(frozen=True, slots=True)
class _Journal:
    """Names that a swap takes away and names that it brings."""

    old: tuple[str, ...]
    new: tuple[str, ...]

    @classmethod
    def read(cls, path: Path) -> _Journal:
        """Return the journal; one that was cut short in writing was written before anything had moved."""
        try:
            entries = json.loads(path.read_text(encoding="utf-8"))
        except ValueError:
            return cls((), ())
        return cls(tuple(filter(_is_plain, entries["old"])), tuple(filter(_is_plain, entries["new"])))


def _make(folder: Path) -> list[Path]:
    """Make a folder and return what had to be made, the innermost first."""
    missing = [path for path in (folder, *folder.parents) if not path.exists()]
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise InputError(
            Fault(
                f"the folder cannot be made ({error.strerror})",
                "results go into a folder that may be written",
                "give another folder",
                Source(str(folder)),
            )
        ) from error
    return missing


def _write(path: Path, content: bytes) -> None:
    """Write one file through to the disk."""
    with path.open("wb") as stream:
        stream.write(content)
        stream.flush()
        os.fsync(stream.fileno())


def _settle(folder: Path) -> None:
    """Have the folder's list of names written through to the disk, where the system can do that."""
    if hasattr(os, "O_DIRECTORY"):
        handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _failure(folder: Path, error: OSError) -> str:
    """Return what to say when writing failed."""
    reason = error.strerror or str(error)
    if (folder / KEPT).exists():
        return (
            f"{folder}: the results could not be written ({reason}), nor the earlier ones put back: they are whole in "
            f"{folder / KEPT}. Mend the cause and run again, which puts them back first."
        )
    return (
        f"{folder}: the results could not be written ({reason}). Nothing was changed: what was there before is still "
        "in place. Mend the cause, or give another folder."
    )


def _is_plain(name: object) -> bool:
    """Return whether a name is one plain file name, and none of our own working names."""
    return (
        isinstance(name, str)
        and (name == MANIFEST or name not in OURS)
        and name not in {"", ".", ".."}
        and not set(name) & set("/\\:\0")
    )


def _hash(content: bytes) -> str:
    """Return the fingerprint of a file's content."""
    return hashlib.sha256(content).hexdigest()
