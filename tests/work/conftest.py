"""Ledgers on both databases, as the ledger's own tests have them."""

from tests.ledger.conftest import database, ledger, place, postgres

__all__ = ["database", "ledger", "place", "postgres"]
