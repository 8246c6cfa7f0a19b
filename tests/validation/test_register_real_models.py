"""Real models with a register: the run that begins it and the next one agree, and without it the marks are the same."""

from pathlib import Path

import pytest
from real_models import MODELS, model_path, taken

from takeoff.pipeline import work_out
from takeoff.register.file import parsed, written
from takeoff.released import Register
from takeoff.settings import Settings
from takeoff.steel import HELD

NAMES = sorted(path.name for path in MODELS.glob("*.ifc")) or ["bolt_groups_excerpt.ifc"]


@pytest.mark.parametrize("name", NAMES)
def test_the_run_that_begins_a_register_and_the_next_agree(name):
    model_path(name)
    plain = taken(name)
    first = work_out(plain.model, Settings(), register=Register())
    content = written(first.release.register)
    second = work_out(plain.model, Settings(), register=parsed(content, Path("register")))
    assert written(second.release.register) == content
    # A shop may begin a register after the first lists are out.
    assert first.member_marks == second.member_marks == plain.member_marks
    assert first.queries == second.queries
    for one, other in zip(first.pieces, second.pieces, strict=True):
        for what in ("mark", "holes", "cuts", "length", "gross", "net", "surface", "outline", "spread", "status"):
            assert getattr(one, what) == getattr(other, what), (one.mark, what)
    released = {entry.mark: entry.most for entry in first.release.register.pieces if entry.released is not None}
    assert released == {piece.mark: piece.quantity for piece in first.pieces if piece.status != HELD}
