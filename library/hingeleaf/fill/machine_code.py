"""Machine code of the filler's inner loops: where it is cached, and how it is made beforehand."""

import hashlib
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import platformdirs

from hingeleaf.fill import KERNELS

COMPILED_MODULES = ("compiled", "table_columns", *(kernel.rpartition(".")[2] for kernel in KERNELS))
"""The modules from which compiled code is made."""


def _folder() -> Path:
    made_from = hashlib.sha256()
    for name in COMPILED_MODULES:
        made_from.update(Path(__file__).with_name(f"{name}.py").read_bytes())
    caches = Path(platformdirs.user_cache_dir("hingeleaf", appauthor=False))
    return caches / "machine_code" / made_from.hexdigest()[:16]


FOLDER = _folder()
"""The cache folder of the machine code of these sources, shared by this user's processes."""


def is_compiled() -> bool:
    """Whether a process of this user has already compiled these sources."""
    return FOLDER.is_dir()


@contextmanager
def compiling() -> Iterator[None]:
    """Compile in another process while the body runs, unless that was done; leaving waits for it.

    A failure there is ignored: the code is then compiled when it is first used.
    """
    if is_compiled():
        yield
        return
    command = [sys.executable, "-c", f"import {', '.join(KERNELS)}"]
    with subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL):
        yield
