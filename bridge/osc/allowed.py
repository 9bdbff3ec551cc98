"""Whose packets count: the host's own address, and those that the user opens the network to.

This file knows nothing about sockets or options.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from ipaddress import IPv4Network, IPv6Network, ip_address, ip_network

from bridge.errors import UsageError

__all__ = ["Allowed"]

_Network = IPv4Network | IPv6Network


@dataclass(frozen=True)
class Allowed:
    """IP addresses and networks; ``in`` tells whether an address is one of them."""

    networks: tuple[_Network, ...]

    @classmethod
    def of(cls, texts: Iterable[str]) -> Allowed:
        """Read addresses as in ``192.168.1.20`` or ``192.168.1.0/24``; UsageError for anything else."""
        return cls(tuple(map(_network, texts)))

    def __contains__(self, address: object) -> bool:
        return isinstance(address, str) and _is_in(address, self.networks)


def _network(text: str) -> _Network:
    try:
        return ip_network(text.strip())
    except ValueError:
        raise UsageError(
            f"the network is opened to an IP address or a network, not {text[:60]!r}",
            hint="Write --open-network 192.168.1.20, or 192.168.1.0/24 for all of them.",
        ) from None


@lru_cache(maxsize=1024)
def _is_in(address: str, networks: tuple[_Network, ...]) -> bool:
    try:
        found = ip_address(address.partition("%")[0])
    except ValueError:
        return False
    return any(found.version == one.version and found in one for one in networks)
