"""Settings of the app in a TOML file, and the folders that it uses."""

import logging
from dataclasses import asdict, dataclass, field, fields
from pathlib import Path

FILE = "app.toml"
RENAMED = (("kept.", "saved."), ("panel.open_kept", "panel.open_saved"))
"""Old prefixes of action ids in settings files, with the new ones."""


@dataclass(slots=True)
class Settings:
    """The user's choices. Invalid values are ignored."""

    light: bool = False
    ink: str = ""
    """quadrants, braille, blocks or ascii; empty for the best one available."""
    pixels: bool = False
    """Whether large drawings use pixels, if the terminal supports them."""
    export_folder: str = ""
    """The folder of the last file written."""
    card: str = ""
    """The card of new panels."""
    keys: dict[str, str] = field(default_factory=dict)
    """Changed keys by action id."""


def folder() -> Path:
    """The folder of the settings."""
    import platformdirs

    return Path(platformdirs.user_config_dir("hingeleaf"))


def state_folder() -> Path:
    """The folder of unsaved work."""
    import platformdirs

    return Path(platformdirs.user_state_dir("hingeleaf"))


def log_file() -> Path:
    """The file to which bugs of the program are logged."""
    import platformdirs

    return Path(platformdirs.user_log_dir("hingeleaf")) / "hingeleaf.log"


def log_to_file(log: logging.Logger) -> Path:
    """Make a logger write to the log file from now on; returns its path."""
    place = log_file()
    if not log.handlers:
        try:
            place.parent.mkdir(parents=True, exist_ok=True)
            handler: logging.Handler = logging.FileHandler(place, encoding="utf-8")
        except OSError:
            handler = logging.NullHandler()
        handler.setFormatter(logging.Formatter("%(asctime)s %(message)s"))
        log.addHandler(handler)
    return place


def read(place: Path | None = None) -> Settings:
    """The stored settings; defaults where there are none."""
    try:
        text = ((place or folder()) / FILE).read_text(encoding="utf-8")
        import tomllib  # only needed if there are settings

        found = tomllib.loads(text)
    except (OSError, ValueError, RecursionError):
        return Settings()
    defaults = Settings()
    for known in fields(Settings):
        value = found.get(known.name)
        if type(value) is type(getattr(defaults, known.name)) and _is_usable(known.name, value):
            setattr(defaults, known.name, value)
    for old, new in RENAMED:
        defaults.keys = {
            new + id.removeprefix(old) if id.startswith(old) else id: key
            for id, key in defaults.keys.items()
        }
    return defaults


def write(settings: Settings, place: Path | None = None) -> bool:
    """Store the settings. Returns False if the folder is not writable."""
    import json

    values = asdict(settings)
    keys = values.pop("keys")
    lines = [f"{name} = {json.dumps(value, ensure_ascii=False)}" for name, value in values.items()]
    lines += ["", "[keys]", *(f"{json.dumps(id)} = {json.dumps(key)}" for id, key in keys.items())]
    folder_ = place or folder()
    try:
        folder_.mkdir(parents=True, exist_ok=True)
        beside = folder_ / f"{FILE}.new"
        beside.write_text("\n".join(lines) + "\n", encoding="utf-8")
        beside.replace(folder_ / FILE)
    except OSError:
        return False
    return True


def _is_usable(name: str, value: object) -> bool:
    if name == "ink":
        return value in ("", "quadrants", "braille", "blocks", "ascii")
    if isinstance(value, dict):
        return all(isinstance(key, str) and key for key in value.values())
    return True
