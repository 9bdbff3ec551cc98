"""Several hosts laid at once: each in a thread of its own, with its own port and result.

One that fails keeps no other from being laid.  This file knows nothing about markers.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

from bridge.cli.laying import Job, Laid, lay_song
from bridge.errors import PulsebridgeError, UsageError
from bridge.lay import Options

__all__ = ["Outcome", "lay_all", "refuse_twins"]

_MOST = 16


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What came of one host: it was laid, or why not."""

    job: Job
    laid: Laid | None = None
    error: PulsebridgeError | None = None


def refuse_twins(jobs: Sequence[Job]) -> None:
    """Raise UsageError where two of the hosts are one, or would be heard on one port."""
    if len(jobs) > _MOST:
        raise UsageError(f"at most {_MOST} hosts are laid at once, not {len(jobs)}")
    for what, word in (("send_to", "reached"), ("receive_on", "heard")):
        seen: dict[str, str] = {}
        for job in jobs:
            address = getattr(job.host, what)
            if address is None or address.port == 0:
                continue
            if str(address) in seen:
                raise UsageError(
                    f"{job.host.name!r} is {word} at {address}, and so is {seen[str(address)]!r}",
                    hint=f"Give each host its own {what}; a map can extend another and say only that.",
                )
            seen[str(address)] = job.host.name


def lay_all(jobs: Sequence[Job], *, options: Options, tell: Callable[[str], None]) -> list[Outcome]:
    """Lay every job at once and return what came of each, in their order."""
    with ThreadPoolExecutor(max_workers=len(jobs), thread_name_prefix="lay") as pool:
        return list(pool.map(lambda job: _laid(job, options, tell), jobs))


def _laid(job: Job, options: Options, tell: Callable[[str], None]) -> Outcome:
    try:
        laid = lay_song(job, options=options, tell=lambda text: tell(f"{job.host.name}: {text}"))
    except PulsebridgeError as error:
        return Outcome(job=job, error=error)
    return Outcome(job=job, laid=laid)
