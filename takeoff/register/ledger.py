"""The register of one run: locked, read, and replaced in one step.

What holds at every moment, a hard kill included:

- the file is the register as it was or as it is to be, whole; never half of one: the new one is written beside it,
  brought to the disk and renamed over it;
- it is replaced *before* the lists are put in place. A kill between the two leaves marks in the register that no list
  has shown yet, each with its own shape: the next run finds them known. The other order could leave lists on the
  shop's table whose marks nobody remembers;
- where putting the lists in place fails, :meth:`Ledger.restore` puts the register back.

Two runs at once with one register go one after the other: the second waits before it reads, since its marks depend
on what the first gives. The lock is a file beside the register, since the register itself is replaced; it is let go
by the system when a run is killed. On a file system without locks the register is held against what was read before
it is replaced, and the later run is refused.
"""

from __future__ import annotations

import contextlib
import os
import shutil
import stat
import sys
import time
from collections.abc import Callable
from pathlib import Path
from types import TracebackType
from typing import IO

from takeoff.register.file import RegisterError, parsed, written
from takeoff.released import Register


class Ledger:
    """A context manager; ``register`` is what the file holds, an empty one where there is no file yet.

    ``waiting`` is called once where another run has the register. Raises RegisterError where the file cannot be used.
    """

    def __init__(self, path: Path, waiting: Callable[[], None] = lambda: None) -> None:
        self.path = path
        self.register = Register()
        self.begun = False
        """Whether this run starts the register."""
        self._place = path
        self._waiting = waiting
        self._lock: IO[bytes] | None = None
        self._before: bytes | None = None
        self._now: bytes | None = None

    def __enter__(self) -> Ledger:
        try:
            # A link stays a link: what it leads to is replaced.
            self._place = self.path.resolve()
            self._look()
            self._lock = self._locked()
            try:
                self._before = self._content()
                self.register = Register() if self._before is None else parsed(self._before, self.path)
            except BaseException:
                self._let_go()
                raise
        except OSError as error:
            raise RegisterError(self._unwritable(error)) from error
        self.begun = self._before is None
        self._now = self._before
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._let_go()

    def replace(self, register: Register) -> None:
        """Put ``register`` in the file's place. Raises RegisterError; the file is then as it was."""
        content = written(register)
        try:
            if self._content() != self._now:
                raise RegisterError(
                    f"The register {self.path} was changed by another program while this run was at work. Nothing was "
                    "written; run it again."
                )
            if content != self._now:
                self._write(content)
        except OSError as error:
            raise RegisterError(self._unwritable(error)) from error
        self._now = content

    def restore(self) -> None:
        """Put back what the file held before :meth:`replace`. Raises RegisterError."""
        if self._now == self._before:
            return
        try:
            if self._before is None:
                self._place.unlink()
            else:
                self._write(self._before)
        except OSError as error:
            raise RegisterError(
                f"{self._unwritable(error)} It holds an issue now whose lists were not written; run it again."
            ) from error
        self._now = self._before

    def _look(self) -> None:
        """Find out at the start of a run, not at its end, that the register cannot be replaced."""
        if self._place.is_dir():
            raise RegisterError(f"The register {self.path} is a folder. Name a file.")
        if not self._place.parent.is_dir():
            raise RegisterError(
                f"The register {self.path} cannot be kept: there is no folder {self._place.parent}. Make it first, or "
                "mend the path."
            )
        if self._place.exists():
            protected = not self._place.stat().st_mode & (stat.S_IWUSR | stat.S_IWGRP | stat.S_IWOTH)
            # An administrator may write what is protected; protecting it was meant all the same.
            if protected or not os.access(self._place, os.W_OK):
                raise RegisterError(
                    f"The register {self.path} is read-only. Give it write permission, or leave --register out for "
                    "lists that are not to be released."
                )

    def _locked(self) -> IO[bytes]:
        file = self._place.with_name(f".{self._place.name}.lock").open("ab")
        try:
            if not _try_lock(file):
                self._waiting()
                while not _try_lock(file):
                    time.sleep(0.1)
        except BaseException:
            file.close()
            raise
        return file

    def _let_go(self) -> None:
        if self._lock:
            self._lock.close()
            self._lock = None

    def _content(self) -> bytes | None:
        try:
            return self._place.read_bytes()
        except FileNotFoundError:
            return None

    def _write(self, content: bytes) -> None:
        draft = self._place.with_name(f".{self._place.name}.new")
        with draft.open("wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        if self._place.exists():
            shutil.copymode(self._place, draft)
        os.replace(draft, self._place)
        _flush_folder(self._place.parent)

    def _unwritable(self, error: OSError) -> str:
        reason = error.strerror or str(error)
        return (
            f"The register {self.path} cannot be used: {reason[:1].lower()}{reason[1:]}. Make room or rights in its "
            "folder, or close the program that has it open."
        )


def _try_lock(file: IO[bytes]) -> bool:
    """Whether the lock is ours now; false while another run has it. True where the file system has no locks."""
    if sys.platform == "win32":
        import msvcrt

        try:
            file.seek(0)
            msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)
        except PermissionError:
            return False
        return True
    import fcntl

    try:
        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    except OSError:
        return True  # no locks here: replace() looks whether somebody else wrote
    return True


def _flush_folder(folder: Path) -> None:
    """Bring the renaming to the disk, where folders can be opened."""
    if sys.platform == "win32":
        return
    number = os.open(folder, os.O_RDONLY)
    try:
        with contextlib.suppress(OSError):  # some network file systems do not know how
            os.fsync(number)
    finally:
        os.close(number)
