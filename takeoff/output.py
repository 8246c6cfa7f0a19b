"""Staging: documents are written beside the last good ones and moved into place at the end.

Vocabulary. The *target* is the folder the lists go to; it may hold files of the user's own,
which are never touched. The *staging* folder is a hidden folder inside the target (so on
the same file system, and as writable), in which a run writes its documents. The *swap*
moves the last documents out (into ``old`` of the staging folder) and the new ones in.

What happens when a run ends early:

- before the swap, in whatever way: the last documents stand untouched; the staging folder is
  removed at once, or after a hard kill by the next run;
- an error within the swap (a document held open by another program): the moves done so far are
  undone, the last documents stand again;
- Ctrl-C or a request to end within the swap: it is put off until the swap is done;
- a hard kill or power cut within the swap: the journal written before the first move lists
  every move; the next run finishes them first. Until then some documents may be the old ones:
  summary.json, moved last, has the checksum of every document of its set.

Two runs into one target swap one after the other, so that no mixture of both comes about; the
later one wins. (Where folders cannot be locked, on Windows, nothing keeps them apart.)
"""

from __future__ import annotations

import contextlib
import json
import os
import shutil
import signal
import sys
import tempfile
import threading
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path, PurePosixPath
from types import FrameType, TracebackType
from typing import IO, Any, Final

PREFIX: Final = ".takeoff-"
JOURNAL: Final = "journal.json"
LOCK: Final = "lock"
SUMMARY: Final = "summary.json"
KNOWN: Final = (
    "cut-and-punch.pdf",
    "bolts.pdf",
    "weights.pdf",
    "bars.pdf",
    "inspection.pdf",
    "erection.pdf",
    "packing.pdf",
    "tags.pdf",
    "queries.pdf",
    "queries.bcf",
    "review.html",
    "lists.xlsx",
    SUMMARY,
)
"""Names in the target that are always ours; further ones are those the last summary lists."""


class OutputError(Exception):
    """The lists cannot be written; the message is a sentence with the remedy."""


class Staging:
    """A run's documents on their way to ``target``; a context manager.

    ``folder`` takes the documents. :meth:`swap` puts them in place (``swapped`` then); leaving without it
    (an error, Ctrl-C) removes them. Raises OutputError where the target cannot be written.
    """

    def __init__(self, target: Path) -> None:
        self.target = target
        self._made: list[Path] = []
        self._lock: IO[bytes] | None = None
        self._base = Path()
        self.folder = Path()
        self.swapped = False

    def __enter__(self) -> Staging:
        self._make_target()
        try:
            with _alone(self.target):
                _settle(self.target)
                # Within the block: another run would take a folder that is not locked yet for a killed run's.
                self._base = Path(tempfile.mkdtemp(prefix=PREFIX, dir=self.target))
                (self._base / LOCK).touch()
                self._lock = _locked(self._base)
            self.folder = self._base / "new"
            self.folder.mkdir()
        except OSError as error:
            self._clear()
            raise OutputError(unwritable(self.target, error)) from error
        except BaseException:
            self._clear()
            raise
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        with _put_off():
            self._clear()

    def swap(self, last: str = SUMMARY, beside: bool = False) -> list[str]:
        """Put the documents in place and remove those of the last run that are not among them.

        ``last`` is moved last. ``beside``: these documents go beside those of other runs, none of which is removed.
        Returns the names put in place, relative to the target, sorted.
        """
        names = sorted(
            (path.relative_to(self.folder).as_posix() for path in self.folder.rglob("*") if path.is_file()),
            key=lambda name: (name == last, name),
        )
        with _put_off(), _alone(self.target):
            stale = [] if beside else sorted(_ours(self.target) - set(names))
            try:
                for name in (*names, *stale):
                    if (self.target / name).is_dir():
                        raise IsADirectoryError(0, f"there is a folder named {name}, where a file must go")
                _write_journal(self._base, names, stale)
                done: list[tuple[Path, Path]] = []
                try:
                    _move(self.target, self._base, names, stale, done)
                except OSError:
                    for source, place in reversed(done):
                        os.replace(place, source)
                    # Undone: without its journal the next run takes it for what it is, rubbish.
                    (self._base / JOURNAL).unlink()
                    raise
                (self._base / JOURNAL).unlink()
                _remove_empty_folders(self.target, stale)
            except OSError as error:
                raise OutputError(unwritable(self.target, error)) from error
            self._made.clear()
            self.swapped = True
        return sorted(names)

    def _make_target(self) -> None:
        """Make the target, remembering which folders are new, so that a failed run leaves none behind."""
        try:
            if self.target.exists() and not self.target.is_dir():
                raise OutputError(
                    f"The lists cannot be written: {self.target} is a file, not a folder. Name another folder with -o."
                )
            missing = []
            place = self.target
            while not place.exists():
                missing.append(place)
                place = place.parent
            for place in reversed(missing):
                place.mkdir(exist_ok=True)
                self._made.append(place)
        except OSError as error:
            self._clear()
            raise OutputError(unwritable(self.target, error)) from error

    def _clear(self) -> None:
        if self._lock:
            self._lock.close()
            self._lock = None
        if self._base != Path():
            # A swap that was neither finished nor undone is left for the next run to finish.
            if not (self._base / JOURNAL).exists():
                shutil.rmtree(self._base, ignore_errors=True)
            self._base = Path()
        for place in reversed(self._made):
            with contextlib.suppress(OSError):  # not empty: somebody else put something there
                place.rmdir()
        self._made.clear()


def unwritable(target: Path, error: OSError) -> str:
    """Why the lists cannot be written, as a sentence with the remedy."""
    reason = error.strerror or str(error)
    named = f" ({error.filename})" if error.filename and PREFIX not in str(error.filename) else ""
    return (
        f"The lists cannot be written to {target}: {reason[:1].lower()}{reason[1:]}{named}. Close documents "
        "that are open in another program, make room or rights, or name another folder with -o. "
        "The last lists there are unchanged."
    )


def _move(target: Path, base: Path, names: Sequence[str], stale: Sequence[str], done: list[tuple[Path, Path]]) -> None:
    """Every move of a swap that is not made yet; ``done`` takes (from, to) of each as it is made."""

    def move(source: Path, place: Path) -> None:
        place.parent.mkdir(parents=True, exist_ok=True)
        os.replace(source, place)
        done.append((source, place))

    for name in stale:
        if (target / name).is_file():
            move(target / name, base / "old" / name)
    for name in names:
        # A name no longer in "new" was put in place before a kill.
        if (base / "new" / name).exists():
            if (target / name).exists():
                move(target / name, base / "old" / name)
            move(base / "new" / name, target / name)


def _settle(target: Path) -> None:
    """Finish what killed runs left in the target: a swap under way is completed, a staging folder removed."""
    for base in sorted(target.glob(f"{PREFIX}*")):
        if not base.is_dir():
            continue
        lock = _locked(base)
        if lock is None:
            continue  # of a run that is still at work
        try:
            journal = base / JOURNAL
            if journal.exists():
                moves = json.loads(journal.read_text(encoding="utf-8"))
                _move(target, base, moves["names"], moves["stale"], [])
                journal.unlink()
                _remove_empty_folders(target, moves["stale"])
        finally:
            lock.close()
        shutil.rmtree(base, ignore_errors=True)


def _write_journal(base: Path, names: Sequence[str], stale: Sequence[str]) -> None:
    """Under its own name only once it is whole and on the disk: half a journal would be worse than none."""
    draft = base / f"{JOURNAL}.draft"
    with draft.open("w", encoding="utf-8") as file:
        json.dump({"names": list(names), "stale": list(stale)}, file)
        file.flush()
        os.fsync(file.fileno())
    os.replace(draft, base / JOURNAL)


def _ours(target: Path) -> set[str]:
    """Names of documents in the target that an earlier run wrote."""
    names = {name for name in KNOWN if (target / name).is_file()}
    try:
        listed: Any = json.loads((target / SUMMARY).read_text(encoding="utf-8"))["files"]
        candidates = [name for name in listed if isinstance(name, str)]
    except (OSError, ValueError, KeyError, TypeError):
        return names  # no earlier run, or a summary.json that is not ours to trust
    for name in candidates:
        pure = PurePosixPath(name)
        # A summary is a file anybody can edit: never let it name something outside the folder.
        inside = not pure.is_absolute() and ".." not in pure.parts and "\\" not in name and ":" not in name
        if inside and (target / name).is_file():
            names.add(name)
    return names


def _remove_empty_folders(target: Path, stale: Iterable[str]) -> None:
    folders = {(target / name).parent for name in stale} - {target}
    for folder in sorted(folders, reverse=True):
        with contextlib.suppress(OSError):  # not empty
            folder.rmdir()


def _locked(base: Path) -> IO[bytes] | None:
    """The open lock of a staging folder, or None while a living run holds it."""
    try:
        file = (base / LOCK).open("r+b")
    except FileNotFoundError:
        return None  # being made or removed by its own run in this moment
    try:
        if sys.platform == "win32":
            import msvcrt

            msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)
        else:
            import fcntl

            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        file.close()
        return None
    return file


@contextlib.contextmanager
def _alone(target: Path) -> Iterator[None]:
    """Wait until no other run moves documents in the target, and keep others out while in the block."""
    if sys.platform == "win32":
        yield
        return
    import fcntl

    folder = os.open(target, os.O_RDONLY)
    try:
        # Some network file systems have no locks; two runs at once into one folder there are rare.
        with contextlib.suppress(OSError):
            fcntl.flock(folder, fcntl.LOCK_EX)
        yield
    finally:
        os.close(folder)


@contextlib.contextmanager
def _put_off() -> Iterator[None]:
    """Hold back Ctrl-C and requests to end while in the block, and deliver them after it."""
    if threading.current_thread() is not threading.main_thread():
        yield  # Python delivers signals to the main thread only
        return
    came: list[int] = []

    def note(number: int, frame: FrameType | None) -> None:
        came.append(number)

    watched = [getattr(signal, name) for name in ("SIGINT", "SIGTERM", "SIGHUP") if hasattr(signal, name)]
    watched = [n for n in watched if signal.getsignal(n) not in (None, signal.SIG_IGN)]
    before = {number: signal.signal(number, note) for number in watched}
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
        if came:
            signal.raise_signal(came[0])
