"""Readings on the form: a solved plan read as an experienced writer would, with remedies.

Advice, never law: every limit stands in :mod:`bridge.form.rules` with its reason, and a
plan may accept any reading.  Stands right of the song, which it reads.
"""

from bridge.form.finding import Finding, Look, Reading, Remedy
from bridge.form.report import Report, Unneeded, read_form
from bridge.form.rules import RULES, Rule

__all__ = ["RULES", "Finding", "Look", "Reading", "Remedy", "Report", "Rule", "Unneeded", "read_form"]
