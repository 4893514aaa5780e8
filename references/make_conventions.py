"""Write references/conventions.md, the code book, from the package itself: run it after a change to columns.py.

    python references/make_conventions.py

The pictures that it shows are drawn by draw_conventions.py. A test holds that the file is what this writes.
"""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from swinglab import columns, conventions
from swinglab.columns import Column

HERE = Path(__file__).resolve().parent
FILE = HERE / "conventions.md"
PICTURES = HERE / "pictures"

#: Words of a column's source -> keys in references.bib.
KEYS = {
    columns.WU2002: "wu2002", columns.WU2005: "wu2005", columns.GROOD1983: "grood1983",
    columns.BAKER2001: "baker2001", "Brown et al. 2013": "brown2013", "de Leva 1996": "deleva1996",
}  # fmt: skip
FRAMES = """\
# Code book: frames, signs and every quantity

Written by `references/make_conventions.py` from the package; edit `swinglab/columns/`, not this file.
Sources are keys of `references.bib`; "this kit" is a definition of the kit's own.

## Frames and signs

- **Study frame**: right-handed, metres; X down the target line, Y up, Z = X x Y [wu1995]. Origin on the turf
  under the ball centre.
- A right-handed golfer faces +Z. A left-handed golfer is mirrored (z -> -z, left and right exchanged), so that
  sides are named lead and trail, and sideways directions in-to-out.
- **Golfer's frame**, for the angles of pelvis and thorax: X to the ball, Y up, Z to the trail side.
- **Turn-first** (intrinsic Y-X-Z: axial rotation, then lateral flexion, then flexion [baker2001]) is the default;
  **ISB order** (intrinsic Z-X-Y [wu2002, wu2005]) carries `_isb`; **lean, lean direction, spin** is a third view of
  the same posture (the long axis's lean and its heading, then the turn about that axis [thorax2025]). The three
  are never mixed in one question.
- Signs: axial rotation + open to the target, lateral flexion + trail side lower, flexion + bent forward. ISB's own
  sign of flexion of pelvis, thorax and trunk is the opposite, and so is that of shoulder elevation. Joints: flexion +.
- Left limbs are measured by the right side's definitions on the mirrored body [wu2005].
- A Cardan set is close to undefined where its middle angle nears 90 degrees, a shoulder's Y-X-Y near 0 and 180
  degrees of elevation; the warnings name such frames.
"""
#: what -> from markers, from joint centres
MADE = (
    (
        "pelvis",
        "Z along the ASIS, X in the plane of both ASIS and the mid-PSIS [wu2002]; the "
        "sacrum's landmark may stand in for the mid-PSIS",
        "Z along the hips, Y toward the mid-shoulder: turn and side bend only, tilt is hidden",
    ),
    (
        "thorax",
        "Y mid-xiphoid-T8 to mid-notch-C7, Z square to the plane of notch, C7 and mid-"
        "xiphoid-T8 [wu2005]; a neighbouring vertebra may stand in for T8",
        '"trunk (joint centres)": Y mid-hip to mid-shoulder, X square to Y and to the line of the shoulders',
    ),
    (
        "head",
        "Z left to right, X back to front, four head markers (this kit)",
        "Z along the ears, X to the nose",
    ),
    (
        "hip centre",
        "[harrington2007] from pelvis width and depth and leg length; without leg length "
        "its single form; or [bell1990], [hara2016]",
        "as given",
    ),
    (
        "shoulder centre",
        "below the acromion by 17 % of the distance of the acromia at their widest (95th "
        "percentile), along the thorax [rab2002]",
        "as given",
    ),
    (
        "elbow, wrist, knee, ankle centre",
        "as given, else the mid-point of the two markers; with the lateral one alone, half the usual width of the "
        "joint (elbow 6.6, knee 9.3, ankle 7.0 cm, from memory) plus the marker's radius from it, in medial "
        "direction along the flexion axis, at right angles to both segments (of the ankle: the knee's); the wrist "
        "takes both markers",
        "as given",
    ),
    (
        "femur, humerus, forearm, hand, shank",
        "[wu2002], [wu2005]; the shank from knee and ankle centre and malleoli (this kit), the order of the knee's "
        "rotations by [grood1983]; without both markers of a joint: angles of three centres, no internal rotation",
        "none: joint angles of three centres",
    ),
    (
        "leg length",
        "ASIS by way of the knee centre to the medial malleolus, each part nearly at its "
        "longest (95th percentile), mean of both sides",
        "not needed",
    ),
    (
        "hands",
        "mid-point of both hands, each half-way from the wrist centre to the hand's "
        "landmark (else the wrist centre)",
        "mid-point of the wrists",
    ),
    (
        "centre of mass",
        "[deleva1996], mean of both sexes; the head's mass at the head centre",
        "the same, mid-shoulder for the sternum",
    ),
    (
        "shaft",
        "line through the points on it; else butt to clubhead, else mid-hands to clubhead "
        "(3 degrees of error added, a judgement)",
        "the same",
    ),
)
MADE_NOTE = """\
A centre that the file gives (`hip_left`, `shoulder_right`, ...) is taken as given. What stands in for a landmark is
named in the method of each value, and values of different methods are not pooled without a term for it. The hand's
landmark is the head of the third metacarpal; on the back of the hand it shifts wrist flexion by a fixed offset.
"""
ERRORS = """\
## Standard errors

They cover the noise of the markers as smoothing leaves it, the deformation of segments, and the timing error of the
event times the rate of change. They do not cover the placement of markers, soft tissue that moves all markers of a
segment together, or the error of a regression: those belong into the study's `[errors]`.

Noise: one standard deviation a marker, estimated from sixth differences between frames of the swing. Of white noise,
two passes of a second-order Butterworth filter leave about sqrt(2.08 x cut-off / rate) of the standard deviation
[winter2009]; the exact share is used. Deformation: distances between markers of a rigid segment vary by their noise.
What they vary beyond it (variance, mm^2) is added to the errors of the segment's points, without smoothing; it is
reported by segment and swing in quality.csv. It is a lower bound, and cannot be assessed where a segment has one
marker or distances are constant by construction. Where distances vary by less than the noise, the difference is noise
that all body markers share, which moves positions and not angles. In static captures single-frame spikes are set to
missing.

Errors are computed every 0.025 s (further apart in a capture longer than ten seconds) and interpolated. A filled
sample counts as a measured one. Values relative to address share address's error across events. Peak speeds have no
standard error.
"""


def text() -> str:
    """The whole code book."""
    made = "## How frames and centres are made\n\n" + _table(
        ("what", "from markers", "from joint centres"), MADE
    )
    parts = [
        FRAMES,
        made,
        MADE_NOTE,
        ERRORS,
        _landmarks(),
        _events(),
        "## Posture\n",
        "Angles in degrees, positions in centimetres.\n",
    ]
    groups: dict[str, list[Column]] = {}
    for c in columns.QUANTITIES.values():
        groups.setdefault(c.group, []).append(c)
    parts += [_group(name, members) for name, members in groups.items()]
    for title, members in (
        ("One number a swing", columns.SWINGS.values()),
        (
            "Strike",
            [*columns.STRIKES.values(), *columns.DELIVERIES.values(), *columns.PROBABILITIES.values()],
        ),
    ):
        parts.append(f"## {title}\n\n" + _table(_PLAIN, [_plain_row(c) for c in members]))
    parts.append(
        "Each is also taken as `measured_<name>` from another device.\n\n## Design and methods\n\n"
        + _table(("column", "meaning"), [(f"`{c.name}`", c.meaning) for c in columns.DESIGN])
    )
    return "\n".join(parts)


_PLAIN = ("column", "unit", "positive", "meaning", "plausible", "source")


def _group(name: str, members: list[Column]) -> str:
    head = ("", "quantity", "unit", "positive", "meaning", "of, in", "sequence", "plausible", "source")
    rows = [
        (_picture(c), f"`{c.name}`", c.unit, c.positive, c.meaning + _only_at(c), *frame_and_sequence(c),
         _range(c), source_keys(c))
        for c in members
    ]  # fmt: skip
    return f"### {name.replace('_', ' ').capitalize()}\n\n" + _table(head, rows)


def _plain_row(c: Column) -> tuple[str, ...]:
    return (f"`{c.name}`", c.unit, c.positive, c.meaning, _range(c), source_keys(c))


def frame_and_sequence(c: Column) -> tuple[str, str]:
    """Which segment is expressed in which, and in what sequence; positions in the study frame."""
    if c.unit != "deg":
        return "study frame", ""
    joint = c.part.removeprefix("lead_").removeprefix("trail_")
    if c.part in ("pelvis", "thorax"):
        if c.motion.startswith(("lean", "spin")):
            return f"{c.part}, golfer's frame", "lean, then spin"
        return f"{c.part}, golfer's frame", "Z-X-Y" if c.motion.endswith("_isb") else "Y-X-Z"
    return {
        "trunk": ("thorax in pelvis", "Z-X-Y"),
        "pelvis_thorax": ("pelvis and thorax, golfer's frame", "difference of the first of Y-X-Z"),
        "neck": ("head in thorax", "Z-X-Y"),
        "elbow": ("forearm in humerus", "Z-X-Y"),
        "wrist": ("hand in forearm", "Z-X-Y"),
        "knee": ("shank in femur", "Z-X-Y"),
        "hip": ("femur in pelvis", "Z-X-Y"),
        "shoulder": ("humerus in thorax", "Y-X-Y"),
        "shaft": ("shaft, study frame", ""),
    }[joint]


def source_keys(c: Column) -> str:
    """The column's sources as keys of references.bib; the kit's own by its words."""
    words = [word.strip() for word in c.source.split(";")]
    return ", ".join(f"[{KEYS[word]}]" if word in KEYS else word for word in dict.fromkeys(words) if word)


def _range(c: Column) -> str:
    if c.low == float("-inf") and c.high == float("inf"):
        return ""
    return f"{c.low:g} to {c.high:g}"


def _only_at(c: Column) -> str:
    if set(c.events) == set(conventions.EVENTS):
        return ""
    return f" (at {' and '.join(c.events)})"


def picture_name(c: Column) -> str:
    """The picture that shows this quantity: one for a motion, whatever the order or the neutral posture."""
    stem = c.name.removesuffix(f"_{c.unit}").replace("_isb", "").replace("_from_neutral", "")
    return stem.replace("trail_", "lead_", 1) if not stem.startswith("trail_heel") else stem


def _picture(c: Column) -> str:
    name = picture_name(c)
    there = (PICTURES / f"{name}.svg").is_file()
    return f"![{c.label}](pictures/{name}.svg)" if there else ""


def _landmarks() -> str:
    def names(of: Iterable[str]) -> str:
        return ", ".join(f"`{name}`" for name in of)

    return (
        "## Landmarks\n\n"
        f"Markers: {names(conventions.MARKER_LANDMARKS)}.\n\n"
        "Joint centres (pose tables; heels and toes stand with the markers): "
        f"{names(conventions.CENTRE_LANDMARKS)}.\n\n"
        f"Club and ball: {names(conventions.CLUB_LANDMARKS)}, `{conventions.SHAFT_POINT_STEM}1`, "
        f"`{conventions.SHAFT_POINT_STEM}2`, ... (grip to head), `{conventions.HEAD_POINT_STEM}1`, ..., "
        f"`{conventions.BALL_LANDMARK}`. `clubhead` is the centre of the face.\n"
    )


def _events() -> str:
    rows = [(f"`{name}`", conventions.EVENT_MEANINGS[name]) for name in conventions.EVENTS]
    order = " < ".join(conventions.ENFORCED_ORDER)
    return (
        "## Events\n\n"
        + _table(("event", "what it is"), rows)
        + f"In their usual order; only {order} is enforced.\n"
    )


def _table(head: tuple[str, ...], rows: Iterable[tuple[str, ...]]) -> str:
    lines = [head, tuple("---" for _ in head), *rows]
    return (
        "\n".join("| " + " | ".join(cell.replace("|", "/") for cell in line) + " |" for line in lines) + "\n"
    )


if __name__ == "__main__":
    FILE.write_text(text(), encoding="utf-8")
    print(f"wrote {FILE}")
