"""What must it do? `Movement` becomes `Reckoning`."""

from quarterjack.reckoning.page import readable
from quarterjack.reckoning.reckon import reckon
from quarterjack.reckoning.reckoned import (
    DIAL_MINUTES,
    CannotSay,
    ExpectedSounding,
    Pendulum,
    ReckonedArbor,
    ReckonedBar,
    ReckonedTrain,
    Reckoning,
)

__all__ = [
    "DIAL_MINUTES",
    "CannotSay",
    "ExpectedSounding",
    "Pendulum",
    "ReckonedArbor",
    "ReckonedBar",
    "ReckonedTrain",
    "Reckoning",
    "readable",
    "reckon",
]
