"""Flashes counted in frames, by WCAG 2.2, success criterion 2.3.1.

A flash is a pair of opposing changes in relative luminance of 10 % or more of the maximum
where the darker image is below 0.80.  Every small square of the picture is counted by
itself, which is stricter than the criterion: it leaves small areas out.
"""

from __future__ import annotations

import io
from collections.abc import Sequence

import numpy as np
from PIL import Image

__all__ = ["luminance_by_square", "most_flashes_in_a_second"]

_STEPS = np.arange(256) / 255
_LINEAR = np.where(_STEPS <= 0.04045, _STEPS / 12.92, ((_STEPS + 0.055) / 1.055) ** 2.4)
SQUARE = 8
"""Pixels."""
CHANGE = 0.1
"""Of the greatest luminance."""


def luminance_by_square(picture: bytes) -> np.ndarray:
    """Return the relative luminance (WCAG 2.2's definition) of each square of a picture."""
    with Image.open(io.BytesIO(picture)) as image:
        colours = np.asarray(image.convert("RGB"))
    luminance = _LINEAR[colours] @ np.array([0.2126, 0.7152, 0.0722])
    high, wide = (size // SQUARE * SQUARE for size in luminance.shape)
    squares = luminance[:high, :wide].reshape(high // SQUARE, SQUARE, wide // SQUARE, SQUARE)
    return squares.mean(axis=(1, 3)).ravel()


def most_flashes_in_a_second(frames: Sequence[tuple[float, np.ndarray]]) -> int:
    """Return the most flashes that any square shows in any one second; frames are (seconds, squares)."""
    times = np.array([at for at, _ in frames])
    squares = np.stack([square for _, square in frames])
    moving = squares[:, np.ptp(squares, axis=0) >= CHANGE]
    return max((_in_a_second(times, levels) for levels in moving.T), default=0)


def _in_a_second(times: np.ndarray, levels: np.ndarray) -> int:
    """Count pairs of opposing changes of a tenth or more, by their first change, in the fullest second."""
    changes, extreme, direction = [], levels[0], 0
    for at, level in zip(times, levels, strict=True):
        way = 1 if level > extreme else -1
        if direction != 0 and way == direction:
            extreme = level
        elif abs(level - extreme) >= CHANGE and min(level, extreme) < 0.8:
            changes.append(at)
            extreme, direction = level, way
        elif direction == 0:
            continue
    flashes = np.array(changes[::2])
    if not len(flashes):
        return 0
    return max(int(np.sum((flashes >= at) & (flashes < at + 1 - 1e-6))) for at in flashes)
