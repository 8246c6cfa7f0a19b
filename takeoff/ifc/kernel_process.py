"""The process that runs the geometry kernel: started when first asked, started anew after it crashed or hung."""

from __future__ import annotations

import os
import queue
import subprocess
import sys
import threading
from pathlib import Path
from typing import IO, Final

import takeoff

SECONDS_TO_START: Final = 60.0
SECONDS_A_BODY: Final = 30.0
"""A kernel that takes longer over one body hangs."""


class Ended(Exception):
    """The process ended over a job; the text says how."""


class KernelProcess:
    """Takes a line and gives back a line. ``close`` it when done."""

    def __init__(self) -> None:
        self._process: subprocess.Popen[str] | None = None
        self._answers: queue.Queue[str | None] = queue.Queue()

    def ask(self, job: str) -> str:
        """The answer to a job, both one line; raises Ended where the process crashed or hung over it."""
        seconds = SECONDS_A_BODY
        if self._process is None or self._process.poll() is not None:
            self._start()
            seconds += SECONDS_TO_START
        process = self._process
        assert process is not None
        assert process.stdin is not None
        try:
            process.stdin.write(job + "\n")
            process.stdin.flush()
            answer = self._answers.get(timeout=seconds)
        except queue.Empty:
            self.close()
            raise Ended("did not come to an end") from None
        except OSError:
            answer = None
        if answer is None:
            self.close()
            raise Ended("crashed")
        return answer

    def close(self) -> None:
        """End the process."""
        process, self._process = self._process, None
        if process is None:
            return
        process.kill()
        process.wait()
        for stream in (process.stdin, process.stdout):
            if stream is not None:
                _shut(stream)

    def _start(self) -> None:
        self.close()
        here = str(Path(takeoff.__file__).resolve().parents[1])
        paths = [here, *filter(None, [os.environ.get("PYTHONPATH")])]
        self._process = subprocess.Popen(
            _command(),
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            text=True,
            encoding="utf-8",
            env={**os.environ, "PYTHONPATH": os.pathsep.join(paths)},
        )
        self._answers = queue.Queue()
        threading.Thread(target=_listen, args=(self._process, self._answers), daemon=True).start()


def _command() -> list[str]:
    return [sys.executable, "-m", "takeoff.ifc.kernel_worker"]


def _listen(process: subprocess.Popen[str], answers: queue.Queue[str | None]) -> None:
    """Pass on what the process writes, and None when it ends."""
    assert process.stdout is not None
    try:
        for line in process.stdout:
            answers.put(line)
    except ValueError:
        # closed from the other side while it was being read
        answers.put(None)
        return
    answers.put(None)


def _shut(stream: IO[str]) -> None:
    try:
        stream.close()
    except OSError:
        # a pipe whose other end is gone has nothing left to write to
        return
