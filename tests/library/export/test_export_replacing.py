"""What an export may take the place of: an export that nobody has changed since, and no more."""

from __future__ import annotations

import io
import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

import ezdxf
import pikepdf
import pytest
from lxml import etree
from PIL import Image

from hingeleaf.catalogue.store import Library
from hingeleaf.errors import ExportError, WouldReplaceError
from hingeleaf.export.assembly import write_assembly
from hingeleaf.export.files import allow_overwriting
from hingeleaf.export.picture import write_png
from support.export_writing import write_dxf, write_pdf, write_svg
from support.panel_samples import grid_panel

PANEL = grid_panel(2, 2)
WRITERS: dict[str, Callable[[Any, Path], None]] = {
    "panel.svg": write_svg,
    "panel.dxf": write_dxf,
    "panel.pdf": write_pdf,
    "panel.png": lambda panel, file: write_png(panel, file, dpi=40),
    "fold.pdf": write_assembly,
}


@pytest.mark.parametrize("name", WRITERS)
def test_only_what_we_wrote_and_nobody_changed_is_replaced(tmp_path: Path, name: str) -> None:
    file, write = tmp_path / name, WRITERS[name]
    write(PANEL, file)
    write(PANEL, file)
    changed = bytearray(file.read_bytes())
    changed[len(changed) // 2] ^= 1
    for content in (bytes(changed), b"a drawing of the user's own"):
        file.write_bytes(content)
        with pytest.raises(WouldReplaceError):
            write(PANEL, file)
        assert file.read_bytes() == content
    with allow_overwriting():
        write(PANEL, file)
    assert b"own" not in file.read_bytes()


def test_the_mark_is_within_what_each_format_allows(tmp_path: Path) -> None:
    for name, write in WRITERS.items():
        write(PANEL, tmp_path / name)
    assert etree.parse(tmp_path / "panel.svg").getroot() is not None
    assert not ezdxf.filemanagement.readfile(tmp_path / "panel.dxf").audit().has_errors
    with pikepdf.open(tmp_path / "panel.pdf") as document:
        assert not document.check_pdf_syntax()
    with Image.open(io.BytesIO((tmp_path / "panel.png").read_bytes())) as picture:
        picture.load()
        assert picture.info["Software"].startswith("Hingeleaf")


@pytest.mark.parametrize("how", [os.link, os.symlink])
def test_a_library_is_never_replaced_by_whatever_name(
    tmp_path: Path, how: Callable[[Path, Path], None]
) -> None:
    library, other = tmp_path / "library.db", tmp_path / "panel.svg"
    with Library.open(library) as opened:
        how(library, other)
        log = library.with_name("library.db-wal")
        log.touch()
        for file in (library, other, log):
            before = file.read_bytes()
            with allow_overwriting(), pytest.raises(ExportError, match="is a library"):
                write_svg(PANEL, file)
            assert file.read_bytes() == before
        assert opened.count() == 0


def test_pipes_and_devices_are_refused(tmp_path: Path) -> None:
    pipe = tmp_path / "panel.svg"
    os.mkfifo(pipe)
    for file in (pipe, Path(os.devnull)):
        with allow_overwriting(), pytest.raises(ExportError, match="not an ordinary file"):
            write_svg(PANEL, file)
