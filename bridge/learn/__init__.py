"""What a host's traffic means: an interview in, the lines of a host map out."""

from bridge.learn.explain import Explained, explain
from bridge.learn.finding import Confidence, Finding, Missing
from bridge.learn.interview import Step, first_course, further
from bridge.learn.mark import PREFIX, Happening, Mark, What, read_mark, write_mark

__all__ = [
    "PREFIX",
    "Confidence",
    "Explained",
    "Finding",
    "Happening",
    "Mark",
    "Missing",
    "Step",
    "What",
    "explain",
    "first_course",
    "further",
    "read_mark",
    "write_mark",
]
