"""The starter patterns that come with Hingeleaf, found in a wheel and in a checkout alike."""

from __future__ import annotations

from pathlib import Path

_HERE = Path(__file__).resolve().parent


def folder() -> Path:
    """The folder that holds the starter patterns: one SVG and one TOML of facts each."""
    installed = _HERE / "starter_patterns"
    return installed if installed.is_dir() else _HERE.parents[1] / "starter_patterns"
