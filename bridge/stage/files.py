"""The page's own files, read once: what a browser may ask for by name.

This file knows nothing about what is in them.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from starlette.requests import Request
from starlette.responses import Response

__all__ = ["Files"]

_KINDS = {
    ".html": "text/html; charset=utf-8",
    ".css": "text/css; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".svg": "image/svg+xml",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class _File:
    body: bytes
    kind: str
    tag: str


class Files:
    """Every file of the page by name."""

    def __init__(self) -> None:
        folder = Path(__file__).parent / "page"
        self._files: Mapping[str, _File] = {
            path.name: _file(path) for path in sorted(folder.iterdir()) if path.suffix in _KINDS
        }

    def answer(self, name: str, request: Request) -> Response:
        """Answer with the file called ``name``: 404 where there is none, 304 where the browser has it."""
        found = self._files.get(name)
        if found is None:
            return Response("There is no such file.", status_code=404, media_type="text/plain")
        headers = {"cache-control": "no-cache", "etag": found.tag}
        if request.headers.get("if-none-match") == found.tag:
            return Response(status_code=304, headers=headers)
        return Response(found.body, headers={**headers, "content-type": found.kind})


def _file(path: Path) -> _File:
    body = path.read_bytes()
    return _File(body=body, kind=_KINDS[path.suffix], tag=f'"{hashlib.sha256(body).hexdigest()[:16]}"')
