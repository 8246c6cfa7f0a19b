"""Levels of the structure, bundles, bolt bags, tags."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Annotated, Final

from takeoff.settings.option import Option


@dataclass(frozen=True, slots=True)
class ErectionSettings:
    """Levels and faces of the structure. Defaults: common practice, no source."""

    levels_mm: Annotated[
        tuple[float, ...],
        Option(
            "Heights of the levels in the model; empty: where the long pieces begin.",
            low=-1_000_000.0,
            high=10_000_000.0,
        ),
    ] = ()
    level_mm: Annotated[
        float, Option("Pieces that begin this close in height are of one level.", low=10.0, high=20_000.0)
    ] = 500.0
    face_mm: Annotated[
        float,
        Option("A piece lies in a face of the structure when it is this close to it.", low=10.0, high=5000.0),
    ] = 300.0


@dataclass(frozen=True, slots=True)
class ShippingSettings:
    """Bundles and bolt bags. Defaults: common practice, no source."""

    bundle_kg: Annotated[float, Option("The heaviest bundle or box.", low=1.0, high=100_000.0)] = 2000.0
    bundle_mm: Annotated[
        float, Option("The longest bundle; a longer piece goes by itself and is asked about.", low=100.0, high=50_000.0)
    ] = 12_000.0
    shortest_share: Annotated[
        float,
        Option("The shortest piece of a bundle, as a share of its longest, so that straps hold.", low=0.0, high=1.0),
    ] = 0.5
    box_mm: Annotated[float, Option("Pieces no longer than this go in boxes.", low=0.0, high=5000.0)] = 600.0
    bundle_by: Annotated[
        str,
        Option("What a bundle holds: one section, or one section of one level.", choices=("section", "level")),
    ] = "section"
    bags_by: Annotated[
        str, Option("What a bolt bag is for: a level of the structure or an assembly.", choices=("level", "assembly"))
    ] = "level"


@dataclass(frozen=True, slots=True)
class TagSettings:
    """The grid of labels on a sheet of bundle tags."""

    columns: Annotated[int, Option("Labels side by side.", low=1, high=4)] = 2
    rows: Annotated[int, Option("Labels one under the other.", low=1, high=8)] = 6
    margin_x_mm: Annotated[float, Option("Paper left and right of the labels.", low=0.0, high=50.0)] = 8.0
    margin_y_mm: Annotated[float, Option("Paper above and below the labels.", low=0.0, high=50.0)] = 10.0
    gap_x_mm: Annotated[float, Option("Between labels side by side.", low=0.0, high=30.0)] = 3.0
    gap_y_mm: Annotated[float, Option("Between labels one under the other.", low=0.0, high=15.0)] = 0.0


PAPER_MM: Final = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}
"""Width and height; ISO 216 and ANSI/ASME Y14.1."""
LEAST_LABEL_MM: Final = (45.0, 28.0)
"""A smaller label has no room for its lines in letters that can be read."""


def label_mm(tags: TagSettings, paper: str) -> tuple[float, float]:
    """Width and height of one label in mm."""
    width, height = PAPER_MM[paper]
    return (
        (width - 2 * tags.margin_x_mm - (tags.columns - 1) * tags.gap_x_mm) / tags.columns,
        (height - 2 * tags.margin_y_mm - (tags.rows - 1) * tags.gap_y_mm) / tags.rows,
    )


def tag_faults(tags: TagSettings, paper: str) -> Iterator[str]:
    """What in the grid of labels does not go together, in sentences."""
    width, height = label_mm(tags, paper)
    if width < LEAST_LABEL_MM[0] or height < LEAST_LABEL_MM[1]:
        yield (
            f"`tags` leaves labels of {width:.0f} by {height:.0f} mm on {paper}, and a tag needs "
            f"{LEAST_LABEL_MM[0]:g} by {LEAST_LABEL_MM[1]:g} mm. Set fewer `tags.columns` or `tags.rows`, or smaller "
            "margins and gaps."
        )


@dataclass(frozen=True, slots=True)
class InspectionSettings:
    """First-piece inspection sheets."""

    functional_class: Annotated[
        int, Option("Class of the functional tolerances of EN 1090-2, Annex B: 2 is the closer one.", low=1, high=2)
    ] = 1
    look_alike_mm: Annotated[
        float, Option("Marks that differ by less than this are named as look-alikes.", low=0.5, high=50.0)
    ] = 5.0
