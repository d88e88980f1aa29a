"""The one place that knows whether kernels can be compiled.

Where numba is missing, or the environment variable ``SPADEWORK_NO_COMPILE`` is set, `COMPILED` is false and the batched
numpy functions do the same work.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from functools import partial
from typing import Any, TypeVar

__all__ = ["COMPILED", "compiled", "compiled_inner", "compiled_part"]

Function = TypeVar("Function", bound=Callable[..., Any])

OPTIONS = {"nogil": True, "error_model": "numpy"}
OWN_PASSES_FOR = ("0.68.",)
"""Releases of numba that the passes of `_pipeline` were tested with; others compile in their own way, more slowly."""


def _numba_jit() -> Callable[..., Any] | None:
    if os.environ.get("SPADEWORK_NO_COMPILE", "") not in {"", "0"}:
        return None
    try:
        from numba import __version__, njit  # noqa: PLC0415 -- numba may be missing
    except ImportError:  # also what numba raises where it does not know the numpy it finds
        return None
    if not __version__.startswith(OWN_PASSES_FOR):
        return njit  # type: ignore[no-any-return, unused-ignore]
    try:
        from spadework.earthwork._pipeline import Pipeline  # noqa: PLC0415 -- needs numba
    except (ImportError, AttributeError):  # a release of numba that has not what it is made of
        return njit  # type: ignore[no-any-return, unused-ignore]
    return partial(njit, pipeline_class=Pipeline)


_JIT = _numba_jit()

COMPILED: bool = _JIT is not None
"""Whether `compiled` compiles."""


def compiled(function: Function) -> Function:
    """Compile a kernel that works on plain arrays, or leave it as it is where that cannot be done.

    The machine code is kept beside the module for later runs; where no folder can be written, it is made anew in each
    run. Compiled functions let go of the interpreter lock, so threads may run them side by side. The kept code knows
    only about changes of its own file: functions that call one another belong in one module.
    """
    if _JIT is None:
        return function
    try:
        return _JIT(cache=True, **OPTIONS)(function)  # type: ignore[no-any-return]
    except RuntimeError:  # no folder that could keep the code
        return _JIT(**OPTIONS)(function)  # type: ignore[no-any-return]


def compiled_part(function: Function) -> Function:
    """Compile a function that only compiled functions of its own module call.

    It is kept within them and cannot be called from outside, which saves a sixth of the time that compiling takes.
    """
    if _JIT is None:
        return function
    return _JIT(no_cpython_wrapper=True, no_cfunc_wrapper=True, **OPTIONS)(function)  # type: ignore[no-any-return]


def compiled_inner(function: Function) -> Function:
    """Compile a function as `compiled_part` does, that makes no arrays and returns none.

    It need not count who holds an array, which saves a tenth of the time again.
    """
    if _JIT is None:
        return function
    return _JIT(_nrt=False, no_cpython_wrapper=True, no_cfunc_wrapper=True, **OPTIONS)(function)  # type: ignore[no-any-return]
