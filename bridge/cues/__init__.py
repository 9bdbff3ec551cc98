"""What is due, when, for whom; where a section can be left, and who is home there."""

from bridge.cues.axis import Axis, Bar
from bridge.cues.coming import section_cues
from bridge.cues.due import DueCue
from bridge.cues.ladder import Exits
from bridge.cues.leads import Leads
from bridge.cues.own import midi_of
from bridge.cues.release import release_cues
from bridge.cues.rung import Rung
from bridge.cues.standing import Stand, Standing, Turner

__all__ = [
    "Axis",
    "Bar",
    "DueCue",
    "Exits",
    "Leads",
    "Rung",
    "Stand",
    "Standing",
    "Turner",
    "midi_of",
    "release_cues",
    "section_cues",
]
