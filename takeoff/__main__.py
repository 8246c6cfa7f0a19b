"""``python -m takeoff``."""

import sys

from takeoff.cli import main

sys.exit(main())
