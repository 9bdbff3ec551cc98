"""Whose packets count while a host's map is learnt: loopback unless the network is opened on purpose.

This file knows nothing about what the packets say.
"""

from __future__ import annotations

from collections.abc import Sequence
from ipaddress import ip_address
from typing import TYPE_CHECKING

from bridge.cli.output import note

if TYPE_CHECKING:
    from bridge.hostmap import Address
    from bridge.osc import Allowed, Counts

__all__ = ["believed", "packets", "tell_of_strangers", "tell_who_counts"]

_LOOPBACK = ("127.0.0.1", "::1")


def believed(here: Address, there: Address | None, opened: Sequence[str]) -> Allowed:
    """Return whose packets count: this machine's, those of the host that is sent to, who is ``opened`` to.

    UsageError for an address that is none, PeerError for a name that is not known.
    """
    from bridge.osc import Allowed, resolve

    named = [resolve(one)[1][0].partition("%")[0] for one in (here, there) if one is not None]
    exact = [address for address in named if not ip_address(address).is_unspecified]
    return Allowed.of((*_LOOPBACK, *exact, *opened))


def tell_who_counts(place: str, there: Address | None, opened: Sequence[str]) -> None:
    """Say who is heard where other machines can reach the port."""
    if ip_address(place.partition("%")[0]).is_loopback:
        return
    if there is None and not opened:
        note("Other machines can reach that port, but do not count: --open-network ADDRESS lets one in.")
    else:
        note("Other machines can reach that port: only the sender you confirm is listened to.")


def tell_of_strangers(counts: Counts) -> None:
    """Say how many packets were dropped for where they came from."""
    if counts.strangers:
        note(
            f"{counts.strangers:,} packets from elsewhere did not count, the last from {counts.stranger}:"
            f" --open-network {counts.stranger} would let them in"
        )


def packets(counts: Counts | None) -> dict[str, int] | None:
    """Return the counts for JSON; None of an interview that was read, not held."""
    if counts is None:
        return None
    return {"received": counts.received, "strangers": counts.strangers, "unreadable": counts.unreadable}
