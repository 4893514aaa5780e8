"""Statistical methods for repeated swings of golfers; functions take tables and return records of results."""

from swinglab.statistics.adjusted import AdjustedComparison, compare_adjusted
from swinglab.statistics.agreement_repeated import agreement_by_golfer
from swinglab.statistics.attenuation import (
    CorrectedSlope,
    correct_observed_slope,
    correct_slope,
)
from swinglab.statistics.binary import BinaryFit, fit_binary
from swinglab.statistics.cluster_robust import ClusterRobustFit, JointTest, fit_cluster_robust
from swinglab.statistics.combine import CombinedStudies, combine_studies
from swinglab.statistics.confounding import Robustness, robustness_value
from swinglab.statistics.curves import CurveTest, compare_curves, relate_curves
from swinglab.statistics.design import Design, build_design, split_within_between
from swinglab.statistics.golfer_bootstrap import GolferBootstrap, bootstrap_golfers
from swinglab.statistics.golfer_means import GolferMeansFit, fit_golfer_means
from swinglab.statistics.groups import MeansComparison, PairedComparison, compare_means, compare_paired
from swinglab.statistics.influence import influence
from swinglab.statistics.mixed import MixedFit, fit_mixed
from swinglab.statistics.multiplicity import adjust
from swinglab.statistics.nested_spread import NestedSpread, nested_spread
from swinglab.statistics.ordinal import OrdinalFit, fit_ordinal_mixed
from swinglab.statistics.permutation import PermutationTest, permutation_test_paired
from swinglab.statistics.power import power_between
from swinglab.statistics.repeatability import (
    Agreement,
    Reliability,
    agreement,
    reliability,
)
from swinglab.statistics.screen import screen_postures
from swinglab.statistics.screen_family import Screen, ScreenRequest, screen_family
from swinglab.statistics.series import SeriesFit, StepFit, fit_series, fit_step
from swinglab.statistics.wild import WildBootstrap, wild_bootstrap

__all__ = [
    "AdjustedComparison",
    "Agreement",
    "BinaryFit",
    "ClusterRobustFit",
    "CombinedStudies",
    "CorrectedSlope",
    "CurveTest",
    "Design",
    "GolferBootstrap",
    "GolferMeansFit",
    "JointTest",
    "MeansComparison",
    "MixedFit",
    "NestedSpread",
    "OrdinalFit",
    "PairedComparison",
    "PermutationTest",
    "Reliability",
    "Robustness",
    "Screen",
    "ScreenRequest",
    "SeriesFit",
    "StepFit",
    "WildBootstrap",
    "adjust",
    "agreement",
    "agreement_by_golfer",
    "bootstrap_golfers",
    "build_design",
    "combine_studies",
    "compare_adjusted",
    "compare_curves",
    "compare_means",
    "compare_paired",
    "correct_observed_slope",
    "correct_slope",
    "fit_binary",
    "fit_cluster_robust",
    "fit_golfer_means",
    "fit_mixed",
    "fit_ordinal_mixed",
    "fit_series",
    "fit_step",
    "influence",
    "nested_spread",
    "permutation_test_paired",
    "power_between",
    "relate_curves",
    "reliability",
    "robustness_value",
    "screen_family",
    "screen_postures",
    "split_within_between",
    "wild_bootstrap",
]
