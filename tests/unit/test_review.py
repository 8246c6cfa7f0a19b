"""The review page: self-contained, safe with any text, complete, and its solids true to the pieces."""

from __future__ import annotations

import base64
import hashlib
import json
import re
import shutil
import subprocess
from collections import Counter
from dataclasses import replace
from html.parser import HTMLParser
from importlib.resources import files
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from review_scene import NASTY, along, mast, piece, row

from takeoff import steel
from takeoff.review import html, write
from takeoff.review.content import STRIPS, coded, upward
from takeoff.review.page import SCRIPTS
from takeoff.review.scene import scene
from takeoff.review.solids import Mesh, body_mesh, piece_mesh, simplified
from takeoff.review.triangles import triangulate
from takeoff.sections import shapes
from takeoff.settings import DocumentSettings, Settings
from takeoff.steel import Body, FaceOutline, Member, Model, Plane, Section, Takeoff, Vertex


class Page(HTMLParser):
    """Tags with their attributes, and the text inside script, style and the page."""

    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.inside: list[tuple[str, str]] = []
        self.text: list[str] = []
        self._open = ""
        self.feed(text)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        self._open = tag if tag in ("script", "style") else ""

    def handle_endtag(self, tag: str) -> None:
        self._open = ""

    def handle_data(self, data: str) -> None:
        if self._open:
            self.inside.append((self._open, data))
        else:
            self.text.append(data)

    @property
    def data(self) -> dict:
        return json.loads("".join(text for kind, text in self.inside if kind == "script").split("(() => {\n")[0])


@pytest.fixture(scope="module")
def takeoff() -> Takeoff:
    return mast(2)


@pytest.fixture(scope="module")
def text(takeoff: Takeoff) -> str:
    settings = Settings(documents=DocumentSettings(job=f"Job {NASTY}"))
    return html(takeoff, settings, {"L1": 4, "D1": 5})


@pytest.fixture(scope="module")
def page(text: str) -> Page:
    return Page(text)


def floats(text: str, kind: str = "<f4") -> np.ndarray:
    return np.frombuffer(base64.b64decode(text), dtype=kind)


# ---------------------------------------------------------------- the page


def test_the_page_needs_nothing_from_elsewhere(page: Page) -> None:
    for tag, attributes in page.tags:
        assert "src" not in attributes, tag
        assert tag not in ("link", "iframe", "object", "embed", "base", "form", "img"), tag
        if "href" in attributes:
            assert re.fullmatch(r"[\w.-]+\.(pdf|xlsx)(#page=\d+)?", attributes["href"] or "")
    source = "".join(files("takeoff.review").joinpath(n).read_text("utf-8") for n in SCRIPTS)
    for word in ("fetch(", "XMLHttpRequest", "import(", "innerHTML", "insertAdjacentHTML", "document.write", "eval("):
        assert word not in source
    assert "http" not in source.replace("http://www.w3.org/2000/svg", "")


def test_the_content_policy_admits_the_pages_own_script_and_style_only(page: Page) -> None:
    """Content Security Policy Level 3 (W3C): sha256 of the element's text, base64."""
    policy = next(a["content"] for t, a in page.tags if a.get("http-equiv") == "Content-Security-Policy")
    assert policy is not None
    assert "default-src 'none'" in policy
    assert "unsafe" not in policy
    script = [t for k, t in page.inside if k == "script"][-1]
    style = next(t for k, t in page.inside if k == "style")
    for kind, inside in (("script-src", script), ("style-src", style)):
        digest = base64.b64encode(hashlib.sha256(inside.encode()).digest()).decode()
        assert f"{kind} 'sha256-{digest}'" in policy
    assert not any(name.startswith("on") or name == "style" for _, a in page.tags for name in a)


def test_text_of_the_model_stays_text(page: Page, text: str) -> None:
    assert Counter(tag for tag, _ in page.tags)["script"] == 2
    assert NASTY not in text
    # HTML Living Standard 4.12.1.3: neither an end tag nor a comment can begin in a script without a "<".
    data = text.split('<script type="application/json" id="data">')[1].split("</script>")[0]
    assert not set("<>&") & set(data)
    shown = "".join(page.text)
    assert f"{NASTY} is curved." in shown
    assert f"Job {NASTY}" in shown
    messages = [query[1] for group in page.data["groups"] for query in group["queries"]]
    assert f"{NASTY} is curved." in messages
    assert any(NASTY in row[2] for group in page.data["absent"] for row in group["rows"])


def test_separators_and_lone_surrogates_of_a_damaged_file_do_not_break_the_page(
    takeoff: Takeoff, tmp_path: Path
) -> None:
    odd = replace(takeoff.model.members[0], name="a\u2028b\ud800c")
    changed = replace(takeoff, model=replace(takeoff.model, members=(odd, *takeoff.model.members[1:])))
    path = tmp_path / "review.html"
    write(changed, Settings(), path)
    data = Page(path.read_text(encoding="utf-8")).data
    assert "a\u2028b" in data["members"]["names"]["texts"][0]


def test_two_runs_give_the_same_bytes(tmp_path: Path) -> None:
    for name in ("a", "b"):
        write(mast(2), Settings(), tmp_path / name)
    assert (tmp_path / "a").read_bytes() == (tmp_path / "b").read_bytes()


def test_every_piece_has_its_row_and_held_ones_say_so(page: Page, takeoff: Takeoff) -> None:
    rows = [a for t, a in page.tags if t == "tr" and "data-piece" in a]
    assert [int(a["data-piece"] or "") for a in rows] == list(range(len(takeoff.pieces)))
    assert [a.get("class") for a in rows] == ["held" if p.status == steel.HELD else None for p in takeoff.pieces]
    assert "HOLD" in page.text


def test_sheets_are_linked_where_their_page_is_known(page: Page) -> None:
    links = [a["href"] for t, a in page.tags if t == "a" and "#page=" in (a["href"] or "")]
    assert links == ["cut-and-punch.pdf#page=4", "cut-and-punch.pdf#page=5"]
    assert {p["mark"]: p["page"] for p in page.data["pieces"] if p["page"]} == {"L1": 4, "D1": 5}


def test_only_the_documents_written_are_linked(takeoff: Takeoff) -> None:
    page = Page(html(takeoff, Settings(), documents=["bolts.pdf"]))
    assert [a["href"] for t, a in page.tags if t == "a"] == ["bolts.pdf"]


def test_controls_have_names_and_tabs_have_panels(page: Page) -> None:
    """WAI-ARIA 1.2 (W3C): a tab controls a tabpanel, which is labelled by it."""
    ids = {a["id"] for _, a in page.tags if "id" in a}
    tabs = [a for _, a in page.tags if a.get("role") == "tab"]
    assert tabs
    for tab in tabs:
        assert tab["aria-controls"] in ids
    for _, a in page.tags:
        if a.get("role") == "tabpanel":
            assert a["aria-labelledby"] in ids
    canvas = next(a for t, a in page.tags if t == "canvas")
    assert canvas["tabindex"] == "0"
    assert canvas["aria-label"]


def test_a_model_without_steel_gives_a_page() -> None:
    empty = Takeoff(Model("empty.ifc", "IFC4", "", ""), (), (), (), (), (), (), (), (), (), (), ())
    page = Page(html(empty, Settings()))
    assert page.data["pieces"] == []
    assert "No queries." in "".join(page.text)


# ---------------------------------------------------------------- what is shown


def test_every_part_is_shown_or_listed_as_not_shown(page: Page, takeoff: Takeoff) -> None:
    shown = page.data["members"]["ids"]
    absent = [row[0] for group in page.data["absent"] for row in group["rows"]]
    assert Counter(shown + absent) == Counter(m.global_id for m in takeoff.model.members)
    assert set(absent) == {"2NotRead00000000000001", "2Concrete0000000000001"}
    assert {(g["status"], g["reason"]) for g in page.data["absent"]} == {
        ("held", "curved"),
        ("left out", "not steel: concrete"),
    }


def test_geometry_is_written_once_a_mark() -> None:
    few, many = (Page(html(mast(bays), Settings())).data["batches"] for bays in (1, 5))
    assert len(many["rows"]) == len(few["rows"]) == 6
    assert many["points"] == few["points"]
    assert many["triangles"] == few["triangles"]


def test_a_georeferenced_model_keeps_its_hundredths(page: Page, takeoff: Takeoff) -> None:
    data = page.data
    placements = floats(data["placements"]).reshape(-1, 9).astype(float)
    ids = {global_id: n for n, global_id in enumerate(data["members"]["ids"])}
    for one in takeoff.pieces:
        for number, frame in zip(one.members, one.frames, strict=True):
            at = placements[ids[takeoff.model.members[number].global_id]]
            assert np.abs(at[:3] + data["centre"] - frame.origin).max() < 0.01
            assert np.abs(at[3:] - frame.axes[:2].ravel()).max() < 1e-6


def test_a_bolt_reaches_from_its_first_ply_to_its_last(takeoff: Takeoff) -> None:
    built = scene(takeoff)
    assert len(built.bolts) == sum(len(f.bolts) for f in takeoff.model.fasteners)
    bolt = takeoff.model.fasteners[0].bolts[0]
    assert built.bolts[0, :3] + built.centre == pytest.approx(bolt.point)
    assert built.bolts[0, 3:6] == pytest.approx(22.0 * np.array(bolt.direction))
    assert built.bolts[0, 6] == 16.0
    first = takeoff.passages[0]
    late = first._replace(plies=(first.plies[0]._replace(enter=5.0, leave=9.0),))
    moved = scene(replace(takeoff, passages=(late, *takeoff.passages[1:])))
    assert moved.bolts[0, :3] + moved.centre == pytest.approx(np.array(bolt.point) + 5.0 * np.array(bolt.direction))
    assert np.linalg.norm(moved.bolts[0, 3:6]) == pytest.approx(4.0)


def test_a_bolt_through_nothing_is_shown_as_drawn(takeoff: Takeoff) -> None:
    built = scene(replace(takeoff, passages=()))
    assert np.linalg.norm(built.bolts[:, 3:6], axis=1) == pytest.approx(45.0)


def test_a_fastener_without_a_place_is_listed_as_not_shown(takeoff: Takeoff) -> None:
    lost = takeoff.model.fasteners[0]._replace(global_id="3Lost", bolts=())
    model = replace(takeoff.model, fasteners=(*takeoff.model.fasteners, lost))
    absent = Page(html(replace(takeoff, model=model), Settings())).data["absent"]
    assert "3Lost" in [row[0] for group in absent for row in group["rows"]]


def test_a_piece_that_cannot_be_drawn_is_listed_as_not_shown(takeoff: Takeoff) -> None:
    shapeless = Section(steel.OTHER, "?", h=10, b=10)
    broken = replace(takeoff.pieces[0], section=shapeless, faces=(), outlines=())
    data = Page(html(replace(takeoff, pieces=(broken, *takeoff.pieces[1:])), Settings())).data
    absent = {row[0] for group in data["absent"] for row in group["rows"]}
    assert {takeoff.model.members[k].global_id for k in broken.members} <= absent
    assert data["pieces"][0]["first"] == -1


def test_queries_are_grouped_by_severity_then_cause_and_find_their_parts(page: Page, takeoff: Takeoff) -> None:
    groups = page.data["groups"]
    assert [(g["severity"], g["cause"], len(g["queries"])) for g in groups] == [
        ("hold", "hole-in-heel", 1),
        ("hold", "part-curved", 1),
        ("check", "bolt-short", 2),
        ("assumed", "hole-clearance", 1),
    ]
    _, _, _, mark, parts, bolts, rest = groups[0]["queries"][0]
    assert (mark, bolts, rest) == ("D2", [], [])
    assert [page.data["members"]["ids"][k] for k in parts] == [takeoff.model.members[2].global_id]
    assert groups[1]["queries"][0][4:] == [[], [], ["2NotRead00000000000001"]]
    assert groups[2]["queries"][1][5] == [1]


def test_coded_columns_give_their_text_back() -> None:
    column = coded(["b", "a", "b", ""])
    assert [column["texts"][k] for k in column["rows"]] == ["b", "a", "b", ""]


# ---------------------------------------------------------------- unfolding


@pytest.mark.parametrize(
    ("section", "expected"),
    [
        (shapes.angle(150, 75, 10), {"A": 1, "B": -1}),
        (shapes.channel(160, 65, 7.5, 10.5), {"web": 1, "top": 1, "bottom": -1}),
        (shapes.i_section(200, 100, 6, 9), {"web": 1, "top": -1, "bottom": 1}),
        (shapes.tee(100, 100, 8, 10), {"stem": 1, "bottom": 1}),
        (shapes.rhs(120, 60, 5), {"back": -1, "top": 1, "front": 1, "bottom": -1}),
        (shapes.flat(80, 8), {"face": 1}),
    ],
    ids=lambda value: getattr(value, "shape", ""),
)
def test_faces_unfold_as_one_sees_them_from_outside(section: Section, expected: dict[str, int]) -> None:
    """By hand: turn the piece about x until the face looks at you; does ``across`` grow upward?"""
    assert {face.name: upward(face) for face in shapes.faces(section)} == expected
    assert set(expected) <= set(STRIPS)


# ---------------------------------------------------------------- solids


def watertight(mesh: Mesh) -> bool:
    edges = Counter((int(t[k]), int(t[(k + 1) % 3])) for t in mesh.triangles for k in range(3))
    return all(count == edges[(b, a)] for (a, b), count in edges.items())


@pytest.mark.parametrize(
    ("section", "area"),
    [
        (shapes.angle(100, 65, 10), 65 * 10 + 90 * 10),
        (shapes.channel(160, 65, 7.5, 10.5), 160 * 7.5 + 2 * 57.5 * 10.5),
        (shapes.i_section(200, 100, 6, 9), 2 * 100 * 9 + 182 * 6),
        (shapes.tee(100, 80, 8, 10), 80 * 10 + 90 * 8),
        (shapes.flat(80, 8), 80 * 8),
        (shapes.rhs(120, 60, 5), 120 * 60 - 110 * 50),
        (shapes.other([(0, 0), (60, 0), (60, 20), (30, 20), (30, 50), (0, 50)]), 60 * 20 + 30 * 30),
    ],
    ids=lambda value: getattr(value, "designation", ""),
)
def test_a_square_ended_prism_has_the_volume_of_its_section(section: Section, area: float) -> None:
    """Areas added up from rectangles by hand."""
    mesh = piece_mesh(piece("P", section, 1000.0))
    assert mesh.volume == pytest.approx(area * 1000.0, rel=1e-9)
    assert watertight(mesh)
    assert mesh.points.min(axis=0)[0] == pytest.approx(0)
    assert mesh.points.max(axis=0)[0] == pytest.approx(1000)


@pytest.mark.parametrize(
    ("section", "area"),
    [
        (shapes.chs(114.3, 5), np.pi / 4 * (114.3**2 - 104.3**2)),
        (shapes.round_bar(20), np.pi * 100),
        (shapes.angle(150, 75, 10, 11, 5.5), 2160.0),
        (shapes.i_section(200, 100, 5.6, 8.5, 12), 2850.0),
    ],
    ids=lambda value: getattr(value, "designation", ""),
)
def test_arcs_are_coarse_but_near(section: Section, area: float) -> None:
    """L 150x75x10: 21.6 cm2 (EN 10056-1); IPE 200: 28.5 cm2 (EN 10365)."""
    mesh = piece_mesh(piece("P", section, 1000.0))
    assert mesh.volume == pytest.approx(area * 1000.0, rel=0.06)
    assert len(mesh.points) <= 130
    assert watertight(mesh)


def test_a_skew_end_cuts_the_prism() -> None:
    """Flat 100 x 10, 1000 long, an end slanting 60 over the width: a wedge of 60 x 100 / 2 x 10 is gone."""
    mesh = piece_mesh(piece("F", shapes.flat(100, 10), 1000.0, ends=(60.0, 0.0)))
    assert mesh.volume == pytest.approx((1000 * 100 - 60 * 100 / 2) * 10)
    assert len(mesh.points) == 8
    angle = piece_mesh(piece("A", shapes.angle(100, 100, 10), 1000.0, ends=(60.0, 0.0)))
    at_toe = angle.points[np.abs(angle.points[:, 2] - 100) < 1e-6]
    assert at_toe[:, 0].min() == pytest.approx(60.0)


def test_a_plate_is_its_outline() -> None:
    """A 340 x 260 x 10 plate with a corner of 100 x 100 clipped off."""
    outline = np.array([(0, 0), (340, 0), (340, 160), (240, 260), (0, 260)], dtype=float)
    mesh = piece_mesh(piece("G", shapes.plate(260, 10), 340.0, outline=outline))
    assert mesh.volume == pytest.approx((340 * 260 - 5000) * 10)
    assert watertight(mesh)


def test_a_notch_is_missing_from_its_leg() -> None:
    """A heel cope of 50 x 30 in leg A and 50 x 20 in leg B; walls overlap in the 10 x 10 heel."""
    section = shapes.angle(150, 75, 10)
    a = np.array([(0, 30), (50, 30), (50, 0), (900, 0), (900, 150), (0, 150)], dtype=float)
    b = np.array([(50, 0), (900, 0), (900, 75), (0, 75), (0, 20), (50, 20)], dtype=float)
    coped = replace(piece("A", section, 900.0), outlines=(FaceOutline("A", a), FaceOutline("B", b)))
    mesh = piece_mesh(coped)
    expected = (900 * 150 - 50 * 30) * 10 + (900 * 75 - 50 * 20) * 10
    assert mesh.volume == pytest.approx(expected)
    assert not ((mesh.points[:, 0] < 49) & (mesh.points[:, 2] < 9) & (mesh.points[:, 1] < 9)).any()


def test_a_bevelled_edge_shows_on_the_inside() -> None:
    near = np.array([(0, 0), (100, 0), (100, 50), (0, 50)], dtype=float)
    far = near + np.array([(10, 0), (0, 0), (0, 0), (10, 0)], dtype=float)
    bevelled = replace(piece("F", shapes.flat(50, 10), 100.0), outlines=(FaceOutline("face", near, far),))
    assert piece_mesh(bevelled).volume == pytest.approx(95 * 50 * 10)


def test_a_body_outside_the_lists_ends_at_its_planes() -> None:
    plane = Plane((1000.0, 0.0, 0.0), (1.0, 0.0, 0.5))
    body = Body(shapes.flat(100, 10), 1000.0, right=(plane,))
    assert body_mesh(body).volume == pytest.approx((1000 - 25) * 100 * 10)


def test_a_round_plate_outside_the_lists_is_round() -> None:
    disc = (Vertex(0, 50, 1.0), Vertex(100, 50, 1.0))
    mesh = body_mesh(Body(shapes.plate(100, 10), 100.0, outline=disc))
    assert mesh.volume == pytest.approx(np.pi * 2500 * 10, rel=0.02)


def test_radii_that_do_not_fit_are_left_out() -> None:
    odd = replace(shapes.angle(60, 60, 6), r1=80.0)
    assert piece_mesh(piece("A", odd, 100.0)).volume == pytest.approx((60 * 6 + 54 * 6) * 100)


def test_simplified_loops_stay_within_the_chord() -> None:
    ring = shapes.rings(shapes.chs(114.3, 5))[0]
    coarse = simplified(ring)
    assert len(coarse) < len(ring) / 2
    middle = (coarse + np.roll(coarse, -1, axis=0)) / 2
    assert np.hypot(*middle.T).min() >= 114.3 / 2 - 0.51


@given(
    radii=st.lists(st.floats(5, 100), min_size=3, max_size=24),
    backwards=st.booleans(),
)
def test_triangles_fill_any_star_shaped_loop(radii: list[float], backwards: bool) -> None:
    """The shoelace formula against the sum of the triangles, none of them turned over."""
    turn = np.linspace(0, 2 * np.pi, len(radii), endpoint=False)
    loop = np.array(radii)[:, None] * np.column_stack((np.cos(turn), np.sin(turn)))
    x, y = loop.T
    area = float((x * np.roll(y, -1) - np.roll(x, -1) * y).sum()) / 2
    loop = loop[::-1] if backwards else loop
    triangles = triangulate([loop])
    a, b, c = (loop[triangles[:, k]] for k in range(3))
    parts = ((b - a)[:, 0] * (c - a)[:, 1] - (b - a)[:, 1] * (c - a)[:, 0]) / 2
    assert (parts > -1e-9).all()
    assert parts.sum() == pytest.approx(area)


def test_a_part_outside_the_lists_is_shown_too(takeoff: Takeoff) -> None:
    built = scene(takeoff)
    other = [batch for batch in built.batches if batch.piece == -1]
    assert [takeoff.model.members[k].name for b in other for k in b.members] == ["Rung"]


# ---------------------------------------------------------------- in a browser


@pytest.mark.skipif(shutil.which("chromium") is None, reason="no chromium on this machine")
def test_a_browser_runs_the_page(tmp_path: Path) -> None:
    members = (Member("0One", "IfcMember", NASTY),)
    frame = along(np.zeros(3), np.array([900.0, 0, 0]), np.array([0, 0, 1.0]))
    one = piece("A 1", shapes.angle(150, 75, 10), 900.0, tuple(row(3, "A", 60, 70, 55)), members=(0,), frames=(frame,))
    small = replace(
        mast(1),
        model=Model(NASTY, "IFC4", "", "", members),
        pieces=(one,),
        assemblies=(),
        passages=(),
        bolt_rows=(),
        queries=(),
        member_marks=("A 1",),
        member_assemblies=("",),
        member_status=("listed",),
        member_reasons=("",),
    )
    path = tmp_path / "review.html"
    write(small, Settings(), path)
    command = [
        "chromium",
        "--headless",
        "--no-sandbox",
        "--disable-gpu",
        "--virtual-time-budget=2000",
        f"--user-data-dir={tmp_path / 'profile'}",
        "--enable-logging=stderr",
        "--dump-dom",
        f"{path.as_uri()}#A%201",
    ]
    run = subprocess.run(command, capture_output=True, text=True, timeout=120, check=False)
    assert "Uncaught" not in run.stderr
    assert "Refused" not in run.stderr
    drawn = Page(run.stdout)
    assert not [tag for tag, _ in drawn.tags if tag == "img"]
    assert {"leg A", "leg B", "heel", "900", "60", "130", "200"} <= set(drawn.text)
    assert len([a for t, a in drawn.tags if t == "rect"]) == 3
