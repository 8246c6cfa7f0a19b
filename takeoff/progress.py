"""How far a run has come: a bar on a terminal, else a line for each stage.

A stage reports by calling a :data:`Progress` with its name in the shop's words and the share
done of what it was asked to do, 0 to 1; it never writes anything itself. Who calls several
stages gives each a :func:`part` of its own progress.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TextIO

Progress = Callable[[str, float], None]


def silent(stage: str, share: float) -> None:
    """A Progress that says nothing."""


def part(progress: Progress, low: float, high: float) -> Progress:
    """A Progress whose 0 to 1 is ``low`` to ``high`` of another."""

    def report(stage: str, share: float) -> None:
        progress(stage, low + (high - low) * min(max(share, 0.0), 1.0))

    return report


@contextmanager
def shown_on(stream: TextIO) -> Iterator[Progress]:
    """A Progress that shows itself on ``stream``; the bar goes when the block ends."""
    if not stream.isatty():
        yield _lines(stream)
        return
    from rich.console import Console
    from rich.progress import BarColumn, TextColumn, TimeElapsedColumn
    from rich.progress import Progress as Bar

    # No thread of its own: documents are written by forked workers, and a fork beside a
    # running thread can hang.
    bar = Bar(
        TextColumn("{task.description}"),
        BarColumn(),
        TimeElapsedColumn(),
        console=Console(file=stream),
        transient=True,
        auto_refresh=False,
    )
    task = bar.add_task("", total=1.0)
    furthest = 0.0

    def report(stage: str, share: float) -> None:
        nonlocal furthest
        furthest = max(furthest, share)
        bar.update(task, description=_begun(stage), completed=furthest)
        bar.refresh()

    with bar:
        yield report


def _lines(stream: TextIO) -> Progress:
    seen: set[str] = set()

    def report(stage: str, share: float) -> None:
        stage = _begun(stage)
        if stage not in seen:
            seen.add(stage)
            stream.write(f"{stage}\n")
            stream.flush()

    return report


def _begun(stage: str) -> str:
    return stage[:1].upper() + stage[1:]
