"""What escapes: gases, openings, flow from level, system tests."""
