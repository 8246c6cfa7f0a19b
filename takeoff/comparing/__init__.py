"""Two states of a job held against each other: what a new revision changes, and what becomes of what was released.

``states.py`` makes a state of a takeoff, ``listed.py`` of the tables of a run; ``forms.py`` lays one shape on another
in every way that a person could turn it, ``differences.py`` says what then tells them apart, ``verdicts.py`` what a
piece that was made already is good for; ``parts.py`` finds which part became which; ``changes.py`` is the result.
"""

from takeoff.comparing.changes import compare
from takeoff.comparing.listed import UnreadableLists, state_of_lists
from takeoff.comparing.states import state_of

__all__ = ["UnreadableLists", "compare", "state_of", "state_of_lists"]
