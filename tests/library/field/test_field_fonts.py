"""Finding and opening fonts."""

from __future__ import annotations

import shutil
import sys
from dataclasses import replace
from pathlib import Path

import font_manrope
import font_source_sans_pro
import pytest
from fontTools.ttLib import TTCollection, TTFont

from hingeleaf.errors import FontError
from hingeleaf.fonts import (
    built_in,
    find_font,
    find_fonts,
    font_folders,
    harfbuzz_font,
    open_font,
    read_faces,
)

VARIABLE = Path(font_manrope.__file__).parent / "files" / "Manrope-VariableFont_wght.ttf"
STATIC = Path(font_source_sans_pro.__file__).parent / "files"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A font folder with a few real fonts, one in a subfolder, and two files that are none."""
    deep = tmp_path / "deep" / "er"
    deep.mkdir(parents=True)
    shutil.copy(VARIABLE, tmp_path)
    for name in ("SourceSansPro-Regular.otf", "SourceSansPro-Bold.ttf", "SourceSansPro-It.otf"):
        shutil.copy(STATIC / name, deep)
    (tmp_path / "broken.ttf").write_bytes(b"\0\1\0\0 nothing of a font")
    (tmp_path / "notes.txt").write_text("not a font")
    return tmp_path


def test_built_in_face_is_always_there() -> None:
    face = built_in()
    assert face.file.is_file()
    assert face.weights is None
    assert face in find_fonts([])


def test_fonts_are_found_in_subfolders_and_broken_files_passed_over(folder: Path) -> None:
    found = {(face.family, face.style) for face in find_fonts([folder])} - {
        (built_in().family, built_in().style)
    }
    assert found == {
        ("Manrope", "ExtraLight"),
        ("Source Sans Pro", "Regular"),
        ("Source Sans Pro", "Bold"),
        ("Source Sans Pro", "Italic"),
    }


def test_weights_and_slant_are_told(folder: Path) -> None:
    faces = {face.name: face for face in find_fonts([folder])}
    assert faces["Source Sans Pro Bold"].weight == 700
    assert faces["Source Sans Pro Italic"].italic
    assert faces["Manrope ExtraLight"].weights == (200, 800)


def test_a_family_gives_the_upright_face_nearest_in_weight(folder: Path) -> None:
    assert find_font("source sans pro", 650, [folder]).style == "Bold"
    assert find_font("Source Sans Pro", None, [folder]).style == "Regular"
    assert find_font("Source Sans Pro Italic", None, [folder]).italic


def test_a_file_is_opened_whatever_it_is_called(folder: Path, tmp_path: Path) -> None:
    odd = tmp_path / "letters.dat"
    shutil.copy(STATIC / "SourceSansPro-Bold.ttf", odd)
    assert find_font(str(odd)).weight == 700


def test_an_unknown_name_is_refused_with_a_way_on(folder: Path) -> None:
    with pytest.raises(FontError, match="No font called 'Harbour Sans'") as caught:
        find_font("Harbour Sans", None, [folder])
    assert "hingeleaf fonts" in caught.value.remedy


def test_every_face_of_a_collection(tmp_path: Path) -> None:
    collection = TTCollection()
    collection.fonts = [
        TTFont(STATIC / "SourceSansPro-Regular.ttf"),
        TTFont(STATIC / "SourceSansPro-Black.ttf"),
    ]
    file = tmp_path / "two.ttc"
    collection.save(file)
    faces = read_faces(file)
    assert [face.weight for face in faces] == [400, 900]
    assert open_font(file, 1).index == 1
    with pytest.raises(FontError, match="has 2 faces, so there is no face 2"):
        open_font(file, 2)
    for name in ("A" * 10_000, "nought\0"):
        with pytest.raises(FontError):
            harfbuzz_font(replace(faces[0], file=Path(name), family="Nowhere"))
    with pytest.raises(FontError, match="no face of that number"):
        harfbuzz_font(replace(faces[0], index=10**400))


@pytest.mark.parametrize("content", [b"", b"hello", b"\0\1\0\0" + bytes(40), b"OTTO" + bytes(8)])
def test_what_is_no_font_is_refused(tmp_path: Path, content: bytes) -> None:
    file = tmp_path / "bad.otf"
    file.write_bytes(content)
    with pytest.raises(FontError, match=r"bad\.otf"):
        open_font(file)


def test_a_font_cut_short_is_refused_or_read(tmp_path: Path) -> None:
    """A truncated download never ends in anything but FontError or a face."""
    whole = (STATIC / "SourceSansPro-Bold.ttf").read_bytes()
    for share in (0.01, 0.3, 0.6, 0.9, 0.999):
        file = tmp_path / f"cut{share}.ttf"
        file.write_bytes(whole[: int(len(whole) * share)])
        try:
            face = open_font(file)
        except FontError:
            continue
        assert face.file == file


def test_missing_file_and_folder(tmp_path: Path) -> None:
    for path in (tmp_path / "gone.ttf", tmp_path):
        with pytest.raises(FontError, match="There is no font file"):
            open_font(path)


def test_weight_only_where_the_font_has_it() -> None:
    variable = open_font(VARIABLE)
    assert harfbuzz_font(variable, 650).get_var_coords_design() == pytest.approx([650])
    with pytest.raises(FontError, match="weights from 200 to 800, not 900"):
        harfbuzz_font(variable, 900)
    with pytest.raises(FontError, match="is available in weight 400 only, not 700"):
        harfbuzz_font(built_in(), 700)
    assert harfbuzz_font(built_in(), 400)


@pytest.mark.parametrize(
    ("platform", "places"),
    [
        ("linux", [".fonts", ".local/share/fonts"]),
        ("darwin", ["Library/Fonts"]),
        ("win32", ["AppData/Local/Microsoft/Windows/Fonts"]),
    ],
)
def test_where_each_system_keeps_a_users_fonts(
    platform: str, places: list[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for place in places:
        (tmp_path / place).mkdir(parents=True)
    monkeypatch.setattr(sys, "platform", platform)
    monkeypatch.setattr(Path, "home", lambda: tmp_path)
    for name in ("XDG_DATA_HOME", "XDG_DATA_DIRS", "LOCALAPPDATA"):
        monkeypatch.delenv(name, raising=False)
    folders = font_folders()
    assert [tmp_path / place for place in places] == [
        folder for folder in folders if tmp_path in folder.parents
    ]


def test_a_face_whose_file_moved_is_found_by_its_name(folder: Path) -> None:
    """As when a recipe comes from another machine."""
    face = replace(built_in(), file=folder / "elsewhere.ttf")
    assert harfbuzz_font(face).face.glyph_count == harfbuzz_font(built_in()).face.glyph_count
    with pytest.raises(FontError, match="No font called"):
        harfbuzz_font(replace(face, family="Harbour Sans"))
