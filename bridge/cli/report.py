"""The report that is written when the fault is ours.

It holds the versions, the command's words and the traceback, and goes to the
system's folder for temporary files; nothing is sent anywhere.
"""

from __future__ import annotations

import platform
import tempfile
import traceback
from collections.abc import Sequence
from pathlib import Path

from bridge.errors import InternalError

__all__ = ["write_report"]


def write_report(error: BaseException, words: Sequence[str]) -> InternalError:
    """Write the report of an unexpected ``error`` and return what to tell the user."""
    lines = [
        f"python {platform.python_version()} on {platform.system()} {platform.release()}",
        f"pulsebridge {' '.join(map(repr, words))}",
        "",
        *traceback.format_exception(error),
    ]
    hint: str
    try:
        with tempfile.NamedTemporaryFile(
            "w", prefix="pulsebridge-report-", suffix=".txt", delete=False, encoding="utf-8"
        ) as file:
            file.write("\n".join(lines))
        hint = f"A report stands in {Path(file.name)}; please send it to the project."
    except OSError as failure:
        hint = f"No report could be written ({failure})."
    return InternalError(f"this is a fault of ours: {type(error).__name__}: {error}", hint=hint)
