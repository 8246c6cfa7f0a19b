"""Bodies drawn as facets, read back to the section, cuts and holes they were made from.

Knows points and facets only, nothing of files. What is not certain is refused, saying what it is.
"""

from takeoff.drawn.reading import grain_of, read_solid
from takeoff.drawn.results import Drawn, Refusal

__all__ = ["Drawn", "Refusal", "grain_of", "read_solid"]
