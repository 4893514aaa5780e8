"""Findings in plain words: which quantities are related, how strongly, with what uncertainty; never a cause."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import pandas as pd

from swinglab import columns, conventions
from swinglab.records import Finding

CAUTION = (
    "This is a measurement, not a prescription. What goes together need not be cause and effect. Combined "
    "backward bend, side bend and turn load the lower back: stop with pain; with a back history, or with a "
    "player who is still growing, ask a qualified professional first."
)

#: Text of a table cell if there is no number.
NONE = "–"

#: Words for a larger and a smaller value of an outcome; "higher" and "lower" for all others.
_MORE_LESS = {
    "attack_angle": ("more upward", "more downward"),
    "low_point_ahead": ("further toward the target", "further from the target"),
    "low_point_ahead_of_lead_heel": ("further toward the target", "further from the target"),
    "turf_entry_ahead": ("further toward the target", "further from the target"),
    "club_path_in_to_out": ("more in-to-out", "less in-to-out"),
    "arc_plane_direction_in_to_out": ("more in-to-out", "less in-to-out"),
    "clubhead_speed": ("faster", "slower"),
    "arc_radius": ("longer", "shorter"),
    "contact": ("nearer to thin", "nearer to fat"),
}


def label(name: str) -> str:
    """Return the label of a column, beginning with a small letter; an unknown name is returned unchanged."""
    if not columns.is_column(name):
        return name
    text = columns.column(name).label
    return text[0].lower() + text[1:]


def unit_words(unit: str) -> str:
    """Return a unit as it is printed, for example "m/s" for "mps"."""
    return columns.UNIT_WORDS.get(unit, unit)


def number(value: float, *, signed: bool = False) -> str:
    """Return a number as text with three significant digits and a true minus sign; "not known" for NaN.

    Examples
    --------
    >>> number(-0.01234), number(12.3456, signed=True), number(float("nan"))
    ('−0.0123', '+12.3', 'not known')
    """
    if not math.isfinite(value):
        return "not known"
    digits = 0 if abs(value) >= 100 else max(0, 2 - math.floor(math.log10(abs(value)))) if value else 0
    text = f"{value:{'+' if signed else ''}.{min(digits, 6)}f}"
    return text.replace("-", "−")


def span(values: pd.Series, unit: str) -> str:
    """Return the range of a column as text, smallest to largest value with the unit; whole numbers without decimals."""
    known = values.dropna()
    if known.empty:
        return f"not known ({unit})"
    low, high = known.min(), known.max()
    whole = bool((known == known.round()).all())
    ends = [f"{value:.0f}" if whole else number(value) for value in (low, high)]
    words = ends[0] if math.isclose(low, high) else f"{ends[0]} to {ends[1]}"
    return f"{words} {unit}"


def value_text(value: object, unit: str = "") -> str:
    """Return a value as text with the usual number of decimals of its unit; the unit itself is not added.

    The text has a true minus sign and never a negative zero; it is a dash for NaN.

    Examples
    --------
    >>> value_text(-0.04, "deg"), value_text(38.27, "mps"), value_text("clean"), value_text(float("nan"))
    ('0.0', '38.3', 'clean', '–')
    """
    if not isinstance(value, (int, float)) or isinstance(value, bool):
        return str(value)
    if not math.isfinite(value):
        return NONE
    text = f"{value:.{columns.UNIT_DECIMALS.get(unit, 2)}f}"
    return (text.lstrip("-") if float(text) == 0 else text).replace("-", "−")


def with_unit(value: float, unit: str, also: Sequence[str] = ()) -> str:
    """Return a value with its unit as text and, in brackets, in further units; a dash for NaN.

    also : the further units, as in [report] units of study.toml; units that do not fit are ignored.

    Examples
    --------
    >>> with_unit(40.0, "mps", ["mph"]), with_unit(2.54, "cm", ["mph", "in"]), with_unit(3.0, "deg", ["in"])
    ('40.0 m/s (89.5 mph)', '2.5 cm (1.0 in)', '3.0 deg')
    """
    text = value_text(value, unit)
    if text == NONE:
        return text
    others = [
        f"{value_text(factor * value, name)} {name}"
        for name in also
        for its_unit, factor in [conventions.OTHER_UNITS[name]]
        if its_unit == unit
    ]
    return f"{text} {unit_words(unit)}".rstrip() + (f" ({', '.join(others)})" if others else "")


def count(number_of: int, word: str) -> str:
    """Return a number with its noun in the singular or plural: "1 swing", "2 swings"."""
    return f"{number_of} {word}{'' if number_of == 1 else 's'}"


def p_value(p: float) -> str:
    """Return a p value as text, in the style of journals.

    Examples
    --------
    >>> p_value(0.0004), p_value(0.0417), p_value(0.3)
    ('p < .001', 'p = .042', 'p = .300')
    """
    if not math.isfinite(p):
        return NONE
    return "p < .001" if p < 0.001 else f"p = {p:.3f}".replace("0.", ".", 1)


def decimals(finding: Finding) -> int | None:
    """Return the number of decimals of a finding's estimate; None if the finding has no interval.

    It is the number with which half the width of the 95 % interval has two significant digits.
    """
    return _places((finding.ci_high - finding.ci_low) / 2)


def _places(half: float) -> int | None:
    """Return the number of decimals that shows two digits of half an interval; None without an interval."""
    if not math.isfinite(half) or half <= 0:
        return None
    return min(6, max(0, 1 - math.floor(math.log10(half))))


def rounded(value: float, finding: Finding) -> str:
    """Return a number of a finding as text, with decimals from `decimals`; a dash for NaN."""
    return _to_places(value, decimals(finding))


def _to_places(value: float, places: int | None) -> str:
    if not math.isfinite(value):
        return NONE
    if abs(value) >= conventions.UNBOUNDED:
        return "∞" if value > 0 else "−∞"
    if places is None:
        return number(value)
    text = f"{value:.{places}f}"
    return (text.removeprefix("-") if float(text) == 0 else text).replace("-", "−")


def with_limits(value: float, low: float, high: float) -> str:
    """Return an estimate and its interval as text, so rounded that half the interval has two significant digits.

    Examples
    --------
    >>> with_limits(-0.58, -2.479, 1.319), with_limits(-0.09, -0.5371, 0.357), with_limits(5.0, -4e36, 4e36)
    ('−0.6 [−2.5, 1.3]', '−0.09 [−0.54, 0.36]', '5 [−∞, ∞]')
    """
    places = _places((high - low) / 2)
    value_words, low_words, high_words = (_to_places(one, places) for one in (value, low, high))
    return f"{value_words} [{low_words}, {high_words}]"


def with_error(value: float, error: float) -> str:
    """Return an estimate and its standard error as text, so rounded that the error has two significant digits.

    A dash if the estimate is NaN.

    Examples
    --------
    >>> with_error(1.23456, 0.0345), with_error(float("nan"), 1.0)
    ('1.235 ± 0.035', '–')
    """
    if not math.isfinite(value):
        return NONE
    return f"{_to_places(value, _places(error))} ± {_to_places(error, _places(error))}"


def p_tail(finding: Finding) -> str:
    """Return the p value of a finding as the end of a sentence, for example ", p = .042"; empty if there is none."""
    return f", {p_value(finding.p)}" if math.isfinite(finding.p) else ""


def interval(finding: Finding) -> str:
    """Return the 95 % interval of a finding in brackets; a dash if the method gives none."""
    if not (math.isfinite(finding.ci_low) and math.isfinite(finding.ci_high)):
        return NONE
    return f"[{rounded(finding.ci_low, finding)}, {rounded(finding.ci_high, finding)}]"


def unit_and_per(finding: Finding) -> str:
    """Return the unit of a finding's estimate and the change of the predictor that it refers to, if any."""
    return ", ".join(part for part in (unit_words(finding.unit), finding.per) if part)


def cell(value: float) -> str:
    """Return a number as the text of a table's cell; a dash for NaN."""
    return number(value) if math.isfinite(value) else NONE


def degrees_of_freedom(df: float) -> str:
    """Return degrees of freedom as the text of a table's cell; large values are shown as "> 1000"."""
    return "> 1000" if df > 1000 else cell(df)


def at_event(event: str) -> str:
    """Return words to add after the name of a posture, for example " at impact"; empty without an event."""
    return f" at {conventions.EVENT_LABELS[event]}" if event in conventions.EVENT_LABELS else ""


#: Methods in two or three words, for figures that show many; their full text is in the tables.
SHORT_METHODS = {
    "random_slope": "mixed model", "random_slope_sessions": "mixed model", "mixed_model": "mixed model",
    "random_slope_with_drift": "drift not removed",
    "golfer_means": "golfer means", "cluster_robust": "cluster-robust", "wild_bootstrap": "wild bootstrap",
    "slope_signs": "signs of own slopes", "series": "series", "welch": "Welch", "label_exchange": "labels exchanged",
    "welch_smaller_group": "Welch, fewer df",
    "paired_t": "paired t", "difference_signs": "signs of differences", "described": "described",
    "step_beside_trend": "beyond the drift", "step_without_trend": "in all (no trend)",
    "step_blocks": "blocks permuted", "block_signs": "sign flips of blocks", "later_look": "later",
    "cumulative_logit": "ordered logit", "binary_gee": "GEE",
}  # fmt: skip


def short_method(finding: Finding) -> str:
    """Return a finding's method in a few words, for figures.

    A slope that is not corrected for measurement error is marked, and an assumed placement error is added.
    """
    words = SHORT_METHODS.get(finding.method_key, finding.method_key.replace("_", " ") or "other")
    if finding.correction == "as_fitted":
        words += ", uncorrected"
    if math.isfinite(finding.placement_deg):
        words += f", placement {finding.placement_deg:g} deg"
    return words


def headline(finding: Finding, lines: Sequence[Finding] = ()) -> str:
    """Return the judged estimate as a short text; for a lesson, the change beyond drift and the total change.

    Parameters
    ----------
    finding : Finding
        The judged finding of a question.
    lines : sequence of Finding
        All findings of the question.
    """
    if not math.isfinite(finding.estimate):
        return "No number can be given."
    unit = "" if finding.unit.startswith("share of") else f" {unit_words(finding.unit)}".rstrip()
    p = f", adjusted {p_value(finding.p_adjusted)}" if math.isfinite(finding.p_adjusted) else ""
    if finding.kind == "lesson":
        plain = [f for f in lines if f.method_key == "step_without_trend" and f.outcome == finding.outcome
                 and f.event == finding.event and f.per == finding.per and math.isfinite(f.estimate)]  # fmt: skip
        whole = f"; in all: {_plus(plain[0].estimate, plain[0])}{unit}" if plain else ""
        beyond = f"beyond the drift: {_plus(finding.estimate, finding)}{unit} {interval(finding)}"
        return f"{first_capital(label(finding.outcome))}, {beyond}{p}{whole}."
    if finding.kind == "hunch":
        return f"{_SHORT_LEVELS.get(finding.level, '')}{_size(finding)} per {finding.per}{p}."
    return f"{first_capital(finding.per)}: {_size(finding)}{p}."


_SHORT_LEVELS = {"within": "Within golfers: ", "between": "Between golfers: ", "golfer": "For this player: "}


def _plus(value: float, finding: Finding) -> str:
    """Return a rounded estimate with its sign."""
    text = rounded(value, finding)
    return text if value <= 0 or text == NONE else f"+{text}"


def more_or_less(name: str, value: float) -> str:
    """Return words for a difference in a column, for example "more upward" if its value is positive."""
    stem = columns.column(name).stem if columns.is_column(name) else name
    more, less = _MORE_LESS.get(stem.removeprefix("measured_"), ("higher", "lower"))
    return more if value >= 0 else less


def sentence(finding: Finding, also: Sequence[str] = ()) -> str:
    """Return a finding as one sentence, with its estimate and 95 % interval.

    also : further units in which the estimate is also given, as in [report] units of study.toml.
    """
    if not math.isfinite(finding.estimate):
        why = "; ".join(finding.warnings) or "the results give no reason"
        return f"No number can be given: {why}"
    made = _hunch_sentence(finding) if finding.kind == "hunch" else _difference_sentence(finding)
    return in_further_units(made, finding, also)


_UNIT_NAMES = {"mph": "mph", "in": "inches"}


def in_further_units(words: str, finding: Finding, also: Sequence[str]) -> str:
    """Return a sentence about a finding with its estimate and interval added in those further units that fit.

    words : the sentence. also : the further units.
    """
    more = []
    for name in also:
        its_unit, factor = conventions.OTHER_UNITS[name]
        if its_unit == finding.unit and math.isfinite(finding.estimate):
            values = (factor * value for value in (finding.estimate, finding.ci_low, finding.ci_high))
            more.append(f"in {_UNIT_NAMES[name]}: {with_limits(*values)}")
    return "; ".join([words.removesuffix("."), *more]) + "." if more else words


_LEVELS = {
    "within": "Within golfers (one swing against another of the same golfer)",
    "between": "Between golfers (one golfer's mean against another's)",
    "golfer": "For this player, in these sessions",
    "group": "Between the groups",
}


def _size(finding: Finding) -> str:
    """Return size and direction, as "2.1 deg higher [1.6, 2.7]"; with its sign if the interval includes 0."""
    unit = f" {unit_words(finding.unit)}" if finding.unit else ""
    if finding.ci_low <= 0 <= finding.ci_high:
        more = more_or_less(finding.outcome, 1.0)
        return f"{rounded(finding.estimate, finding)}{unit} {interval(finding)} different (+ = {more})"
    words = more_or_less(finding.outcome, finding.estimate)
    sign = math.copysign(1.0, finding.estimate)
    ends = sorted((sign * finding.ci_low, sign * finding.ci_high))
    span = f"[{rounded(ends[0], finding)}, {rounded(ends[1], finding)}]"
    return f"{rounded(abs(finding.estimate), finding)}{unit} {words} {span}"


def _hunch_sentence(finding: Finding) -> str:
    column = columns.column(finding.predictor) if columns.is_column(finding.predictor) else None
    unit = unit_words(column.unit) if column else ""
    positive = f" ({column.positive})" if column and column.positive else ""
    return (
        f"{_LEVELS[finding.level]}, 10 {unit} more {label(finding.predictor)}{positive}{at_event(finding.event)} goes "
        f"with {article(label(finding.outcome))} {_size(finding)}{p_tail(finding)}."
    )


def first_capital(words: str) -> str:
    """Return a text with a capital first letter; the rest is unchanged, unlike with ``str.capitalize``."""
    return words[:1].upper() + words[1:]


def article(words: str) -> str:
    """Return words with "a" or "an" in front."""
    return f"{'an' if words[:1] in 'aeiou' else 'a'} {words}"


def _difference_sentence(finding: Finding) -> str:
    what = label(finding.outcome)
    if finding.unit.startswith("share of"):
        # A contact in words is compared by its share of swings, which has no unit.
        what, finding = f"the {finding.unit} (by {what})", replace(finding, unit="", outcome="")
    return (
        f"{first_capital(finding.per)}: {what}{at_event(finding.event)} is {_size(finding)}{p_tail(finding)}."
    )
