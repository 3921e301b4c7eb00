"""What do I see? Pages; thin, with no arithmetic."""
