"""A second process that makes the drawings while this one goes on: one process draws on one core only."""

from __future__ import annotations

import copyreg
import gc
import os
import pickle
import signal
from multiprocessing.connection import Connection
from types import MappingProxyType, TracebackType
from typing import TYPE_CHECKING, Self

if TYPE_CHECKING:
    from spadework.placement import SearchResult
    from spadework.plan import Plan

__all__ = ["SecondProcess"]

CORES = 2  # with fewer, two processes draw no faster than one


def frozen(table: dict[str, object]) -> MappingProxyType[str, object]:
    """Return a table that cannot be changed: as such it goes through a pipe."""
    return MappingProxyType(table)


copyreg.pickle(MappingProxyType, lambda table: (frozen, (dict(table),)))


class SecondProcess:
    """A process that gets ready while this one works, is handed a plan, and gives back the drawings.

    It only ever saves time: where it cannot be started, dies, or cannot take the plan, this process draws them.
    Started by the command line alone: a new process reads the main script again, which is harmless there and need not
    be in a script of somebody else.
    """

    def __init__(self) -> None:
        from multiprocessing import get_context  # noqa: PLC0415 - no other command needs it

        self._pipe: Connection | None = None
        self._given: SearchResult | None = None
        if (os.cpu_count() or 1) < CORES:
            return
        try:
            context = get_context("spawn")
            here, there = context.Pipe()
            self._process = context.Process(target=_draw_alone, args=(there,), daemon=True)
            self._process.start()
            there.close()
        except OSError:
            return
        self._pipe = here

    def hand_over(self, plan: Plan) -> None:
        """Let it draw a plan; one that it has already, but for its luck, is not drawn again."""
        if self._pipe is None or self._given is plan.search:
            return
        if self._given is not None:  # it is busy with another: this process draws all
            self._end()
            return
        self._given = plan.search
        try:
            self._pipe.send(plan)
        except (OSError, pickle.PicklingError, AttributeError, TypeError):
            self._end()

    def drawn(self) -> dict[str, bytes] | None:
        """Return what it has drawn, by file name; ``None`` where it has not."""
        if self._pipe is None:
            return None
        try:
            files: dict[str, bytes] | None = self._pipe.recv()
        except (OSError, EOFError):
            return None
        finally:
            self._end()
        return files

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._end()

    def _end(self) -> None:
        """Let go of it, at work or not."""
        if self._pipe is None:
            return
        self._pipe.close()
        self._pipe = None
        self._process.terminate()
        self._process.join()


def _draw_alone(pipe: Connection) -> None:
    """Do `draw_there` in a process that does nothing else, and lives too briefly to look for rings of garbage."""
    gc.disable()
    draw_there(pipe)


def draw_there(pipe: Connection) -> None:
    """Draw the plan that comes through a pipe and send the drawings back; nothing where that fails.

    Parameters
    ----------
    pipe : Connection
        Gives the plan, takes the files by name.
    """
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # an interruption is the first process's to report
    try:
        from spadework.write.drawings import yard_drawings  # noqa: PLC0415 - brings what takes long to import

        plan = pipe.recv()
        try:
            files = yard_drawings(plan)
        except Exception:  # noqa: BLE001 - whatever it is, the first process meets it too, and reports it
            files = None
        pipe.send(files)
    except (OSError, EOFError):
        return
