"""Lets processes that tests start, in homes of their own, use the machine code that is there."""

from hingeleaf.fill.compiled import FOLDER

SHARED_MACHINE_CODE = {"NUMBA_CACHE_DIR": str(FOLDER)}
"""For the environment of such a process: compiling anew takes longer than most tests."""
