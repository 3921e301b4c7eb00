"""Where does the job stand? The bench folder of every clock."""

from quarterjack.workshop.bench import Bench
from quarterjack.workshop.clock_folder import BenchFault, ClockFolder, KeptProof, KeptRecording
from quarterjack.workshop.demo import make_demo
from quarterjack.workshop.keeping import is_slug, safe_filename, slug_of
from quarterjack.workshop.prove_clock import hear_kept, heard_for, prove_clock

__all__ = [
    "Bench",
    "BenchFault",
    "ClockFolder",
    "KeptProof",
    "KeptRecording",
    "hear_kept",
    "heard_for",
    "is_slug",
    "make_demo",
    "prove_clock",
    "safe_filename",
    "slug_of",
]
