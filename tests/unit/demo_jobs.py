"""The demo models, worked out once for all tests of what is written from them."""

from functools import lru_cache
from pathlib import Path

from takeoff.documents import dispatch_of
from takeoff.pipeline import take_off
from takeoff.settings import Settings

MODELS = Path(__file__).parents[2] / "models"
MAST, TRESTLE = "mast.ifc", "trestle_bay.ifc"


@lru_cache
def demo(name):
    """Takeoff and dispatch of a demo model, by the default settings."""
    dispatch, takeoff = dispatch_of(take_off([MODELS / name], Settings()), Settings())
    return takeoff, dispatch
