"""The report: findings and figures as one self-contained HTML page, with the files behind it."""

from swinglab.report.page import PAGE, write_report

__all__ = ["PAGE", "write_report"]
