"""The mark register: a file beside the job in which a mark, once shown, names one shape for ever.

    read_register(path)   a Register (see released.py), or RegisterError with a sentence
    Ledger(path)          a context manager for a run that writes: locked, read, replaced in one step

Pieces that no model has any more are drawn from ``shapes.group_of`` by way of piecework.py.

``file.py`` is the file's form, ``ledger.py`` its lock and its replacing, ``shapes.py`` turns what is remembered into
shapes to compare with and back, ``issue.py`` works out the next state, ``job.py`` whether it is this job's.
"""

from takeoff.register.file import RegisterError, read_register
from takeoff.register.ledger import Ledger

__all__ = ["Ledger", "RegisterError", "read_register"]
