"""What does the arithmetic say? Pure functions over plain numbers."""
