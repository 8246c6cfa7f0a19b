"""What would make a wrong piece, and what a good shop asks: two lists of small functions, each finding with a code.

``CHECKS`` look at one piece and cannot be switched off: what they find is scrap, and holds it. ``JOB_CHECKS`` look at
one piece by the trade's rules; their findings are gathered over the job, one query a cause, and each code is switched
off, asked or made to hold under [checks] in the settings.
"""

from takeoff.checks.rulings import JOB_CHECKS, check_job
from takeoff.checks.walls import CHECKS, check_piece

__all__ = ["CHECKS", "JOB_CHECKS", "check_job", "check_piece"]
