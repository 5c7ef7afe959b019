"""Compiling in another process while something else is done."""

from pathlib import Path

import pytest

from hingeleaf.fill import machine_code

MODULE = """
from pathlib import Path
Path({done!r}).touch()
"""


@pytest.mark.parametrize("compiled_before", [False, True])
def test_what_is_not_compiled_yet_is_compiled_beside_the_work(
    compiled_before: bool, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    done = tmp_path / "done"
    (tmp_path / "kernel_of_the_test.py").write_text(MODULE.format(done=str(done)))
    monkeypatch.setenv("PYTHONPATH", str(tmp_path))
    monkeypatch.setattr(machine_code, "KERNELS", ("kernel_of_the_test",))
    monkeypatch.setattr(machine_code, "is_compiled", lambda: compiled_before)
    with machine_code.compiling():
        pass
    assert done.exists() is not compiled_before


def test_code_that_cannot_be_compiled_stops_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(machine_code, "KERNELS", ("no_module_of_that_name",))
    monkeypatch.setattr(machine_code, "is_compiled", lambda: False)
    with machine_code.compiling():
        pass
