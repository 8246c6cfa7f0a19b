"""The files for machines that a run is asked for, by their paths in the output folder."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from takeoff.exchange.nc import MachineFiles, ids_by_mark, nc_files
from takeoff.exchange.nc_holes import Skip
from takeoff.exchange.reaming import reamed_query
from takeoff.queries import SEVERITIES, Query
from takeoff.settings import Settings
from takeoff.steel import Takeoff


@dataclass(frozen=True, slots=True)
class Machine:
    """``kinds`` (``nc``, ``dxf``) in the order asked for, each with its files and the marks that have none."""

    kinds: Mapping[str, MachineFiles] = field(default_factory=dict)

    def files(self) -> dict[str, bytes]:
        """Path below the output folder, as ``nc/A1.nc``, to content."""
        return {f"{kind}/{name}": text for kind, made in self.kinds.items() for name, text in made.files.items()}

    def told(self) -> dict[str, dict[str, dict[str, str]]]:
        """For the summary, by kind: the ``files`` by piece mark, the marks ``without`` one, with the reason, by piece
        mark too what it is ``written_as`` where not alike, and the labels of the ``holes_left_out``.
        """
        return {
            kind: {
                "files": dict(made.names),
                "without": dict(made.without),
                "written_as": dict(made.reworded),
                "holes_left_out": {mark: ", ".join(labels) for mark, labels in made.left_out.items()},
            }
            for kind, made in self.kinds.items()
        }


def machine_files(
    takeoff: Takeoff, settings: Settings, *, nc: bool = False, dxf: bool = False, skip: Skip | None = None
) -> tuple[Machine, Takeoff]:
    """The files asked for, and the takeoff with the queries that they raise among its own, in their order."""
    kinds: dict[str, MachineFiles] = {}
    if nc:
        kinds["nc"] = nc_files(takeoff, settings, skip)
    if dxf:
        # The drawing library takes long to import.
        from takeoff.exchange.dxf import dxf_files

        kinds["dxf"] = dxf_files(takeoff, settings)
    if not kinds:
        return Machine(), takeoff
    ids = ids_by_mark(takeoff)
    written = {mark for made in kinds.values() for mark in made.names}
    asked = [question for made in kinds.values() for question in made.queries]
    asked += reamed_query((piece for piece in takeoff.pieces if piece.mark in written), ids)
    if not asked:
        return Machine(kinds), takeoff
    named = [
        question if question.global_ids else replace(question, global_ids=ids[question.piece_mark])
        for question in asked
    ]
    return Machine(kinds), replace(takeoff, queries=_in_order((*takeoff.queries, *named)))


def _in_order(queries: tuple[Query, ...]) -> tuple[Query, ...]:
    """By severity, code and piece, each once: the order that the lists keep."""
    order = {severity: k for k, severity in enumerate(SEVERITIES)}
    return tuple(
        sorted(
            dict.fromkeys(queries),
            key=lambda q: (order[q.severity], q.code, q.piece_mark, q.message, q.global_ids),
        )
    )
