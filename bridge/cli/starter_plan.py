"""A first plan with comments: what stands in it, and what might come next.

The plan's own text, with words beside its keys and a next section to uncomment.  This
file knows nothing about files.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from bridge.plan import Plan, dump

__all__ = ["starter_text"]

_SAID = {
    "pulsebridge: ": "the format's version",
    "tempo: ": "quarter notes a minute; a section may have its own",
    "meter: ": "a section may have its own",
    "    layers: ": "who sounds; [] is a general pause",
    "    resolve: ": "who must be home at its end; [] is nobody",
}
_BEFORE = {
    "layers:": (
        "",
        "# Who repeats what: a cycle is the length after which a part begins anew, in bars or",
        "# whole notes. Add who plays it, as in {cycle: 3/16, player: percussion}.",
    ),
    "sections:": ("", "# The song, in playing order."),
}
_FEW = 4
_COLUMN = 33


def starter_text(plan: Plan, name: str, *, lengths: Sequence[int]) -> str:
    """Return ``plan``, of one section, with comments; ``lengths`` are good ones in bars, rising."""
    written = dump(plan).splitlines()
    lines = [line for one in written for line in (*_BEFORE.get(one, ()), _commented(one, lengths))]
    return "\n".join([*_head(name), *lines, *_next(plan, written)]) + "\n"


def _head(name: str) -> Iterator[str]:
    yield f"# A first idea as a plan. Solve it with:   pulsebridge plan {name}"
    yield "# Every value is read as the text that stands here: 2:30 is a time, 115.2 exactly 115.2."
    yield ""


def _commented(line: str, lengths: Sequence[int]) -> str:
    said = next((words for key, words in _SAID.items() if line.startswith(key)), None)
    if line.startswith("    bars: "):
        few = ", ".join(map(str, lengths[:_FEW]))
        said = f"good lengths: {few}{' ...' if len(lengths) > _FEW else ''}"
    return f"{line:<{_COLUMN}}# {said}" if said else line


def _next(plan: Plan, written: Sequence[str]) -> Iterator[str]:
    """Say what to change in the section, and what its payoff would be."""
    (name,) = (line.removeprefix("  - name: ") for line in written if line.startswith("  - name: "))
    (layers,) = (line.strip() for line in written if line.startswith("    layers: "))
    yield "    energy: [20, 90]             # 0 to 100, from its start to its end"
    yield "    # Instead of 'bars' a wish; the planner takes the nearest length at which all come home:"
    yield '    # length: {about: "2:30", at_least: 12 bars}'
    yield ""
    yield "  # What it is built for, at least as long: take the '# ' away to have it."
    yield "  # - name: Payoff"
    yield f"  #   {layers}"
    yield f"  #   length: {{at_least: {plan.sections[0].bars} bars}}"
    yield f"  #   pays_off: {{section: {name}, ratio: 1}}"
    yield "  #   energy: 100"
