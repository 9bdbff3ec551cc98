"""Writing behind: while one block goes to the disk, the next is computed.

This file knows nothing about what is written.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from concurrent.futures import Future, ThreadPoolExecutor
from typing import Any

from bridge.out.guide.mix import Block

__all__ = ["write_behind"]


def write_behind(blocks: Iterable[Block], write: Callable[[Block], Any], told: Callable[[int], None]) -> None:
    """Call ``write`` with a copy of each block, in order, one at a time, in a thread of its own.

    ``told`` hears how many frames have been handed over.  What ``write`` raises, this raises.
    """
    frames = 0
    with ThreadPoolExecutor(max_workers=1) as pool:
        writing: Future[Any] | None = None
        for block in blocks:
            copy = block.copy()
            if writing is not None:
                writing.result()
            writing = pool.submit(write, copy)
            frames += len(block)
            told(frames)
        if writing is not None:
            writing.result()
