"""What would it do? Plays a `Reckoning` as events and as sound, healthy or broken."""

from quarterjack.simulate.expected import expected_sound
from quarterjack.simulate.faults import FAULTS, Fault, read_fault
from quarterjack.simulate.simulation import Simulation
from quarterjack.simulate.truth import TRUTH_FIELDS
from quarterjack.simulate.writing import write_sound

__all__ = ["FAULTS", "TRUTH_FIELDS", "Fault", "Simulation", "expected_sound", "read_fault", "write_sound"]
