"""Inference that holds for repeated swings: tables in, small frozen records out."""

from swinglab.statistics.cluster_robust import ClusterRobustFit, JointTest, fit_cluster_robust
from swinglab.statistics.design import Design, build_design, split_within_between
from swinglab.statistics.golfer_means import GolferMeansFit, fit_golfer_means
from swinglab.statistics.mixed import MixedFit, fit_mixed

__all__ = [
    "ClusterRobustFit",
    "Design",
    "GolferMeansFit",
    "JointTest",
    "MixedFit",
    "build_design",
    "fit_cluster_robust",
    "fit_golfer_means",
    "fit_mixed",
    "split_within_between",
]
