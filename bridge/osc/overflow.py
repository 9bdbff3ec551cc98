"""How many packets the system has dropped because a socket's buffer was full.

On Linux from /proc (proc(5), ``net/udp``: the last column); elsewhere nothing is known.
"""

from __future__ import annotations

from pathlib import Path

__all__ = ["overflowed"]

_TABLES = ("udp", "udp6")


def overflowed(inode: int, proc: Path = Path("/proc")) -> int:
    """Return the packets dropped at the socket ``inode``; 0 where nothing is known."""
    for table in _TABLES:
        try:
            lines = (proc / "net" / table).read_text().splitlines()[1:]
        except OSError:
            continue
        for row in (line.split() for line in lines):
            if len(row) > 12 and row[9] == str(inode) and row[12].isdigit():
                return int(row[12])
    return 0
