"""Form for importing drawings."""

from dataclasses import dataclass, field, replace
from pathlib import Path

from hingeleaf.artwork.preparation_options import Preparation
from hingeleaf.artwork.reading import find_drawings
from hingeleaf.errors import UsageError
from hingeleaf.import_options import ImportOptions
from hingeleaf.source import Source
from hingeleaf_tui.forms.lines import EntryBinding, FormEntry, attribute, lines_of


@dataclass(frozen=True, slots=True)
class ImportRequest:
    """The file or folder to import, and how."""

    place: str = ""
    files: tuple[Path, ...] = ()
    left_out: frozenset[Path] = frozenset()
    """Files of the folder that are not imported."""
    options: ImportOptions = field(default_factory=ImportOptions)

    @property
    def taken(self) -> tuple[Path, ...]:
        """The files that are imported."""
        return tuple(file for file in self.files if file not in self.left_out)

    def short_name(self, file: Path) -> str:
        """A file's place within the folder."""
        folder = Path(self.place).expanduser()
        return str(file.relative_to(folder)) if file.is_relative_to(folder) else file.name

    @property
    def preparation(self) -> Preparation:
        """How the drawings are cut."""
        return self.options.preparation

    def prepared(self, preparation: Preparation) -> "ImportRequest":
        """A copy with another preparation."""
        return replace(self, options=replace(self.options, preparation=preparation))

    def toggled(self, part: str) -> "ImportRequest":
        """A copy with one part of the drawing excluded, or included again."""
        ignored = self.preparation.ignore
        pattern = f"name:{part}"
        if pattern in ignored:
            ignored = tuple(each for each in ignored if each != pattern)
        else:
            ignored = (*ignored, pattern)
        return self.prepared(replace(self.preparation, ignore=ignored))

    def cut_as(self, way: str, file: Path | None = None) -> "ImportRequest":
        """A copy with a way of cutting for all files, or for one of them."""
        if file is None:
            return replace(self, options=replace(self.options, way=way, ways=()))
        others = tuple(pair for pair in self.options.ways if pair[0] != file.name)
        return replace(self, options=replace(self.options, ways=((file.name, way), *others)))

    def includes(self, part: str) -> bool:
        """Whether a part of the drawing is included."""
        return f"name:{part}" not in self.preparation.ignore


def _place(request: ImportRequest, text: str) -> ImportRequest:
    if not text:
        raise UsageError("No file was named.", "Enter the path of a drawing or a folder.")
    files = tuple(find_drawings([Path(text).expanduser()]))
    cleared = request.prepared(replace(request.preparation, ignore=(), body=())).cut_as("")
    return replace(cleared, place=text, files=files, left_out=frozenset())


COMMON_KEYS = (
    *("place", "tags", "maker", "licence", "may_sell"),
    *("size", "border", "band", "side", "hold", "bridge_width"),
)
"""Entries that most drawings need, from top to bottom."""
ALL_LINES: list[EntryBinding[ImportRequest]] = [
    EntryBinding(
        FormEntry(
            "place",
            "File",
            help="A drawing (SVG, DXF, PNG, JPEG), or a folder of them; → completes.",
            is_path=True,
        ),
        lambda request: request.place,
        _place,
    ),
    *lines_of(Preparation, lambda request: request.preparation, ImportRequest.prepared),
    *lines_of(ImportOptions, *attribute("options")),
    *lines_of(
        Source,
        lambda request: request.options.source,
        lambda request, source: replace(request, options=replace(request.options, source=source)),
    ),
]
_LINE = {line.entry.key: line for line in ALL_LINES}
_OTHER_LINES = [line for line in ALL_LINES if line.entry.key not in COMMON_KEYS]
LINES = (*(_LINE[key] for key in COMMON_KEYS), *_OTHER_LINES)
ENTRIES: tuple[FormEntry | str, ...] = (
    *(_LINE[key].entry for key in COMMON_KEYS),
    "More about the import",
    *(line.entry for line in _OTHER_LINES),
)
"""The form, from top to bottom."""
