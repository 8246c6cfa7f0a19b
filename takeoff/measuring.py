"""The lists' weights held against the model's own solids, measured in a worker while other work goes on."""

from __future__ import annotations

import multiprocessing
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Final

from takeoff.beside import Beside, WorkerError, WorkerHangs
from takeoff.ifc.solids import volumes, volumes_asked_for
from takeoff.queries import SEVERITIES
from takeoff.settings import Settings
from takeoff.solidcheck import compare, one_of_each
from takeoff.steel import Takeoff

SECONDS: Final = 120.0
SECONDS_A_SOLID: Final = 1.0
"""The kernel takes some 3 ms over a part; one that takes longer than all this hangs."""


class Solids:
    """The models' own solids, measured in a worker that opens the files while they are read here.

    Use as a context. ``ask`` as soon as the marks are known; ``with_solids`` waits for the answer.
    """

    def __init__(self, paths: Sequence[Path], settings: Settings) -> None:
        self.paths = tuple(paths)
        self.settings = settings
        self.parts: Mapping[str, str] = {}
        receiver, self._sender = multiprocessing.Pipe(duplex=False)
        work = partial(volumes_asked_for, self.paths, receiver, self._sender, settings.model.length_unit)
        self._worker = Beside(work, anywhere=True)
        receiver.close()

    def ask(self, takeoff: Takeoff) -> None:
        """Have a part of each mark measured."""
        self.parts = one_of_each(takeoff.pieces, takeoff.model.members)
        with suppress(OSError):  # of a worker that is dead by now; its end is seen when its answer is waited for
            self._sender.send(self.wanted)

    @property
    def process_id(self) -> int | None:
        """The worker's."""
        return self._worker.process_id

    @property
    def wanted(self) -> tuple[str, ...]:
        return tuple(sorted(self.parts.values()))

    def found(self) -> dict[str, float | str]:
        """Volumes in mm3, or why there is none, by GlobalId."""
        return _solids(self._worker, self.wanted, self) if self.parts else {}

    def __enter__(self) -> Solids:
        return self

    def __exit__(self, *_: object) -> None:
        self._sender.close()
        self._worker.__exit__()


def with_solids(takeoff: Takeoff, solids: Solids) -> Takeoff:
    """The takeoff with its weights held against the solids that were asked for, and what is asked about them."""
    checks, asked = compare(takeoff.pieces, solids.parts, solids.found(), solids.settings.weights.density_kg_m3)
    order = {severity: k for k, severity in enumerate(SEVERITIES)}
    queries = sorted(
        dict.fromkeys((*takeoff.queries, *asked)),
        key=lambda q: (order[q.severity], q.code, q.piece_mark, q.message, q.global_ids),
    )
    return replace(takeoff, solids=checks, queries=tuple(queries))


def _measure(paths: tuple[Path, ...], wanted: tuple[str, ...], settings: Settings) -> Beside[dict[str, float | str]]:
    return Beside(partial(volumes, paths, wanted, settings.model.length_unit), anywhere=True)


def _solids(worker: Beside[dict[str, float | str]], wanted: tuple[str, ...], of: Solids) -> dict[str, float | str]:
    """What the worker measured. One that crashed is started anew for each half, until the part it crashes over."""
    try:
        return worker.value(SECONDS + SECONDS_A_SOLID * len(wanted))
    except WorkerHangs:
        return dict.fromkeys(wanted, "was not measured: the kernel did not come to an end")
    except (WorkerError, OSError):
        if len(wanted) <= 1:
            return dict.fromkeys(wanted, "takes the kernel down")
    found: dict[str, float | str] = {}
    for half in (wanted[: len(wanted) // 2], wanted[len(wanted) // 2 :]):
        with _measure(of.paths, half, of.settings) as again:
            found |= _solids(again, half, of)
    return found
