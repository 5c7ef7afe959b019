"""Share numba's compilation cache with processes that tests start in other home folders."""

from hingeleaf.fill.compiled import FOLDER

SHARED_MACHINE_CODE = {"NUMBA_CACHE_DIR": str(FOLDER)}
"""Environment of such a process; compiling again takes longer than most tests."""
