"""What did it do? Sound becomes ticks, blows, soundings and stops."""

from quarterjack.listening.hear import hear
from quarterjack.listening.heard import (
    SIDES,
    Blow,
    Gap,
    Going,
    Heard,
    RecordingFacts,
    Remark,
    Repeat,
    Sounding,
    Stop,
    Ticks,
    TrainNoise,
)
from quarterjack.listening.hints import NO_HINTS, BarHint, Hints
from quarterjack.listening.listener import Listener
from quarterjack.listening.sides import SidesCalled, sides_from_presses
from quarterjack.listening.source import Source, open_recording

__all__ = [
    "NO_HINTS",
    "SIDES",
    "BarHint",
    "Blow",
    "Gap",
    "Going",
    "Heard",
    "Hints",
    "Listener",
    "RecordingFacts",
    "Remark",
    "Repeat",
    "SidesCalled",
    "Sounding",
    "Source",
    "Stop",
    "Ticks",
    "TrainNoise",
    "hear",
    "open_recording",
    "sides_from_presses",
]
