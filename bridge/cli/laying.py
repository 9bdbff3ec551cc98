"""The shell around a laying: one socket, the clock, the record on the disk, one lay at a time.

Does what the pure machine of :mod:`bridge.lay` returns, in that order; decides nothing.
``lay`` and ``demo`` use it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING

from bridge.cli.lay_record import RecordFile
from bridge.cli.route import Route
from bridge.cli.sending import Hands, Tell, run
from bridge.clock import Clock, SteadyClock
from bridge.hostmap import Address, HostMap, Message, Ruler
from bridge.lay import (
    AFTER,
    BEFORE,
    BlindLaying,
    Effect,
    Kind,
    Laying,
    Options,
    Part,
    Pulling,
    ReadBack,
    Result,
    dry_run,
    part,
    read_back,
    want,
)
from bridge.lay.pacing import Pacing
from bridge.lay.wanted import reports
from bridge.osc import Allowed, Counts, Port, resolve
from bridge.song import Song
from bridge.store import Lock, state_folder

if TYPE_CHECKING:
    from collections.abc import Iterator

__all__ = ["Job", "Laid", "Pulled", "dry_lay", "lay_song", "pull_song", "record_path"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """What is to be laid where, and the file that knows what was laid before."""

    song: Song
    host: HostMap
    record: Path
    allowed: tuple[str, ...] = ()
    """Addresses, beside the host's own, from which its packets may come."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Laid:
    """What came of it, and what came in that did not count."""

    result: Result
    counts: Counts
    unusable: int
    timeline: Mapping[Kind, Result] = field(default_factory=dict)
    """What came of the plan's meters, tempi and regions, where the map has words for them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pulled:
    """What stands in the host, compared with the plan; None where the host never answered."""

    found: ReadBack | None
    certain: bool
    counts: Counts
    unusable: int


def record_path(plan: Path, folder: Path | None = None) -> Path:
    """Return where the record of ``plan`` stands: beside it, or in ``folder``."""
    name = plan.name + ".laid.json"
    return plan.with_name(name) if folder is None else folder / name


def dry_lay(job: Job) -> tuple[tuple[Message, ...], Result]:
    """Return what would be sent, and what would come of it, as far as the record tells."""
    job.host.need("send_to", command="lay")
    ruler = Ruler(job.song)
    record = RecordFile(job.record, job.host)
    messages, result = dry_run(ruler, job.host, want(ruler, job.host), record.entries())
    around = {
        one.kind: dry_run(ruler, one.host, one.wanted, record.of(one.host).entries())[0]
        for one in _parts(job, ruler, (*BEFORE, *AFTER), _unheard)
    }
    before = [message for kind in BEFORE for message in around.get(kind, ())]
    after = [message for kind in AFTER for message in around.get(kind, ())]
    return (*before, *messages, *after), result


def lay_song(
    job: Job,
    *,
    options: Options | None = None,
    tell: Tell,
    clock: Clock | None = None,
    after: Callable[[Effect], None] | None = None,
) -> Laid:
    """Lay the song's markers in the host; ``tell`` gets the notes and warnings on the way.

    Where the map has words for them, the plan's meters and tempi go before, its regions
    after.  ``after`` is called when an effect has been done.  PeerError when the host's
    tempo differs or another lay is at work, DeviceError when the port is taken or the
    record cannot be written; no marker has been sent then.
    """
    host = job.host
    host.need("send_to", command="lay")
    ruler = Ruler(job.song)
    wanted = want(ruler, host)
    if reports(host):
        host.need("receive_on", command="lay")
    record = RecordFile(job.record, job.host)
    options, clock = options or Options(), clock or SteadyClock()
    with _alone(host), _port(job, tell) as (port, to):
        hands = Hands(port=port, route=Route(host, to, tell), record=record, tell=tell, after=after)
        ends_at = clock.now() + options.lasts
        session = _Session(
            ruler=ruler, host=host, hands=hands, record=record, options=options, clock=clock, ends_at=ends_at
        )
        timeline = {part.kind: session.lay(part) for part in _parts(job, ruler, BEFORE, tell)}
        kind = Laying if reports(host) else BlindLaying
        laying = kind(ruler, host, wanted, record.entries(), session.timed())
        unusable = run(laying, host, hands, clock)
        timeline |= {part.kind: session.lay(part) for part in _parts(job, ruler, AFTER, tell)}
    return Laid(result=_result(laying), counts=port.counts, unusable=unusable, timeline=timeline)


def _parts(job: Job, ruler: Ruler, kinds: Iterable[Kind], tell: Tell) -> Iterator[Part]:
    """Walk through what of the timeline the map has words for; words that cannot be used are told of."""
    for kind in kinds:
        found = part(kind, ruler, job.host)
        if isinstance(found, str):
            tell(f"note: {found}")
        elif found is not None:
            yield found


@dataclass(frozen=True, slots=True, kw_only=True)
class _Session:
    """One open port, on which one thing after another is laid within the time of one lay."""

    ruler: Ruler
    host: HostMap
    hands: Hands
    record: RecordFile
    options: Options
    clock: Clock
    ends_at: float

    def lay(self, part: Part) -> Result:
        """Lay one kind as markers are laid; the host's tempo is looked at with the markers, not here."""
        record = self.record.of(part.host)
        kind = Laying if reports(part.host) else BlindLaying
        calm = replace(self.timed(), anyway=True, listen=0.0)
        laying = kind(self.ruler, part.host, part.wanted, record.entries(), calm)
        hands = replace(self.hands, record=record, tell=_unheard)
        run(laying, self.host, hands, self.clock, lambda event: part.heard(event, record.latest))
        return _result(laying)

    def timed(self) -> Options:
        """Give what is laid now the time that is left."""
        return replace(self.options, lasts=max(0.0, self.ends_at - self.clock.now()))


def _result(laying: Pacing) -> Result:
    if laying.result is None:
        raise RuntimeError("a laying ended without a result")
    return laying.result


def _unheard(_text: str) -> None:
    """Tell nobody."""


def pull_song(job: Job, *, tell: Tell, options: Options | None = None, clock: Clock | None = None) -> Pulled:
    """Read the host's markers and compare them with the song; nothing is changed in the host.

    PlanError when the map has no words for it, DeviceError when the port is taken.
    """
    host = job.host
    for key in ("send_to", "receive_on", "says.list", "hears.marker"):
        host.need(key, command="lay --pull")
    ruler = Ruler(job.song)
    record = RecordFile(job.record, job.host)
    with _alone(host), _port(job, tell) as (port, to):
        pulling = Pulling(ruler, host, options)
        hands = Hands(port=port, route=Route(host, to, tell), tell=tell)
        unusable = run(pulling, host, hands, clock or SteadyClock())
    unit = host.hears["marker"].unit
    found = None
    if pulling.answered or pulling.certain:
        if unit is None:
            raise RuntimeError("a marker has a unit")
        found = read_back(ruler, unit, want(ruler, host), record.entries(), pulling.standing)
    return Pulled(found=found, certain=pulling.certain, counts=port.counts, unusable=unusable)


@contextmanager
def _alone(host: HostMap) -> Iterator[None]:
    """Hold the lock on this host: one lay at a time."""
    word = "".join(c if c.isalnum() or c in ".-" else "_" for c in str(host.send_to))
    with Lock(state_folder() / f"lay-{word}.lock", who="pulsebridge lay"):
        yield


@contextmanager
def _port(job: Job, tell: Tell) -> Iterator[tuple[Port, tuple[str, int]]]:
    """Open the port that the host answers to, or go through the bridge that holds it.

    The host's machine is believed, and who else is allowed.
    """
    from bridge.live.borrowed import open_port

    host = job.host
    if host.send_to is None:
        raise RuntimeError("the map's send_to was checked before")
    _, to = resolve(host.send_to)
    here = host.receive_on or Address("::" if ":" in to[0] else "0.0.0.0", 0)  # noqa: S104  any port, to send from
    believed = Allowed.of((to[0].partition("%")[0], *job.allowed))
    with open_port(here, believe=believed, tell=tell) as port:
        yield port, to
