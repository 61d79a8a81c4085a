"""The memory: SQL and the store of recordings by content hash."""
