"""Random edits of a random job: a comparison finds exactly the edit, whatever became of ids, names, order and place."""

from dataclasses import replace

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from steelwork import (
    FL100,
    IPE200,
    L80X60,
    L100,
    RHS120,
    T100,
    U160,
    frame,
    global_id,
    hole,
    member,
    model,
    moved,
    places,
    rotation,
    vectors,
)

from takeoff.comparing import compare, state_of
from takeoff.pipeline import work_out
from takeoff.sections.shapes import faces
from takeoff.settings import IdentitySettings, Settings

SECTIONS = (L100, L80X60, U160, FL100, IPE200, RHS120, T100)
EDITS = {
    "nothing": ([], ""),
    "hole moved": (["shape"], "moved"),
    "hole added": (["shape"], "added"),
    "hole gone": (["shape"], "gone"),
    "hole opened": (["shape"], "dia 18 to dia 22"),
    "length": (["shape"], "length"),
    "part gone": (["gone"], ""),
}
"""Edit -> kinds of change besides the weight, and a word of what is said."""


@st.composite
def jobs(draw):
    """Parts 3 m apart, each of a length of its own, so that an edit of one makes no twin of another."""
    parts = []
    for k in range(draw(st.integers(2, 6))):
        section = draw(st.sampled_from(SECTIONS))
        holes = []
        for i in range(3):
            face = draw(st.sampled_from(faces(section)))
            share = draw(st.floats(0.35, 0.65))
            across = face.low + (face.high - face.low) * share
            holes.append(hole(face.name, 80 + 150 * i + draw(st.integers(0, 40)), across))
        parts.append(member(section, 600.0 + 90 * k, at=frame((0, 3000 * k, 0)), holes=tuple(holes)))
    return parts


def edited(part, edit, by):
    """The part after an edit of its first hole, its last hole or its length."""
    first, *rest = part.holes
    if edit == "hole moved":
        return replace(part, holes=(replace(first, x=first.x + by), *rest))
    if edit == "hole added":
        return replace(part, holes=(*part.holes, hole(first.face, part.body.length - 55.0, first.across)))
    if edit == "hole gone":
        return replace(part, holes=part.holes[:-1])
    if edit == "hole opened":
        return replace(part, holes=(replace(first, diameter=22.0), *rest))
    if edit == "length":
        return replace(part, body=replace(part.body, length=part.body.length + 3 * by))
    return part


def state(parts):
    return state_of(work_out(model(parts), Settings()))


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    job=jobs(),
    edit=st.sampled_from(sorted(EDITS)),
    by=st.sampled_from((-9.0, 3.0, 11.0)),
    data=st.data(),
    renamed=st.booleans(),
    motion=st.one_of(st.none(), st.tuples(vectors, places)),
)
def test_exactly_the_edit_is_found(job, edit, by, data, renamed, motion):
    number = data.draw(st.integers(0, len(job) - 1))
    new = [edited(part, edit, by) if k == number else part for k, part in enumerate(job)]
    if edit == "part gone":
        del new[number]
    if renamed:
        new = [replace(part, global_id=global_id(), name="other", mark="") for part in new]
    # A job of two parts that is moved as a whole under new names has one part left to tell the motion by.
    if motion is not None and (not renamed or len(job) > 3):
        turn, shift = rotation(motion[0]), motion[1]
        new = [moved(part, turn, shift) for part in new]
    new = data.draw(st.permutations(new))
    found = [c for c in compare(state(job), state(new), IdentitySettings()).changes if c.change != "weight"]
    kinds, word = EDITS[edit]
    assert [c.change for c in found] == kinds
    if word:
        assert word in found[0].what
        assert len(found[0].differences) == 1
