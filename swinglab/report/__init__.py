"""The report: findings and figures written to a folder with one self-contained page."""

from swinglab.report.page import PAGE, write_report

__all__ = ["PAGE", "write_report"]
