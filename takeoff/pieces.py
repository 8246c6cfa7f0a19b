"""Which parts are one piece: identity, hand and grouping, by geometry alone.

Vocabulary
----------
shape           section, grade, finish, length and features of a part, in some position
canonical       the position whose sorted features, snapped to 0.01 mm, are the smallest
representative  the shape that a piece mark stands for; every member agrees with it, directly
opposite hand   a shape that agrees with another only as its mirror image

Two parts are the same piece when some turn of one agrees with the other: length within 0.5 mm, diameters within
0.1 mm, hole positions within 0.5 mm and a quarter of the bolt's clearance. Near twins can form chains in which the
ends differ by more; representatives are therefore chosen in the order of the shapes themselves, the commonest
first, and never in the order of the model's entities.

Does not know: names, marks, places or ends of the model. Those come later.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import cast

import numpy as np

from takeoff.holerows import KINDS, SUNK, Holes, Rows
from takeoff.identity import (
    NOISE_MM,
    STORED_PLACES,
    Group,
    Key,
    Known,
    Shape,
    ShapeIndex,
    agreement,
    all_turns,
    fit,
    make_canonical,
    rounded_section,
)
from takeoff.settings import IdentitySettings
from takeoff.steel import FLAT, PLATE, Body, FloatArray, Member, Section
from takeoff.turned import (
    ACROSS,
    ANGLE,
    BOLT,
    BOTH,
    COLUMNS,
    DEPTH,
    FACE,
    FAR,
    HOLE,
    KIND,
    NEAR,
    SIDE,
    SIZE,
    SLOT,
    TYPE,
    WIDTH,
    X,
    blank_features,
    mirror_features,
)
from takeoff.units import COINCIDENCE_MM

SECTION_MM = 0.1
"""Sections whose dimensions differ by less are one section."""


@dataclass(frozen=True, slots=True, eq=False)
class Grouping:
    """``groups`` that have members: those of known shapes first, then in the order of their shapes; hands found.

    ``sections`` are the known ones and those that came new, in the order in which others are held against them.
    """

    groups: list[Group]
    sections: tuple[Section, ...]


def group_members(members: Sequence[Member], holes: Holes, rules: IdentitySettings) -> list[Group]:
    """All members with a body, grouped into pieces; in the order of their shapes, hands found."""
    shapes, _ = _distinct(members, holes)
    for shape in shapes:
        make_canonical(shape)
    shapes.sort(key=lambda s: (s.key, s.tie))
    groups = _gather(_in_order_of_use(shapes), rules)
    groups.sort(key=lambda g: (g.shape.bucket[1:], g.shape.key))
    _find_hands(groups, rules)
    return groups


def group_with_known(members: Sequence[Member], holes: Holes, rules: IdentitySettings, known: Known) -> Grouping:
    """As :func:`group_members`, after shapes that have their marks already.

    A shape joins the first representative that it agrees with, the known ones in their order before all others, each
    by its own tolerances. So whoever had a mark once finds it again, whatever came after.
    """
    shapes, sections = _distinct(members, holes, known)
    for shape in shapes:
        shape.rows = np.round(shape.rows, STORED_PLACES) + 0.0
        shape.length = round(shape.length, STORED_PLACES)
        shape.section = rounded_section(shape.section)
        shape.width = shape.section.h
        make_canonical(shape)
    shapes.sort(key=lambda s: (s.key, s.tie))
    groups = _gather(_in_order_of_use(shapes), rules, known)
    groups.sort(key=lambda g: (g.known is None, g.known or 0, g.shape.bucket[1:], g.shape.key))
    for number, remembered in enumerate(known.shapes):
        groups[number].opposite = remembered.mate
    _find_hands(groups, rules)
    return Grouping(_present(groups), sections)


def _present(groups: list[Group]) -> list[Group]:
    """Those with members, numbered anew; a mate that has none now is named by its known shape."""
    present = [number for number, group in enumerate(groups) if group.members]
    place = {number: k for k, number in enumerate(present)}
    for number in present:
        group = groups[number]
        if group.opposite is not None and group.opposite not in place:
            group.absent_mate = groups[group.opposite].known
        group.opposite = None if group.opposite is None else place.get(group.opposite)
    return [groups[number] for number in present]


def _distinct(
    members: Sequence[Member], holes: Holes, known: Known | None = None
) -> tuple[list[Shape], tuple[Section, ...]]:
    """Members with the same body and the same holes, to 0.01 mm, are looked at once.

    Also the sections that others are held against, the known ones first.
    """
    rows = holes.rows
    solid = [i for i, m in enumerate(members) if m.is_made]
    starts = np.searchsorted(rows["member"], np.arange(len(members) + 1)).tolist()
    features = _hole_features(rows)
    # -0.0 and 0.0 have different bytes: adding 0.0 makes them one.
    snapped = np.round(features / COINCIDENCE_MM) + 0.0
    origin = np.column_stack([rows["source"], rows["diameter_source"]])
    remembered = known.shapes if known else ()
    sections = [cast(Body, members[i].body).section for i in solid]
    classes, heads = _section_classes(
        [*sections, *(r.shape.section for r in remembered)], known.sections if known else ()
    )
    for entry in remembered:
        entry.shape.section_class = classes[entry.shape.section]
    found: dict[Key, Shape] = {}
    by_id: dict[int, int] = {}
    by_value: dict[Body, int] = {}
    for i in solid:
        member = members[i]
        body = cast(Body, member.body)
        blank = by_id.get(id(body))
        if blank is None:
            # Many files draw every part anew: bodies of one value are one blank too.
            blank = by_id[id(body)] = by_value.setdefault(body, len(by_value))
        mine = slice(starts[i], starts[i + 1])
        key = (blank, member.grade, member.finish, member.notches, snapped[mine].tobytes(), origin[mine].tobytes())
        shape = found.get(key)
        if shape is None:
            blank_rows = blank_features(body, member.notches)
            shape = found[key] = Shape(
                section=body.section,
                section_class=classes[body.section],
                grade=member.grade,
                finish=member.finish,
                length=body.length,
                width=body.section.h,
                rows=np.concatenate([features[mine], blank_rows]),
                body=body,
                notches=member.notches,
                sources=tuple((source, size) for source, size in origin[mine].tolist()),
            )
        shape.members.append(i)
    return list(found.values()), heads


def _hole_features(rows: Rows) -> FloatArray:
    out = np.zeros((len(rows), COLUMNS))
    out[:, TYPE] = HOLE
    for column, name in (
        (FACE, "face"),
        (X, "x"),
        (ACROSS, "across"),
        (SIZE, "diameter"),
        (SLOT, "slot"),
        (ANGLE, "angle"),
        (WIDTH, "width"),
        (KIND, "kind"),
        (BOLT, "bolt"),
    ):
        out[:, column] = rows[name]
    out[:, DEPTH] = np.where(np.isfinite(rows["depth"]), rows["depth"], 0.0)
    # Countersinks and blind holes belong to one side of the wall, all others go through.
    sunk = np.isin(rows["kind"], [KINDS.index(kind) for kind in SUNK])
    out[:, SIDE] = np.where(sunk, np.where(rows["far"], FAR, NEAR), BOTH)
    return out


def _section_classes(
    sections: Sequence[Section], known: Sequence[Section] = ()
) -> tuple[dict[Section, int], tuple[Section, ...]]:
    """Sections that are one section to the shop; a plate's width is no matter here, its thickness is.

    Each section is held against the heads in their order, the ``known`` ones first; also the heads.
    """

    def dimensions(s: Section) -> tuple[float, ...]:
        if s.shape in (FLAT, PLATE):
            return (s.tw,)
        outline = tuple(c for point in s.outline for c in point)
        return (s.h, s.b, s.tw, s.tf, s.b2, s.tf2, s.lip, s.slope * 100, *outline)

    def kind(s: Section) -> str:
        return PLATE if s.shape == FLAT else s.shape

    classes: dict[Section, int] = {}
    heads = [(kind(section), dimensions(section)) for section in known]
    chosen = list(known)
    for section in sorted(set(sections), key=lambda s: (kind(s), dimensions(s), s.designation)):
        mine = dimensions(section)
        for number, (shape, theirs) in enumerate(heads):
            if (
                shape == kind(section)
                and len(mine) == len(theirs)
                and all(abs(a - b) <= SECTION_MM for a, b in zip(mine, theirs, strict=True))
            ):
                classes[section] = number
                break
        else:
            classes[section] = len(heads)
            heads.append((kind(section), mine))
            chosen.append(section)
    return classes, tuple(chosen)


# ---------------------------------------------------------------- grouping


def _in_order_of_use(shapes: list[Shape]) -> list[Shape]:
    """Commonest first, ties by the smallest shape.

    Shapes that differ by noise count together, so that a turned model, in which the last digit falls otherwise,
    chooses the same representatives.
    """
    rules = IdentitySettings()
    clusters: list[tuple[Shape, list[Shape]]] = []
    index = ShapeIndex(NOISE_MM, NOISE_MM)
    same: dict[Key, list[Shape]] = {}
    for shape in shapes:
        # One snapped shape needs no comparing: it is within the noise already.
        own = same.setdefault((shape.bucket, shape.key), [])
        if own:
            own.append(shape)
            continue
        for number in index.near(shape):
            head, cluster = clusters[number]
            if fit(shape, head.canonical, head.length, head.width, rules, position=NOISE_MM) is not None:
                break
        else:
            cluster = []
            index.add(len(clusters), shape)
            clusters.append((shape, cluster))
        cluster.append(shape)
        same[shape.bucket, shape.key] = cluster
    ordered: list[tuple[int, Key, list[Shape]]] = []
    for head, cluster in clusters:
        use = sum(len(s.members) for s in cluster)
        ordered.append((-use, head.key, sorted(cluster, key=lambda s: (-len(s.members), s.key, s.tie))))
    ordered.sort(key=lambda entry: entry[:2])
    return [shape for _, _, cluster in ordered for shape in cluster]


def _gather(shapes: list[Shape], rules: IdentitySettings, known: Known | None = None) -> list[Group]:
    """Every shape to the first representative it agrees with, else it becomes one; known ones represent first."""
    groups: list[Group] = []
    remembered = known.shapes if known else ()
    widest = [rules, *(entry.rules for entry in remembered)]
    index = ShapeIndex(max(r.position_mm for r in widest), max(r.length_mm for r in widest))
    for number, entry in enumerate(remembered):
        make_canonical(entry.shape)
        stay = all_turns(entry.shape, np.zeros((0, COLUMNS)))[0]
        groups.append(Group(entry.shape, stay, entry.shape.rows, known=number, rank=number))
        index.add(number, entry.shape)
    same: dict[Key, int] = {}
    for shape in shapes:
        assert shape.turn is not None
        # Twins by key join without looking for an earlier one they may agree with: not where that must last.
        twin = same.get((shape.bucket, shape.key)) if known is None else None
        if twin is not None:
            off = agreement(groups[twin].rows, shape.canonical, rules, girth=shape.girth)
            if off is not None:
                groups[twin].members.extend((i, shape.turn, off) for i in shape.members)
                continue
        for number in index.near(shape):
            head = groups[number]
            judged = rules if head.known is None else remembered[head.known].rules
            found = fit(shape, head.rows, head.shape.length, head.shape.width, judged)
            if found is not None:
                break
        else:
            number = len(groups)
            groups.append(Group(shape, shape.turn, shape.canonical, rank=number))
            same[shape.bucket, shape.key] = number
            index.add(number, shape)
            found = (shape.turn, 0.0)
            if known is not None:
                # Laid on itself as the next run will lay it on what is remembered of it.
                rows = groups[number].rows = np.round(shape.canonical, STORED_PLACES) + 0.0
                found = fit(shape, rows, shape.length, shape.width, rules) or found
        groups[number].members.extend((i, *found) for i in shape.members)
        if groups[number].known is not None and groups[number].lead is None:
            groups[number].lead = (shape, found[0])
    for head in groups:
        head.members.sort(key=lambda entry: entry[0])
    return groups


def _find_hands(groups: list[Group], rules: IdentitySettings) -> None:
    """Link every group with the one that is its mirror image."""
    index = ShapeIndex(rules.position_mm, rules.length_mm)
    for number, head in enumerate(groups):
        index.add(number, head.shape)
    for number, head in enumerate(groups):
        if head.opposite is not None:
            continue
        shape = head.shape
        mirrored = mirror_features(shape.rows, shape.length)
        image = Shape(
            shape.section, shape.section_class, shape.grade, shape.finish, shape.length, shape.width,
            mirrored, shape.body, shape.notches,
        )  # fmt: skip
        if fit(image, head.rows, shape.length, shape.width, rules) is not None:
            head.opposite = number
            continue
        for n in index.near(shape):
            if n <= number:
                continue
            other = groups[n]
            if other.opposite is None and fit(image, other.rows, other.shape.length, other.shape.width, rules):
                head.opposite, other.opposite = n, number
                break
