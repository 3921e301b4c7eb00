"""What is this clock, as far as is known? The movement sheet and the `Movement` that it becomes."""

from quarterjack.sheet.editing import SheetFile
from quarterjack.sheet.faults import FAULT_KINDS
from quarterjack.sheet.keys import SHEET_KEYS, SOURCES_OF_VALUES, Key
from quarterjack.sheet.movement import Arbor, Bar, Drive, Hammer, Movement, PendulumSaid, Sounds, Train
from quarterjack.sheet.quick import quick_sheet
from quarterjack.sheet.reading import parse_sheet, read_sheet
from quarterjack.sheet.starter import KINDS, starter

__all__ = [
    "FAULT_KINDS",
    "KINDS",
    "SHEET_KEYS",
    "SOURCES_OF_VALUES",
    "Arbor",
    "Bar",
    "Drive",
    "Hammer",
    "Key",
    "Movement",
    "PendulumSaid",
    "SheetFile",
    "Sounds",
    "Train",
    "parse_sheet",
    "quick_sheet",
    "read_sheet",
    "starter",
]
