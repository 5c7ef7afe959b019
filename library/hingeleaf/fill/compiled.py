"""Machine code for the inner loops, by numba, kept on disk from the first use on.

Importing this module imports numba; nothing in the package does so before a filling runs.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

import numba

Function = TypeVar("Function", bound=Callable[..., Any])


def compiled(signature: str, *, inline: bool = False) -> Callable[[Function], Function]:
    """Compile at once for one signature; read from numba's cache on disk if it is there.

    numba keeps its cache beside the module, or in the user's cache folder where the installation
    is read-only. Where neither can be written the code is compiled for this process only.
    `inline` marks helpers that only other compiled code calls.
    """
    options: dict[str, Any] = {"fastmath": True, "error_model": "numpy", "nogil": True}
    if inline:
        options |= {"no_cpython_wrapper": True, "no_cfunc_wrapper": True}

    def compile_function(function: Function) -> Function:
        try:
            result: Function = numba.njit(signature, cache=True, **options)(function)
        except RuntimeError as error:
            if "no locator available" not in str(error):
                raise
            result = numba.njit(signature, **options)(function)
        return result

    return compile_function
