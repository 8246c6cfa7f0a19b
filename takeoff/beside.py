"""Work done in a second process beside this one, where the system can fork.

A forked worker sees everything without a copy and sends back its value. Elsewhere, and on one core, the work is done
here when its value is asked for.
"""

from __future__ import annotations

import multiprocessing
import os
import signal
import sys
import traceback
from collections.abc import Callable
from contextlib import suppress
from multiprocessing.connection import Connection
from typing import Any, Generic, TypeVar

T = TypeVar("T")


class WorkerError(RuntimeError):
    """A worker ended without its value; the message holds its own traceback."""


def can_fork() -> bool:
    """Whether a worker sees this process's values without a copy; elsewhere passing them costs more than it saves."""
    return sys.platform == "linux" and (os.cpu_count() or 1) > 1


class WorkerHangs(WorkerError):
    """A worker did not come to an end in the time it was given; it has been ended."""


class Beside(Generic[T]):
    """``work`` under way in a worker. Use as a context: leaving it ends the worker.

    The worker is forked; ``anywhere`` gives it a process of its own on systems without fork too, for work that may
    take its process down: ``work`` then must be a function of a module with its arguments (functools.partial).
    """

    def __init__(self, work: Callable[[], T], *, anywhere: bool = False) -> None:
        forks = sys.platform == "linux" or not anywhere
        context: Any = multiprocessing.get_context("fork" if forks else "spawn")
        self._receiver, sender = context.Pipe(duplex=False)
        self._worker = context.Process(target=_work, args=(work, sender), daemon=True)
        self._worker.start()
        sender.close()  # so that the worker's death ends the pipe

    def value(self, seconds: float | None = None) -> T:
        """What ``work`` returned. Raises its OSError, or WorkerError for any other end of it.

        WorkerHangs where it takes longer than ``seconds``; None waits for ever.
        """
        if not self._receiver.poll(seconds):
            self._worker.kill()
            self._worker.join()
            raise WorkerHangs(f"a worker took longer than {seconds:g} s")
        try:
            failure, value = self._receiver.recv()
        except EOFError:
            self._worker.join()
            raise WorkerError(f"a worker ended with status {self._worker.exitcode}") from None
        self._worker.join()
        if isinstance(failure, OSError):
            raise failure
        if failure is not None:
            raise WorkerError(str(failure))
        result: T = value
        return result

    @property
    def process_id(self) -> int | None:
        """The worker's."""
        number: int | None = self._worker.pid
        return number

    def __enter__(self) -> Beside[T]:
        return self

    def __exit__(self, *_: object) -> None:
        if self._worker.is_alive():
            self._worker.kill()
            self._worker.join()
        self._receiver.close()


def _work(job: Callable[[], T], sender: Connection) -> None:
    # Ctrl-C reaches the whole process group; the parent alone answers it, and ends this worker.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGTERM, signal.SIG_DFL)
    answer: tuple[OSError | str | None, object]
    try:
        answer = (None, job())
    except OSError as error:
        answer = (error, None)
    except BaseException:
        answer = (traceback.format_exc(), None)
    with suppress(BrokenPipeError):  # the process that asked is gone
        sender.send(answer)
