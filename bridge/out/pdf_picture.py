"""The picture of the form as a PDF file.

This file knows nothing about the command line.
"""

from __future__ import annotations

from typing import BinaryIO

from bridge.out.form import form_scene
from bridge.out.pictures import picture, told
from bridge.out.request import Request, Written
from bridge.out.typeface import Typeface
from bridge.song import Frame

__all__ = ["write"]


def write(frame: Frame, file: BinaryIO, request: Request) -> Written:
    """Write the picture of the song; UsageError where our fonts are missing."""
    faces = Typeface.installed()
    scene = form_scene(frame.song, faces)
    file.write(picture(scene, ".pdf", faces))
    request.progress(1.0)
    return told([scene], faces, boxed=True)
