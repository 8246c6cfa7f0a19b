"""The end view: the section as seen on the right end, with an eye for each face's direction of view.

u runs to the right and v up, as in the piece frame, so the viewer of leg A stands on the
left and the viewer of leg B below.
"""

from __future__ import annotations

from collections.abc import Callable
from math import cos, pi, sin

from takeoff.sheets import fonts, measure, shop_marks
from takeoff.sheets.page import MM, Box, Disc, Item, Line, Shape, Text
from takeoff.sheets.wording import face_name, thickness
from takeoff.steel import (
    ANGLE,
    CHANNEL,
    CHS,
    FLAT,
    I_SHAPE,
    OTHER,
    PLATE,
    RHS,
    ROUND,
    T_SHAPE,
    Face,
    Piece,
    Point2,
    Section,
)
from takeoff.words import say

ARROW = 20.0
"""From the eye to the face (pt)."""


def rings(section: Section) -> list[tuple[Point2, ...]]:
    """The section's outer loop and, for a tube, its inner one, in (u, v); root and toe radii left off."""
    h, b, tw, tf = section.h, section.b, section.tw, section.tf or section.tw
    if section.outline and section.shape not in (ANGLE, CHANNEL, I_SHAPE, T_SHAPE, RHS, CHS, ROUND, FLAT, PLATE):
        return [section.outline]
    if section.shape == ANGLE:
        return [((0, 0), (b, 0), (b, tw), (tw, tw), (tw, h), (0, h))]
    if section.shape == CHANNEL:
        # a tapered flange is thicker at the root and thinner at the toe by the slope
        lean = section.slope * (b - tw) / 2
        toe, root = tf - lean, tf + lean
        return [((0, 0), (b, 0), (b, toe), (tw, root), (tw, h - root), (b, h - toe), (b, h), (0, h))]
    if section.shape == I_SHAPE:
        t, top, bottom = tw / 2, b / 2, (section.b2 or b) / 2
        low = section.tf2 or tf
        right = [(bottom, 0.0), (bottom, low), (t, low), (t, h - tf), (top, h - tf), (top, h)]
        return [tuple(right + [(-u, v) for u, v in reversed(right)])]
    if section.shape == T_SHAPE:
        t, half = tw / 2, b / 2
        return [((-half, 0), (half, 0), (half, tf), (t, tf), (t, h), (-t, h), (-t, tf), (-half, tf))]
    if section.shape == RHS:
        inner = ((tw, tw), (b - tw, tw), (b - tw, h - tw), (tw, h - tw))
        return [((0, 0), (b, 0), (b, h), (0, h)), inner]
    if section.shape in (CHS, ROUND):
        loops = [_circle(h / 2)]
        return [*loops, _circle(h / 2 - tw)] if section.shape == CHS and 0 < tw < h / 2 else loops
    if section.shape in (FLAT, PLATE):
        t = b or tw
        return [((0, 0), (t, 0), (t, h), (0, h))]
    return [((0, 0), (b, 0), (b, h), (0, h))]


def _circle(radius: float) -> tuple[Point2, ...]:
    return tuple((radius * cos(pi * k / 24), radius * sin(pi * k / 24)) for k in range(48))


def compose(piece: Piece, box: Box) -> list[Item]:
    """The end view inside ``box``; nothing where the section has no size."""
    x0, y0, x1, y1 = box
    loops = rings(piece.section)
    us = [u for loop in loops for u, _ in loop]
    vs = [v for loop in loops for _, v in loop]
    wide, tall = max(us) - min(us), max(vs) - min(vs)
    if wide <= 0 or tall <= 0:
        return []
    items: list[Item] = [Text(x0, y1 - 7.5, say("END VIEW, on the right end"), 7.0, True)]
    faces = _seen(piece)
    words = {face.name: _words(piece, face) for face in faces}
    longest = max((fonts.width(w, 7.0, True) for w in words.values()), default=0.0)
    left_room = ARROW + longest + 4.0 if any(face.inward[0] > 0.5 for face in faces) else 10.0
    right_room = max(
        ARROW + longest + 4.0 if any(face.inward[0] < -0.5 for face in faces) else 10.0,
        fonts.width(_thickness_words(piece.section), 7.0) + 8.0,
    )
    below = ARROW + 12.0 if any(face.inward[1] > 0.5 for face in faces) else 14.0
    above = ARROW + 12.0 if any(face.inward[1] < -0.5 for face in faces) else 6.0
    room_x, room_y = x1 - x0 - left_room - right_room, y1 - 14.0 - y0 - below - above
    scale = max(min(room_x / wide, room_y / tall, MM), 0.01)
    ox = x0 + left_room + (room_x - wide * scale) / 2 - min(us) * scale
    oy = y0 + below + (room_y - tall * scale) / 2 - min(vs) * scale

    def at(u: float, v: float) -> Point2:
        return ox + u * scale, oy + v * scale

    for index, loop in enumerate(loops):
        fill = 0.75 if index == 0 else 1.0
        items.append(Shape(tuple(at(u, v) for u, v in loop), 0.9, True, fill))
    for face in faces:
        items += _eye(face, at, words[face.name])
    if piece.section.shape == ANGLE:
        hx, hy = at(0.0, 0.0)
        items += [Disc(hx, hy, 2.4, 0.5, 0.0), Text(hx - 4.0, hy - 9.0, say("heel"), 7.0, True, "end")]
    return [*items, *_thickness(piece.section, at, x1), *shop_marks.on_end(piece, at, x1)]


def _thickness_words(section: Section) -> str:
    if section.shape in (ROUND, OTHER) or not (section.tw or section.b):
        return ""
    own = thickness(section.tw or section.b)
    if section.tf and section.tf != section.tw:
        return say("t {web}, flange {flange}", web=own, flange=thickness(section.tf))
    return f"t {own}"


def _thickness(section: Section, at: Callable[[float, float], Point2], most: float) -> list[Item]:
    """Wall thicknesses, beside the upper end of the steel; nothing reaches beyond ``most``."""
    note = _thickness_words(section)
    if not note:
        return []
    # beside the free end of an upright leg, else beside the middle of the section
    u, v = (section.tw, section.h * 0.9) if section.shape == ANGLE else (section.b, section.h * 0.62)
    if section.shape in (I_SHAPE, T_SHAPE):
        u = section.tw / 2
    elif section.shape == CHANNEL:
        u = section.tw
    elif section.shape == CHS:
        u, v = section.b / 2, 0.0
    x, y = at(u, v)
    if section.shape == RHS:
        # clear of the name of the back wall, which stands at half height however small the view
        y = max(y, at(u, section.h / 2)[1] + 9.0)
    return [Text(min(x + 4.0, most - fonts.width(note, 7.0)), y, note, 7.0)]


def _seen(piece: Piece) -> list[Face]:
    """Faces that get an eye; a round bar's wall is seen from all round."""
    return [face for face in piece.faces if piece.section.shape not in (CHS, ROUND)]


def _words(piece: Piece, face: Face) -> str:
    return f"{face_name(piece.section.shape, face.name)} {measure.length(face.high - face.low)}"


def _eye(face: Face, at: Callable[[float, float], Point2], words: str) -> list[Item]:
    """An eye that looks at the middle of the face, an arrow from it, and the face's name and size."""
    middle = (face.low + face.high) / 2
    u = face.origin[0] + face.direction[0] * middle
    v = face.origin[1] + face.direction[1] * middle
    tx, ty = at(u, v)
    du, dv = face.inward
    ex, ey = tx - du * ARROW, ty - dv * ARROW
    sx, sy = ex + du * 5.5, ey + dv * 5.5
    tip, back = (tx - du * 1.5, ty - dv * 1.5), (tx - du * 6.0, ty - dv * 6.0)
    items: list[Item] = [
        Line(sx, sy, *back, 0.6),
        Shape(
            (tip, (back[0] - dv * 2.0, back[1] + du * 2.0), (back[0] + dv * 2.0, back[1] - du * 2.0)), 0.4, True, 0.0
        ),
    ]
    lens = [(4.5 * cos(t), 2.4 * sin(t)) for t in (pi * k / 8 for k in range(16))]
    items.append(Shape(tuple((ex + a, ey + b) for a, b in lens), 0.6, True, 1.0))
    items.append(Disc(ex, ey, 1.3, 0.4, 0.0))
    if abs(du) >= abs(dv):
        side = -7.0 if du > 0 else 7.0
        items.append(Text(ex + side, ey - 2.5, words, 7.0, True, "end" if du > 0 else "start"))
    else:
        items.append(Text(ex, ey - 10.0 if dv > 0 else ey + 4.5, words, 7.0, True, "middle"))
    return items
