"""Shop lists for punched and bolted steel, read from a structural IFC model."""

from importlib.metadata import PackageNotFoundError, version

try:
    __version__ = version("takeoff")
except PackageNotFoundError:  # run from a checkout that was not installed
    __version__ = "0.0.0"
