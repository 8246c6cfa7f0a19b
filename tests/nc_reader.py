"""A strict reader of numerical control files, written from the digest of the standard and from nothing of the project.

It refuses what the standard does not allow and knows nothing of pieces or faces of the project: what comes out are
numbers and letters of the file, and :func:`Part.segment`, the place in space that the standard gives to a hole.

Source: the steel-part exchange format of the German steel-construction association, 7th edition, July 1998, as
digested in ../shared/facts/NC_STANDARD.md; section numbers below are the digest's.
"""

import math
import re
from dataclasses import dataclass, field
from itertools import pairwise

CODES = {"ST", "EN", "BO", "SI", "AK", "IK", "PU", "KO", "SC", "TO", "UE", "PR", "KA", "IN"}
PROFILES = {"I", "L", "U", "B", "RU", "RO", "M", "C", "T", "SO"}
FACES = {
    "I": "vou", "U": "vou", "C": "vou", "L": "vu", "M": "vouh", "T": "oh", "B": "v", "RO": "v", "RU": "v",
    "SO": "vou",
}  # fmt: skip
"""Faces of each code, digest sections 5 and 6."""
OTHER_SIDE = {"I": "h", "U": "h", "C": "h", "SO": "h", "T": "v", "B": "h"}
"""The other side of the wall of a plate, web or stem: for what is sunk into it from there, and nothing else."""
NUMBER = r"[+-]?\d+(?:\.\d+)?"


class Refused(ValueError):
    """A file that breaks a rule of the standard."""


@dataclass(frozen=True)
class Hole:
    face: str
    x: float
    ref: str
    y: float
    code: str
    diameter: float
    depth: float
    slot: tuple[float, float, float] | None = None
    countersink_deg: float | None = None


@dataclass(frozen=True)
class Contour:
    code: str
    face: str
    points: tuple[tuple[float, float, float], ...]
    """(x, q, radius); the last point repeats the first."""


@dataclass(frozen=True)
class Stamp:
    face: str
    x: float
    y: float
    angle: float
    height: float
    turns: bool
    text: str


@dataclass
class Part:
    fields: list[str]
    holes: list[Hole] = field(default_factory=list)
    contours: list[Contour] = field(default_factory=list)
    stamps: list[Stamp] = field(default_factory=list)
    comments: list[str] = field(default_factory=list)

    # Section 2, the order of the header.
    @property
    def mark(self):
        return self.fields[3]

    @property
    def quantity(self):
        return int(self.fields[5])

    @property
    def code(self):
        return self.fields[7]

    @property
    def length(self):
        return float(self.fields[8].split(",")[0])

    @property
    def saw_length(self):
        return float(self.fields[8].split(",")[1])

    @property
    def height(self):
        return float(self.fields[9])

    @property
    def width(self):
        return float(self.fields[10])

    @property
    def flange(self):
        return float(self.fields[11])

    @property
    def web(self):
        return float(self.fields[12])

    @property
    def radius(self):
        return float(self.fields[13])

    @property
    def mass(self):
        return float(self.fields[14])

    @property
    def paint(self):
        return float(self.fields[15])

    @property
    def angles(self):
        return tuple(float(f) for f in self.fields[16:20])

    def depth(self):
        """Z of plane v: the flange width, of a plate its thickness (section 4)."""
        return self.web if self.code == "B" else self.width

    def band(self, face):
        """Largest q on a face (section 4; a round is developed, section 6)."""
        if self.code in ("RO", "RU"):
            return math.pi * self.height
        return self.height if face in "vh" else self.width

    def point(self, face, x, q, deep=0.0):
        """(x, Y, Z) of a point of a face, ``deep`` mm inside the steel from it (section 4).

        v lies in Z = flange width, h in Z = 0, o in Y = profile height, u in Y = 0.
        """
        if self.code in ("RO", "RU"):
            # The development is seen from outside with q upward: from the side nearest to somebody who looks at v.
            r = self.height / 2
            w = q / r
            return (x, r + (r - deep) * math.sin(w), r + (r - deep) * math.cos(w))
        return {
            "v": (x, q, self.depth() - deep),
            "h": (x, q, deep),
            "o": (x, self.height - deep, q),
            "u": (x, deep, q),
        }[face]

    def wall(self, face):
        """Thickness in mm of the wall under a face: of the web for v and h, of the flange for o and u."""
        if self.code == "T":
            # Section 5 of the header: the flange is the top.
            return self.flange if face == "o" else self.web
        if self.code in ("RO", "RU"):
            return self.web or self.height
        return self.web if face in "vh" else self.flange

    def segment(self, face, x, q):
        """Both mouths of a hole square through a face's wall, outside first; (2, 3) in (x, Y, Z).

        The web of an I lies in the middle of its flanges (that of a T too): face v is its plane seen from the
        front, not where its steel is.
        """
        outside, inside = self.point(face, x, q), self.point(face, x, q, self.wall(face))
        if self.code in ("I", "SO", "T") and face in "vh":
            middle = self.width / 2
            sign = 1 if face == "v" else -1
            return ((x, q, middle + sign * self.web / 2), (x, q, middle - sign * self.web / 2))
        if self.code in ("U", "C") and face == "h":
            # From behind, between the flanges: the inside of the web.
            return ((x, q, self.width - self.web), (x, q, self.width))
        return (outside, inside)

    def corners(self):
        """Corners of the section's box edges where there is steel, (Y, Z) (sections 4 to 6)."""
        h, b, t = self.height, self.depth(), self.web
        if self.code == "L":
            # The heel is the edge of v and u.
            return [(0.0, b), (h, b), (0.0, 0.0)]
        if self.code == "T":
            return [(h, 0.0), (h, b), (0.0, b / 2 - t / 2), (0.0, b / 2 + t / 2)]
        return [(y, z) for y in (0.0, h) for z in (0.0, b)]


def read(text):
    """The part of a file's text; raises Refused."""
    if isinstance(text, bytes):
        try:
            text = text.decode("ascii")
        except UnicodeDecodeError as error:
            raise Refused(f"not ASCII: {error}") from None
    if not text.endswith("\n"):
        raise Refused("the last line has no end")
    lines = text[:-1].split("\n")
    comments, blocks = _blocks(lines)
    if blocks[0][0] != "ST" or blocks[-1][0] != "EN" or blocks[-1][1]:
        raise Refused("a file begins with ST and ends with EN")
    if [code for code, _ in blocks].count("ST") != 1 or [code for code, _ in blocks].count("EN") != 1:
        raise Refused("one part a file")
    part = Part(_header(blocks[0][1]), comments=comments)
    for code, data in blocks[1:-1]:
        if not data:
            raise Refused(f"{code} holds nothing")
        if code == "BO":
            part.holes += [_hole(part, line) for line in data]
        elif code in ("AK", "IK"):
            part.contours.append(_contour(part, code, data))
        elif code == "SI":
            part.stamps += [_stamp(part, line) for line in data]
        else:
            raise Refused(f"block {code} is not expected here")
    sunk = {(h.face, h.x, h.y) for h in part.holes if h.code == "s"}
    for h in part.holes:
        if h.face == OTHER_SIDE.get(part.code) and not h.code and not h.depth and (h.face, h.x, h.y) not in sunk:
            raise Refused(f"a hole through on face {h.face} of a {part.code}")
    outer = [c.face for c in part.contours if c.code == "AK"]
    if len(outer) != len(set(outer)):
        raise Refused("two outer contours on one face")
    return part


def _blocks(lines):
    """Comments, and (code, data lines) of each block (section 1)."""
    comments, blocks = [], []
    for number, line in enumerate(lines, 1):
        if any(not " " <= c <= "~" for c in line):
            raise Refused(f"line {number} holds a control character")
        if line.startswith("**"):
            comments.append(line[2:].strip())
        elif line.startswith("  "):
            if not line.strip():
                raise Refused(f"line {number} is blank")
            if not blocks:
                raise Refused("data before the first block")
            blocks[-1][1].append(line[2:])
        elif line in CODES:
            blocks.append((line, []))
        else:
            raise Refused(f"line {number} begins with neither a code nor two blanks: {line!r}")
    return comments, blocks


def _header(data):
    """Section 2: twenty fields and four texts."""
    fields = [line.strip() for line in data]
    if len(fields) != 24:
        raise Refused(f"{len(fields)} lines in the header, not 24")
    for k in (*range(5), 6, *range(20, 24)):
        if len(fields[k]) > 80:
            raise Refused(f"header line {k + 1} is longer than 80 characters")
    if not re.fullmatch(r"\d+", fields[5]):
        raise Refused("quantity is no whole number")
    if fields[7] not in PROFILES:
        raise Refused(f"{fields[7]} is no profile code")
    if not re.fullmatch(rf"{NUMBER}(,{NUMBER})?", fields[8]):
        raise Refused("length")
    for k in range(9, 20):
        if not re.fullmatch(NUMBER, fields[k]):
            raise Refused(f"header line {k + 1} is no number")
        if k < 16 and float(fields[k]) < 0:
            raise Refused(f"header line {k + 1} is negative")
        if k >= 16 and not -90 < float(fields[k]) < 90:
            raise Refused("a cut angle is no angle of a cut")
    return fields


def _face(part, letter):
    if letter not in FACES[part.code]:
        raise Refused(f"a {part.code} has no face {letter}")
    return letter


def _hole(part, line):
    """Section 7."""
    place = rf"([vouh])\s+({NUMBER})([ous]?)\s+({NUMBER})\s+([glms]?)({NUMBER})\s+({NUMBER})"
    found = re.fullmatch(rf"{place}(l?)(?:\s+({NUMBER})\s+({NUMBER})\s+({NUMBER}))?", line.strip())
    if not found:
        raise Refused(f"no hole: {line!r}")
    face, x, ref, y, code, diameter, depth, long, b, h, w = found.groups()
    if face != OTHER_SIDE.get(part.code):
        _face(part, face)
    hole = Hole(face, float(x), ref, float(y), code, float(diameter), float(depth))
    sizes = None if b is None else (float(b), float(h), float(w))
    if bool(long) != (sizes is not None) and code != "s":
        raise Refused("b, h and w stand with a slot and nowhere else")
    if long:
        if sizes[0] < 0 or sizes[1] < 0 or not 0 <= sizes[2] < 180 or hole.depth:
            raise Refused("a slot's b, h or w")
        hole = Hole(**{**vars(hole), "slot": sizes})
    elif code == "s":
        if sizes is None or sizes[:2] != (0.0, 0.0) or not 0 < sizes[2] < 180 or hole.depth <= 0:
            raise Refused("a countersink's sizes")
        hole = Hole(**{**vars(hole), "countersink_deg": sizes[2]})
    if hole.diameter <= 0 or hole.depth < 0:
        raise Refused("a hole without a diameter, or deeper than through")
    reach = 0.02
    if not (-reach <= hole.x <= part.length + reach and -reach <= hole.y <= part.band(face) + reach):
        raise Refused(f"a hole outside of the piece: {line!r}")
    return hole


def _contour(part, code, data):
    """Section 8: closed, each other point once, the right way round, arcs of at most half a circle."""
    points, face = [], None
    for line in data:
        found = re.fullmatch(rf"(?:([vouh])\s+)?({NUMBER})([ous]?)\s+({NUMBER})\s+({NUMBER})", line.strip())
        if not found:
            raise Refused(f"no point of a contour: {line!r}")
        letter, x, _, y, radius = found.groups()
        if letter:
            if face not in (None, letter):
                raise Refused("a contour on two faces")
            face = _face(part, letter)
        if face is None:
            raise Refused("a contour without a face")
        points.append((float(x), float(y), float(radius)))
    if len(points) < 4 or points[0][:2] != points[-1][:2]:
        raise Refused("a contour that is not closed")
    places = [p[:2] for p in points[:-1]]
    if len(set(places)) != len(places):
        raise Refused("a point of a contour stands twice")
    for (ax, ay, r), (bx, by, _) in pairwise(points):
        if r and math.hypot(bx - ax, by - ay) > 2 * abs(r) + 0.02:
            raise Refused("an arc's ends are farther apart than its diameter")
    if code == "AK" and (min(p[0] for p in points) < -0.02 or max(p[0] for p in points) > part.length + 0.02):
        raise Refused("a contour beyond the piece's ends")
    # Section 4: v and u are seen from outside as (x, q) is drawn, o and h mirrored.
    turn = contour_area(points) * (1 if face in "vu" else -1)
    if (turn > 0) != (code == "AK"):
        raise Refused(f"{code} on face {face} runs the wrong way round")
    return Contour(code, face, tuple(points))


def contour_area(points):
    """Area in (x, q) of the straight-sided loop, positive anti-clockwise."""
    return sum(a[0] * b[1] - b[0] * a[1] for a, b in pairwise(points)) / 2


def _stamp(part, line):
    """Section 9."""
    found = re.fullmatch(
        rf"([vouh])\s+({NUMBER})([ous]?)\s+({NUMBER})\s+({NUMBER})\s+({NUMBER})([rz]?) (.+)", line.strip()
    )
    if not found:
        raise Refused(f"no stamp: {line!r}")
    face, x, _, y, angle, height, turns, text = found.groups()
    if len(text) > 40:
        raise Refused("a stamp of more than 40 characters")
    return Stamp(_face(part, face), float(x), float(y), float(angle), float(height), turns == "r", text)
