"""Players' papers as PDF files, one a player.

This file knows nothing about what stands on them.
"""

from __future__ import annotations

from pathlib import Path
from typing import BinaryIO

from bridge.out.folder import numbered_paths
from bridge.out.paper import player_paper, players
from bridge.out.pdf import pdf
from bridge.out.pictures import told
from bridge.out.request import Request, Written
from bridge.out.typeface import Typeface
from bridge.song import Song

__all__ = ["part_paths", "write_part"]


def part_paths(song: Song, folder: Path) -> dict[Path, str]:
    """Return the path of each player's paper in ``folder``, with the player; make the folder.

    DeviceError where the folder cannot be made.
    """
    names = list(players(song))
    return dict(zip(numbered_paths(folder, names, ".pdf", option="--parts"), names, strict=True))


def write_part(song: Song, player: str, file: BinaryIO, request: Request) -> Written:
    """Write the paper of ``player``; UsageError where our fonts are missing."""
    faces = Typeface.installed()
    paper = player_paper(song, player, faces)
    file.write(pdf(paper.pages, faces))
    request.progress(1.0)
    written = told(paper.pages, faces)
    facts = {"player": player, "pages": len(paper.pages), **written.facts}
    return Written(facts=facts, notes=written.notes)
