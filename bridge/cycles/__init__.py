"""Layers and where they are home together."""

from bridge.cycles.barred import fixed_cycle
from bridge.cycles.earned import Earned, earned_cycles
from bridge.cycles.layer import Kind, Layer
from bridge.cycles.lengths import GoodLengths, LengthsInBars, good_lengths, nearest
from bridge.cycles.meetings import Meetings, Never, Together, divisor, meetings, never, on_the_way, period
from bridge.cycles.near import NearLengths, NearMeeting, near_lengths, near_meetings, off_home
from bridge.cycles.relation import Pair, Relation, pairs, relation

__all__ = [
    "Earned",
    "GoodLengths",
    "Kind",
    "Layer",
    "LengthsInBars",
    "Meetings",
    "NearLengths",
    "NearMeeting",
    "Never",
    "Pair",
    "Relation",
    "Together",
    "divisor",
    "earned_cycles",
    "fixed_cycle",
    "good_lengths",
    "meetings",
    "near_lengths",
    "near_meetings",
    "nearest",
    "never",
    "off_home",
    "on_the_way",
    "pairs",
    "period",
    "relation",
]
