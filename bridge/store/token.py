"""The user's own token: what a control from another machine ends with, the same every evening.

It stands in the state folder, for the user's eyes alone where the system can do that;
removing the file makes a new one.  This file knows nothing about who sends it.
"""

from __future__ import annotations

import os
from pathlib import Path

from bridge.errors import DeviceError
from bridge.store.lock import state_folder
from bridge.store.running import new_token

__all__ = ["own_token"]

_SHORTEST = 8


def own_token(folder: Path | None = None) -> str:
    """Return the token, made where there is none; DeviceError where it cannot be kept."""
    path = (folder or state_folder()) / "token"
    try:
        found = path.read_text(encoding="ascii").strip() if path.exists() else ""
        if len(found) >= _SHORTEST:
            return found
        token = new_token()
        path.unlink(missing_ok=True)
        with os.fdopen(os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600), "w") as file:
            file.write(token + "\n")
    except (OSError, ValueError) as error:
        raise DeviceError(
            f"the token in {str(path)!r} cannot be read or made: {error}",
            hint="May you write in that folder? PULSEBRIDGE_STATE names another one.",
        ) from None
    return token
