"""What did it do? Sound becomes ticks, blows, soundings and stops."""
