"""The nouns of the trade, without input or output."""
