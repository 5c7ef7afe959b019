"""`fonts`: list the fonts that letters can be set in."""

from pathlib import Path
from typing import Any

import click

from hingeleaf.errors import UsageError
from hingeleaf.fonts import FontFace, built_in, find_fonts
from hingeleaf.text import plural
from hingeleaf_tui.commands.options import FILE_OR_FOLDER, data_of, json_option, print_json
from hingeleaf_tui.commands.tables import echo, print_table


@click.command()
@click.argument("words", nargs=-1)
@click.option(
    "--folder",
    "folders",
    multiple=True,
    type=FILE_OR_FOLDER,
    help="Search here instead of the system's font folders.",
)
@json_option
def fonts(words: tuple[str, ...], folders: tuple[Path, ...], as_json: bool) -> None:
    """List the installed fonts whose names contain all WORDS, and the built-in one."""
    for folder in folders:
        if not folder.is_dir():
            raise UsageError(f"There is no folder {folder}.", "Check the spelling of its name.")
    sought = [word.casefold() for word in words]
    faces = [
        face
        for face in find_fonts(folders or None)
        if all(word in face.name.casefold() for word in sought)
    ]
    own = built_in()
    if as_json:
        print_json({"count": len(faces), "fonts": [_as_data(face, own) for face in faces]})
        return
    if not faces:
        echo("No font has that name.")
        return
    print_table(
        ("family", "style", "weight", "file"),
        [
            (face.family, face.style, _weight(face), "built in" if face == own else _where(face))
            for face in faces
        ],
        right=("weight",),
    )
    echo(f"\n{plural(len(faces), 'font')}")


def _weight(face: FontFace) -> str:
    return f"{face.weights[0]:g}-{face.weights[1]:g}" if face.weights else f"{face.weight:g}"


def _where(face: FontFace) -> str:
    return f"{face.file} ({face.index})" if face.index else str(face.file)


def _as_data(face: FontFace, own: FontFace) -> dict[str, Any]:
    data = data_of(face, "family", "style", "weight", "weights", "italic", "index")
    return data | {"file": str(face.file), "built_in": face == own}
