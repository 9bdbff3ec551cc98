"""The public face of the package: complete and sorted."""

from __future__ import annotations

import bridge.cycles
import bridge.exact


def test_the_face_is_sorted_and_every_name_is_there():
    for package in (bridge.cycles, bridge.exact):
        lower = [name for name in package.__all__ if name[0].islower()]
        constants = [name for name in package.__all__ if name.isupper()]
        types = [name for name in package.__all__ if name not in lower and name not in constants]
        assert package.__all__ == sorted(constants) + sorted(types) + sorted(lower)
        assert all(hasattr(package, name) for name in package.__all__)
