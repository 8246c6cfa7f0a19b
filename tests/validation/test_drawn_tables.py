"""Every section of the published tables, drawn as facets and found again in the tables.

The entries are the project's copies of EN 10056-1, DIN 1026-1, EN 10365 and mill catalogues (each row names its
source); the roundings are drawn in steps of 15 or 30 degrees with their corners on the arcs.
"""

import pytest

from takeoff.drawn import Drawn, read_solid
from takeoff.sections import loops, shapes, tables


def prism(section, length, step):
    """Points and facets of a section's prism."""
    (outer,) = shapes.loops_of(section)
    ring = loops.flatten(outer, step).tolist()
    count = len(ring)
    points = [(x, u, v) for x in (0.0, length) for u, v in ring]
    near, far = tuple(range(count)), tuple(range(count, 2 * count))
    sides = [((i, (i + 1) % count, (i + 1) % count + count, i + count),) for i in range(count)]
    return points, [(near[::-1],), (far,), *sides]


@pytest.mark.parametrize("step", [15.0, 30.0])
def test_every_section_of_the_tables(step):
    lost = []
    for entry in tables.entries():
        found = read_solid(*prism(entry, max(700.0, 1.5 * entry.h), step), lambda *_: False)
        if not isinstance(found, Drawn):
            lost.append((entry.designation, found.sentence))
        elif tables.match(found.body.section).designation != entry.designation:
            lost.append((entry.designation, found.body.section.designation))
    assert lost == []
