"""How kernels are compiled: numba's own passes, less what kernels have no use for and what it does over and over.

The first run on a machine waits for the compiler, more than half of whose time is numba's own and not LLVM's. Three
things are left out, none of which changes what a kernel computes:

* passes that look for what no kernel holds: closures, and sums of whole arrays to be fused;
* machine code for functions that only other compiled functions call: they are linked into their callers as they are and
  optimised there, once, instead of on their own and again in every caller;
* types that were worked out already: numba asks what ``+`` of two numbers is at each place and in each round.

It rests on what numba's manual offers for compilers of one's own, and on names inside its compiler. `_compile` says
with which releases it was tested; any other compiles in its own way.
"""

# mypy: disable-error-code="no-untyped-call, method-assign, assignment, attr-defined, misc, no-any-unimported"

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from numba import _dynfunc
from numba.core import typed_passes, untyped_passes
from numba.core.codegen import JITCodeLibrary
from numba.core.compiler import CompilerBase, DefaultPassBuilder
from numba.core.compiler_machinery import PassManager, register_pass
from numba.core.targetconfig import ConfigStack
from numba.core.types.functions import BaseFunction

__all__ = ["Pipeline"]

UNUSED = (untyped_passes.InlineClosureLikes, typed_passes.NopythonRewrites)
"""Passes that kernels have no use for."""


class _Part(JITCodeLibrary):
    """Code of a function that compiled functions call: never optimised nor made machine code of by itself."""

    def _optimize_functions(self, ll_module: Any) -> None:
        ll_module.data_layout = self._codegen._data_layout  # noqa: SLF001 -- as numba does

    def finalize(self) -> None:
        """Leave the code as it is, to be linked."""
        self._raise_if_finalized()
        self._finalized = True


class _Whole(JITCodeLibrary):
    """Code of a kernel, with that of its parts and of theirs."""

    def finalize(self) -> None:
        """Link the parts of the parts too, optimise all of it, make machine code."""
        held = self._linking_libraries
        for library in held:  # grows while it is walked through
            if isinstance(library, _Part):
                held.extend(each for each in library._linking_libraries if each not in held)  # noqa: SLF001 -- of our kind
        super().finalize()


_types_known: dict[tuple[Any, ...], Any] = {}
_flags_in_words: dict[int, tuple[Any, str]] = {}


def _words_of(flags: Any) -> str:
    """Return flags as text, worked out once for each: they are slow to compare."""
    held = _flags_in_words.get(id(flags))
    if held is None:
        held = _flags_in_words[id(flags)] = (flags, "" if flags is None else flags.summary())
    return held[1]


@contextmanager
def _types_remembered() -> Iterator[None]:
    """Remember what built-in functions return for which types, while numba holds its lock for compiling."""
    find = BaseFunction.get_call_type
    if find.__name__ == "remembered":  # within the pass of another function
        yield
        return

    def remembered(function: Any, context: Any, places: Any, named: Any) -> Any:
        if named:
            return find(function, context, places, named)
        key = (function, context, tuple(places), _words_of(ConfigStack.top_or_none()))
        known = _types_known.get(key)
        if known is None:
            known = _types_known[key] = find(function, context, places, named)
        return known

    BaseFunction.get_call_type = remembered
    try:
        yield
    finally:
        BaseFunction.get_call_type = find


@register_pass(mutates_CFG=True, analysis_only=False)
class _Typing(typed_passes.NopythonTypeInference):
    """Find the types."""

    _name = "spadework_typing"

    def run_pass(self, state: Any) -> bool:
        """Find the types, those of built-in functions once."""
        with _types_remembered():
            return bool(super().run_pass(state))


@register_pass(mutates_CFG=True, analysis_only=False)
class _Lowering(typed_passes.NativeLowering):
    """Lower a function to code that is finished only where Python is to call it."""

    _name = "spadework_lowering"

    def run_pass(self, state: Any) -> bool:
        """Lower."""
        flags = state.flags
        part = flags.no_cpython_wrapper and flags.no_cfunc_wrapper
        state.library = (_Part if part else _Whole)(state.targetctx.codegen(), state.func_id.func_qualname)
        state.library.enable_object_caching()
        state.flags = flags.copy()
        state.flags.no_compile = part
        with _types_remembered():
            super().run_pass(state)
        state.flags = flags
        if part:
            # What stands for the function where it is called: without a wrapper Python has nothing to call.
            made = state["cr"]
            stands = _dynfunc.make_function(
                made.fndesc.lookup_module(), state.func_id.func_name, "part of a kernel", 0, made.env, (state.library,)
            )
            state.targetctx.insert_user_function(stands, made.fndesc, [state.library])
            state["cr"] = made._replace(cfunc=stands)
        return True


class Pipeline(CompilerBase):
    """The passes of numba's compiler for kernels."""

    def define_pipelines(self) -> list[PassManager]:
        """Return numba's own passes, some left out and two replaced."""
        manager = PassManager("spadework")
        instead = {typed_passes.NativeLowering: _Lowering, typed_passes.NopythonTypeInference: _Typing}
        for each, words in DefaultPassBuilder.define_nopython_pipeline(self.state).passes:
            if each not in UNUSED:
                manager.add_pass(instead.get(each, each), words)
        manager.finalize()
        return [manager]
