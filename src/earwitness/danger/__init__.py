"""What it can do to people: burn, poison, suffocate, shock, turn. Signal words by a written rule."""
