"""The demo study: simulated golfers in the winter programme of an invented golf club, with known true answers."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pandas as pd

from swinglab.simulate.capture import Lab
from swinglab.simulate.disturb import Disturbance, disturb, draw_placement
from swinglab.simulate.golfer import Golfer, make_golfer
from swinglab.simulate.members import MEMBERS, Member, member_golfer, member_variation
from swinglab.simulate.swing import Swing, make_swing
from swinglab.simulate.true_slopes import between_slope, sensitivity_table
from swinglab.simulate.variation import Changes, add_offsets, draw_offsets
from swinglab.simulate.write import SimulatedStudy, StudySwing, empty_folder, write_study
from swinglab.whole_file import new_folder

SEED = 2026
Progress = Callable[[int, int, str], None]
RATE_HZ = 200.0
#: Duration of a capture before and after impact.
BEFORE_S, AFTER_S = 1.3, 0.4
LAB = Lab(up="+Z", target="-Y", ground_mm=-600.0, ball_mm=(40.0, 250.0))
DISTURBANCE = Disturbance(noise_mm=0.4, placement_mm=4.0, soft_tissue_mm=1.2, gaps=1)

TRUNK = (
    "asis_left", "asis_right", "psis_left", "psis_right", "jugular_notch", "xiphoid", "c7", "t8",
    "acromion_left", "acromion_right",
)  # fmt: skip
WRISTS = tuple(f"wrist_{part}_{side}" for part in ("radial", "ulnar") for side in ("left", "right"))
HEELS, TOES = ("heel_left", "heel_right"), ("toe_left", "toe_right")
HEAD = tuple(f"head_{part}_{side}" for part in ("front", "back") for side in ("left", "right"))
ELBOWS = tuple(f"elbow_{part}_{side}" for part in ("lateral", "medial") for side in ("left", "right"))
CLUB = ("clubhead", "club_butt", "club_hosel", "ball")
#: Markers of the long series of the lessons, fewer than usual to keep the demo small.
LESSON_LANDMARKS = (*TRUNK, *WRISTS, *HEELS, *CLUB)
LANDMARKS = (*TRUNK, *WRISTS, *ELBOWS, *HEELS, *TOES, *HEAD, "club_shaft_1", *CLUB)
#: Quantities whose true values are written with the demo, and below the events at which they are.
TRUTH = (
    *(f"{part}_{motion}_deg" for part in ("pelvis", "thorax")
      for motion in ("axial_rotation", "lateral_flexion", "flexion")),
    *(f"{part}_centre_toward_target_cm" for part in ("pelvis", "thorax")),
)  # fmt: skip
TRUTH_AT = ("address", "lead_arm_horizontal_back", "top", "shaft_horizontal_down", "impact",
            "trail_arm_horizontal_through")  # fmt: skip
#: Limits of a fat and of a thin contact, as in `Swing.true_contact`.
FAT_BEHIND_CM, THIN_ABOVE_CM = 1.0, 0.5
#: Change of the tilt of a member who is asked to swing with more or with less of it, in either direction.
FEEL_DEG = 4.0
#: The last capture file of this member is truncated, as happens when a disk is full.
DAMAGED, DAMAGED_BYTES = "G03", 900


@dataclass(frozen=True, slots=True)
class DemoSize:
    """Numbers of swings in the demo study.

    For members without a lesson, each : swings of a member captured by markers, and poses : swings of a member captured
    as a pose table. For a lesson that worked, lesson : swings before it, and as many after it, and later : swings of
    the phase "later". For a lesson in which the posture only drifts, drift : swings before it, and as many after it.
    members : codes of the members that are simulated.
    """

    each: int = 6
    poses: int = 4
    lesson: int = 40
    later: int = 8
    drift: int = 18
    members: tuple[str, ...] = tuple(member.name for member in MEMBERS)


@dataclass(frozen=True, slots=True)
class Series:
    """Plan of the successive swings of a member in one session.

    parts : for each part of the session (phase, instruction to the member, number of swings, change of posture).
    """

    session: str
    parts: tuple[tuple[str, str, int, Changes], ...]


def make_demo(
    *, seed: int = SEED, size: DemoSize | None = None, progress: Progress | None = None
) -> SimulatedStudy:
    """Simulate the demo study without writing files.

    `progress` is called after each member with (number of members done, number of members, name).
    """
    size = size or DemoSize()
    sources = np.random.SeedSequence(seed).spawn(len(MEMBERS))
    swings: list[StudySwing] = []
    for k, (member, source) in enumerate(zip(MEMBERS, sources, strict=True)):
        if member.name in size.members:
            swings += make_member_swings(member, source, size)
        if progress:
            progress(k + 1, len(MEMBERS), member.name)
    cells = {m.name: {"group": m.group, "handicap": m.handicap} for m in MEMBERS}
    return SimulatedStudy(
        TITLE, swings, cells, QUESTION, LAB, QUESTIONS + LESSONS, FAT_BEHIND_CM, THIN_ABOVE_CM,
        truth_quantities=TRUTH, truth_events=TRUTH_AT,
    )  # fmt: skip


def make_member_swings(
    member: Member, source: np.random.SeedSequence, size: DemoSize | None = None
) -> list[StudySwing]:
    """Return all simulated swings of one member of the demo study, in the order of play.

    `source` : seed of the random numbers. `size` : numbers of swings.
    """
    golfer = make_golfer_of(member)
    swings: list[StudySwing] = []
    for series, own in zip(_programme(member, size or DemoSize()), source.spawn(3), strict=False):
        landmarks = LESSON_LANDMARKS if member.lesson else LANDMARKS
        swings += capture_series(member, golfer, series, own, landmarks)
    return swings


def write_demo(
    folder: str | Path, *, seed: int = SEED, size: DemoSize | None = None, progress: Progress | None = None
) -> Path:
    """Simulate the demo study and write it, with its true values, to an empty folder.

    The same seed always gives exactly the same files.

    Parameters
    ----------
    folder : str or Path
        Created if it does not exist. BadRequest is raised if it is not empty.
    seed : int
        Seed of the random numbers.
    size : DemoSize, optional
        Numbers of swings.
    progress : callable, optional
        Called after each member with (number of members done, number of members, name). The simulation takes about a
        minute.

    Returns
    -------
    Path
        The folder.
    """
    folder = empty_folder(folder)  # checked before the simulation, which takes a minute
    with new_folder(folder) as beside:
        _write_demo(make_demo(seed=seed, size=size, progress=progress), beside)
    return folder


def _write_demo(study: SimulatedStudy, folder: Path) -> None:
    write_study(folder, study)
    golfers = {item.swing.golfer.name: item.swing.golfer for item in study.swings}
    table = sensitivity_table(list(golfers.values()))
    table = pd.concat([table, _between(study)], ignore_index=True)
    table.to_csv(
        folder / "truth" / "truth_sensitivity.csv", index=False, float_format="%.5f", lineterminator="\n"
    )
    damaged = sorted((folder / "captures").glob(f"{DAMAGED}_*.c3d"))[-1]
    damaged.write_bytes(damaged.read_bytes()[:DAMAGED_BYTES])


def _between(study: SimulatedStudy) -> pd.DataFrame:
    """True slope between golfer means for the demo's question, with lesson golfers before their lesson only."""
    swings = [item for item in study.swings if item.cells["phase"] in ("", "before")]
    outcome, posture = "attack_angle_deg", "thorax_lateral_flexion_deg"
    slope = between_slope(swings, outcome, posture, "shaft_horizontal_down")
    row = {"level": "between", "golfer": "", "outcome": outcome, "posture": posture, "slope": slope}
    return pd.DataFrame([row])


def make_golfer_of(member: Member) -> Golfer:
    """Return the simulated golfer with the body and the habits of a member of the demo study."""
    return make_golfer(**member_golfer(member))


def _programme(member: Member, size: DemoSize) -> list[Series]:
    name = member.name
    if member.lesson == "worked":
        taught, retained = _tilt(7.0), _tilt(5.6)
        first = Series(
            f"{name}-nov", (("before", "usual", size.lesson, {}), ("after", "usual", size.lesson, taught))
        )
        return [first, Series(f"{name}-feb", (("later", "usual", size.later, retained),))]
    if member.lesson == "drifted":
        return [
            Series(f"{name}-nov", (("before", "usual", size.drift, {}), ("after", "usual", size.drift, {})))
        ]
    number = size.poses if member.captured_as == "joint_centres" else size.each
    return [feel_series(f"{name}-nov", number)]


def feel_series(session: str, number: int) -> Series:
    """Return a plan in which usual swings, swings with more tilt and swings with less tilt alternate.

    `number` : number of swings. Tilt is lateral flexion of the thorax to the trail side.
    """
    feels = [
        ("", "usual", 1, {}),
        ("", "more tilt", 1, _tilt(FEEL_DEG)),
        ("", "less tilt", 1, _tilt(-FEEL_DEG)),
    ]
    return Series(session, tuple(feels[k % 3] for k in range(number)))


def _tilt(degrees: float) -> Changes:
    """Change of posture: more trail-side tilt of the thorax in the downswing, decreasing after impact."""
    return {
        "thorax_lateral_flexion_deg": {"delivery": degrees, "impact": 0.9 * degrees, "through": 0.5 * degrees}
    }


def capture_series(
    member: Member,
    golfer: Golfer,
    series: Series,
    source: np.random.SeedSequence,
    landmarks: tuple[str, ...],
) -> list[StudySwing]:
    """Simulate the swings of one session with measurement errors, and the cells of their rows in swings.csv.

    `series` : plan of the session. `source` : seed. `landmarks` : landmarks that are captured.
    """
    random = np.random.default_rng(source)
    total = sum(n for _, _, n, _ in series.parts)
    offsets = draw_offsets(random, total, member_variation(member))
    placement = draw_placement(random, DISTURBANCE)
    device = random.normal(0.0, 0.4)  # constant error of the launch device, deg
    swings = []
    order = 0
    for phase, feel, n, changes in series.parts:
        for _ in range(n):
            seed = int(random.integers(2**31))
            name = f"{member.name}_{series.session.split('-')[1]}_{order + 1:02d}"
            swing = make_swing(
                golfer, add_offsets(offsets[order], changes), seed=seed, rate_hz=RATE_HZ, name=name,
                before_s=BEFORE_S, after_s=AFTER_S,
            )  # fmt: skip
            order += 1
            cells = {"session": series.session, "phase": phase, "feel": feel, "order": order,
                     "club": golfer.parameters.club, **_measured(swing, device, random)}  # fmt: skip
            kind = "joint_centres" if member.captured_as == "joint_centres" else "markers"
            extra = replace(DISTURBANCE, noise_mm=2.0, gaps=0) if kind == "joint_centres" else DISTURBANCE
            captured = disturb(swing, extra, placement, seed=seed)
            swings.append(StudySwing(captured, cells, kind, landmarks))
    return swings


def _measured(swing: Swing, device: float, random: np.random.Generator) -> dict[str, object]:
    """Simulated records in swings.csv: attack angle of a launch device (sometimes lost), and observed contact.

    device : constant error of the device, deg.
    """
    truth = swing.true_strike
    attack = truth["attack_angle_deg"] + device + random.normal(0.0, 0.5)
    lost = random.random() < 0.06
    seen = swing.true_contact(fat_behind_cm=FAT_BEHIND_CM, thin_above_cm=THIN_ABOVE_CM)
    return {"measured_attack_angle_deg": "" if lost else f"{attack:.1f}", "measured_contact": seen}


TITLE = "Winter programme of an invented club: trail-side tilt and the strike (simulated golfers)"
QUESTION = "Does more tilt to the trail side in delivery go with a shallower strike?"
QUESTIONS = """
[contact]
fat_behind = 1.0
thin_above = 0.5

[errors]
placement_deg = 1.5
soft_tissue_deg = 0.5

[reference]
group = "skilled"

[ethics]
approval = "none needed, invented study of simulated golfers"
consent = "none needed, simulated golfers"
guardian = "none under age (invented)"

[participants]
recruitment = "members of an invented club's winter programme"
injuries = "none in the last six months (invented)"
warm_up = "ten minutes and ten swings (invented)"
ball = "one model for all (invented)"
surface = "turf, simulated"
clubs = "7 iron, simulated"
exclusions = "captures that end before impact (invented)"

[[hunch]]
name = "more trail-side tilt in delivery, a shallower strike"
outcome = "attack_angle_deg"
posture = "thorax_lateral_flexion_deg"
event = "shaft_horizontal_down"
level = "within"
expect = "positive"
smallest_effect = 0.5

[[hunch]]
name = "players with more trail-side tilt strike shallower"
outcome = "attack_angle_deg"
posture = "thorax_lateral_flexion_deg"
event = "shaft_horizontal_down"
level = "between"
expect = "positive"
smallest_effect = 0.5

[[hunch]]
name = "pelvis turn going back and the strike"
outcome = "attack_angle_deg"
posture = "pelvis_axial_rotation_deg"
event = "lead_arm_horizontal_back"
level = "within"
expect = "either"
smallest_effect = 1.0

[[comparison]]
name = "skilled players have come out of their bend after impact"
of = "thorax_flexion_deg"
event = "trail_arm_horizontal_through"
between = "group"
smallest_effect = 3.0
"""
LESSONS = """
[[lesson]]
name = "G07 learns to keep the tilt in delivery"
golfer = "G07"
phase = "phase"
of = "thorax_lateral_flexion_deg"
event = "shaft_horizontal_down"
target = [16.0, 20.0]
outcome = "attack_angle_deg"
expect = "positive"
smallest_effect = 0.8
planned_swings = 40

[[lesson]]
name = "G09 works on the same without a change of feel"
golfer = "G09"
phase = "phase"
of = "thorax_lateral_flexion_deg"
event = "shaft_horizontal_down"
target = [16.0, 20.0]
outcome = "attack_angle_deg"
expect = "positive"
smallest_effect = 0.8
planned_swings = 18

[[screen]]
name = "what goes with the attack angle, searched in eight golfers"
outcome = "attack_angle_deg"
level = "within"
smallest_effect = 0.5
where = { golfer = ["G01", "G02", "G04", "G05", "G07", "G08", "G10", "G11"] }

[[screen]]
name = "what goes with G07's attack angle, searched in the first 50 swings of November"
outcome = "attack_angle_deg"
level = "golfer"
golfer = "G07"
smallest_effect = 0.5
where = { session = ["G07-nov"], order = { to = 50 } }
"""
