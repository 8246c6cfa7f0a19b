"""How long the job takes against opening the file, in one run on one machine.

    python tests/benchmarks/whole_job.py [--panels 500] [--bare] [--schema IFC4] [--unit mm] [--keep FOLDER]

Writes a lattice model of 24 x panels + 8 members and 80 x panels bolts in a dozen marks (500 panels: 12,008 members
and 40,000 bolts), each with a property set of its own as in detailing models (``--bare``: without). Then measures in
this one process: ``ifcopenshell.open``; the tables (reading to CSV files); the whole job (every document). Prints
seconds and their ratios to opening; loading the libraries is shown by itself. Nothing is asserted: a ratio of one run
on a busy machine proves nothing, and the targets stand in DEVELOPERS.md.
"""

from __future__ import annotations

import argparse
import gc
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import ifcopenshell

from takeoff.documents import write_documents
from takeoff.ifc.lattice import write_lattice
from takeoff.lists import tables, write_csv
from takeoff.measuring import Solids, with_solids
from takeoff.pipeline import take_off
from takeoff.settings import Settings
from takeoff.steel import Takeoff


def seconds(work: Callable[[], object]) -> float:
    """Wall time of one call."""
    gc.collect()
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def _with_solids(model: Path, takeoff: Takeoff, settings: Settings) -> Takeoff:
    with Solids([model], settings) as solids:
        solids.ask(takeoff)
        return with_solids(takeoff, solids)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--panels", type=int, default=500)
    parser.add_argument("--bare", action="store_true", help="no property sets: the smallest file of so many parts")
    parser.add_argument("--schema", default="IFC4")
    parser.add_argument("--unit", default="mm")
    parser.add_argument("--keep", type=Path, help="folder to leave the model and the lists in")
    chosen = parser.parse_args()
    with tempfile.TemporaryDirectory() as scratch:
        folder = chosen.keep or Path(scratch)
        folder.mkdir(parents=True, exist_ok=True)
        model = folder / "lattice.ifc"
        write_lattice(model, chosen.panels, chosen.schema, chosen.unit, properties=not chosen.bare)
        settings = Settings()
        print(f"{model.stat().st_size / 1e6:.1f} MB, {24 * chosen.panels + 8} members, {80 * chosen.panels} bolts")
        # The libraries load on a model of one panel, so that what is measured grows with the model.
        small = folder / "small.ifc"
        write_lattice(small, 1, chosen.schema, chosen.unit)
        first = folder / "first"
        first.mkdir(exist_ok=True)
        loaded = seconds(lambda: write_documents(take_off([small], settings), settings, first))
        opened = min(seconds(lambda: ifcopenshell.open(str(model))) for _ in range(3))
        # The program itself switches the garbage collector off while it works; see takeoff.cli.
        gc.disable()
        job = []
        taken = seconds(lambda: job.append(take_off([model], settings)))
        csv = folder / "csv"
        listed = seconds(lambda: write_csv(tables(job[0]), csv))
        lists = folder / "lists"
        lists.mkdir(exist_ok=True)
        measured = seconds(lambda: job.append(_with_solids(model, job[0], settings)))
        written = seconds(lambda: write_documents(job[1], settings, lists))
        print(f"first small job   {loaded:6.2f} s   (loads the libraries)")
        print(f"open              {opened:6.2f} s   1.0")
        print(f"read and work out {taken:6.2f} s   {taken / opened:.1f}")
        print(f"tables in all     {taken + listed:6.2f} s   {(taken + listed) / opened:.1f}")
        print(
            f"solids measured   {measured:6.2f} s   {measured / opened:.1f}   (the program starts it before it reads)"
        )
        everything = taken + measured + written
        print(f"everything        {everything:6.2f} s   {everything / opened:.1f}")


if __name__ == "__main__":
    main()
