"""Compile inner loops with numba and cache the machine code on disk.

Importing this module imports numba; the package does so only when a filling runs.
"""

import gc
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Annotated, Any, TypeVar, cast, get_args, get_origin, get_type_hints

import numba
import numpy as np
from numba import types
from numpy.typing import NDArray

from hingeleaf.fill.machine_code import FOLDER

Function = TypeVar("Function", bound=Callable[..., Any])

FASTMATH_FLAGS = frozenset({"nnan", "ninf", "nsz"})
"""Floating-point assumptions of the compiler: no NaN, no infinity, no sign of zero.

Sums are never rearranged or fused with products: that would depend on which helpers are inlined,
and thus on which of them came from the cache. So a seed repeats to the last bit.
"""


_SCALARS = {float: types.f8, int: types.i8, bool: types.b1, type(None): types.void}
Floats = Annotated[NDArray[np.float64], types.f8[::1]]
Table = Annotated[NDArray[np.float64], types.f8[:, ::1]]
Tables = Annotated[NDArray[np.float64], types.f8[:, :, ::1]]
Ints = Annotated[NDArray[np.int64], types.i8[::1]]
IntTable = Annotated[NDArray[np.int64], types.i8[:, ::1]]
Cells = Annotated[NDArray[np.int32], types.i4[::1]]
CellGrid = Annotated[NDArray[np.int32], types.i4[:, ::1]]
Grid = Annotated[NDArray[np.float32], types.f4[:, ::1]]
Grids = Annotated[NDArray[np.float32], types.f4[:, :, ::1]]
Flags = Annotated[NDArray[np.bool_], types.b1[::1]]
Mask = Annotated[NDArray[np.bool_], types.b1[:, ::1]]
State = Annotated[NDArray[np.uint64], types.u8[::1]]
"""(1,): what the next random number is made from."""


def compiled(function: Function) -> Function:
    """Compile a function for the types of its annotations, or load its code from the cache.

    If no folder is writable it is compiled for this process only.
    """
    return _compiled(function)


def inlined(function: Function) -> Function:
    """The same for a helper that only other compiled code calls."""
    return _compiled(function, no_cpython_wrapper=True, no_cfunc_wrapper=True)


def _compiled(function: Function, **options: Any) -> Function:
    hints = {name: _type(hint) for name, hint in _hints(function).items()}
    signature = hints.pop("return")(*hints.values())
    options |= {"fastmath": set(FASTMATH_FLAGS), "error_model": "numpy", "nogil": True}
    with _our_cache(), _no_collection():
        try:
            result = numba.njit(signature, cache=True, **options)(function)
        except RuntimeError as error:
            if "no locator available" not in str(error):
                raise
            result = numba.njit(signature, **options)(function)
    return cast(Function, result)


def _hints(annotated: Any) -> dict[str, Any]:
    return get_type_hints(annotated, include_extras=True)


def _type(hint: Any) -> Any:
    """The numba type of an annotation: a scalar, an array, or a tuple of such, named or not."""
    if hint in _SCALARS:
        return _SCALARS[hint]
    if get_origin(hint) is Annotated:
        return hint.__metadata__[0]
    tuples: Any = types.BaseTuple
    if get_origin(hint) is tuple:
        return tuples.from_types([_type(each) for each in get_args(hint)])
    return tuples.from_types([_type(each) for each in _hints(hint).values()], hint)


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
