"""The order in which people expect marks: A2 before A10."""

from __future__ import annotations

import re


def natural(text: str) -> tuple[tuple[int, int, str], ...]:
    """A key that sorts A2 before A10."""
    return tuple((0, int(p), "") if p.isdecimal() else (1, 0, p) for p in re.findall(r"[0-9]+|[^0-9]+", text))
