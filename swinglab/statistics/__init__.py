"""Inference that holds for repeated swings: tables in, small frozen records out."""

from swinglab.statistics.design import Design, build_design, split_within_between

__all__ = ["Design", "build_design", "split_within_between"]
