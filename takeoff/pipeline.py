"""The whole way through, in shop order: a model in, a Takeoff out. Nothing is printed or written here."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from takeoff.assemblies import Grouped, assembly_rows, group_assemblies
from takeoff.balance import balance_of
from takeoff.boltlists import bolt_rows, bought_out, number_alike, order_list
from takeoff.boltsets import bolt_sets, set_sizes, worked_example
from takeoff.checks import check_job, check_piece
from takeoff.connections import BOLT_ALONG_LEG, Connections, connect
from takeoff.galvanising import with_zinc
from takeoff.holerows import Holes
from takeoff.holes import find_holes
from takeoff.ifc.context import ReadError
from takeoff.ifc.reader import read
from takeoff.joints.angle_in_angle import flange_bends, heel_grinds, with_angle_work
from takeoff.joints.clearances import beside_root, between_legs, with_clearances
from takeoff.joints.plies import table
from takeoff.joints.stamps import covers, stamped
from takeoff.making import finish_holes
from takeoff.marks import mark_pieces
from takeoff.models import counted_twice, in_one_place, join_models
from takeoff.pieces import group_members, group_with_known
from takeoff.piecework import make_pieces
from takeoff.plyholes import ply_queries
from takeoff.progress import Progress, part, silent
from takeoff.queries import HOLD, KINDS, SEVERITIES, Query
from takeoff.register.issue import issue, strangers
from takeoff.register.job import check_belongs, job_queries
from takeoff.register.shapes import as_remembered, known_shapes
from takeoff.released import Register
from takeoff.routing import line_query, route, stations
from takeoff.rulebook import rules_used
from takeoff.settings import Settings
from takeoff.steel import HELD, LISTED, FloatArray, Member, Model, Passage, Piece, Section, Takeoff
from takeoff.turned import turn_body
from takeoff.untouched import untouched_query
from takeoff.weights import weigh


class Unreadable(Exception):
    """A model that could not be read; the message is a sentence with its remedy."""


def take_off(
    paths: Sequence[Path], settings: Settings, progress: Progress = silent, register: Register | None = None
) -> Takeoff:
    """Read the models and work out everything that the lists are written from.

    Raises Unreadable when one of the models cannot be read, RegisterError when ``register`` is of another job.
    """
    read_models = []
    queries: list[Query] = []
    for number, path in enumerate(paths):
        share = part(progress, 0.5 * number / len(paths), 0.5 * (number + 1) / len(paths))
        try:
            model, found = read(path, settings, share)
        except ReadError as error:
            raise Unreadable(str(error)) from error
        read_models.append(model)
        queries += found
    model = join_models(read_models)
    queries += counted_twice(model)
    return work_out(model, settings, queries, part(progress, 0.5, 1.0), register)


def work_out(
    model: Model,
    settings: Settings,
    queries: Sequence[Query] = (),
    progress: Progress = silent,
    register: Register | None = None,
) -> Takeoff:
    """Everything after reading: see the module's text. ``queries`` are the reader's.

    With a ``register`` known pieces keep marks and frames; ``release`` of the result says what becomes of it. Raises
    RegisterError where it is of another job.
    """
    members, fasteners = model.members, model.fasteners
    if register is not None:
        check_belongs(register, model, settings)
    progress("Finding which bolt passes which leg", 0.0)
    made, found = connect(members, fasteners)
    asked = [*queries, *found, *untouched_query(members, made.untouched, len(made.passages))]
    progress("Reconciling holes", 0.3)
    holes, found = find_holes(members, fasteners, made.passages, settings)
    asked += [*found, *ply_queries(members, fasteners, made.passages, holes)]
    progress("Grouping pieces", 0.5)
    sections: tuple[Section, ...] = ()
    if register is None:
        groups = group_members(members, holes, settings.identity)
    else:
        asked += job_queries(register, model, settings)
        grouping = group_with_known(members, holes, settings.identity, known_shapes(register))
        groups, sections = as_remembered(grouping.groups), grouping.sections
    given = [piece.mark for piece in register.pieces] if register else []
    marking, found = mark_pieces(groups, members, settings.marks, given)
    asked += found
    pieces = make_pieces(groups, marking, members)
    asked += in_one_place(pieces, members)
    progress("Checking and weighing", 0.7)
    held = _held_sentences(members, holes, made, asked)
    finished = []
    for piece, group in zip(pieces, groups, strict=True):
        ids = tuple(members[i].global_id for i in piece.members)
        found_here = check_piece(piece, ids)
        asked += found_here
        reasons = [q.message for q in found_here if q.severity == HOLD]
        reasons += [sentence for i in piece.members for sentence in held.get(i, ())]
        blank = turn_body(group.shape.body, group.shape.notches, group.turn)
        gross, net, surface = weigh(piece, blank.left, blank.right, density=settings.weights.density_kg_m3)
        status = HELD if reasons else LISTED
        finished.append(
            replace(piece, gross=gross, net=net, surface=surface, status=status, reasons=tuple(dict.fromkeys(reasons)))
        )
    sets, found = bolt_sets(members, fasteners, made.passages, model.assemblies, settings)
    asked += found
    finished, by_rules = _by_the_trade(finished, made.passages, model, set_sizes(sets), settings)
    asked += by_rules
    member_marks, member_status, member_reasons = _by_member(members, finished)
    progress("Assemblies and bolts", 0.85)
    grouped, found = group_assemblies(
        {i: members[i].assembly for p in finished for i in p.members}, finished, groups, model.assemblies,
        settings.identity, settings.marks, register.assemblies if register else (),
    )  # fmt: skip
    asked += found
    lines, sets_mass, found = order_list(fasteners, made.passages, sets, settings.bolts)
    asked += found
    joints = number_alike(made.joints, made.passages, fasteners, member_marks)
    rows = bolt_rows(fasteners, made.passages, joints, grouped.mark_of, sets)
    assemblies = assembly_rows(grouped, finished, _bolts_by_assembly(model, sets_mass, rows_of=made, grouped=grouped))
    release = None
    if register is not None:
        release = issue(register, model, settings, sections, groups, finished, assemblies, grouped.standing)
        asked += strangers(release)
    takeoff = Takeoff(
        model=model,
        pieces=(ordered := _in_mark_order(finished)),
        assemblies=assemblies,
        joints=joints,
        passages=made.passages,
        bolt_rows=rows,
        bolt_lines=lines,
        bought_out=bought_out(members, fasteners, made.passages),
        member_marks=member_marks,
        member_assemblies=tuple(grouped.mark_of.get(m.assembly, "") if m.is_made else "" for m in members),
        member_status=member_status,
        member_reasons=member_reasons,
        queries=_sorted(_with_marks(asked, finished, members)),
        rules=rules_used(settings),
        stations=stations(ordered),
        length_example=worked_example(fasteners, made.passages, sets),
        release=release,
    )
    return replace(takeoff, balance=balance_of(takeoff, holes))


def _by_the_trade(
    pieces: Sequence[Piece], passages: Sequence[Passage], model: Model, sizes: FloatArray, settings: Settings
) -> tuple[list[Piece], list[Query]]:
    """Holes classed, room in the joints, angle in angle, stamps, zinc, routing, and what the trade's rules ask."""
    pieces = [finish_holes(piece, settings) for piece in pieces]
    plies = table(pieces, passages, model.fasteners)
    bends = flange_bends(plies, pieces, settings.line.open_deg)
    pieces = with_angle_work(pieces, heel_grinds(plies, pieces), bends)
    rulings = beside_root(plies, pieces, model.fasteners, settings)
    least, found = between_legs(plies, pieces, model.fasteners, settings, sizes)
    rulings += found
    pieces, found = stamped(with_clearances(pieces, least), covers(plies, pieces), settings.stamp)
    rulings += found
    pieces = [route(piece, settings) for piece in with_zinc(pieces, settings.zinc)]
    ids = {piece.mark: tuple(model.members[i].global_id for i in piece.members) for piece in pieces}
    asked, held, remarks = check_job(pieces, ids, settings, rulings)
    asked += line_query(pieces, settings)
    pieces = [replace(p, remarks=remarks[p.mark]) if p.mark in remarks else p for p in pieces]
    return [
        replace(p, status=HELD, reasons=tuple(dict.fromkeys((*p.reasons, *held[p.mark])))) if p.mark in held else p
        for p in pieces
    ], asked


def _held_sentences(
    members: Sequence[Member], holes: Holes, made: Connections, asked: Sequence[Query]
) -> Mapping[int, list[str]]:
    """Why a member is held, before its piece is looked at: problems of reading, of its holes, of its bolts."""
    held: dict[int, list[str]] = {}
    sentence: dict[tuple[str, str], str] = {}
    for question in asked:
        for global_id in question.global_ids:
            sentence.setdefault((question.code, global_id), question.message)
    codes: dict[int, list[str]] = {i: list(found) for i, found in holes.held.items()}
    for i, _ in made.along:
        codes.setdefault(i, []).append(BOLT_ALONG_LEG)
    for i, member in enumerate(members):
        if member.status == HELD:
            held.setdefault(i, []).append(member.reason)
        body_problems = member.body.problems if member.body else ()
        for problem in (*member.problems, *body_problems):
            if KINDS[problem.code].severity == HOLD:
                codes.setdefault(i, []).append(problem.code)
    for i, found in codes.items():
        for code in found:
            text = sentence.get((code, members[i].global_id), KINDS[code].sentence)
            held.setdefault(i, []).append(text)
    return held


def _by_member(
    members: Sequence[Member], pieces: Sequence[Piece]
) -> tuple[tuple[str, ...], tuple[str, ...], tuple[str, ...]]:
    """Mark, status and reason of every member."""
    marks = [""] * len(members)
    status = [m.status for m in members]
    reasons = [m.reason for m in members]
    for piece in pieces:
        for i in piece.members:
            marks[i] = piece.mark
            if piece.status == HELD:
                status[i] = HELD
                reasons[i] = " ".join(piece.reasons)
    return tuple(marks), tuple(status), tuple(reasons)


def _bolts_by_assembly(
    model: Model, sets_mass: Mapping[int, float], rows_of: Connections, grouped: Grouped
) -> dict[str, tuple[int, float]]:
    """Number and kg of bolts by the model's assembly; those in none, or in one without parts, count as loose."""
    counts = Counter(p.fastener for p in rows_of.passages)
    found: dict[str, tuple[int, float]] = {}
    for f, mass in sets_mass.items():
        assembly = model.fasteners[f].assembly
        assembly = assembly if assembly in grouped.mark_of else ""
        number, weight = found.get(assembly, (0, 0.0))
        found[assembly] = (number + counts[f], weight + mass)
    return found


def _in_mark_order(pieces: Sequence[Piece]) -> tuple[Piece, ...]:
    from takeoff.order import natural

    return tuple(sorted(pieces, key=lambda p: natural(p.mark)))


def _with_marks(asked: Sequence[Query], pieces: Sequence[Piece], members: Sequence[Member]) -> list[Query]:
    """Queries about parts of one piece name its mark, so that they print on its sheet."""
    mark_of = {members[i].global_id: piece.mark for piece in pieces for i in piece.members}
    named = []
    for question in asked:
        marks = {mark_of[g] for g in question.global_ids if g in mark_of}
        if not question.piece_mark and len(marks) == 1:
            question = replace(question, piece_mark=marks.pop())
        named.append(question)
    return named


def _sorted(asked: Sequence[Query]) -> tuple[Query, ...]:
    """By severity, code and piece, each finding once."""
    order = {severity: k for k, severity in enumerate(SEVERITIES)}
    # Which entity comes first in the file is no matter.
    unique = dict.fromkeys(replace(q, global_ids=tuple(sorted(set(q.global_ids)))) for q in asked)
    return tuple(sorted(unique, key=lambda q: (order[q.severity], q.code, q.piece_mark, q.message, q.global_ids)))
