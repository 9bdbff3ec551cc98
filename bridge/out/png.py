"""Scenes as PNG: the PDF's page, drawn by PDFium, whose wheel carries the whole renderer.

So what is seen on a screen is what comes out of the printer.  This file knows nothing
about music.
"""

from __future__ import annotations

from io import BytesIO

from bridge.out.pdf import pdf
from bridge.out.scene import Scene
from bridge.out.typeface import Typeface

__all__ = ["png"]


def png(scene: Scene, faces: Typeface, *, dots_per_inch: int = 200) -> bytes:
    """Return ``scene`` as a PNG file of ``dots_per_inch``."""
    import pypdfium2

    document = pypdfium2.PdfDocument(pdf([scene], faces))
    try:
        bitmap = document[0].render(scale=dots_per_inch / 72)
        file = BytesIO()
        bitmap.to_pil().save(file, format="PNG", dpi=(dots_per_inch, dots_per_inch), optimize=True)
    finally:
        document.close()
    return file.getvalue()
