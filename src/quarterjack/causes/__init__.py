"""Why not? What acts at a stop, and what several stops share."""

from quarterjack.causes.acting import CROSSING_MIN, Acting, what_acts_at
from quarterjack.causes.circular import circular_range, range_p, rayleigh_p, resultant
from quarterjack.causes.folding import Fold, Folded, fold_stops

__all__ = [
    "CROSSING_MIN",
    "Acting",
    "Fold",
    "Folded",
    "circular_range",
    "fold_stops",
    "range_p",
    "rayleigh_p",
    "resultant",
    "what_acts_at",
]
