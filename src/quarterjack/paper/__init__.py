"""What do I print? Documents to keep."""
