"""The positions in which a person can lay a piece so that its section looks the same.

Vocabulary
----------
turn      a proper rotation of the piece frame (x, u, v) that maps the section on itself. Never a mirror image:
          a mirror image is the opposite hand.
over      a turn after which the viewer looks at the other side of the wall (a flat turned over). Plain holes
          do not mind; a countersunk one does.

A turn is given as R and t with p' = R p + t for points p = (x, u, v) of the piece. How it moves the punched
faces is worked out from the faces themselves, so that a new shape needs its rotations only.

Does not know: rotations of round bars and tubes about their axis, which are not a finite list; see
``around``.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from math import cos, pi, sin

import numpy as np

from takeoff.sections.shapes import faces, is_lipped_channel, is_zed
from takeoff.steel import (
    ANGLE,
    CHANNEL,
    CHS,
    FLAT,
    I_SHAPE,
    PLATE,
    RHS,
    ROUND,
    T_SHAPE,
    Face,
    FloatArray,
    Section,
)

EQUAL_MM = 0.1
"""Legs, walls or flanges whose sizes differ by less count as equal."""


@dataclass(frozen=True, slots=True)
class FaceMove:
    """Where a turn takes one face: ``across' = sign * across + shift`` on face number ``to``."""

    to: int
    sign: float
    shift: float
    over: bool


@dataclass(frozen=True, slots=True, eq=False)
class Turn:
    """``rotation`` (3, 3) and ``translation`` (3,) mm with p' = rotation @ p + translation.

    ``swaps`` is true where x and across change places (square plates).
    """

    rotation: FloatArray
    translation: FloatArray
    moves: tuple[FaceMove, ...]
    swaps: bool = False

    @property
    def reverses(self) -> bool:
        """True where the right end becomes the left."""
        return bool(self.rotation[0, 0] < -0.5)


def _rotations(section: Section, length: float) -> list[tuple[FloatArray, FloatArray]]:
    """Rotation matrices and translations for the section's shape, the identity first."""
    h, b = section.h, section.b
    one = (np.eye(3), np.zeros(3))
    # About x, u and v, each through the middle of the box that holds the section.
    about_x = np.diag([1.0, -1.0, -1.0])
    about_u = np.diag([-1.0, 1.0, -1.0])
    about_v = np.diag([-1.0, -1.0, 1.0])
    turns = [one]
    if section.shape == ANGLE:
        if abs(h - b) <= EQUAL_MM:
            exchange = np.array([[-1.0, 0, 0], [0, 0, 1.0], [0, 1.0, 0]])
            turns.append((exchange, np.array([length, 0.0, 0.0])))
    elif section.shape == CHANNEL or is_lipped_channel(section):
        turns.append((about_u, np.array([length, 0.0, h])))
    elif section.shape == T_SHAPE:
        turns.append((about_v, np.array([length, 0.0, 0.0])))
    elif section.shape == I_SHAPE:
        turns.append((about_v, np.array([length, 0.0, 0.0])))
        if not section.b2 or (
            abs(section.b2 - section.b) <= EQUAL_MM and abs((section.tf2 or section.tf) - section.tf) <= EQUAL_MM
        ):
            turns.append((about_x, np.array([0.0, 0.0, h])))
            turns.append((about_u, np.array([length, 0.0, h])))
    elif section.shape in (FLAT, PLATE):
        t = section.tw
        turns.append((about_u, np.array([length, 0.0, h])))
        turns.append((about_x, np.array([0.0, t, h])))
        turns.append((about_v, np.array([length, t, 0.0])))
        if section.shape == PLATE and abs(length - h) <= EQUAL_MM:
            quarter = np.array([[0, 0, 1.0], [0, 1.0, 0], [-1.0, 0, 0]])
            turns += [
                (rotation @ quarter, rotation @ np.array([0.0, 0.0, length]) + shift) for rotation, shift in list(turns)
            ]
    elif section.shape == RHS:
        turns.append((about_x, np.array([0.0, b, h])))
        turns.append((about_u, np.array([length, 0.0, h])))
        turns.append((about_v, np.array([length, b, 0.0])))
        if abs(h - b) <= EQUAL_MM:
            quarter = np.array([[1.0, 0, 0], [0, 0, -1.0], [0, 1.0, 0]])
            turns += [
                (rotation @ quarter, rotation @ np.array([0.0, b, 0.0]) + shift) for rotation, shift in list(turns)
            ]
    return turns


def _move(face: Face, turn: tuple[FloatArray, FloatArray], all_faces: tuple[Face, ...]) -> FaceMove:
    """The face that ``face`` becomes after the turn; raises ValueError when the turn does not fit the section."""
    rotation, shift = turn
    start = rotation @ np.array([0.0, *face.origin]) + shift
    along = rotation @ np.array([0.0, *face.direction])
    inward = rotation @ np.array([0.0, *face.inward])
    for number, other in enumerate(all_faces):
        if abs(other.thickness - face.thickness) > EQUAL_MM:
            continue
        normal = np.array([0.0, *other.inward])
        direction = np.array([0.0, *other.direction])
        facing = float(inward @ normal)
        if abs(abs(facing) - 1) > 1e-6:
            continue
        depth = float((start - np.array([0.0, *other.origin])) @ normal)
        wanted = 0.0 if facing > 0 else other.thickness
        if abs(depth - wanted) > EQUAL_MM:
            continue
        over = facing < 0
        sign = float(along @ direction)
        if abs(abs(sign) - 1) < 1e-6:
            return FaceMove(number, sign, float((start - np.array([0.0, *other.origin])) @ direction), over)
        # A quarter turn in the plane of a plate: across runs along x now.
        return FaceMove(number, float(along[0]), float(start[0]), over)
    raise ValueError(f"the turn does not bring face {face.name} on another face of the section")


@lru_cache(maxsize=65536)
def turns(section: Section, length: float) -> tuple[Turn, ...]:
    """All turns of a prism of ``section`` and ``length`` mm, the identity first.

    Round sections have the identity and the turn end for end only; see ``around`` for the rest.
    """
    all_faces = faces(section)
    found = []
    for rotation, shift in _candidates(section, length):
        swaps = abs(rotation[0, 0]) < 0.5
        moves = tuple(_move(face, (rotation, shift), all_faces) for face in all_faces)
        found.append(Turn(rotation, shift, moves, swaps))
    return tuple(found)


def _candidates(section: Section, length: float) -> list[tuple[FloatArray, FloatArray]]:
    if section.shape in (CHS, ROUND):
        return [(np.eye(3), np.zeros(3))]
    if is_zed(section):
        # Half a turn about its own axis brings a Z on itself where its flanges are equal.
        centre = np.array([0.0, section.b, section.h])
        return [(np.eye(3), np.zeros(3)), (np.diag([1.0, -1.0, -1.0]), centre)]
    return _rotations(section, length)


def around(section: Section, length: float, across: float, reverse: bool) -> Turn:
    """The turn of a round bar or tube that brings developed position ``across`` mm to 0.

    ``reverse`` also exchanges the ends. The developed circumference runs pi * d round.
    """
    angle = across / (section.h / 2)
    # Developed positions run clockwise in (u, v), so going back to the datum is a positive rotation.
    c, s = cos(angle), sin(angle)
    rotation = np.array([[1.0, 0, 0], [0, c, -s], [0, s, c]])
    shift = np.zeros(3)
    girth = pi * section.h
    move = FaceMove(0, 1.0, -across % girth, False)
    if reverse:
        # Half a turn about the radius through the datum keeps the datum and reverses the development.
        origin = np.array([0.0, *faces(section)[0].origin])
        axis = origin / np.linalg.norm(origin)
        half = 2 * np.outer(axis, axis) - np.eye(3)
        rotation = half @ rotation
        shift = np.array([length, 0.0, 0.0])
        move = FaceMove(0, -1.0, across % girth, False)
    return Turn(rotation, shift, (move,))
