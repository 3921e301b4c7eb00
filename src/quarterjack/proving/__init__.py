"""Is that right? What was heard beside what must be."""
