"""A section's cues, written as they are read.

This file knows nothing about the rest of a plan file.
"""

from __future__ import annotations

from collections.abc import Iterable

from bridge.plan import spelling as put
from bridge.plan.cue import PlanCue, Send, SendController, SendProgram

__all__ = ["cue_list"]


def cue_list(cues: Iterable[PlanCue]) -> str:
    """Write the cues in their order, in brackets."""
    return f"[{', '.join(put.group(_cue(cue)) for cue in cues)}]"


def _cue(cue: PlanCue) -> put.Fields:
    fields: put.Fields = [("at", put.text(str(cue.at)))]
    if cue.player is not None:
        fields.append(("for", put.text(cue.player)))
    if cue.say is not None:
        fields.append(("say", put.text(cue.say)))
    if cue.send:
        sent = [put.group(_sent(send)) for send in cue.send]
        fields.append(("send", sent[0] if len(sent) == 1 else f"[{', '.join(sent)}]"))
    if cue.sound is not None:
        fields.append(("sound", put.text(cue.sound)))
    return fields


def _sent(send: Send) -> put.Fields:
    if isinstance(send, SendProgram):
        return [("program", str(send.program)), ("channel", str(send.channel))]
    if isinstance(send, SendController):
        numbers = {"controller": send.controller, "value": send.value, "channel": send.channel}
        return [(key, str(value)) for key, value in numbers.items()]
    return [("osc", f"[{', '.join(map(put.literal, (send.address, *send.args)))}]")]
