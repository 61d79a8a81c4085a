"""One file a page: its dataclasses, where they come from, and its deeds."""
