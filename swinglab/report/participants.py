"""Participants of a study, for the methods text: ethics, numbers of golfers and swings, and Table 1."""

from __future__ import annotations

from collections.abc import Mapping

import pandas as pd

from swinglab import columns
from swinglab.report.wording import count, label, span, unit_words
from swinglab.study import Results, Study

TO_COMPLETE = "[to be completed]"
#: Keys of [ethics] and [participants] in study.toml -> their words in the text.
ETHICS = {
    "approval": "Ethics approval",
    "consent": "Informed consent",
    "guardian": "Minors (consent of a parent or guardian, and the player's assent)",
}
PARTICIPANTS = {
    "recruitment": "Recruitment",
    "injuries": "Injuries and pain",
    "warm_up": "Warm-up",
    "ball": "Ball",
    "surface": "Surface",
    "clubs": "Clubs",
    "exclusions": "Exclusions planned beforehand",
}
#: Usual rows of Table 1 -> beginnings of the column names that give them (common practice, no source).
EXPECTED = {
    "age": ("age",),
    "sex": ("sex", "gender"),
    "stature": ("stature", "height"),
    "mass": ("mass", "weight"),
    "handicap": ("handicap",),
}
_DESIGN = ("golfer", "group", "hand")


def ethics_text(study: Study) -> str:
    """Return the paragraph on ethics approval, consent and guardians, from [ethics] in study.toml."""
    return _given(study.ethics, ETHICS)


def participants_text(study: Study, results: Results) -> str:
    """Return the paragraph on participants: golfers, swings measured and left out, and [participants] of study.toml."""
    table, left_out = results.swings, results.left_out
    per = table.groupby("golfer").size()
    gone = left_out[~left_out["swing"].isin(table["swing"])]
    number = gone["swing"].nunique()
    reasons = "; ".join(f"{row.swing}: {row.what}" for row in gone.drop_duplicates("swing").itertuples())
    return (
        f"{count(table['golfer'].nunique(), 'golfer')} (Table 1) made {count(len(table), 'swing')} that could be "
        f"measured, {span(per.astype(float), 'per golfer')}. The study's list of swings, swings.csv, has "
        f"{count(len(study.swings), 'swing')}; {count(number, 'swing')} could not be measured."
        + (f" {'Reason' if number == 1 else 'Reasons'}: {reasons}." if reasons else "")
        + f" {_given(study.participants, PARTICIPANTS)}"
    )


def _given(given: Mapping[str, str], names: Mapping[str, str]) -> str:
    # A text of several lines becomes one, so that none of them opens a heading or a table.
    words = {key: " ".join(given.get(key, TO_COMPLETE).split()).rstrip(".") for key in names}
    return " ".join(f"{name}: {words[key]}." for key, name in names.items())


def table_1(study: Study, results: Results) -> pd.DataFrame:
    """Return Table 1, golfers by group and in total: numbers as mean (SD) and range, text as counts.

    It contains the golfers with a measured swing, with their values in golfers.csv. Usual rows of such a table that
    golfers.csv lacks (see `EXPECTED`) are marked "[to be completed]".
    """
    golfers = study.golfers[study.golfers["golfer"].isin(results.swings["golfer"])]
    each = results.swings.groupby("golfer")
    hands = each["hand"].agg(lambda own: " and ".join(sorted(set(own))))  # some play both ways
    swings = each.size()
    golfers = golfers.assign(hand=golfers["golfer"].map(hands), swings=golfers["golfer"].map(swings))
    parts = {str(name): own for name, own in golfers.groupby("group")} | {"all": golfers}
    own = [name for name in golfers.columns if name not in (*_DESIGN, "swings")]
    rows = [["golfers", *(str(len(part)) for part in parts.values())]]
    for name in ("hand", *own, "swings"):
        rows.append([_row_name(name), *(_described(part[name], name) for part in parts.values())])
    lacking = [
        what for what, starts in EXPECTED.items() if not any(name.lower().startswith(starts) for name in own)
    ]
    rows += [[what, *[TO_COMPLETE] * len(parts)] for what in lacking]
    return pd.DataFrame(rows, columns=["", *parts])


def _row_name(name: str) -> str:
    if name == "swings":
        return "measured swings per golfer"
    if columns.is_column(name):
        unit = columns.column(name).unit
        return f"{label(name)}, {unit_words(unit)}" if unit else label(name)
    words, _, unit = name.rpartition("_")
    known = words and unit in ("m", "cm", "kg", "years", "deg", "s", "mps")
    return f"{words.replace('_', ' ')}, {unit_words(unit)}" if known else name.replace("_", " ")


def _described(values: pd.Series, name: str) -> str:
    known = values.dropna()
    if pd.api.types.is_numeric_dtype(known):
        if known.empty:
            return "not known"
        whole = bool((known == known.round()).all())
        decimals = columns.UNIT_DECIMALS.get(name.rsplit("_", 1)[-1], 1 if whole else 2)
        ends = f"{known.min():.{0 if whole else decimals}f} to {known.max():.{0 if whole else decimals}f}"
        spread = f" ({known.std(ddof=1):.{decimals}f})" if len(known) > 1 else ""
        text = f"{known.mean():.{decimals}f}{spread}, {ends}".replace("-", "\u2212")
    else:
        known = known[known.astype(str).str.strip() != ""]
        text = ", ".join(f"{n} {value}" for value, n in known.value_counts().sort_index().items())
    missing = len(values) - len(known)
    return f"{text or 'not known'}{f'; {missing} not known' if missing and text else ''}"


def markdown(table: pd.DataFrame) -> str:
    """Return a table as Markdown; the character | in a cell is escaped."""
    lines = [list(table.columns), ["---"] * table.shape[1], *table.to_numpy().tolist()]
    return "\n".join("| " + " | ".join(str(c).replace("|", "\\|") for c in cells) + " |" for cells in lines)
