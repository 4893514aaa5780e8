"""Diagnostic plots of the primary analysis of a question: fit of the model, influence of golfers, curvature."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import scipy
from matplotlib.axes import Axes
from numpy.typing import ArrayLike

from swinglab import columns
from swinglab.figures.style import COLOURS, GREY, PlainTextFigure, plain
from swinglab.records import Diagnostics

#: More marks than this are drawn as a bitmap, which keeps the file small.
_MANY = 150
#: Largest number of golfers in the panels of leverage and influence; those with the largest values are shown.
_MOST_GOLFERS = 20


def draw_diagnostics(found: Diagnostics) -> Axes:
    """Draw residuals against fitted values, a normal Q-Q plot, residuals in order, leverage, influence and curvature.

    Panels that do not apply are left out. A model of golfers' means has no panel of residuals in order, a series of
    one golfer has none of leverage and influence, and a comparison of groups has none of curvature.

    Parameters
    ----------
    found : Diagnostics
        Result of `diagnose` for one question.

    Returns
    -------
    Axes
        The first panel; the others are in its figure.
    """
    points = found.points
    panels: list[Callable[[Axes, Diagnostics], None]] = [_against_fitted, _quantiles]
    panels += [_in_order] if points["swing"].notna().any() else []
    panels += [_leverage, _without_each] if len(found.golfers) else []
    panels += [_bend] if len(found.curve) else []
    width = 3 if len(panels) > 4 else 2
    height = -(-len(panels) // width)
    figure = PlainTextFigure(figsize=(3.6 * width, 3.2 * height), layout="constrained")
    axes = figure.subplots(height, width, squeeze=False).ravel()
    for ax, draw in zip(axes, panels, strict=False):
        draw(ax, found)
        ax.title.set_fontsize(10)
        ax.margins(0.06)
        plain(ax)
    for ax in axes[len(panels) :]:
        ax.remove()
    return axes[0]


def _against_fitted(ax: Axes, found: Diagnostics) -> None:
    _marks(ax, found.points["fitted"], found.points["residual"])
    ax.axhline(0.0, color="black", lw=0.9)
    ax.set_title("Residuals against fitted: even spread?", loc="left")
    ax.set_xlabel(f"fitted{_unit(found)}")
    ax.set_ylabel(f"residual{_unit(found)}")


def _quantiles(ax: Axes, found: Diagnostics) -> None:
    residual = np.sort(found.points["residual"].to_numpy(float))
    normal = scipy.stats.norm.ppf((np.arange(1, len(residual) + 1) - 0.5) / len(residual))
    _marks(ax, normal, residual)
    spread = float(residual.std(ddof=1))
    ends = normal[[0, -1]]
    ax.plot(ends, residual.mean() + spread * ends, color="black", lw=0.9)
    ax.set_title("Normal quantiles: on the line?", loc="left")
    ax.set_xlabel("normal quantile (SD)")
    ax.set_ylabel(f"residual{_unit(found)}")


def _in_order(ax: Axes, found: Diagnostics) -> None:
    _marks(ax, found.points["swing"], found.points["residual"])
    ax.axhline(0.0, color="black", lw=0.9)
    places = found.points.groupby("swing")["residual"]
    if places.size().median() >= 5:
        mean = places.mean()
        ax.plot(mean.index, mean, color=COLOURS[1], lw=1.2, label="mean of the golfers")
        ax.legend(frameon=False, fontsize=8, loc="upper right")
    ax.set_title("Residuals in order: any drift?", loc="left")
    ax.set_xlabel("swing, in the order of play")
    ax.set_ylabel(f"residual{_unit(found)}")


def _leverage(ax: Axes, found: Diagnostics) -> None:
    each = found.golfers["leverage"].iloc[:_MOST_GOLFERS]
    places = np.arange(len(each))
    ax.barh(places, 100 * each, color=COLOURS[0], height=0.7)
    ax.axvline(100 / len(found.golfers), color="black", lw=0.9, ls="--")
    _name_golfers(ax, list(each.index), len(found.golfers))
    ax.set_title("Leverage: one golfer decides?", loc="left")
    ax.set_xlabel("share of the information (%)\ndashed: equal shares")


def _without_each(ax: Axes, found: Diagnostics) -> None:
    known = found.golfers.dropna(subset="without")
    most = known["change"].abs().sort_values(ascending=False, kind="stable").index[:_MOST_GOLFERS]
    ax.plot(known.loc[most, "without"], np.arange(len(most)), "o", color=COLOURS[0], ms=5)
    ax.axvline(found.estimate, color="black", lw=0.9, ls="--", label="all golfers")
    ax.axvline(0.0, color=GREY, lw=0.9, ls=":", label="no effect")
    _name_golfers(ax, list(most), len(known))
    ax.set_title("Influence: without each golfer", loc="left")
    per = f" per {found.step:g} {_words(found.predictor_unit)}" if found.predictor_unit else ""
    ax.set_xlabel(f"estimate ({_words(found.outcome_unit)}{per})")
    ax.legend(frameon=False, fontsize=8, loc="best")


def _bend(ax: Axes, found: Diagnostics) -> None:
    curve = found.curve
    _marks(ax, found.points["predictor"], found.points["partial"])
    ax.fill_between(curve["predictor"], curve["low"], curve["high"], color=COLOURS[1], alpha=0.2, lw=0)
    ax.plot(curve["predictor"], curve["line"], color="black", lw=1.4, label="line")
    ax.plot(curve["predictor"], curve["bend"], color=COLOURS[1], lw=1.4, ls="--", label="with a bend, 95 %")
    drift = found.reading_key.startswith("drift")
    ax.set_title("Is the drift straight?" if drift else "Is a line enough?", loc="left")
    unit = f" ({_words(found.predictor_unit)})" if found.predictor_unit else ""
    first, _, rest = f"{found.predictor}{unit}".partition(" minus ")
    ax.set_xlabel(f"{first}\nless {rest}" if rest else first)
    ax.set_ylabel(f"adjusted for other terms{_unit(found)}")
    ax.legend(frameon=False, fontsize=8, loc="best")


def _name_golfers(ax: Axes, names: list[str], of: int) -> None:
    ax.set_yticks(np.arange(len(names)), names)
    ax.invert_yaxis()
    ax.set_ylabel("golfer" if len(names) == of else f"golfer ({len(names)} of {of})")
    if len(names) > 12:
        ax.tick_params(axis="y", labelsize=7)


def _marks(ax: Axes, x: ArrayLike, y: ArrayLike) -> None:
    many = np.size(y) > _MANY
    ax.plot(np.asarray(x, float), np.asarray(y, float), "o", color=COLOURS[0], ms=2.5 if many else 4,
            alpha=0.45 if many else 0.8, mew=0, rasterized=many)  # fmt: skip


def _unit(found: Diagnostics) -> str:
    return f" ({_words(found.outcome_unit)})" if found.outcome_unit else ""


def _words(unit: str) -> str:
    return columns.UNIT_WORDS.get(unit, unit)
