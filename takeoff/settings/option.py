"""What an option is: its meaning, its bounds, its check."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, slots=True)
class Option:
    """What an option means and what it may hold.

    ``low`` and ``high`` bound a number, or every number of a list or table, both included.
    ``check`` gets the value (of a list or table: each key and value) and returns what is
    wrong with it as the end of a sentence, or an empty string.
    """

    about: str
    low: float = -math.inf
    high: float = math.inf
    choices: tuple[str, ...] = ()
    check: Callable[[Any], str] | None = None


def check_size(size: str) -> str:
    """What is wrong with a bolt size as the end of a sentence, or an empty string."""
    if re.fullmatch(r"M\d+(\.\d)?|[1-4](-\d+/\d+)?|\d+/\d+", size):
        return ""
    return 'must name bolt sizes as "M16" or "3/4"'


def check_filled(text: str) -> str:
    return "" if text.strip() else "must not be empty"
