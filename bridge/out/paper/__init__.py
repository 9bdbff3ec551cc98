"""Paper for players: what each of them plays, counts and listens for, large enough for a stand."""

from bridge.out.paper.pages import Paper, player_paper
from bridge.out.paper.words import players

__all__ = ["Paper", "player_paper", "players"]
