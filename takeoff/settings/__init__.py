"""The shop's settings, typed, with defaults. A rule's number stands here or in a table with its source.

An option's explanation and what it may hold stand beside the option, once, so that the
default file, its check (settings_file.py) and the documentation cannot disagree.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from takeoff.settings.bars import BarSettings, bar_faults, unpriced
from takeoff.settings.bolting import BoltSettings, ClearanceSettings, HoleSettings
from takeoff.settings.checks import ADJUSTABLE_CHECKS, CheckSettings, DistanceSettings, GaugeSettings
from takeoff.settings.documents import DocumentSettings
from takeoff.settings.exchange import DxfSettings, NcSettings
from takeoff.settings.line import LineSettings, PunchingSettings, StampSettings
from takeoff.settings.models import ModelSettings
from takeoff.settings.option import Option
from takeoff.settings.pieces import FlatSettings, IdentitySettings, MarkSettings, WeightSettings, ZincSettings
from takeoff.settings.shipping import (
    ErectionSettings,
    InspectionSettings,
    ShippingSettings,
    TagSettings,
    label_mm,
    tag_faults,
)  # fmt: skip

__all__ = [
    "ADJUSTABLE_CHECKS",
    "BarSettings",
    "BoltSettings",
    "CheckSettings",
    "ClearanceSettings",
    "DistanceSettings",
    "DocumentSettings",
    "DxfSettings",
    "ErectionSettings",
    "FlatSettings",
    "GaugeSettings",
    "HoleSettings",
    "IdentitySettings",
    "InspectionSettings",
    "LineSettings",
    "MarkSettings",
    "ModelSettings",
    "NcSettings",
    "Option",
    "PunchingSettings",
    "Settings",
    "ShippingSettings",
    "StampSettings",
    "TagSettings",
    "WeightSettings",
    "ZincSettings",
    "bar_faults",
    "label_mm",
    "tag_faults",
    "unpriced",
]


@dataclass(frozen=True, slots=True)
class Settings:
    model: ModelSettings = field(default_factory=ModelSettings)
    holes: HoleSettings = field(default_factory=HoleSettings)
    identity: IdentitySettings = field(default_factory=IdentitySettings)
    marks: MarkSettings = field(default_factory=MarkSettings)
    weights: WeightSettings = field(default_factory=WeightSettings)
    bolts: BoltSettings = field(default_factory=BoltSettings)
    distances: DistanceSettings = field(default_factory=DistanceSettings)
    gauges: GaugeSettings = field(default_factory=GaugeSettings)
    clearances: ClearanceSettings = field(default_factory=ClearanceSettings)
    punching: PunchingSettings = field(default_factory=PunchingSettings)
    line: LineSettings = field(default_factory=LineSettings)
    stamp: StampSettings = field(default_factory=StampSettings)
    zinc: ZincSettings = field(default_factory=ZincSettings)
    checks: CheckSettings = field(default_factory=CheckSettings)
    flats: FlatSettings = field(default_factory=FlatSettings)
    bars: BarSettings = field(default_factory=BarSettings)
    documents: DocumentSettings = field(default_factory=DocumentSettings)
    inspection: InspectionSettings = field(default_factory=InspectionSettings)
    erection: ErectionSettings = field(default_factory=ErectionSettings)
    shipping: ShippingSettings = field(default_factory=ShippingSettings)
    tags: TagSettings = field(default_factory=TagSettings)
    nc: NcSettings = field(default_factory=NcSettings)
    dxf: DxfSettings = field(default_factory=DxfSettings)
