"""What would it do? A `Reckoning` played as events and as sound, healthy or broken."""
