"""The host map as text, each line under a comment that says what it rests on.

What cannot be told stands there too, as a comment: whoever reads the map sees what is
missing and why.  Text from the wire is shown escaped.  This file writes no file.
"""

from __future__ import annotations

import json
import re
import textwrap
from collections.abc import Sequence

from bridge.learn.explain import Explained
from bridge.learn.finding import Finding
from bridge.learn.saying import Spoken

__all__ = ["host_map_text"]

_PLAIN = re.compile(r"/[A-Za-z0-9_/.-]*", re.ASCII)
_WIDTH = 98


def host_map_text(
    explained: Explained,
    spoken: Sequence[Spoken] = (),
    *,
    name: str,
    send_to: str | None,
    receive_on: str | None,
) -> str:
    """Return the map; it reads back as the findings say."""
    lines = [
        "# Learnt from the host itself by 'pulsebridge learn'. Each line stands below what it rests on.",
        "pulsebridge_host: 1",
        f"name: {json.dumps(name)}",
    ]
    lines.append(f"send_to: {send_to}" if send_to else "# send_to: HOST:PORT      # where the host listens")
    lines.append(f"receive_on: {receive_on}" if receive_on else "# receive_on: HOST:PORT   # where we listen")
    lines += ["hears:", *(line for one in explained.findings for line in _finding(one))]
    if spoken:
        lines += ["says:", *(line for one in spoken for line in _spoken(one))]
    return "\n".join(lines) + "\n"


def _finding(one: Finding) -> list[str]:
    if one.heard is None:
        return _comment(f"{one.key}: I can't tell: {one.evidence}")
    about = _comment(f"{one.confidence}: {one.evidence}")
    also = _comment(f"also fits: {'; '.join(one.rivals)}") if one.rivals else []
    return [*about, *also, f"  {one.key}: {{{_heard(one)}}}"]


def _heard(one: Finding) -> str:
    heard = one.heard
    if heard is None:
        raise ValueError("a finding without a line has none to write")
    parts = [f"address: {_quoted(heard.address)}"]
    if set(heard.args) == {"value"}:
        parts.append(f"arg: {heard.args['value']}")
    elif heard.args:
        parts.append(f"args: {{{', '.join(f'{word}: {index}' for word, index in heard.args.items())}}}")
    if heard.unit is not None:
        parts.append(f"unit: {heard.unit}")
    return ", ".join(parts)


def _spoken(one: Spoken) -> list[str]:
    return [*_comment(one.evidence), f"  {one.key}: {one.yaml}"]


def _comment(text: str) -> list[str]:
    plain = "".join(c if c.isprintable() else c.encode("unicode_escape").decode() for c in text)
    return [f"  # {line}" for line in textwrap.wrap(plain, _WIDTH)]


def _quoted(address: str) -> str:
    return address if _PLAIN.fullmatch(address) else json.dumps(address)
