"""One model of a report, then HTML, PDF, sheets."""

from earwitness.report.exhibit import Exhibit
from earwitness.report.write import write

__all__ = ["Exhibit", "write"]
