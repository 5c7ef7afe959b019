"""Locate the cached machine code of the filler's inner loops, and check whether it exists."""

from __future__ import annotations

import hashlib
from pathlib import Path

import platformdirs

from hingeleaf.fill import KERNELS

SOURCES = ("compiled", "table_columns", *(kernel.rpartition(".")[2] for kernel in KERNELS))
"""The modules that compiled code is made from."""


def _folder() -> Path:
    made_from = hashlib.sha256()
    for name in SOURCES:
        made_from.update(Path(__file__).with_name(f"{name}.py").read_bytes())
    caches = Path(platformdirs.user_cache_dir("hingeleaf", appauthor=False))
    return caches / "machine_code" / made_from.hexdigest()[:16]


FOLDER = _folder()
"""Where the machine code of these sources is kept, for all processes of this user."""


def is_compiled() -> bool:
    """Whether some process of this user has compiled these sources before."""
    return FOLDER.is_dir()
