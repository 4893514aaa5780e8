"""Findings and figures -> a folder with one self-contained page."""

from swinglab.report.page import write_report

__all__ = ["write_report"]
