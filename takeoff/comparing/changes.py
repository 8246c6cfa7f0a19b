"""The comparison itself: rows of changes.csv from two states, and verdicts on what was released."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence

import numpy as np

from takeoff.comparing.differences import differences, summary_words
from takeoff.comparing.forms import BROAD, Form, form_of, same_form
from takeoff.comparing.parts import became
from takeoff.comparing.verdicts import judge
from takeoff.order import natural
from takeoff.revision import (
    ADDED,
    AS_IT_WAS,
    ASSEMBLY,
    BOLTS,
    BOUGHT,
    GONE,
    HOLD,
    KINDS,
    QUANTITY,
    RELEASED,
    SCRAP,
    SHAPE,
    UNREAD,
    VERDICTS,
    WEIGHT,
    BoltKind,
    Built,
    Change,
    Comparison,
    State,
)
from takeoff.settings import IdentitySettings
from takeoff.steel import HELD, Piece
from takeoff.units import kilograms, millimetres

WEIGHT_SHARE = 1e-3
"""A difference of the total weight alone is one from this share on: less is the noise of two readings."""
PLACED = "how the pieces of an assembly stand against each other"


def compare(
    old: State,
    new: State,
    rules: IdentitySettings,
    released: Sequence[tuple[Piece, int, IdentitySettings]] = (),
    register: str = "",
) -> Comparison:
    """What ``new`` changes against ``old``.

    ``released`` has each released piece with the largest quantity released and the tolerances it was released by;
    ``register`` is what the register is called.
    """
    tables = old.from_tables or new.from_tables
    forms_old = {piece.mark: form_of(piece, tables) for piece in old.pieces}
    forms_new = {piece.mark: form_of(piece, tables) for piece in new.pieces}
    same = _same_shapes(forms_old, forms_new, rules)
    flow = became(old, new, same)
    pieces = _piece_changes(old, new, forms_old, forms_new, same, flow, rules)
    verdicts = _verdicts(released, old, new, forms_old, forms_new, flow, rules)
    changes = [
        *verdicts,
        *pieces,
        *_held(old, new, same),
        *_assemblies(old, new, same),
        *_bolts(old.bolts, new.bolts),
        *_counts(BOUGHT, old.bought, new.bought),
        *_unread(old, new),
    ]
    differing = any(change.verdict != AS_IT_WAS for change in changes)
    changes += _weight(old, new, differing)
    renamed = tuple(sorted(((a, b) for a, b in same.items() if a != b), key=lambda pair: natural(pair[0])))
    by_mark = {piece.mark: piece for piece, _, _ in released}
    return Comparison(old, new, tuple(sorted(changes, key=_order)), renamed, by_mark, register)


def _order(change: Change) -> tuple[object, ...]:
    worst = VERDICTS.index(change.verdict) if change.verdict else len(VERDICTS)
    mark = change.mark_old or change.mark_new
    return KINDS.index(change.change), worst, natural(mark), natural(change.mark_new), change.what


# ---------------------------------------------------------------- pieces


def _same_shapes(old: Mapping[str, Form], new: Mapping[str, Form], rules: IdentitySettings) -> dict[str, str]:
    """Old mark -> new mark of one shape, the nearest first, marks alike before others; each once."""
    buckets: dict[tuple[object, ...], list[str]] = defaultdict(list)
    for mark, form in new.items():
        buckets[_bucket(form)].append(mark)
    lengths = {key: np.array([_sizes(new[mark]) for mark in marks]) for key, marks in buckets.items()}
    found = []
    for mark, form in old.items():
        key = _bucket(form)
        if key not in buckets:
            continue
        off = np.abs(lengths[key] - np.array(_sizes(form))).max(axis=1)
        for k in np.flatnonzero(off <= 2 * max(rules.length_mm, rules.position_mm)).tolist():
            other = buckets[key][k]
            away = same_form(form, new[other], rules)
            if away is not None:
                found.append((mark != other, round(away, 2), natural(mark), natural(other), mark, other))
    pairs: dict[str, str] = {}
    used: set[str] = set()
    # A shape under its own mark first: near twins else change places from run to run.
    for *_, mark, other in sorted(found):
        if mark not in pairs and other not in used:
            pairs[mark] = other
            used.add(other)
    return pairs


def _bucket(form: Form) -> tuple[object, ...]:
    piece = form.piece
    kind = "broad" if piece.section.shape in BROAD else piece.section.shape
    return kind, piece.grade, piece.finish, len(form.holes), len(form.corners)


def _sizes(form: Form) -> tuple[float, float]:
    """Two sizes that no turn changes: the longer and the shorter side of a plate."""
    piece = form.piece
    sides = sorted((piece.length, piece.section.h)) if piece.section.shape in BROAD else (piece.length, piece.length)
    return sides[0], sides[1]


def _piece_changes(
    old: State,
    new: State,
    forms_old: Mapping[str, Form],
    forms_new: Mapping[str, Form],
    same: Mapping[str, str],
    flow: Counter[tuple[str, str]],
    rules: IdentitySettings,
) -> list[Change]:
    found = []
    kept = set(same.values())
    out: Counter[str] = Counter()
    into: Counter[str] = Counter()
    for (a, b), count in sorted(flow.items(), key=lambda e: (natural(e[0][0]), natural(e[0][1]))):
        # Parts that changed places between shapes that both stay are a matter of their quantities.
        if same.get(a) == b or (a in same and b in kept):
            continue
        out[a] += count
        into[b] += count
        apart, turned = differences(forms_old[a], forms_new[b], rules)
        words = summary_words(apart) or "no longer one piece with it by the tolerances"
        before, after = old.quantities[a], new.quantities[b]
        if not before == after == count:
            words = f"{count} of {before}: {words}"
        found.append(Change(SHAPE, a, b, before, after, words, "", count, apart, turned))
    for a, b in same.items():
        before, after = old.quantities[a], new.quantities[b]
        if before != after:
            found.append(Change(QUANTITY, a, b, before, after, _more(before, after)))
    for piece in old.pieces:
        rest = old.quantities[piece.mark] - out[piece.mark]
        if piece.mark not in same and rest > 0:
            words = _piece_words(piece) + ("" if not out[piece.mark] else "; the others changed their shape")
            found.append(Change(GONE, piece.mark, "", old.quantities[piece.mark], 0, words, quantity=rest))
    for piece in new.pieces:
        rest = new.quantities[piece.mark] - into[piece.mark]
        if piece.mark not in kept and rest > 0:
            words = _piece_words(piece) + ("" if not into[piece.mark] else "; the others had another shape")
            found.append(Change(ADDED, "", piece.mark, 0, new.quantities[piece.mark], words, quantity=rest))
    return found


def _more(before: int, after: int) -> str:
    return f"{after - before} more" if after > before else f"{before - after} fewer"


def _piece_words(piece: Piece) -> str:
    return f"{piece.section.designation}, {millimetres(piece.length)} long"


def _held(old: State, new: State, same: Mapping[str, str]) -> list[Change]:
    status_old = {piece.mark: piece for piece in old.pieces}
    status_new = {piece.mark: piece for piece in new.pieces}
    found = []
    for a, b in same.items():
        before, after = status_old[a].status == HELD, status_new[b].status == HELD
        if before != after:
            reasons = " ".join(status_new[b].reasons)
            words = f"on HOLD now: {reasons}".rstrip(": ") if after else "no longer on HOLD"
            found.append(Change(HOLD, a, b, old.quantities[a], new.quantities[b], words))
    return found


# ---------------------------------------------------------------- released pieces


def _verdicts(
    released: Sequence[tuple[Piece, int, IdentitySettings]],
    old: State,
    new: State,
    forms_old: Mapping[str, Form],
    forms_new: Mapping[str, Form],
    flow: Counter[tuple[str, str]],
    rules: IdentitySettings,
) -> list[Change]:
    """What becomes of released pieces: those still wanted first, the others by what their parts became."""
    found = []
    wanted = Counter(new.quantities)
    rest: dict[str, int] = {}
    tables = old.from_tables or new.from_tables
    forms = {piece.mark: form_of(piece, tables) for piece, _, _ in released}
    for piece, made, own in released:
        mate = _twin(forms[piece.mark], forms_new, own)
        kept = 0
        if mate is not None:
            held = forms_new[mate].piece.status == HELD
            kept = min(made, wanted[mate])
            wanted[mate] -= kept
            if kept:
                verdict = AS_IT_WAS
                words = "the new model has it on HOLD: its shape is the released one" if held else ""
                found.append(Change(RELEASED, piece.mark, mate, made, new.quantities[mate], words, verdict, kept))
        rest[piece.mark] = made - kept
    for piece, made, own in released:
        mark = piece.mark
        twin = _twin(forms[mark], forms_old, own)
        uses = sorted(((b, n) for (a, b), n in flow.items() if a == twin), key=lambda use: natural(use[0]))
        for b, count in uses:
            number = min(rest[mark], count, wanted[b])
            if number <= 0 or same_form(forms[mark], forms_new[b], own) is not None:
                continue
            verdict, words = judge(forms[mark], forms_new[b], rules)
            apart, turned = differences(forms[mark], forms_new[b], rules)
            wanted[b] -= number
            rest[mark] -= number
            found.append(Change(RELEASED, mark, b, made, new.quantities[b], words, verdict, number, apart, turned))
        if rest[mark] > 0:
            words = "not needed any more" if twin is not None else "in neither of the two models"
            found.append(Change(RELEASED, mark, "", made, 0, words, SCRAP, rest[mark]))
    return found


def _twin(form: Form, others: Mapping[str, Form], rules: IdentitySettings) -> str | None:
    """The mark whose shape a released piece has, its own where it still has it."""
    best: tuple[bool, float, str] | None = None
    for mark, other in others.items():
        if _bucket(form) != _bucket(other) or abs(_sizes(form)[1] - _sizes(other)[1]) > 2 * rules.length_mm:
            continue
        away = same_form(form, other, rules)
        if away is not None and (best is None or (mark != form.piece.mark, away, mark) < best):
            best = (mark != form.piece.mark, away, mark)
    return best[2] if best else None


# ---------------------------------------------------------------- assemblies, bolts, the rest


def _assemblies(old: State, new: State, same: Mapping[str, str]) -> list[Change]:
    """Assemblies by what is in them, whatever they are called."""

    def content(built: Built, names: Mapping[str, str]) -> tuple[object, ...]:
        return tuple(sorted((names.get(mark, f"gone {mark}"), n) for mark, n in built.pieces)), built.bolts

    here = _by_content(old.assemblies, lambda built: content(built, same))
    there = _by_content(new.assemblies, lambda built: content(built, {m: m for m in new.quantities}))
    found = []
    left: list[Built] = []
    for key, group in here.items():
        others = there.pop(key, None)
        if others is None:
            left += group
            continue
        before, after = sum(b.quantity for b in group), sum(b.quantity for b in others)
        if before != after:
            marks = ", ".join(b.mark for b in group), ", ".join(b.mark for b in others)
            found.append(Change(ASSEMBLY, *marks, before, after, _more(before, after)))
    rest = {built.mark: built for group in there.values() for built in group}
    for built in left:
        other = rest.pop(built.mark, None)
        if other is None:
            found.append(Change(ASSEMBLY, built.mark, "", built.quantity, 0, "gone"))
            continue
        words = _content_words(built, other, same)
        found.append(Change(ASSEMBLY, built.mark, other.mark, built.quantity, other.quantity, words))
    found += [Change(ASSEMBLY, "", built.mark, 0, built.quantity, "added") for built in rest.values()]
    return found


def _by_content(assemblies: Sequence[Built], key: object) -> dict[tuple[object, ...], list[Built]]:
    found: dict[tuple[object, ...], list[Built]] = defaultdict(list)
    for built in assemblies:
        found[key(built)].append(built)  # type: ignore[operator]
    return found


def _content_words(old: Built, new: Built, same: Mapping[str, str]) -> str:
    here = Counter({same.get(mark, mark if mark not in same.values() else f"old {mark}"): n for mark, n in old.pieces})
    there = Counter(dict(new.pieces))
    words = [
        f"{mark} {here[mark]} to {there[mark]}"
        for mark in sorted({*here, *there}, key=natural)
        if here[mark] != there[mark]
    ]
    if old.bolts != new.bolts:
        words.append(f"bolts {old.bolts} to {new.bolts}")
    if old.quantity != new.quantity:
        words.append(f"quantity {old.quantity} to {new.quantity}")
    return "; ".join(words) or "pieces of it have another shape"


def _bolts(old: Mapping[BoltKind, int], new: Mapping[BoltKind, int]) -> list[Change]:
    # Lengths and diameters to the tables' hundredth, so that the unit a model is written in is no matter.
    here, there = _rounded(old), _rounded(new)
    found = []
    for kind in sorted({*here, *there}, key=lambda k: (k.diameter or 0.0, k.length or 0.0, k.grade, k.standard)):
        before, after = here[kind], there[kind]
        if before != after:
            found.append(Change(BOLTS, "", "", before, after, f"{_bolt_words(kind)}: {_more(before, after)}"))
    return found


def _rounded(bolts: Mapping[BoltKind, int]) -> Counter[BoltKind]:
    found: Counter[BoltKind] = Counter()
    for kind, count in bolts.items():
        diameter, length = (None if v is None else round(round(v, 6), 2) for v in (kind.diameter, kind.length))
        found[BoltKind(diameter, length, kind.grade, kind.standard)] += count
    return found


def _bolt_words(kind: BoltKind) -> str:
    size = f"bolt {millimetres(kind.diameter)}" if kind.diameter else "bolt of no stated size"
    length = f" x {millimetres(kind.length)}" if kind.length else ", length not known"
    return " ".join(filter(None, (size + length, kind.grade, kind.standard)))


def _counts(change: str, old: Mapping[str, int], new: Mapping[str, int]) -> list[Change]:
    found = []
    for name in sorted({*old, *new}):
        before, after = old.get(name, 0), new.get(name, 0)
        if before != after:
            found.append(Change(change, "", "", before, after, f"{name or 'size not stated'}: {_more(before, after)}"))
    return found


def _unread(old: State, new: State) -> list[Change]:
    """Parts that have no piece: they are in no list but must not be lost from sight."""

    def by_words(state: State) -> dict[str, int]:
        found: Counter[str] = Counter()
        for (entity, status, _), count in state.unread.items():
            found[f"{entity}, {status}"] += count
        return found

    return _counts(UNREAD, by_words(old), by_words(new))


def _weight(old: State, new: State, differing: bool) -> list[Change]:
    before, after = old.net, new.net
    off = abs(after - before)
    if off < 0.005 or (not differing and off <= WEIGHT_SHARE * max(before, after)):
        return []
    sign = "+" if after > before else "-"
    words = f"net {kilograms(before)} to {kilograms(after)} kg ({sign}{kilograms(off)} kg)"
    gross = f"gross {kilograms(old.gross)} to {kilograms(new.gross)} kg"
    return [Change(WEIGHT, what=f"{words}; {gross}")]
