"""What must it do? A `Movement` becomes a `Reckoning`."""
