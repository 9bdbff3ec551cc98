"""Host maps from the disk, with the maps that they extend.

This file knows where maps stand, but nothing about what they say.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from bridge.cli.solving import read_bytes
from bridge.errors import PlanError, UsageError, Where

if TYPE_CHECKING:
    from bridge.hostmap import HostMap

__all__ = ["load_host_map"]

_MOST_BASES = 8


def load_host_map(path: Path) -> HostMap:
    """Read the host map at ``path``; PlanError with its place for what it cannot be.

    What it extends is looked for from its own folder, and so on; a circle is refused.
    """
    from bridge.hostmap import extends, load

    text = read_bytes(path, what="the host map")
    bases: list[tuple[str | bytes, str | None]] = []
    seen, here, named = [path.resolve()], path, extends(text, source=str(path))
    while named is not None:
        here, where = here.parent / named[0], named[1]
        if here.resolve() in seen:
            raise PlanError(
                f"host maps extend one another in a circle: {here.name!r} is under way already",
                hint="Take 'extends' out of one of them.",
                where=where,
            )
        if len(bases) >= _MOST_BASES:
            raise PlanError(f"host maps extend one another more than {_MOST_BASES} deep", where=where)
        seen.append(here.resolve())
        bases.append((_read(here, where), str(here)))
        named = extends(bases[-1][0], source=str(here))
    return load(text, source=str(path), bases=bases)


def _read(path: Path, where: Where) -> bytes:
    try:
        return read_bytes(path, what="the host map that is extended,")
    except (UsageError, ValueError) as error:
        raise PlanError(
            getattr(error, "message", str(error)),
            hint="Its path counts from the folder of the map that extends it.",
            where=where,
        ) from None
