"""Why not? What acts at a minute of the dial, and what stops share."""
