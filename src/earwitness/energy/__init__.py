"""What it costs: compressors, tariffs, what a repair really saves."""
