"""The public models next to the project, where they are present; none is part of it."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest

from takeoff.pipeline import take_off
from takeoff.settings import Settings
from takeoff.steel import Piece, Takeoff

ROOT = Path(__file__).resolve().parents[2]
MODELS = ROOT / ".." / "shared" / "models"


def model_path(name: str) -> Path:
    """The model's path; skips the test where the model is not there."""
    path = (MODELS / name).resolve()
    if not path.is_file():
        pytest.skip(f"the model {name} is not in {Path('..') / 'shared' / 'models'}")
    return path


@cache
def _taken(path: Path) -> Takeoff:
    return take_off([path], Settings())


def taken(name: str) -> Takeoff:
    """The take-off of a model, worked out once a session."""
    return _taken(model_path(name))


def piece_of(takeoff: Takeoff, global_id: str) -> Piece:
    """The piece that a member became."""
    [piece] = [p for p in takeoff.pieces if any(takeoff.model.members[i].global_id == global_id for i in p.members)]
    return piece
