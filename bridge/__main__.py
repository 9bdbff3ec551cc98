"""``python -m bridge`` is the command ``pulsebridge``."""

from bridge.cli.main import run

run()
