"""Folder, sheet, upload to nouns, with every problem kept."""
