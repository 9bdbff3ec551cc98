"""Where the recipes and examples stand: in the wheel's own folder, else in the checkout.

An editable install has no ``bridge/shipped``; there the checkout's folders serve.
"""

from __future__ import annotations

from pathlib import Path

from bridge.errors import InternalError

__all__ = ["shipped"]


def shipped(name: str) -> Path:
    """Return the path of a shipped file or folder such as ``examples/low-tide-relay.yaml``.

    InternalError when it is in neither place: the installation is broken.
    """
    package = Path(__file__).parent.parent
    for folder in (package / "shipped", package.parent):
        path = folder / name
        if path.exists():
            return path
    raise InternalError(f"{name} is missing from this installation", hint="Install pulsebridge again.")
