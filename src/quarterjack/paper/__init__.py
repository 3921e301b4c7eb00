"""What do I print? Documents to keep."""

from quarterjack.paper.bench_proof import PAPERS, bench_proof
from quarterjack.paper.gained import Column, Gained, dial_minute, dial_text, gained
from quarterjack.paper.notes import MARKS, NotePlace, NoteRows, in_words, note_rows, printed

__all__ = [
    "MARKS",
    "PAPERS",
    "Column",
    "Gained",
    "NotePlace",
    "NoteRows",
    "bench_proof",
    "dial_minute",
    "dial_text",
    "gained",
    "in_words",
    "note_rows",
    "printed",
]
