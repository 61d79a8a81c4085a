"""Sound made from physics, for demo, practice and tests alone."""
