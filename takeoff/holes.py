"""From bolts, openings and drawn holes to the holes of each part.

Vocabulary
----------
bolt hole     where a bolt passes a ply
drawn hole    one the model draws: an opening, or a void of the body
clearance     hole diameter less bolt diameter

A diameter is taken from the model where it states one, then from the hole it draws, and only then from the rule.
A bolt and a drawn hole at one place are one hole: it stands where it is drawn, and where the two disagree a
query says so. Holes are kept as one array for the whole job, a row a hole, in the frame of the part's body.

Does not know: which of several plies a stated slot belongs to. Such parts are held.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from functools import lru_cache

import numpy as np

from takeoff.holerows import DIAMETER_SOURCES, KINDS, ROW, SOURCES, Holes, Rows
from takeoff.order import natural
from takeoff.queries import ASSUMED, CHECK, HOLD, Query, query, register
from takeoff.rules.clearances import clearance
from takeoff.sections.shapes import faces
from takeoff.settings import Settings
from takeoff.steel import DrawnHole, Fastener, Member, Passage, Section
from takeoff.units import DIAMETER_MM, PARALLEL_DEG

PLACE_MM = 1.0
"""Bolts of one wall this close are one hole."""
OBLIQUE_HOLD_DEG = 10.0
"""A bolt askew by more than this is held: the hole through the ply would be an ellipse (decision of this project)."""

HOLE_SIZE_FROM_RULE = register(
    "hole-size-from-rule",
    ASSUMED,
    "The model states no diameter for {0} holes. Taken: bolt diameter plus clearance. {1}",
    "Confirm the clearance for this job, or set the client's own under [holes] in the settings.",
)
HOLE_SIZE_UNKNOWN = register(
    "hole-size-unknown",
    HOLD,
    "{0} bolts state no diameter, so the size of {1} holes is not known.",
    "Ask the designer for the bolt size, or set a clearance for it under [holes] in the settings.",
)
HOLE_SLOT_DIRECTION = register(
    "hole-slot-direction",
    HOLD,
    "{0} bolts are stated to stand in slotted holes; the model does not say in which part and which way.",
    "Ask the designer which part is slotted and in which direction, or have the slots modelled as openings.",
)
HOLE_DIAMETERS_DISAGREE = register(
    "hole-diameters-disagree",
    CHECK,
    "A stated hole diameter of {0} mm differs from the drawn one of {1} mm in {2} holes; the stated one was taken.",
    "Ask the designer which diameter holds.",
)
HOLE_OFF_ITS_BOLT = register(
    "hole-off-its-bolt",
    CHECK,
    "{0} drawn holes stand off the axis of their bolt, by up to {1} mm; the hole stands where it is drawn.",
    "Check against the joint's other plies before punching.",
)
HOLE_TOO_SMALL = register(
    "hole-too-small",
    HOLD,
    "A bolt of {0} mm does not go through its hole of {1} mm ({2} holes).",
    "Ask the designer for the bolt or the hole.",
)
BOLT_OBLIQUE = register(
    "bolt-oblique",
    CHECK,
    "{0} bolts stand askew to the face they pass, by up to {1} degrees; the hole is measured on the outside.",
    "Up to a few degrees a taper washer levels it; more is for the designer.",
)
BOLT_TOO_OBLIQUE = register(
    "bolt-too-oblique",
    HOLD,
    "{0} bolts or drawn holes stand askew to the face they pass by {1} degrees or more.",
    "A hole cannot be punched at that angle. Ask the designer.",
)
BOLT_HOLES_NOT_DRAWN = register(
    "bolt-holes-not-drawn",
    CHECK,
    "{0} bolts pass parts that draw other holes, but none for them; their holes were added.",
    "Check that the bolts belong there: the model draws holes elsewhere in these parts.",
)
BOLT_IN_BLIND_HOLE = register(
    "bolt-in-blind-hole",
    HOLD,
    "{0} bolts pass parts in which the model draws a hole that does not go through.",
    "Ask the designer whether the hole goes through.",
)
HOLES_WITHOUT_BOLT = register(
    "holes-without-bolt",
    CHECK,
    "{0} drawn holes have no bolt in the model.",
    "Often earthing, lights or a part of another model. They are punched as drawn; confirm what they are for.",
)


def find_holes(
    members: Sequence[Member], fasteners: Sequence[Fastener], passages: Sequence[Passage], settings: Settings
) -> tuple[Holes, tuple[Query, ...]]:
    """All holes of all parts, reconciled; see the module's text."""
    finder = _Finder(members, fasteners, passages, settings)
    finder.from_bolts()
    finder.with_drawn()
    return finder.result(), tuple(finder.queries())


class _Finder:
    """The state of one run: rows as they grow, and the findings on the way."""

    def __init__(
        self,
        members: Sequence[Member],
        fasteners: Sequence[Fastener],
        passages: Sequence[Passage],
        settings: Settings,
    ) -> None:
        self.members, self.fasteners, self.passages, self.settings = members, fasteners, passages, settings
        self.rows: Rows = np.zeros(0, dtype=ROW)
        self.held: dict[int, list[str]] = {}
        self.ply_count = 0
        self.merged = 0
        self.rule_sentences: set[str] = set()
        self.clearances: dict[float, float] = {}
        self.offsets: list[tuple[int, float]] = []
        self.disagree: Counter[tuple[str, str]] = Counter()
        self.disagree_ids: dict[tuple[str, str], list[int]] = {}
        self.small: Counter[tuple[str, str]] = Counter()
        self.small_members: dict[tuple[str, str], list[int]] = {}
        self.not_drawn: list[int] = []
        self.drawn_askew = 0
        self.without_bolt: list[int] = []
        self.in_blind: list[tuple[int, int]] = []

    def hold(self, member: int, code: str) -> None:
        codes = self.held.setdefault(member, [])
        if code not in codes:
            codes.append(code)

    # ------------------------------------------------------------ bolts

    def from_bolts(self) -> None:
        """A row for every ply of every bolt."""
        sizes = np.array([self._size(f) for f in self.fasteners]).reshape(-1, 3)
        plies = [ply for passage in self.passages for ply in passage.plies]
        rows = np.zeros(len(plies), dtype=ROW)
        self.oblique: dict[int, float] = {}
        if plies:
            counts = [len(passage.plies) for passage in self.passages]
            rows["passage"] = np.repeat(np.arange(len(self.passages)), counts)
            size = sizes[np.repeat([passage.fastener for passage in self.passages], counts)]
            rows["diameter"], rows["diameter_source"], rows["bolt"] = size.T
            member, names, _, _, rows["x"], rows["across"], tilt = zip(*plies, strict=True)
            rows["member"] = member
            rows["face"] = self._face_numbers(member, names)
            for k in np.flatnonzero(np.array(tilt) > PARALLEL_DEG).tolist():
                p = int(rows["passage"][k])
                self.oblique[p] = max(self.oblique.get(p, 0.0), tilt[k])
                if tilt[k] > OBLIQUE_HOLD_DEG:
                    self.hold(member[k], BOLT_TOO_OBLIQUE)
        rows["source"] = SOURCES["bolt"]
        rows["depth"] = np.inf
        self.ply_count = len(rows)
        self.rows = self._one_hole_a_place(rows)

    def _face_numbers(self, members: Sequence[int], names: Sequence[str]) -> list[int]:
        """The number of each named face in its member's section."""
        of_member: dict[int, dict[str, int]] = {}
        for i in set(members):
            body = self.members[i].body
            assert body is not None
            of_member[i] = _numbers_by_name(body.section)
        return [of_member[i][name] for i, name in zip(members, names, strict=True)]

    def _one_hole_a_place(self, rows: Rows) -> Rows:
        """Bolts that the model has twice make one hole; of two sizes in one place the larger one does."""
        if len(rows) < 2:
            return rows
        from scipy.sparse import csr_array
        from scipy.sparse.csgraph import connected_components
        from scipy.spatial import cKDTree

        # Exact doubles first: a file that lost its placements has thousands in one place, too many to be paired.
        keys = (np.round(rows["across"], 2), np.round(rows["x"], 2), rows["face"], rows["member"])
        order = np.lexsort((rows["diameter_source"], -rows["diameter"], *keys))
        new = np.any([np.diff(key[order]) != 0 for key in keys], axis=0)
        kept = np.sort(order[np.concatenate(([True], new))])
        self.merged += len(rows) - len(kept)
        rows = rows[kept]
        # Walls apart by more than a place is wide, so that only holes of one wall meet.
        wall = (rows["member"] * 16 + rows["face"]) * (4 * PLACE_MM)
        tree = cKDTree(np.column_stack([rows["x"], rows["across"], wall]))
        pairs = tree.query_pairs(PLACE_MM, p=np.inf, output_type="ndarray")
        if not len(pairs):
            return rows
        links = csr_array((np.ones(len(pairs)), (pairs[:, 0], pairs[:, 1])), (len(rows), len(rows)))
        place = connected_components(links, directed=False)[1]
        order = np.lexsort((rows["across"], rows["x"], rows["diameter_source"], -rows["diameter"], place))
        first = order[np.concatenate(([True], np.diff(place[order]) > 0))]
        self.merged += len(rows) - len(first)
        return rows[np.sort(first)]

    def _size(self, fastener: Fastener) -> tuple[float, int, float]:
        """Hole diameter, where it comes from, and the bolt's diameter (0: unknown)."""
        bolt = fastener.diameter or 0.0
        if fastener.hole_diameter:
            return fastener.hole_diameter, DIAMETER_SOURCES.index("property"), bolt
        if not bolt:
            return 0.0, DIAMETER_SOURCES.index("unknown"), 0.0
        more = self.clearances.get(bolt)
        if more is None:
            more, source = clearance(bolt, self.settings.holes)
            self.clearances[bolt] = more
            self.rule_sentences.add(source)
        return bolt + more, DIAMETER_SOURCES.index("rule"), bolt

    # ------------------------------------------------------------ drawn holes

    def with_drawn(self) -> None:
        """Bring in what the model draws, part by part where it draws anything."""
        drawing = [
            i for i, m in enumerate(self.members) if m.is_made and m.body is not None and (m.holes or m.body.holes)
        ]
        if not drawing:
            return
        mine = np.isin(self.rows["member"], drawing)
        kept = [self.rows[~mine]]
        bolted = self.rows[mine]
        for i in drawing:
            kept.append(self._reconcile(i, bolted[bolted["member"] == i].copy()))
        self.rows = np.concatenate(kept)

    def _reconcile(self, i: int, bolted: Rows) -> Rows:
        member = self.members[i]
        assert member.body is not None
        numbers = {face.name: k for k, face in enumerate(faces(member.body.section))}
        drawn = [*member.holes, *member.body.holes]
        free = set(range(len(bolted)))
        added: list[Rows] = []
        for hole in drawn:
            row = _drawn_row(i, numbers[hole.face], hole)
            if hole.tilt_deg > OBLIQUE_HOLD_DEG:
                self.drawn_askew += 1
                self.hold(i, BOLT_TOO_OBLIQUE)
            twin = self._twin(row, added)
            if twin is not None:
                twin["source"] |= row["source"]
                self.merged += 1
                continue
            k = self._bolt_in(row, bolted, free)
            if k is None:
                self.without_bolt.append(i)
            else:
                free.discard(k)
                self._merge(i, row, bolted[k])
            added.append(row)
        rest = sorted(free)
        if drawn and rest:
            self.not_drawn.extend(int(bolted[k]["passage"]) for k in rest)
        return np.concatenate([*added, bolted[rest]]) if added else bolted

    def _twin(self, row: Rows, added: list[Rows]) -> Rows | None:
        """The same hole drawn twice, once as an opening and once in the solid."""
        for other in added:
            if (
                other["face"][0] == row["face"][0]
                and other["kind"][0] == row["kind"][0]
                and other["far"][0] == row["far"][0]
                and np.hypot(other["x"][0] - row["x"][0], other["across"][0] - row["across"][0]) < 0.5
                and abs(other["diameter"][0] - row["diameter"][0]) < 0.5
            ):
                return other
        return None

    def _bolt_in(self, row: Rows, bolted: Rows, free: set[int]) -> int | None:
        """The bolt that passes within this drawn hole."""
        best: tuple[float, int] | None = None
        reach = max(row["diameter"][0], row["slot"][0], row["width"][0]) / 2
        for k in sorted(free):
            if bolted[k]["face"] != row["face"][0]:
                continue
            away = float(np.hypot(bolted[k]["x"] - row["x"][0], bolted[k]["across"] - row["across"][0]))
            if away <= reach and (best is None or away < best[0]):
                best = (away, k)
        return None if best is None else best[1]

    def _merge(self, i: int, row: Rows, bolt: np.void) -> None:
        row["source"] |= bolt["source"]
        row["bolt"] = bolt["bolt"]
        row["passage"] = bolt["passage"]
        if row["kind"][0] == KINDS.index("blind"):
            self.in_blind.append((i, int(bolt["passage"])))
            self.hold(i, BOLT_IN_BLIND_HOLE)
        drawn = float(row["diameter"][0])
        if bolt["diameter_source"] == DIAMETER_SOURCES.index("property"):
            stated = float(bolt["diameter"])
            if row["kind"][0] == 0 and abs(stated - drawn) > DIAMETER_MM:
                key = (f"{stated:g}", f"{drawn:g}")
                self.disagree[key] += 1
                self.disagree_ids.setdefault(key, []).append(i)
                row["diameter"] = stated
                row["diameter_source"] = DIAMETER_SOURCES.index("property")
        if row["kind"][0] == 0:
            away = float(np.hypot(row["x"][0] - bolt["x"], row["across"][0] - bolt["across"]))
            slack = max(float(row["diameter"][0] - bolt["bolt"]) / 2, 0.5) if bolt["bolt"] else 0.5
            if away > slack:
                self.offsets.append((i, away))
        room = float(row["diameter"][0])
        if KINDS[row["kind"][0]] == "rectangle":
            room = float(min(row["slot"][0], row["width"][0]))
        if bolt["bolt"] and room < bolt["bolt"] - DIAMETER_MM:
            key = (f"{float(bolt['bolt']):g}", f"{room:g}")
            self.small[key] += 1
            self.small_members.setdefault(key, []).append(i)
            self.hold(i, HOLE_TOO_SMALL)

    # ------------------------------------------------------------ results

    def result(self) -> Holes:
        rows = self.rows
        unknown = rows["diameter_source"] == DIAMETER_SOURCES.index("unknown")
        for i in np.unique(rows["member"][unknown]):
            self.hold(int(i), HOLE_SIZE_UNKNOWN)
        tight = (rows["bolt"] > 0) & (rows["diameter"] > 0) & (rows["diameter"] < rows["bolt"] - DIAMETER_MM)
        for row in rows[tight & (rows["source"] == SOURCES["bolt"])]:
            key = (f"{float(row['bolt']):g}", f"{float(row['diameter']):g}")
            self.small[key] += 1
            self.small_members.setdefault(key, []).append(int(row["member"]))
            self.hold(int(row["member"]), HOLE_TOO_SMALL)
        owners = {f for f, fastener in enumerate(self.fasteners) if self._is_slotted(fastener)}
        self.slotted = [p for p, q in enumerate(self.passages) if q.fastener in owners] if owners else []
        slotted = set(self.slotted)
        alone = rows["source"] == SOURCES["bolt"]
        for row in rows[alone] if slotted else ():
            if int(row["passage"]) in slotted:
                self.hold(int(row["member"]), HOLE_SLOT_DIRECTION)
        order = np.lexsort((rows["diameter"], rows["across"], rows["x"], rows["face"], rows["member"]))
        self.rows = rows[order]
        return Holes(self.rows, {i: tuple(codes) for i, codes in self.held.items()}, self.ply_count, self.merged)

    @staticmethod
    def _is_slotted(fastener: Fastener) -> bool:
        return max(fastener.slot_x, fastener.slot_y) > DIAMETER_MM

    def _ids(self, members: Sequence[int]) -> tuple[str, ...]:
        return tuple(dict.fromkeys(self.members[i].global_id for i in sorted(set(members))))

    def _bolt_ids(self, passages: Sequence[int]) -> tuple[str, ...]:
        return tuple(dict.fromkeys(self.fasteners[self.passages[p].fastener].global_id for p in sorted(set(passages))))

    def queries(self) -> list[Query]:
        found = []
        rows = self.rows
        by_rule = rows["diameter_source"] == DIAMETER_SOURCES.index("rule")
        if by_rule.any():
            said = " ".join(sorted(self.rule_sentences, key=natural))
            found.append(query(HOLE_SIZE_FROM_RULE, int(by_rule.sum()), said))
        unknown = rows["diameter_source"] == DIAMETER_SOURCES.index("unknown")
        if unknown.any():
            bolts = rows["passage"][unknown].tolist()
            ids = self._bolt_ids(bolts) + self._ids(rows["member"][unknown].tolist())
            found.append(query(HOLE_SIZE_UNKNOWN, len(set(bolts)), int(unknown.sum()), global_ids=ids))
        slotted = [p for p in self.slotted if self.passages[p].plies]
        if slotted and any(HOLE_SLOT_DIRECTION in codes for codes in self.held.values()):
            held = [i for i, codes in self.held.items() if HOLE_SLOT_DIRECTION in codes]
            found.append(query(HOLE_SLOT_DIRECTION, len(slotted), global_ids=self._bolt_ids(slotted) + self._ids(held)))
        for key in sorted(self.disagree):
            ids = self._ids(self.disagree_ids[key])
            found.append(query(HOLE_DIAMETERS_DISAGREE, *key, self.disagree[key], global_ids=ids))
        if self.offsets:
            worst = max(away for _, away in self.offsets)
            ids = self._ids([i for i, _ in self.offsets])
            found.append(query(HOLE_OFF_ITS_BOLT, len(self.offsets), f"{worst:.1f}", global_ids=ids))
        for key in sorted(self.small):
            found.append(query(HOLE_TOO_SMALL, *key, self.small[key], global_ids=self._ids(self.small_members[key])))
        slightly = [p for p, tilt in self.oblique.items() if tilt <= OBLIQUE_HOLD_DEG]
        if slightly:
            worst = max(self.oblique[p] for p in slightly)
            found.append(query(BOLT_OBLIQUE, len(slightly), f"{worst:.1f}", global_ids=self._bolt_ids(slightly)))
        badly = [p for p, tilt in self.oblique.items() if tilt > OBLIQUE_HOLD_DEG]
        held = [i for i, codes in self.held.items() if BOLT_TOO_OBLIQUE in codes]
        if held:
            ids = self._bolt_ids(badly) + self._ids(held)
            found.append(
                query(BOLT_TOO_OBLIQUE, len(badly) + self.drawn_askew, f"{OBLIQUE_HOLD_DEG:g}", global_ids=ids)
            )
        if self.not_drawn:
            found.append(
                query(BOLT_HOLES_NOT_DRAWN, len(set(self.not_drawn)), global_ids=self._bolt_ids(self.not_drawn))
            )
        if self.in_blind:
            ids = self._bolt_ids([p for _, p in self.in_blind]) + self._ids([i for i, _ in self.in_blind])
            found.append(query(BOLT_IN_BLIND_HOLE, len({p for _, p in self.in_blind}), global_ids=ids))
        if self.without_bolt:
            found.append(query(HOLES_WITHOUT_BOLT, len(self.without_bolt), global_ids=self._ids(self.without_bolt)))
        return found


@lru_cache(maxsize=4096)
def _numbers_by_name(section: Section) -> dict[str, int]:
    """Face numbers of a section by name; shared, not to be changed."""
    return {face.name: k for k, face in enumerate(faces(section))}


def _drawn_row(member: int, face: int, hole: DrawnHole) -> Rows:
    """One row of a drawn hole."""
    row = np.zeros(1, dtype=ROW)
    row["member"], row["face"] = member, face
    row["x"], row["across"], row["diameter"] = hole.x, hole.across, hole.diameter
    row["slot"], row["angle"], row["width"] = hole.slot_length, hole.slot_angle, hole.width
    row["depth"], row["kind"], row["far"] = hole.depth, KINDS.index(hole.kind), hole.far
    row["source"] = SOURCES[hole.source]
    row["diameter_source"] = DIAMETER_SOURCES.index(hole.source)
    row["passage"] = -1
    return row
