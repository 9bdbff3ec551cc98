"""The markers as a table for spreadsheets (RFC 4180, UTF-8).

A text cell that begins with ``= + - @`` gets a quote before it, so that no spreadsheet
takes a name for a formula.  This file knows nothing about how the rows are made.
"""

from __future__ import annotations

import csv
import io
from typing import Any, BinaryIO

from bridge.out.request import Request, Written
from bridge.out.rows import COLUMNS, marker_rows
from bridge.song import Frame

__all__ = ["write"]

_FORMULA = ("=", "+", "-", "@", "\t", "\r")


def write(frame: Frame, file: BinaryIO, request: Request) -> Written:
    """Write one line of names and one a marker."""
    text = io.StringIO(newline="")
    table = csv.DictWriter(text, COLUMNS)
    table.writeheader()
    rows = marker_rows(frame, request)
    table.writerows({key: _cell(value) for key, value in row.items()} for row in rows)
    file.write(text.getvalue().encode())
    return Written(
        facts={
            "markers": len(rows),
            "samples_per_second": request.samples_per_second,
            "ticks_per_quarter": request.ticks_per_quarter,
        }
    )


def _cell(value: Any) -> Any:
    if isinstance(value, str) and value.startswith(_FORMULA):
        return "'" + value
    return value
