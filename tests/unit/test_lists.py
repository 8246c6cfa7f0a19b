"""The tables say what the takeoff holds, in the columns that other people's scripts rely on."""

import csv
import dataclasses
import io
import random
import re
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from small_job import small_job

from takeoff.columns import COLUMNS, KG, MM
from takeoff.lists import cell_texts, guarded, mark_order, tables, write_csv
from takeoff.steel import Member, Takeoff

CONTRACT = Path(__file__).parents[3] / "shared" / "CONTRACT.md"


def rows(takeoff, table):
    """A table as written, as dicts of text."""
    frame = tables(takeoff)[table]
    texts = [cell_texts(COLUMNS[table][column], frame[column]) for column in frame.columns]
    return [dict(zip(frame.columns, row, strict=True)) for row in zip(*texts, strict=True)]


def renamed(takeoff, name):
    members = (dataclasses.replace(takeoff.model.members[0], name=name), *takeoff.model.members[1:])
    return dataclasses.replace(takeoff, model=dataclasses.replace(takeoff.model, members=members))


def test_columns_are_those_of_the_contract():
    if not CONTRACT.exists():
        pytest.skip("the contract of the tables is not beside the project")
    promised = {}
    for line in CONTRACT.read_text(encoding="utf-8").splitlines():
        match = re.match(r"\| (\w+)\.csv \|[^|]*\|(.*)\|\s*$", line)
        if match:
            columns = re.sub(r"\([^()]*\)", "", match[2])  # what stands in brackets explains a column
            promised[match[1]] = [c.strip() for c in columns.split(",") if c.strip()]
    assert set(promised) <= set(COLUMNS)
    for table, columns in promised.items():
        assert list(COLUMNS[table])[: len(columns)] == columns


def test_a_member_has_its_piece_its_place_and_its_reason():
    members = {row["global_id"][-2:]: row for row in rows(small_job(), "members")}
    assert len(members) == 5
    turned = members["01"]
    assert (turned["piece_mark"], turned["section"], turned["length_mm"]) == ("A10", "L 100x100x8", "1200")
    # Origin (5000000.125, 20, -0.004), x along model -y: the right end is 1200 further that way.
    assert [turned[f"left_{c}_mm"] for c in "xyz"] == ["5000000.12", "20", "0"]
    assert [turned[f"right_{c}_mm"] for c in "xyz"] == ["5000000.12", "-1180", "0"]
    left_out = members["04"]
    assert (left_out["status"], left_out["reason"]) == ("left out", "It is concrete.")
    assert [left_out[c] for c in ("section", "length_mm", "left_x_mm", "piece_mark")] == [""] * 4


def test_pieces_holes_and_cuts():
    piece, flat = rows(small_job(held=True), "pieces")
    assert (piece["quantity"], piece["shape"], piece["width_mm"], piece["thickness_mm"]) == (
        "2",
        "angle",
        "100",
        "8",
    )
    assert (piece["gross_weight_kg"], piece["net_weight_kg"], piece["holes"]) == ("14.64", "14.624", "1")
    assert (flat["status"], flat["reason"]) == ("held", "The slot's middle is not certain.")
    round_hole, slot = rows(small_job(held=True), "holes")
    assert (round_hole["hole"], round_hole["across_mm"], round_hole["slot_length_mm"]) == ("A1", "45.5", "0")
    assert (slot["slot_length_mm"], slot["slot_angle_deg"], slot["source"]) == ("30", "90", "bolt+opening")
    assert slot["status"] == "held"
    (cut,) = rows(small_job(), "cuts")
    assert (cut["end"], cut["kind"], cut["angle_deg"]) == ("right", "skew", "12.5")


def test_every_fastener_has_a_row():
    bolt, weld = rows(small_job(), "fasteners")
    assert bolt["piece_marks"] == "A10 F2"
    assert len(bolt["members"].split()) == 2
    assert (bolt["bolts"], bolt["grip_mm"], bolt["nuts"], bolt["washers"]) == ("1", "18", "1", "")
    assert (weld["bolts"], weld["status"], weld["reason"]) == ("0", "left out", "It is a weld.")


def test_the_other_tables():
    job = small_job(held=True)
    assert [row["severity"] for row in rows(job, "queries")] == ["hold", "check", "assumed"]
    (assembly,) = rows(job, "assemblies")
    assert (assembly["pieces"], assembly["piece_marks"]) == ("3", "A10 x2 F2 x1")
    (line,) = rows(job, "bolts")
    assert (line["quantity"], line["spare"], line["to_order"], line["weight_kg"]) == ("1", "2", "3", "0.15")
    (bought,) = rows(job, "bought_out")
    assert (bought["size"], bought["quantity"]) == ("M24", "1")


def test_what_is_not_known_is_empty_and_never_nothing():
    job = small_job()
    piece = dataclasses.replace(job.pieces[0], gross=0.0, net=0.0, surface=0.0)
    line = dataclasses.replace(job.bolt_lines[0], weight=None, nuts=None)
    job = dataclasses.replace(job, pieces=(piece, job.pieces[1]), bolt_lines=(line,))
    assert [rows(job, "pieces")[0][c] for c in ("gross_weight_kg", "net_weight_kg", "surface_m2")] == [""] * 3
    assert [rows(job, "bolts")[0][c] for c in ("weight_kg", "nuts")] == ["", ""]


def test_order_of_entities_does_not_matter():
    job = small_job()
    order = list(range(len(job.model.members)))
    random.Random(7).shuffle(order)

    def shuffled(values):
        return tuple(values[i] for i in order)

    model = dataclasses.replace(job.model, members=shuffled(job.model.members))
    at = {old: new for new, old in enumerate(order)}
    pieces = tuple(dataclasses.replace(p, members=tuple(at[m] for m in p.members)) for p in job.pieces)
    other = dataclasses.replace(
        job,
        model=model,
        pieces=pieces,
        member_marks=shuffled(job.member_marks),
        member_assemblies=shuffled(job.member_assemblies),
        member_status=shuffled(job.member_status),
        member_reasons=shuffled(job.member_reasons),
    )
    assert rows(job, "members") == rows(other, "members")


def test_marks_are_ordered_as_a_person_counts():
    marks = ["A10", "A2", "", "B1", "A2-1", "a1", "A²", "A02"]
    assert sorted(marks, key=mark_order) == ["A02", "A2", "A2-1", "A10", "A²", "B1", "a1", ""]


@pytest.mark.parametrize("text", ["=1+1", "+49", "-3", "@x", "\tx"])
def test_text_that_a_spreadsheet_takes_for_a_formula_is_guarded_in_every_table(text, tmp_path):
    job = renamed(small_job(), text)
    query = dataclasses.replace(job.queries[0], piece_mark=text, message=text)
    bought = dataclasses.replace(job.bought_out[0], name=text, size=text)
    line = dataclasses.replace(job.bolt_lines[0], grade=text, standard=text)
    assembly = dataclasses.replace(job.assemblies[0], mark=text)
    pieces = tuple(dataclasses.replace(p, mark=text, grade=text) for p in job.pieces)
    job = dataclasses.replace(
        job, queries=(query,), bought_out=(bought,), bolt_lines=(line,), assemblies=(assembly,), pieces=pieces
    )
    write_csv(tables(job), tmp_path)
    for table in ("members", "pieces", "holes", "cuts", "bolts", "bought_out", "assemblies", "queries"):
        with (tmp_path / f"{table}.csv").open(encoding="utf-8", newline="") as file:
            cells = [cell for row in csv.reader(file) for cell in row]
        assert f"'{text}" in cells, table
        assert text not in cells, table


@given(st.text())
def test_a_guarded_text_is_text_and_whole(text):
    written = guarded(text)
    assert not written.startswith(("=", "+", "-", "@", "\t"))
    written.encode("utf-8")
    assert written.endswith(text)


def test_half_a_character_is_replaced():
    assert guarded("a\ud800b") == "a\ufffdb"


def test_csv_is_plain(tmp_path):
    job = renamed(small_job(), 'Träger, "links"\nunten')
    paths = write_csv(tables(job), tmp_path / "tables")
    assert sorted(path.stem for path in paths) == sorted(COLUMNS)
    data = (tmp_path / "tables" / "members.csv").read_bytes()
    assert not data.startswith(b"\xef\xbb\xbf")
    assert b"\r" not in data
    text = data.decode("utf-8")
    assert '"Träger, ""links""\nunten"' in text
    assert "nan" not in text.lower()
    header = text.splitlines()[0]
    assert header == ",".join(COLUMNS["members"])
    again = pd.read_csv(io.StringIO(text), dtype={"global_id": str})
    assert again["length_mm"].dropna().tolist() == [1200, 1200, 300]


@given(st.floats(-1e7, 1e7))
def test_numbers_keep_a_hundredth_without_trailing_noise(value):
    text = one_length(value)
    assert abs(float(text or 0) - value) <= 0.005 + 1e-6
    assert text != "-0"
    assert not re.search(r"\.\d*0$|e|\.$", text)
    assert len(text.partition(".")[2]) <= 2


def one_length(value):
    """A length as members.csv writes it."""
    job = small_job()
    piece = dataclasses.replace(job.pieces[0], length=value)
    frame = tables(dataclasses.replace(job, pieces=(piece,)))["pieces"]
    return cell_texts(MM, frame["length_mm"])[0]


def test_float_noise_does_not_tip_a_tie():
    texts = {one_length(100.125 + noise) for noise in (0.0, 1e-9, -1e-9, 3e-8, -3e-8)}
    assert len(texts) == 1
    assert one_length(-0.0001) == "0"
    assert cell_texts(KG, pd.Series([1234567.0005])) == ["1234567.001"]


def test_no_rows_at_all():
    empty = dataclasses.replace(
        small_job(),
        model=dataclasses.replace(small_job().model, members=(), fasteners=()),
        pieces=(),
        assemblies=(),
        joints=(),
        passages=(),
        bolt_rows=(),
        bolt_lines=(),
        bought_out=(),
        member_marks=(),
        member_assemblies=(),
        member_status=(),
        member_reasons=(),
        queries=(),
    )
    assert isinstance(empty, Takeoff)
    for name, frame in tables(empty).items():
        assert list(frame.columns) == list(COLUMNS[name])
        assert frame.empty


def test_a_held_part_with_a_body_but_no_piece_gives_its_section_and_no_place():
    job = small_job()
    body = job.model.members[0].body
    member = Member("9" * 22, "IfcMember", body=body, frame=job.pieces[0].frames[0], status="held")
    job = dataclasses.replace(
        job,
        model=dataclasses.replace(job.model, members=(*job.model.members, member)),
        member_marks=(*job.member_marks, ""),
        member_assemblies=(*job.member_assemblies, ""),
        member_status=(*job.member_status, "held"),
        member_reasons=(*job.member_reasons, "why"),
    )
    (row,) = [row for row in rows(job, "members") if row["global_id"] == "9" * 22]
    assert (row["section"], row["length_mm"], row["left_x_mm"]) == ("L 100x100x8", "1200", "")
    assert row["model"] == "job"
    assert np.isnan(tables(job)["members"]["left_x_mm"].iloc[-1])
