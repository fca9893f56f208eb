"""A picture's file as a data address, so that a report carries it along. Reads files; looks at nothing but pictures."""

from __future__ import annotations

import base64
from pathlib import Path

__all__ = ["picture"]

LARGEST = 8_000_000  # bytes; a phone's picture has some 4 million
# How the formats that every browser shows begin (PNG: W3C PNG 5.2; JPEG: ITU-T T.81 B.1.1.3; WebP: RFC 9649).
KINDS = {b"\x89PNG\r\n\x1a\n": "png", b"\xff\xd8\xff": "jpeg", b"RIFF": "webp"}


def picture(path: str) -> str:
    """The data address; empty where the file is not there, is too large, or is no such picture."""
    try:
        file = Path(path)
        if file.stat().st_size > LARGEST:
            return ""
        data = file.read_bytes()
    except (OSError, ValueError):
        return ""
    kind = next((kind for start, kind in KINDS.items() if data.startswith(start)), "")
    if not kind or (kind == "webp" and data[8:12] != b"WEBP"):
        return ""
    return f"data:image/{kind};base64,{base64.b64encode(data).decode()}"
