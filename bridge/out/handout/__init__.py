"""The handout: layers over a stretch of bars, every home marked, the approach to the meeting visible."""

from bridge.out.handout.picture import handout_scene
from bridge.out.handout.stretch import Stretch, stretch_of_layers, stretch_of_section

__all__ = ["Stretch", "handout_scene", "stretch_of_layers", "stretch_of_section"]
