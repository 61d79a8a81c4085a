"""One model of a report, then HTML, PDF, sheets."""
