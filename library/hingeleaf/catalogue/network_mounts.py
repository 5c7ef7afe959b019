"""Recognise network mounts, where SQLite's write-ahead log must not be used.

The log's index is shared memory, which two machines do not have in common
(sqlite.org/wal.html, "all processes using a database must be on the same host computer").
"""

from __future__ import annotations

from pathlib import Path

MOUNTS = Path("/proc/self/mounts")
NETWORK_KINDS = frozenset(
    {"nfs", "nfs4", "cifs", "smb3", "smbfs", "9p", "afs", "ceph", "glusterfs", "lustre", "ncpfs"}
    | {f"fuse.{kind}" for kind in ("sshfs", "glusterfs", "rclone", "davfs2", "s3fs")}
)


def is_network_share(path: Path, mounts: Path = MOUNTS) -> bool:
    """Whether the mount that holds `path` is one of a network's kinds.

    Where the system has no table of mounts, only Windows' `//server/share` is recognised.
    """
    if path.as_posix().startswith("//"):
        return True
    try:
        lines = mounts.read_text(encoding="utf-8", errors="surrogateescape").splitlines()
    except OSError:
        return False
    place = path.resolve()
    deepest, kind = -1, ""
    for line in lines:
        _, point, found, *_ = line.split(" ")
        mount = Path(_unescape(point))
        if len(mount.parts) >= deepest and place.is_relative_to(mount):
            deepest, kind = len(mount.parts), found
    return kind in NETWORK_KINDS


def _unescape(point: str) -> str:
    """Mount points write blanks and backslashes in octal (man 5 fstab)."""
    for code, character in (("\\040", " "), ("\\011", "\t"), ("\\012", "\n"), ("\\134", "\\")):
        point = point.replace(code, character)
    return point
