"""The table of commands: name, module, one line of help.

The one place to add a command.  Modules are imported on use, so that a cold start
pays for one command only; the lines stand here so that ``--help`` imports none.
"""

from __future__ import annotations

__all__ = ["COMMANDS"]

COMMANDS: dict[str, tuple[str, str]] = {
    "lengths": ("bridge.cli.lengths", "The lengths at which every layer comes home."),
    "find": ("bridge.cli.find", "Backwards: the cycles that first meet the others at the end."),
    "plan": ("bridge.cli.plan", "Solve a plan: every section's length, proven the best."),
    "check": ("bridge.cli.check", "Readings on the form: what a writer would see, what would help."),
    "lay": ("bridge.cli.lay", "Place the plan's markers in the host."),
    "changes": ("bridge.cli.changes", "What has to be done by hand to recorded material."),
    "practice-host": ("bridge.cli.practice_host", "A stand-in host to practise with."),
    "learn": ("bridge.cli.learn", "Find a host's OSC map by listening to it."),
    "receive": ("bridge.cli.receive", "What comes in, and where the host is by it."),
    "follow": ("bridge.cli.follow", "The bridge beside a host that plays: cues, hold and release."),
    "lead": ("bridge.cli.lead", "The bridge as the clock: MIDI clock, time code, click, cues."),
    "status": ("bridge.cli.status", "How the running bridge stands."),
    "press": ("bridge.cli.press", "Press a control of the running bridge: hold, release ..."),
    "stop": ("bridge.cli.stop", "End the running bridge."),
    "export": ("bridge.cli.export", "Write the song as files: .mid .csv .json .wav .flac."),
    "hear": ("bridge.cli.hear", "The guide on the sound card: click, layers, where all meet."),
    "draw": ("bridge.cli.draw", "A picture of the form, or a handout of layers over their bars."),
    "tighten": ("bridge.cli.tighten", "Turns of shrinking cycles that fill a build exactly."),
    "drift": ("bridge.cli.drift", "A second player slides away and comes home: when, how it sounds."),
    "groove": ("bridge.cli.groove", "How a groove is counted, measured and varied."),
    "pairings": ("bridge.cli.pairings", "Which layers sound together, and a fresh order of them."),
    "recipe": ("bridge.cli.recipe", "Build a plan from a recipe."),
    "schema": ("bridge.cli.schema", "The JSON Schema of the plan file or the host map."),
    "demo": ("bridge.cli.demo", "The whole job with the practice host, in half a minute."),
}
