"""Write the tables of capture_guide.md: which landmarks give which quantities, by the kit's own measuring code.

    python references/make_capture_guide.py

The text around the tables is kept; a test compares the tables with what the code gives now.
"""

from __future__ import annotations

import re
from pathlib import Path

from swinglab.begin.unlocks import measurable

PAGE = Path(__file__).with_name("capture_guide.md")
EVIDENCE = Path(__file__).with_name("evidence") / "posture_errors_by_rate.md"
BEGIN, END = "<!-- from the code: {} -->", "<!-- end of {} -->"


def both(*stems: str) -> tuple[str, ...]:
    """Landmark names of both sides."""
    return tuple(f"{stem}_{side}" for stem in stems for side in ("left", "right"))


PELVIS = both("asis", "psis")
THORAX = ("jugular_notch", "xiphoid", "c7", "t8")
ARMS = both("acromion", "elbow_lateral", "elbow_medial", "wrist_radial", "wrist_ulnar")
LEGS = both("knee_lateral", "knee_medial", "ankle_lateral", "ankle_medial")
FEET = both("heel", "toe")
HEAD = both("head_front", "head_back")
CLUB = ("clubhead", "club_butt", "club_hosel", "club_shaft_1", "club_shaft_2")
#: Each step adds landmarks to those of the steps above it.
MARKER_STEPS = (
    ("pelvis: both ASIS, both PSIS (or the sacrum for the PSIS)", PELVIS),
    ("trunk: jugular notch, xiphoid process, C7, T8 (or T10 for T8)", THORAX),
    ("head: two markers in front, two at the back", HEAD),
    ("arms: acromion, both epicondyles, both styloids", ARMS),
    ("hands: head of the third metacarpal", both("hand")),
    ("legs: both epicondyles, both malleoli", LEGS),
    ("feet: heel and toe", FEET),
    ("club: clubhead at the centre of the face, and two or more points of the shaft", CLUB),
    ("ball", ("ball",)),
)
CENTRE_STEPS = (
    ("hips and shoulders", both("hip", "shoulder")),
    ("elbows and wrists", both("elbow", "wrist")),
    ("knees and ankles", both("knee", "ankle")),
    ("heels and toes", FEET),
    ("ears and nose", (*both("ear"), "nose")),
    ("clubhead", ("clubhead",)),
    ("ball", ("ball",)),
)
RATES = ("60 Hz, 1 mm", "120 Hz, 1 mm", "240 Hz, 1 mm", "500 Hz, 1 mm")


def quantities(steps: tuple[tuple[str, tuple[str, ...]], ...]) -> str:
    """A table: what each step adds to the quantities of the steps above it."""
    lines = ["| landmarks, added to those above | quantities that they add |", "|---|---|"]
    have: set[str] = set()
    before: frozenset[str] = frozenset()
    for words, landmarks in steps:
        have |= set(landmarks)
        now = measurable(have)
        added = ", ".join(f"`{name}`" for name in sorted(now - before)) or "no further quantity"
        lines.append(f"| {words} | {added} |")
        before = now
    return "\n".join(lines)


def rates() -> str:
    """Median error of posture by frame rate, from the evidence table, markers with 1 mm of noise."""
    rows = {
        line.split("|")[1].strip(): line
        for line in EVIDENCE.read_text(encoding="utf-8").splitlines()
        if line.startswith("| ")
    }
    lines = [
        "| capture | pelvis | thorax | trunk | elbow | shaft | positions |",
        "|---|---|---|---|---|---|---|",
    ]
    for rate in RATES:
        cells = [cell.split("/")[0].strip() for cell in rows[rate].split("|")[2:10]]
        pelvis, thorax, trunk, _, _, elbow, shaft, positions = cells
        lines.append(
            f"| {rate} | {pelvis} deg | {thorax} deg | {trunk} deg | {elbow} deg | {shaft} deg | {positions} cm |"
        )
    return "\n".join(lines)


TABLES = {
    "markers": lambda: quantities(MARKER_STEPS),
    "joint centres": lambda: quantities(CENTRE_STEPS),
    "frame rates": rates,
}


def with_tables(text: str) -> str:
    """The page's text with every table as the code gives it now."""
    for name, table in TABLES.items():
        begin, end = BEGIN.format(name), END.format(name)
        pattern = re.escape(begin) + r".*?" + re.escape(end)
        whole = f"{begin}\n{table()}\n{end}"
        text = re.sub(pattern, lambda _, whole=whole: whole, text, flags=re.DOTALL)
    return text


if __name__ == "__main__":
    PAGE.write_text(with_tables(PAGE.read_text(encoding="utf-8")), encoding="utf-8")
    print(f"wrote {PAGE.name}")
