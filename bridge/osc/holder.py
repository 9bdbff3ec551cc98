"""Who holds a UDP port, as far as the system tells.

On Linux from /proc (proc(5): ``net/udp`` lists sockets by port and inode, ``PID/fd``
which process has them); elsewhere nothing is known.  Only for messages: what cannot be
read is left out.
"""

from __future__ import annotations

from pathlib import Path

__all__ = ["holder_of_port"]

_PROC = Path("/proc")


def holder_of_port(port: int) -> str | None:
    """Return 'NAME (process 123) has it' for a UDP ``port``, or None where nobody can be named."""
    inodes = {f"socket:[{inode}]" for inode in _inodes(port)}
    if not inodes:
        return None
    for process in _PROC.glob("[0-9]*"):
        if inodes & _sockets(process):
            return f"{_name(process)} (process {process.name}) has it"
    return "another program has it"


def _inodes(port: int) -> set[str]:
    found: set[str] = set()
    for table in ("udp", "udp6"):
        try:
            lines = (_PROC / "net" / table).read_text().splitlines()[1:]
        except OSError:
            continue
        rows = (line.split() for line in lines)
        found.update(row[9] for row in rows if len(row) > 9 and row[1].endswith(f":{port:04X}"))
    return found


def _sockets(process: Path) -> set[str]:
    try:
        return {str(link.readlink()) for link in (process / "fd").iterdir()}
    except OSError:
        return set()


def _name(process: Path) -> str:
    try:
        words = (process / "cmdline").read_bytes().split(b"\x00")
        text = b" ".join(words[:4]).decode("utf-8", "replace").strip()
        return text[:80] or (process / "comm").read_text().strip()
    except OSError:
        return "a program"
