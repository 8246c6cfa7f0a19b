"""Real models against their own lists, moved and renamed: what is the same steel is no difference."""

from dataclasses import replace

import numpy as np
import pytest
from real_models import MODELS, model_path, taken
from steelwork import global_id, moved, rotation

from takeoff.comparing import compare, state_of, state_of_lists
from takeoff.documents import write_tables
from takeoff.pipeline import work_out
from takeoff.settings import IdentitySettings, Settings

NAMES = sorted(path.name for path in MODELS.glob("*.ifc")) or ["bolt_groups_excerpt.ifc"]


def told(comparison):
    return [(c.change, c.mark_old, c.mark_new, c.what) for c in comparison.changes]


@pytest.mark.parametrize("name", NAMES)
def test_a_model_and_its_own_lists_do_not_differ(name, tmp_path):
    model_path(name)
    job = taken(name)
    write_tables(job, tmp_path)
    lists, model = state_of_lists(tmp_path), state_of(job)
    assert told(compare(lists, model, IdentitySettings())) == []
    assert told(compare(model, lists, IdentitySettings())) == []


@pytest.mark.parametrize("name", ["bolt_groups_excerpt.ifc", "portal_frame_marks.ifc"])
def test_the_same_steel_elsewhere_under_other_names_does_not_differ(name):
    model_path(name)
    job = taken(name)
    turn, shift = rotation((0.1, -0.3, 1.2)), np.array([7_000.0, -40_000.0, 900.0])
    members = [
        moved(replace(m, global_id=global_id(), name=f"n{k}", mark=""), turn, shift) if m.frame is not None
        else replace(m, global_id=global_id())
        for k, m in enumerate(job.model.members)
    ]  # fmt: skip
    fasteners = [moved(f, turn, shift) for f in job.model.fasteners]
    again = work_out(replace(job.model, members=tuple(members[::-1]), fasteners=tuple(fasteners)), Settings())
    found = compare(state_of(job), state_of(again), IdentitySettings())
    assert [row for row in told(found) if row[0] != "hold"] == []
