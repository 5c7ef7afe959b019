"""Store tags: add, remove, rename, merge and count. A slash separates a tag from one within it."""

from collections import Counter
from collections.abc import Iterable, Sequence

from hingeleaf.catalogue.change import Change
from hingeleaf.catalogue.database import Database
from hingeleaf.catalogue.slugs import ancestors, id_of, identify, tag_name
from hingeleaf.errors import UnknownNameError, UsageError


class Tags:
    """The tags of a library."""

    def __init__(self, db: Database) -> None:
        self._db = db

    def counts(self) -> list[tuple[str, int]]:
        """Every tag with the number of motifs that have it or a tag within it, by name."""
        db = self._db
        used: Counter[int] = Counter(dict(db.rows(_USED)))
        used.subtract(dict(db.rows(_USED_BY_REMOVED)))
        used |= Counter(dict(db.rows(_USED_WITHIN)))  # at least its own count
        names = db.rows("SELECT id, name FROM tag ORDER BY name")
        return [(name, used[tag_id]) for tag_id, name in names if used[tag_id]]

    def of(self, motif: str) -> tuple[str, ...]:
        """A motif's tags by name, without reading its geometry."""
        return of_motif(self._db, identify(self._db, motif))

    def change(
        self, motifs: Sequence[str], *, add: Sequence[str] = (), remove: Sequence[str] = ()
    ) -> None:
        """Add tags to motifs and remove tags. Raises UnknownNameError, UsageError."""
        marks = [f"+{tag}" for tag in add] + [f"-{tag}" for tag in remove]
        which = motifs[0] if len(motifs) == 1 else f"{len(motifs)} motifs"
        with self._db.write(f"Tag {which} {' '.join(marks)}") as change:
            motif_ids = [identify(self._db, name) for name in motifs]
            detach(change, motif_ids, remove)
            attach(change, motif_ids, add)

    def rename(self, old: str, new: str) -> None:
        """Rename a tag and the tags within it; if `new` exists, they are merged.

        Raises UnknownNameError for an unknown tag, UsageError for a tag moved into itself.
        """
        with self._db.write(f"Rename tag {old} to {new}") as change:
            _rename(change, old, new)

    def merge(self, olds: Sequence[str], new: str) -> None:
        """Merge several tags into one."""
        with self._db.write(f"Merge tags {', '.join(olds)} into {new}") as change:
            _find_or_add(change, tag_name(new))
            for old in olds:
                _rename(change, old, new)


_USED = "SELECT tag_id, count(*) FROM motif_tag GROUP BY tag_id"
_USED_BY_REMOVED = """
    SELECT mt.tag_id, count(*) FROM motif m CROSS JOIN motif_tag mt ON mt.motif_id = m.id
    WHERE m.removed IS NOT NULL GROUP BY mt.tag_id
"""
_WITHIN = "u.name > t.name || '/' AND u.name < t.name || '0'"
"""Whether tag `u` is within tag `t`: '0' is the character after '/'."""
_USED_WITHIN = f"""
    SELECT t.id, count(DISTINCT mt.motif_id)
    FROM tag t
    JOIN tag u ON u.id = t.id OR ({_WITHIN})
    JOIN motif_tag mt ON mt.tag_id = u.id
    JOIN motif m ON m.id = mt.motif_id AND m.removed IS NULL
    WHERE EXISTS (SELECT 1 FROM tag u WHERE {_WITHIN})
    GROUP BY t.id
"""
"""Only for tags that contain others, since counting distinct motifs is slow."""


def of_motif(reader: Database | Change, motif_id: int) -> tuple[str, ...]:
    """A motif's tags by name."""
    return tuple(
        reader.column(
            "SELECT t.name FROM motif_tag mt JOIN tag t ON t.id = mt.tag_id "
            "WHERE mt.motif_id = ? ORDER BY t.name",
            (motif_id,),
        )
    )


def attach(change: Change, motif_ids: Iterable[int], tags: Iterable[str]) -> None:
    """Add tags to motifs; existing ones stay."""
    tag_ids = {_find_or_add(change, tag_name(tag)) for tag in tags}
    for motif_id in motif_ids:
        for tag_id in sorted(tag_ids - _ids_on(change, motif_id)):
            change.insert("motif_tag", {"motif_id": motif_id, "tag_id": tag_id})


def detach(change: Change, motif_ids: Iterable[int], tags: Iterable[str]) -> None:
    """Remove tags from motifs, and delete tags that are then unused."""
    tag_ids = {id_of(change, "tag", tag_name(tag)) for tag in tags}
    for motif_id in motif_ids:
        for tag_id in sorted(_ids_on(change, motif_id) & tag_ids):
            change.delete("motif_tag", (motif_id, tag_id))
    drop_unused(change)


def set_on(change: Change, motif_id: int, tags: Iterable[str]) -> None:
    """Replace the tags of a motif."""
    wanted = dict.fromkeys(map(tag_name, tags))
    attach(change, [motif_id], wanted)
    if superfluous := set(of_motif(change, motif_id)) - wanted.keys():
        detach(change, [motif_id], superfluous)


def _rename(change: Change, old: str, new: str) -> None:
    old, new = tag_name(old), tag_name(new)
    if id_of(change, "tag", old) is None:
        raise UnknownNameError(f"No tag is called {old!r}.", "`hingeleaf tags` lists them.")
    if new.startswith(f"{old}/"):
        raise UsageError(f"{old} cannot be within itself.", "Choose another name.")
    if new == old:
        return
    within = change.connection.execute(
        f"SELECT u.id, u.name FROM tag t JOIN tag u ON u.id = t.id OR ({_WITHIN}) "
        "WHERE t.name = ? ORDER BY u.name",
        (old,),
    )
    for tag_id, name in within.fetchall():
        _move(change, tag_id, new + name[len(old) :])
    drop_unused(change)


def drop_unused(change: Change) -> None:
    """Delete tags that no motif and no tag within them uses, innermost first."""
    unused = f"""
        SELECT t.id FROM tag t
        WHERE NOT EXISTS (SELECT 1 FROM motif_tag mt WHERE mt.tag_id = t.id)
        AND NOT EXISTS (SELECT 1 FROM tag u WHERE {_WITHIN})
    """
    while found := change.column(unused):
        for tag_id in found:
            change.delete("tag", (tag_id,))


def _move(change: Change, tag_id: int, name: str) -> None:
    """Rename a tag, or move its motifs to the existing tag of that name."""
    target = id_of(change, "tag", name)
    if target is None:
        for outer in ancestors(name):
            _find_or_add(change, outer)
        change.update("tag", (tag_id,), {"name": name})
        return
    for motif_id in change.column("SELECT motif_id FROM motif_tag WHERE tag_id = ?", (tag_id,)):
        change.delete("motif_tag", (motif_id, tag_id))
        if target not in _ids_on(change, motif_id):
            change.insert("motif_tag", {"motif_id": motif_id, "tag_id": target})


def _find_or_add(change: Change, name: str) -> int:
    found = id_of(change, "tag", name)
    if found is not None:
        return found
    for outer in ancestors(name):
        if id_of(change, "tag", outer) is None:
            change.insert("tag", {"name": outer})
    return change.insert("tag", {"name": name})


def _ids_on(change: Change, motif_id: int) -> set[int]:
    return set(change.column("SELECT tag_id FROM motif_tag WHERE motif_id = ?", (motif_id,)))
