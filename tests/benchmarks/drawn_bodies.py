"""How long drawn bodies take to read against the geometry kernel that only meshes them, in one run on one machine.

    python tests/benchmarks/drawn_bodies.py [MODEL ...] [--members 805] [--bolts 160] [--distinct 80] [--keep FOLDER]

Writes two models of faceted parts with holes and faceted bolts: one of ``--distinct`` different bodies, one whose
bodies all differ. For each, and for each MODEL given: ``ifcopenshell.open`` by itself, then this project's reading
and the library's geometry iterator on the open file with its two fast kernels; the better of two runs. The target
stands in DEVELOPERS.md: no more than the fastest kernel that draws every product. Nothing is asserted.
"""

from __future__ import annotations

import argparse
import gc
import sys
import tempfile
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any

import ifcopenshell
import ifcopenshell.geom

from takeoff.ifc.doors import open_model
from takeoff.ifc.placement_axes import axes
from takeoff.ifc.reader import KINDS, Reader
from takeoff.ifc.writer import ModelWriter, frame
from takeoff.settings import Settings

sys.path[:0] = [str(Path(__file__).resolve().parents[1] / "unit")]

from drawn_meshes import circle, pierced  # noqa: E402

KERNELS = ("cgal-simple", "hybrid-cgal-simple-opencascade")
LEGS = ((70, 7), (80, 8), (90, 9), (100, 10), (120, 12))
RUNS = 2


def write(path: Path, members: int, bolts: int, distinct: int) -> None:
    """Sharp angles with two to five polygonal holes in their legs, and faceted bolts, each with a body of its own."""
    model = ModelWriter()
    for i in range(members):
        kind = i % distinct
        leg, thick = LEGS[kind % len(LEGS)]
        length = 600.0 + 7 * kind
        outline = ((0, 0), (leg, 0), (leg, thick), (thick, thick), (thick, leg), (0, leg))
        holes: list[Any] = []
        for k in range(2 + kind % 4):
            side = (0, 2) if k % 2 else (5, 3)
            holes.append((*side, circle(18, 60 + 90 * k, leg * 0.45, 12), thick))
        mesh = pierced(outline, length, holes)
        at = frame((0, 300 * i, 0), (1, 0, 0), (0, 0, 1))
        shape = model.solids.shape([_brep(model, mesh)], "Brep")
        local = axes(at.origin, at.axes[2], at.axes[0])
        model.product("IfcMember", local, shape, at, name=f"L{leg}*{thick}", material="S355J2")
    for i in range(bolts):
        grip = 16.0 + (i % distinct) / 4
        model.bolts([((60, 300 * i, 31.5), (0, 1, 0))], 16, grip, body="faceted", material="8.8")
    model.save(path)


def _brep(model: ModelWriter, mesh: Any) -> Any:
    step = model.step
    refs = [step.point(p) for p in mesh.points]
    faces = []
    for facet in mesh.facets:
        bounds = []
        for i, ring in enumerate(facet):
            loop = step.add(f"IFCPOLYLOOP(({','.join(refs[k] for k in ring)}))")
            bounds.append(step.add(f"IFCFACE{'OUTER' if i == 0 else ''}BOUND({loop},.T.)"))
        faces.append(step.add(f"IFCFACE(({','.join(bounds)}))"))
    shell = step.add(f"IFCCLOSEDSHELL(({','.join(faces)}))")
    return step.add(f"IFCFACETEDBREP({shell})")


def best(work: Callable[[], object], runs: int = RUNS) -> float:
    """Wall time of the quickest call."""
    times = []
    for _ in range(runs):
        gc.collect()
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return min(times)


def meshed(file: Any, kernel: str) -> int:
    """How many products the iterator draws: what this project reads."""
    products = [p for kind in (*KINDS, "IfcFastener", "IfcMechanicalFastener") for p in file.by_type(kind)]
    products = list({p.id(): p for p in products}.values())
    geometry: Any = ifcopenshell.geom
    iterator = geometry.iterator(geometry.settings(), file, 1, include=products, geometry_library=kernel)
    drawn = 0
    more = iterator.initialize()
    while more:
        drawn += len(iterator.get().geometry.faces) > 0
        more = iterator.next()
    return drawn


def _count(file: Any, kernel: str, counts: dict[str, int]) -> None:
    counts[kernel] = meshed(file, kernel)


def _read(ctx: Any) -> object:
    return Reader(ctx, Settings(), lambda what, share: None).model()


def compare(title: str, path: Path) -> None:
    """Print seconds and ratios for one model."""
    opened = best(lambda: ifcopenshell.open(str(path)))
    read = []
    for _ in range(RUNS):  # a new context each time: it caches what it has read
        ctx = open_model(path)
        read.append(best(partial(_read, ctx), 1))
    print(f"{title}: open {opened:.2f} s, read {min(read):.2f} s")
    file = ifcopenshell.open(str(path))
    counts: dict[str, int] = {}
    times: dict[str, float] = {}
    for kernel in KERNELS:
        times[kernel] = best(partial(_count, file, kernel, counts))
    whole = max(counts.values(), default=0)
    for kernel in KERNELS:
        lost = "" if counts[kernel] == whole else f", loses {whole - counts[kernel]}"
        ratio = min(read) / times[kernel]
        print(f"  {kernel:32} {times[kernel]:6.2f} s   ratio {ratio:5.2f}   {counts[kernel]} drawn{lost}")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("models", nargs="*", type=Path)
    parser.add_argument("--members", type=int, default=805)
    parser.add_argument("--bolts", type=int, default=160)
    parser.add_argument("--distinct", type=int, default=80)
    parser.add_argument("--keep", type=Path, help="folder to leave the models in")
    chosen = parser.parse_args()
    with tempfile.TemporaryDirectory() as scratch:
        folder = chosen.keep or Path(scratch)
        folder.mkdir(parents=True, exist_ok=True)
        for title, distinct in (("alike", chosen.distinct), ("all different", chosen.members)):
            path = folder / f"{title.replace(' ', '-')}.ifc"
            write(path, chosen.members, chosen.bolts, distinct)
            compare(f"{chosen.members} parts and {chosen.bolts} bolts, {title}", path)
    for path in chosen.models:
        compare(path.name, path)


if __name__ == "__main__":
    main()
