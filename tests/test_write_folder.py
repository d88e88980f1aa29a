"""Results are written whole or not at all, and never over somebody else's files."""

from __future__ import annotations

import errno
import json
import os
import signal
import subprocess
import sys
import textwrap
from pathlib import Path

import pytest

from spadework.errors import InputError, SpadeworkError
from spadework.write import folder as folder_module
from spadework.write.folder import MANIFEST, check_folder, write_folder
from spadework.write.lock import lock_folder

OLD = {"plan.json": b"old plan", "stakes.csv": b"old stakes", "gone.csv": b"old only"}
NEW = {"plan.json": b"new plan", "stakes.csv": b"new stakes", "yard.svg": b"new drawing"}


def contents(folder: Path) -> dict[str, bytes]:
    """Everything in the folder but the manifest."""
    return {path.name: path.read_bytes() for path in folder.iterdir() if path.name != MANIFEST}


def test_write_folder_makes_it_when_missing(tmp_path: Path) -> None:
    """A folder that is not there is made, with exactly the files given and a manifest."""
    target = tmp_path / "deep" / "plan"
    write_folder(target, NEW)
    assert contents(target) == NEW
    assert (target / MANIFEST).is_file()


def test_write_folder_replaces_its_own_when_run_again(tmp_path: Path) -> None:
    """A second run replaces the first: new files come, old-only files go, nothing else is left behind."""
    write_folder(tmp_path, OLD)
    write_folder(tmp_path, NEW)
    assert contents(tmp_path) == NEW


def test_write_folder_refuses_when_foreign_files_stand_there(tmp_path: Path) -> None:
    """Every foreign file is named, nothing is written and nothing is taken away."""
    (tmp_path / "holiday.jpg").write_bytes(b"photo")
    (tmp_path / "stakes.csv").write_bytes(b"mine")
    (tmp_path / "sub").mkdir()
    with pytest.raises(InputError) as caught:
        write_folder(tmp_path, NEW)
    message = str(caught.value)
    assert "holiday.jpg" in message
    assert "stakes.csv" in message
    assert "sub" in message
    assert sorted(path.name for path in tmp_path.iterdir()) == ["holiday.jpg", "stakes.csv", "sub"]
    assert (tmp_path / "stakes.csv").read_bytes() == b"mine"


def test_write_folder_refuses_when_foreign_file_joined_results(tmp_path: Path) -> None:
    """A file of somebody else among earlier results stops the next run, and the earlier results stay."""
    write_folder(tmp_path, OLD)
    (tmp_path / "notes.txt").write_text("remember the gate")
    with pytest.raises(InputError, match=r"notes\.txt"):
        write_folder(tmp_path, NEW)
    assert contents(tmp_path) == {**OLD, "notes.txt": b"remember the gate"}


def test_write_folder_refuses_when_a_result_was_edited(tmp_path: Path) -> None:
    """A result that somebody has written into since is not overwritten, and the message names it."""
    write_folder(tmp_path, OLD)
    (tmp_path / "stakes.csv").write_bytes(b"old stakes, with my pencil notes")
    with pytest.raises(InputError, match=r"stakes\.csv.*changed after it was written"):
        write_folder(tmp_path, NEW)
    assert (tmp_path / "stakes.csv").read_bytes() == b"old stakes, with my pencil notes"


def test_write_folder_goes_on_when_a_result_was_deleted_or_a_file_browser_left_a_mark(tmp_path: Path) -> None:
    """A deleted result is no obstacle, nor what file browsers drop, which stays."""
    write_folder(tmp_path, OLD)
    (tmp_path / "plan.json").unlink()
    (tmp_path / ".DS_Store").write_bytes(b"icons")
    write_folder(tmp_path, NEW)
    assert contents(tmp_path) == {**NEW, ".DS_Store": b"icons"}


def test_write_folder_refuses_when_it_is_a_file(tmp_path: Path) -> None:
    """The name of a file is refused, and the file stays."""
    target = tmp_path / "plan"
    target.write_text("a file")
    with pytest.raises(InputError, match="it is a file"):
        write_folder(target, NEW)
    assert target.read_text() == "a file"


def test_write_folder_refuses_when_a_result_is_a_link(tmp_path: Path) -> None:
    """A link in the place of a result is foreign: what it points to is not touched."""
    write_folder(tmp_path / "plan", OLD)
    precious = tmp_path / "precious"
    precious.write_bytes(OLD["plan.json"])
    (tmp_path / "plan" / "plan.json").unlink()
    (tmp_path / "plan" / "plan.json").symlink_to(precious)
    with pytest.raises(InputError, match=r"plan\.json"):
        write_folder(tmp_path / "plan", NEW)
    assert precious.read_bytes() == OLD["plan.json"]


@pytest.mark.parametrize("text", ["{", "[]", '{"files": {"../escape": "00"}}', '{"files": 3}'])
def test_write_folder_refuses_when_manifest_is_broken(tmp_path: Path, text: str) -> None:
    """A manifest that cannot be trusted is not acted on."""
    (tmp_path / MANIFEST).write_text(text)
    with pytest.raises(InputError, match="cannot be read"):
        write_folder(tmp_path, NEW)
    assert [path.name for path in tmp_path.iterdir()] == [MANIFEST]


@pytest.mark.parametrize("name", ["../out.csv", "a/b.csv", "", ".spadework-new"])
def test_write_folder_refuses_when_name_is_not_plain(tmp_path: Path, name: str) -> None:
    """A file name never leads out of the folder."""
    with pytest.raises(ValueError, match="plain"):
        write_folder(tmp_path, {name: b""})


def calls_in_a_whole_run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, function: str) -> int:
    """How often a run over earlier results calls one of the system's functions."""
    target = tmp_path / "count"
    write_folder(target, OLD)
    count = 0
    real = getattr(os, function)

    def counting(*args: object, **options: object) -> object:
        nonlocal count
        count += 1
        return real(*args, **options)

    with monkeypatch.context() as patched:
        patched.setattr(folder_module.os, function, counting)
        write_folder(target, NEW)
    return count


@pytest.mark.parametrize("function", ["replace", "fsync"])
def test_write_folder_leaves_old_results_when_any_step_fails(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, function: str
) -> None:
    """Whichever rename or flush fails, the old results are in place afterwards and a later run succeeds."""
    steps = calls_in_a_whole_run(tmp_path, monkeypatch, function)
    assert steps >= 5
    for failing in range(1, steps + 1):
        target = tmp_path / f"{function}{failing}"
        write_folder(target, OLD)
        count = 0
        real = getattr(os, function)

        def broken(*args: object, at: int = failing, call: object = real, **options: object) -> object:
            nonlocal count
            count += 1
            if count == at:
                raise OSError(errno.ENOSPC, "No space left on device")
            return call(*args, **options)

        with monkeypatch.context() as patched:
            patched.setattr(folder_module.os, function, broken)
            with pytest.raises(SpadeworkError, match="No space left on device"):
                write_folder(target, NEW)
        assert contents(target) == OLD, f"failed at {function} {failing} of {steps}"
        write_folder(target, NEW)
        assert contents(target) == NEW


def test_write_folder_takes_the_folder_away_when_the_first_run_fails(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A run that fails into a new folder leaves no folder."""

    def full(*args: object) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(folder_module.os, "fsync", full)
    with pytest.raises(SpadeworkError, match="Nothing was changed"):
        write_folder(tmp_path / "deep" / "plan", NEW)
    assert list(tmp_path.iterdir()) == []


def killed_run(target: Path, at: int) -> int:
    """Run in a process of its own that kills itself before its ``at``-th rename; return how it ended."""
    program = f"""
    import os, signal
    from pathlib import Path
    from spadework.write import folder
    count, real = 0, os.replace
    def replace(*args):
        global count
        count += 1
        if count == {at}:
            os.kill(os.getpid(), signal.SIGKILL)
        real(*args)
    folder.os.replace = replace
    folder.write_folder(Path({str(target)!r}), {NEW!r})
    """
    return subprocess.run([sys.executable, "-c", textwrap.dedent(program)], check=False).returncode


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="needs a signal that cannot be caught")
@pytest.mark.parametrize("at", [1, 3, 4, 5, 7, 8])
def test_write_folder_recovers_when_an_earlier_run_was_killed(tmp_path: Path, at: int) -> None:
    """After a kill in the middle of the swap, the next look at the folder finds the old results, whole."""
    write_folder(tmp_path, OLD)
    assert killed_run(tmp_path, at) == -signal.SIGKILL
    assert set(check_folder(tmp_path)) == set(OLD)
    assert {name: (tmp_path / name).read_bytes() for name in OLD} == OLD
    write_folder(tmp_path, NEW)
    assert contents(tmp_path) == NEW


def test_write_folder_refuses_when_another_run_holds_it(tmp_path: Path) -> None:
    """Two runs never write at once: the second is told so, and the results stay as they were."""
    write_folder(tmp_path, OLD)
    with lock_folder(tmp_path), pytest.raises(InputError, match="another run"):
        write_folder(tmp_path, NEW)
    assert contents(tmp_path) == OLD
    write_folder(tmp_path, NEW)
    assert contents(tmp_path) == NEW


def test_write_folder_writes_one_whole_set_when_runs_race(tmp_path: Path) -> None:
    """Of many runs at once each either writes its whole set or is refused."""
    program = """
    import sys
    from pathlib import Path
    from spadework.errors import InputError
    from spadework.write.folder import write_folder
    for turn in range(20):
        try:
            write_folder(Path(sys.argv[1]), {name: sys.argv[2].encode() * 1000 for name in ("a", "b", "c")})
        except InputError as error:
            assert "another run" in str(error), error
    """
    runs = [
        subprocess.Popen([sys.executable, "-c", textwrap.dedent(program), str(tmp_path), letter]) for letter in "PQRS"
    ]
    assert [run.wait() for run in runs] == [0, 0, 0, 0]
    found = contents(tmp_path)
    assert set(found) == {"a", "b", "c"}
    assert len(set(found.values())) == 1


def test_write_folder_refuses_when_it_may_not_write(tmp_path: Path) -> None:
    """A folder that cannot be made is refused with the reason."""
    (tmp_path / "file").write_text("")
    with pytest.raises(InputError, match="cannot be made"):
        write_folder(tmp_path / "file" / "plan", NEW)


def test_manifest_holds_a_hash_of_each_file(tmp_path: Path) -> None:
    """The manifest can be checked by anybody: SHA-256 of each file."""
    write_folder(tmp_path, {"empty.csv": b""})
    listed = json.loads((tmp_path / MANIFEST).read_text())["files"]
    # SHA-256 of the empty message, FIPS 180-4 example value
    assert listed == {"empty.csv": "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"}
