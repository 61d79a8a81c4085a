"""Numbers over time, arrays only: trend, change, schedule, renewal, posterior."""
