"""How models are read."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from takeoff.settings.option import Option


@dataclass(frozen=True, slots=True)
class ModelSettings:
    """What a model does not say."""

    length_unit: Annotated[
        str,
        Option(
            "The unit of length of a model that states none, or several; empty: its parts are held. "
            "A unit that a model states is not changed.",
            choices=("", "mm", "cm", "m", "inch", "foot"),
        ),
    ] = ""
