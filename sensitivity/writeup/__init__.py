"""Reports: each command's answer as one HTML file that opens offline and tells its story in order.

A report is built of plain values (``page``) by one module a command, and one template writes
them all.
"""

from sensitivity.writeup.ranking import RANKING_TITLES
from sensitivity.writeup.run import command_to_repeat, result_notes, run_report

__all__ = ["RANKING_TITLES", "command_to_repeat", "result_notes", "run_report"]
