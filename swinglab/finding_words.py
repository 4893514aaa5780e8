"""The texts of findings: names of methods, readings (verdicts) and warnings, each identified by a key.

The code decides by the key of a `Note` and its facts; the text is only for people. All texts are in this module, so
they can be reworded or translated without a change in any number or reading (a test replaces every text and compares).
"""

from __future__ import annotations

import math
import string
from collections.abc import Sequence
from typing import Any

#: Methods: what was fitted or tested, in words for a methods section.
METHODS = {
    "none": "none",
    "random_slope": "random-slope mixed model by REML, Satterthwaite df{drift}",
    "random_slope_sessions": "random-slope mixed model by REML, Satterthwaite df, sessions within "
    "golfers{drift}",
    "own_slopes": "t test on the own slopes of golfers with at least 5 swings, t with G − 1 degrees of freedom for G "
    "such golfers",
    "mixed_model": "mixed model by REML, Satterthwaite df",
    "golfer_means": "regression on golfer means, t with G − p degrees of freedom",
    "cluster_robust": "cluster-robust (CR2), Satterthwaite df",
    "wild_bootstrap": "wild cluster bootstrap, null imposed ({weights})",
    "slope_signs": "signs of golfers' own slopes flipped ({patterns})",
    "own_bends": "t test on the bends of golfers' own natural cubic splines, 3 knots, t with G − 1 degrees "
    "of freedom",
    "bend_robust": "common bend of a natural cubic spline, 3 knots, with golfers' own slopes, "
    "cluster-robust (CR2), Satterthwaite df",
    "bend_of_means": "bend of a natural cubic spline, 3 knots, in the regression on golfer means, t with "
    "G \N{MINUS SIGN} p degrees of freedom",
    "bend_of_series": "bend of a natural cubic spline, 3 knots, in the series, AR(1) errors by REML",
    "bend_of_drift": "drift as a natural cubic spline, 3 knots, in the model of the step, AR(1) errors by "
    "REML",
    "series": "golfer {golfer}, these sessions: regression with a linear trend and AR(1) errors, by REML",
    "block_signs": "sign-flip permutation test on blocks of {length:swing}, with a linear trend in the model",
    "differences": "regression on first differences between successive swings",
    "welch": "Welch's t test on golfer means",
    "welch_smaller_group": "Welch's statistic with the smaller group's degrees of freedom, if one "
    "group has fewer than six golfers and the model has no covariates and no term for measurement method or club",
    "label_exchange": "labels exchanged between golfers ({patterns})",
    "hedges_g": "Hedges' g, noncentral t limits",
    "paired_t": "t test on golfers' own differences, t with G − 1 degrees of freedom",
    "difference_signs": "signs of golfers' differences flipped ({patterns})",
    "described": "difference of golfer means, described only",
    "step_beside_trend": "regression with a step, a linear trend and AR(1) errors, by REML",
    "step_without_trend": "regression with a step and AR(1) errors, by REML, without a trend",
    "step_running": "regression with a step, a linear trend and AR(1) errors, by REML, with limits valid at every "
    "look",
    "step_blocks": "permutation test on blocks of {length:swing} ({orders} orders), with a linear trend in the "
    "model",
    "later_look": "regression with a step and AR(1) errors, by REML, without a trend, at a later look",
    "cumulative_logit": "cumulative logit with a random intercept, t test on golfers' score sums",
    "with_excluded_swings": "{method}, with {count:swing} excluded by hand included",
    "binary_gee": "GEE, bias-reduced covariance, Satterthwaite df",
}
#: Texts that `method_words` adds to the text of a method.
ADDED = {
    "adjusted": "adjusted for {names}",
    "not_adjusted": "not adjusted",
    "placement": "placement error taken as {degrees:g} deg",
    "corrected": "corrected for measurement error",
    "as_fitted": "not corrected for measurement error",
}
#: Readings: conclusions drawn from the finding of the primary method.
READINGS = {
    "too_small": "too small to matter",
    "borne_out": "borne out: in these {sample} posture and strike are related as expected",
    "relation": "a relation was found: in these {sample} posture and strike are related",
    "difference": "a difference was found",
    "contradicted": "contradicted: in these {sample} posture and strike are related in the direction "
    "opposite to the expected one",
    "not_settled": "not settled{settles}",
    "methods_disagree": "not settled: methods disagree, the result is not supported by: {method}",
    "no_claim": "no claim: too few golfers",
    "found_only": "found by a search: not confirmed",
    "confirmed": "confirmed by swings that were not part of the search",
    "held_again": "found again in these golfers: not confirmed in others",
    "repeated": "repeated, not confirmed: swings of the same session",
    "not_answered": "not answered",
    "lesson_changed": "changed: the posture moved toward its aim or within it and the strike changed as expected, "
    "both adjusted for drift",
    "lesson_undirected": "changed, direction not judged: posture and strike changed, both adjusted for drift",
    "lesson_against": "changed against expectation: the strike changed in the opposite direction",
    "lesson_away": "changed, away from the aim: posture and strike changed, the posture away from its aim",
    "lesson_past": "changed, past the aim: posture and strike changed, the posture beyond its aim",
    "lesson_strike_only": "the strike changed, also when adjusted for drift, but a change of the posture "
    "was not found",
    "lesson_drift": "not settled: strike before and after the lesson differs, but drift alone could explain the "
    "difference",
    "lesson_posture_only": "{strike}: the posture changed, a change of the strike was not found",
    "lesson_posture_away": "{strike}: the posture moved away from its aim, a change of the strike was not "
    "found",
    "lesson_posture_past": "{strike}: the posture moved past its aim, a change of the strike was not found",
    "line_enough": "a straight line is sufficient for these swings",
    "bend_found": "a bend was found: one slope does not hold over the whole range, see the curve",
    "drift_straight": "a straight drift is sufficient for these swings",
    "drift_bent": "a bend was found in the drift: part of the step may be this bend",
    "bend_untested": "not tested for a bend: {why}",
    "no_line": "groups are compared: there is no line that could bend",
    "lesson_running": "running: {made} of {planned} planned swings after the lesson, no verdict yet",
}
#: Units over which a relation is estimated, by the level of the question; the field ``sample`` of `READINGS`.
SAMPLES = {"between": "golfers", "within": "swings", "golfer": "swings", "group": "golfers"}
#: How many more swings or golfers would settle an open question; the field ``settles`` of `READINGS`.
SETTLES = {
    "more": ": more {what}",
    "no_smallest": ": give smallest_effect in study.toml to plan how many {what} would settle the question",
    "number": ": about {number:.0f} {what} like these ({now} now) would settle the question with a "
    "probability of {chance:.0%}: as too small if there is no effect, as a direction if the effect is "
    "{smallest:g} {unit}",
    "beyond": ": more than {number:.0f} {what} like these ({now} now) would be needed to settle the "
    "question with a probability of {chance:.0%} at {smallest:g} {unit}",
}
#: Warnings: what limits an answer, and what to do about it.
WARNINGS = {
    # Rows and golfers.
    "rows_dropped": "{rows:row} with a missing value left out: see the empty cells of the table",
    "swings_dropped": "{swings:swing} left out because a value is missing: see the empty cells of the "
    "swing table",
    "swings_excluded": "{count:swing} excluded by hand, {seen} of them after an answer had been seen; with "
    "these swings included the answer is: {reading}",
    "one_golfer": "one golfer: the answer is for this player and these sessions, not for golfers in general",
    "shown_alone": "{golfers} golfers: each is shown alone, and no claim is made about golfers in general "
    "(this needs {fewest} or more)",
    "few_in_groups": "golfers in each group: {counts}. With fewer than {fewest_each} in a group or "
    "{fewest} in total, no claim is made about golfers in general: measure more golfers",
    "few_in_a_group": "fewer than {fewest} golfers in {groups}: no claim is made about golfers in "
    "general; measure more golfers of this group",
    "one_condition": "{golfers:golfer} measured under only one of the two conditions left out: measure "
    "the other condition too",
    "golfers_in_both": "golfers are in both {groups}: each is compared with himself or herself",
    "not_adjusted_paired": "not adjusted for {names}: a property of the golfer cancels in the golfer's "
    "own difference",
    "one_of_pairs": "one of {pairs} pairs of groups; each pair counts as a separate question",
    "no_answer_at_level": "no answer could be computed {level} golfers: {why}",
    "no_fit": "{why}",
    "lonely_method": "golfer {golfer} is left out between golfers, being the only one measured by {way}. "
    "Measure all golfers by the same method if possible",
    "several_ways": "swings were measured by {ways} methods ({names}): the answer is adjusted for the "
    "measurement method. Measure all golfers by the same method if possible",
    "several_ways_in_lesson": "these swings were measured by {ways} methods ({names}): part of a change "
    "may be due to the method. Measure before and after by the same method",
    # Fits.
    "not_converged": "the estimation of the variances did not converge; do not use this fit",
    "zero_slope_variance": "golfers' own slopes differ no more than expected by chance (their variance is "
    "estimated as 0)",
    "zero_intercept_variance": "golfers' means differ no more than expected by chance (their variance is "
    "estimated as 0)",
    "zero_session_variance": "sessions of a golfer differ no more than expected by chance (their variance "
    "is estimated as 0)",
    "correlation_of_one": "the correlation of golfers' means and slopes is estimated as +1 or "
    "\N{MINUS SIGN}1: too few golfers to separate the two. Check whether the other methods agree; measure "
    "more golfers",
    "few_golfers_mixed": "only {golfers:golfer}: the variances between golfers are poorly known. Rely on "
    "the answer only if the other methods support it",
    "few_golfers_means": "only {golfers:golfer}, and each counts once: measure more golfers",
    "few_golfers_robust": "only {golfers:golfer}: cluster-robust standard errors are imprecise. Measure "
    "more golfers",
    "few_golfers_wild": "only {golfers:golfer}: the bootstrap is imprecise. Measure more golfers",
    "few_golfers_logit": "only {golfers:golfer}: the covariance is imprecise. Measure more golfers",
    "few_golfers_ordinal": "{golfers:golfer}: p of a covariate of the golfer tends to be too small (in "
    "simulations with 8 golfers, false positives in .10 of cases at nominal .05); rely on the result from golfer means",
    "few_signs": "{golfers:golfer}: flipping signs cannot give a p below {least:.3g}. Measure more golfers",
    # A search among many postures.
    "screen_few": "{golfers} golfers: the test by signs of slopes cannot give a p below {least:.3f}, "
    "however strong a relation is. Measure more golfers before a search",
    "screen_few_by_t": "{golfers} golfers: the test by signs of slopes cannot give a p below {least:.3f}; "
    "a smaller p assumes normally distributed slopes (Student's t, Holm). Measure more golfers to avoid "
    "this assumption",
    "screen_disagrees": "for {candidates:posture} the adjusted p and the interval disagree about 0: the "
    "intervals hold for all postures together (single-step), the adjusted p are computed one after "
    "another (step-down) and are a little smaller. Report both",
    "screen_counts": "in {candidates:posture} golfers' slopes are correlated with their number of swings, "
    "so every golfer counts the same. Record the same number of swings of each golfer if possible",
    "screen_dropped": "{swings} swings left out because the outcome or a covariate is missing: see the "
    "swing table",
    "screen_family": "{searches} searches count as one family of {candidates:posture}",
    "few_golfers_bootstrap": "only {golfers:golfer}: limits from resampled golfers are too narrow. Measure "
    "more golfers, or use the limits of the fitted model",
    "resamples_unfitted": "{count} of {samples} resamples could not be fitted and are left out: do not "
    "use the limits if there are many",
    "resamples_flat": "in {count} of {samples} resamples a predictor did not vary; these are left out: do "
    "not use the limits if there are many",
    "icc_not_positive": "golfers differ no more than single swings do: the ICC is not above 0. Use the "
    "mean of several swings",
    "single_swings": "{golfers:golfer} with one swing: no information on the spread within the golfer. "
    "Record two or more swings",
    "difference_changes": "the difference changes with the size measured ({slope:+.2g} a unit, p = {p:.2g}): "
    "one pair of limits does not fit all sizes. See the figure",
    "carried_by_one": "{share:.0%} of the information on this term comes from one golfer: see the figure "
    "without that golfer",
    "no_golfer_variance": "golfers differ no more than expected by chance: the random variance is "
    "estimated as 0",
    "no_correlation": "no common correlation of a golfer's swings was found: the estimation treats them "
    "as independent",
    "empty_cells": "{what}: the ordinary estimate is infinite, so the penalised estimate (Firth) is "
    "given; interpret it with care",
    "slopes_differ_by_group": "the groups' slopes on {name} differ (p = {p:.2g}; {each}): the adjusted "
    "difference holds at {name} = {at:.4g} only. Report it with that value",
    "no_shared_range": "the groups share no range of {name}: the adjustment extrapolates beyond the data. "
    "Rely on the unadjusted result, or measure golfers of both groups with the same {name}",
    "slopes_not_compared": "too few golfers to compare the groups' slopes on {name}: measure more golfers",
    "unequal_spread": "golfers' {value} spreads very unequally in the two groups (Welch's test allows for "
    "it)",
    "unequal_slopes": "golfers' own slopes differ (mean {slope:.2g}, spread {spread:.2g}): about "
    "{other:.0%} of such golfers would have the opposite sign ({low:.0%} to {high:.0%} is compatible with "
    "these swings). See a player's own swings before coaching by the mean",
    "depends_on_golfers": "the result depends on single golfers: p would cross .05 without {names}. Check "
    "their swings, and measure more golfers",
    # Series.
    "few_effective": "successive swings are correlated (autocorrelation {autocorrelation:.2f}): these "
    "{swings} carry the information of about {effective:.0f} independent ones. Record more swings, or "
    "pause between them",
    "slow_drift": "successive swings are almost the same: a slow drift cannot be separated from an effect. "
    "Repeat the change back and forth (before, after, before)",
    "few_swings": "{swings:swing} are few for {coefficients} coefficients and an autocorrelation: record "
    "more",
    "drift": "{outcome} drifts by {drift:+.2g} a swing over the series; see the figure in order of play",
    "other_sessions": "before and after are in different sessions: everything that changed between the "
    "sessions is part of the step. Measure both in one session if possible",
    # Questions that were found by looking.
    "found_here": "a search found this question in these same swings, so no p is given: a search always "
    "finds something. Confirming it needs {needs}",
    "tried_again": "the study tests this question {number} times; every test counts in the adjusted p. "
    "Report all of them",
    "drift_of": "{what} drifts by {drift:+.2g} {unit} a swing over the series; see the figure in order of "
    "play: the answer is adjusted for a straight drift only",
    "shared_drift": "{golfers:golfer} with fewer than {fewest} swings in known order share one estimated "
    "drift over the session; if they drift differently, a part remains in their swings: record {fewest} "
    "or more a session",
    "swings_without_order": "{swings:swing} without an order in the session: drift is not removed from "
    "them. Add their order to swings.csv",
    "no_order": "the order of the swings is not known, so a drift shared by posture and strike can look "
    "like a relation: add a column order to swings.csv",
    "order_and_phase": "this result is not adjusted for drift: order and phase are correlated, so the "
    "drift may be the change itself. Rely on the answer only if this result and the judged one agree",
    "counts_and_slopes": "golfers with more swings have different slopes (rank correlation "
    "{correlation:.2f}): compare the result of golfers' own slopes, in which each golfer counts once",
    "leverage": "golfer {golfer} is so far from the others that {share:.0%} of the information comes from "
    "this golfer: see the figure, and measure more golfers like this one",
    # Registration.
    "registered": "registered {when} by this computer's clock, without a witness: {before:swing} of this "
    "question existed then, {later:swing} added later",
    "captures_changed": "{count:capture} changed since registration: the sha256 differs. Give the reason "
    "in the report",
    "not_registered": "this question was not registered: it was added later. Report it as such",
    "question_changed": "this question was changed after registration: {keys}. Give the reason in the report",
    "excluded_since": "{count:swing} excluded after registration ({names}): report the answer with and "
    "without these swings",
    "questions_dropped": "{count:question} registered and later removed: {names}. Report all questions",
    "registration_edited": "registered.json was edited after it was written: its hash does not match its "
    "text. Restore the original",
    # Kinds of swing.
    "no_club_column": "the table has no column club: if these swings were made with different clubs, "
    "differences between clubs are part of the answer. Add club to swings.csv",
    "kinds_centred": "several kinds of swing ({kinds}): each swing is compared only with swings of its "
    "own kind",
    "kinds_term": "several kinds of swing ({kinds}): a golfer's share of each is a term of the model",
    "uncertain_contacts": "{swings:swing} with uncertain contact left out: the height of the sole is not "
    "known well enough. Record an address with the club soled",
    "duplicated_rows": "{swings:swing} with exactly the same values as another swing of the golfer: check "
    "whether a capture was entered twice",
    # Errors of measurement.
    "no_posture_error": "the table has no standard error of the posture, so slopes are not corrected for "
    "its noise and timing: add a column of standard errors if they are known",
    "too_much_error": "error is {share:.0%} of the predictor's variance: no correction is possible, and "
    "the slope is too small by an unknown amount. Reduce the error first, or choose a posture that varies "
    "more",
    "much_error": "error is {share:.0%} of the predictor's variance: the correction is large. Compare the "
    "uncorrected result",
    "much_error_few": "error is {share:.0%} of the predictor's variance: the correction is large and "
    "estimated from few golfers, so the interval may be too narrow. Measure more golfers, or reduce the "
    "error",
    "placement_unknown": "marker placement error is not known: see the results for {assumed} deg, and "
    "measure this error (command validate)",
    "placement_in_spread": "marker placement error ({degrees:g} deg) is {share:.0%} of the spread between "
    "golfers of a group: place the markers again in a second session to reduce it",
    "placement_not_in_interval": "marker placement error is not known and not included in this interval: "
    "measure this error (command validate)",
    "ball_not_adjusted": "ball position is not adjusted for: a ball played further forward moves the low "
    "point by itself (add {column} under adjust)",
    "shared_markers": "posture and outcome share {what}: their errors are correlated and can produce a "
    "relation. Compare an outcome from another device",
    # Outcomes in words.
    "contact_steps": "contact is coded as fat 0, clean 1, thin 2; the results in log odds do not depend "
    "on this coding",
    "no_contact_model": "no ordinal model of contact could be fitted: {why}",
    # Lessons.
    "aim_counts": "aim {low:.3g} to {high:.3g} {unit}, swings short of it, within and past it: {counts}",
    "no_aim": "the lesson has no target of the posture: direction is not judged. Add target or "
    "target_value to study.toml",
    "no_plan": "the lesson has no planned_swings: looking at the answer after every few swings gives a "
    "false change more often than looking once (with ten looks in .16 of simulated lessons). Add "
    "planned_swings to study.toml before you look",
    "beyond_plan": "judged at the {planned} swings planned; of the {made} swings made, later ones are not "
    "used for the verdict",
    "placement_known": "placement error is taken as exactly {degrees:g} deg, so the degrees of freedom "
    "treat it as known: report this as an assumption",
    "detectable_unknown": "the markers were placed again between {first} and {second}; smallest "
    "detectable change of the mean, by placement error: {limits}; the change was {change:+.2g} {unit}. "
    "Measure the error (command validate)",
    "detectable": "the change of {change:+.2g} {unit} exceeds the smallest detectable change of these means, "
    "{limit:.2g} {unit}",
    "not_detectable": "the change of {change:+.2g} {unit} does not exceed the smallest detectable change of "
    "these means, {limit:.2g} {unit}: make more swings before and after",
}  # fmt: skip

#: Keys of the warnings about the fit itself, which are shown together with its method.
OF_THE_FIT = frozenset(
    ("zero_slope_variance", "zero_intercept_variance", "zero_session_variance", "correlation_of_one",
     "no_golfer_variance", "no_correlation", "placement_known", "unequal_spread")
)  # fmt: skip


class Note(str):
    """Text of a method, a reading or a warning, built from a template and values.

    key : name of the template in `METHODS`, `READINGS` or `WARNINGS`. facts : name -> value inserted in the template.

    Examples
    --------
    >>> note = Note("rows_dropped", rows=2)
    >>> note, note.key, note.facts["rows"]
    ('2 rows with a missing value left out: see the empty cells of the table', 'rows_dropped', 2)
    """

    key: str
    facts: dict[str, Any]

    def __new__(cls, key: str, **facts: Any) -> Note:
        table = next(table for table in (METHODS, READINGS, WARNINGS) if key in table)
        made = super().__new__(cls, words(table[key], **facts))
        made.key, made.facts = key, facts
        return made

    def __reduce__(self) -> tuple:
        return _note, (self.key, self.facts)


def _note(key: str, facts: dict[str, Any]) -> Note:
    return Note(key, **facts)


class _Words(string.Formatter):
    """Formatter of `words`: like str.format, but with a true minus sign, and with nouns as formats.

    A noun as the format gives a count: ``{golfers:golfer}`` becomes "1 golfer" or "2 golfers".
    """

    def format_field(self, value: Any, format_spec: str) -> Any:
        if len(format_spec) > 1 and format_spec.isalpha():
            return f"{value} {format_spec}{'s' * (value != 1)}"
        made = super().format_field(value, format_spec)
        return made.replace("-", "\N{MINUS SIGN}") if format_spec else made


def words(text: str, **facts: Any) -> str:
    """Return a text with its fields replaced by the values in `facts`; ``{rows:row}`` becomes "1 row" or "2 rows"."""
    return _Words().vformat(text, (), facts).strip()


def method_words_of(key: str) -> str:
    """Return the text of a method by its key, without the values of a single finding."""
    return words(METHODS[key].split(" ({")[0].replace("{length:swing}", "swings"), drift="")


def method_words(
    method: Note, *, adjusted_for: Sequence[str] = (), placement_deg: float = math.nan, correction: str = ""
) -> str:
    """Return the text of a method with its covariates, placement error and correction added, for findings.csv.

    `adjusted_for` : names of covariates. `placement_deg` : assumed marker placement error; NaN for none. `correction` :
    "corrected" or "as_fitted" (see `ADDED`), or "" to omit it.
    """
    parts = [str(method)]
    if adjusted_for:
        # The measurement method has one dummy variable for each method but the first.
        names = ", ".join(
            dict.fromkeys("measurement method" if n.split("[")[0] == "method" else n for n in adjusted_for)
        )
        parts.append(words(ADDED["adjusted"], names=names))
    if math.isfinite(placement_deg):
        parts.append(words(ADDED["placement"], degrees=placement_deg))
    if correction:
        parts.append(ADDED[correction])
    return ", ".join(parts)
