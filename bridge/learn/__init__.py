"""What a host's traffic means: an interview in, the lines of a host map out."""

from bridge.learn.explain import Explained, explain
from bridge.learn.finding import Confidence, Finding, Missing
from bridge.learn.interview import Step, first_course, further
from bridge.learn.mark import PREFIX, Happening, Mark, What, read_mark, write_mark
from bridge.learn.reaction import reacted
from bridge.learn.saying import (
    DEEDS,
    LASTING,
    LIST,
    Deed,
    Spoken,
    announced,
    facts_of,
    read_typed,
    said_of,
    spoken_of,
)
from bridge.learn.write import host_map_text

__all__ = [
    "DEEDS",
    "LASTING",
    "LIST",
    "PREFIX",
    "Confidence",
    "Deed",
    "Explained",
    "Finding",
    "Happening",
    "Mark",
    "Missing",
    "Spoken",
    "Step",
    "What",
    "announced",
    "explain",
    "facts_of",
    "first_course",
    "further",
    "host_map_text",
    "reacted",
    "read_mark",
    "read_typed",
    "said_of",
    "spoken_of",
    "write_mark",
]
