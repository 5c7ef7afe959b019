"""Compile inner loops with numba and cache the machine code on disk.

Importing this module imports numba; nothing in the package does so before a filling runs.
"""

from __future__ import annotations

import gc
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any, TypeVar, cast

import numba
from numba import types
from numba.core.typing.templates import Signature

from hingeleaf.fill.machine_code import FOLDER

Function = TypeVar("Function", bound=Callable[..., Any])

LIBERTIES = frozenset({"nnan", "ninf", "nsz"})
"""What the compiler may take for granted: no NaN, no infinity, no sign of a zero.

Sums are never rearranged nor fused with products: how it would do that hangs on which helpers it
inlines, and that on which of them came from disk. So a seed repeats to the last bit.
"""


def compiled(signature: str | Signature, *, inline: bool = False) -> Callable[[Function], Function]:
    """Compile at once for one signature, or read the machine code from disk if it is there.

    Where no folder can be written the code is compiled for this process only. `inline` marks
    helpers that only other compiled code calls.
    """
    options: dict[str, Any] = {"fastmath": set(LIBERTIES), "error_model": "numpy", "nogil": True}
    if inline:
        options |= {"no_cpython_wrapper": True, "no_cfunc_wrapper": True}

    def compile_function(function: Function) -> Function:
        with _our_cache(), _no_collection():
            try:
                result = numba.njit(signature, cache=True, **options)(function)
            except RuntimeError as error:
                if "no locator available" not in str(error):
                    raise
                result = numba.njit(signature, **options)(function)
        return cast(Function, result)

    return compile_function


def tuple_type(made: type, members: list[types.Type]) -> types.Type:
    """What a signature calls a named tuple with `members` of these types."""
    named: Any = types.NamedTuple
    result: types.Type = named(members, made)
    return result


@contextmanager
def _our_cache() -> Iterator[None]:
    """Keep machine code in the user's cache folder, by the sources it was made from.

    Left alone, numba notices a change in the module of a function, but not in one that its
    helpers or constants come from, and writes beside the installed package.
    """
    settings: Any = numba.config
    before = settings.CACHE_DIR
    if not before:
        settings.CACHE_DIR = str(FOLDER)
    try:
        yield
    finally:
        settings.CACHE_DIR = before


@contextmanager
def _no_collection() -> Iterator[None]:
    """Leave the garbage of compiling for later: looking for it takes a tenth of the time."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()
