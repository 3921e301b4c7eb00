"""What is this clock, as far as is known? The movement sheet and the `Movement` that it becomes."""
