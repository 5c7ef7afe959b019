"""Compile inner loops with numba and cache the machine code on disk.

Importing this module imports numba; the package does so only when a filling runs.
"""

import gc
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from typing import Any, TypeVar, cast

import numba
from numba import types
from numba.core.typing.templates import Signature

from hingeleaf.fill.machine_code import FOLDER

Function = TypeVar("Function", bound=Callable[..., Any])

LIBERTIES = frozenset({"nnan", "ninf", "nsz"})
"""Floating-point assumptions of the compiler: no NaN, no infinity, no sign of zero.

Sums are never rearranged or fused with products: that would depend on which helpers are inlined,
and thus on which of them came from the cache. So a seed repeats to the last bit.
"""


def compiled(signature: str | Signature, *, inline: bool = False) -> Callable[[Function], Function]:
    """Compile for one signature immediately, or load the machine code from the cache.

    If no folder is writable the code is compiled for this process only. `inline` marks helpers
    called by other compiled code only.
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


def tuple_type(made: type, members: Sequence[types.Type]) -> types.Type:
    """The numba type of a named tuple with `members` of these types."""
    tuples: Any = types.BaseTuple
    result: types.Type = tuples.from_types(members, made)
    return result


@contextmanager
def _our_cache() -> Iterator[None]:
    """Keep machine code in the user's cache folder, keyed by the sources it was made from.

    By default numba notices changes in a function's own module only, not in those of its helpers or
    constants, and writes next to the installed package.
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
    """Disable garbage collection while compiling, which saves a tenth of the time."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()
