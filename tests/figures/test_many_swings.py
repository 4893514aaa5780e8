"""Figures of many swings stay readable: a density, and a sample of golfers that is named as such."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pandas as pd
import pytest
from matplotlib.axes import Axes

from swinglab import figures
from swinglab.figures.many import MOST_GOLFERS, MOST_SWINGS, are_many, sample_of_golfers
from swinglab.figures.points import points_in_picture
from swinglab.report.pictures import picture_bytes

POSTURE, OUTCOME = "thorax_lateral_flexion_at_impact_deg", "attack_angle_deg"
GOLFERS, SWINGS = 120, 20


@pytest.fixture(scope="module")
def season() -> pd.DataFrame:
    """2,400 swings of 120 golfers in two groups."""
    random = np.random.default_rng(3)
    golfer = np.repeat([f"G{k:03d}" for k in range(GOLFERS)], SWINGS)
    tilt = np.repeat(random.normal(10, 3, GOLFERS), SWINGS) + random.normal(0, 1, GOLFERS * SWINGS)
    return pd.DataFrame({
        "swing": [f"s{k}" for k in range(len(golfer))], "golfer": golfer, "club": "7 iron",
        "group": np.repeat(np.where(np.arange(GOLFERS) % 2, "skilled", "learners"), SWINGS), POSTURE: tilt,
        OUTCOME: tilt / 5 + random.normal(0, 0.5, len(golfer)), "measured_attack_angle_deg": tilt / 5,
        "low_point_ahead_cm": tilt / 3, "low_point_ahead_se_cm": 0.4,
        "contact": random.choice(["fat", "clean", "thin"], len(golfer)),
    })  # fmt: skip


DRAWN: dict[str, Callable[[pd.DataFrame], Axes]] = {
    "relation": lambda t: figures.draw_relation(t, posture=POSTURE, outcome=OUTCOME, group="group"),
    "low_points": figures.draw_low_points,
    "comparison": lambda t: figures.draw_comparison(t, value=POSTURE, between="group", reference="skilled"),
    "contact": lambda t: figures.draw_contact(t, posture=POSTURE, outcome="contact", group="group"),
    "agreement": lambda t: figures.draw_agreement(
        t, computed=OUTCOME, measured="measured_attack_angle_deg", bias=0.0, lower=-1.0, upper=1.0
    ),
}


@pytest.mark.parametrize("name", DRAWN)
def test_a_figure_of_many_swings_is_a_small_file_of_a_readable_size(name: str, season: pd.DataFrame) -> None:
    """Truth: made. Twice the golfers make no figure higher, and its file hardly larger."""
    few = season[season["golfer"] < "G060"]
    assert are_many(season) and few["golfer"].nunique() > MOST_GOLFERS
    ax, half = DRAWN[name](season), DRAWN[name](few)
    size = ax.figure.get_size_inches()  # type: ignore[union-attr]
    assert size[1] <= half.figure.get_size_inches()[1] <= 16  # type: ignore[union-attr]
    written = len(picture_bytes(ax, "svg"))
    assert written < 400_000
    points = points_in_picture(ax)
    assert len(points) <= MOST_SWINGS


def test_the_density_counts_every_swing(season: pd.DataFrame) -> None:
    """Truth: made. The counts of the cells add up to the swings with both values; means are of all golfers."""
    holes = season.copy()
    holes.loc[:6, OUTCOME] = np.nan
    ax = DRAWN["relation"](holes)
    counts = [c.get_array() for c in ax.collections if c.get_array() is not None]
    assert sum(int(np.sum(values)) for values in counts if values is not None) == len(season) - 7
    means = [line for line in ax.get_lines() if str(line.get_label()).startswith("golfer's mean")]
    assert sum(len(np.asarray(line.get_xdata())) for line in means) == GOLFERS
    labels = [text.get_text() for text in ax.get_legend().get_texts()]  # type: ignore[union-attr]
    assert f"own, {MOST_GOLFERS} of {GOLFERS}" in labels


def test_a_sample_of_golfers_reaches_from_the_least_to_the_most(season: pd.DataFrame) -> None:
    """Truth: other (pandas). Lowest and highest golfer are in it, and its middle is the middle of all."""
    means = season.groupby("golfer")[POSTURE].mean()
    shown = sample_of_golfers(season, POSTURE)
    assert len(shown) == MOST_GOLFERS and shown == sorted(shown)
    assert {means.idxmin(), means.idxmax()} <= set(shown)
    assert means[shown].median() == pytest.approx(means.median(), abs=0.2)
    ax = figures.draw_low_points(season)
    assert len(ax.get_yticklabels()) == MOST_GOLFERS
    assert ax.get_ylabel() == f"{MOST_GOLFERS} of {GOLFERS} golfers"


def test_few_swings_are_drawn_one_by_one(season: pd.DataFrame) -> None:
    """Truth: made. With few golfers every swing has its mark, with its name."""
    few = season[season["golfer"] < "G010"]
    for name in ("relation", "low_points", "contact"):
        ax = DRAWN[name](few)
        picture_bytes(ax, "svg")
        assert len(points_in_picture(ax)) == len(few)
