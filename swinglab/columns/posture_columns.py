"""Posture quantities: segment and joint angles in degrees, positions in centimetres."""

from __future__ import annotations

from dataclasses import replace

from swinglab.columns.definition import BAKER2001, GROOD1983, KIT, WU2002, WU2005, Column
from swinglab.conventions import EVENTS


def _posture(
    part: str, motion: str, unit: str, label: str, positive: str, meaning: str, source: str, low: float,
    high: float, *, events: tuple[str, ...] = EVENTS, group: str = "",
) -> Column:  # fmt: skip
    stem = f"{part}_{motion}"
    return Column(
        f"{stem}_{unit}", label, unit, meaning, "posture", stem, part, motion, positive, source, low, high,
        events=events, quantity=f"{stem}_{unit}", group=group or part,
    )  # fmt: skip


def _segment(part: str, source: str) -> list[Column]:
    word = part.capitalize()
    first = "turn-first order (intrinsic Y-X-Z), in the golfer's frame"
    isb = "ISB order (intrinsic Z-X-Y), in the golfer's frame, with this kit's signs"
    made = []
    for suffix, order, src in (("", first, f"{source}; {BAKER2001}"), ("_isb", isb, source)):
        tag = ", ISB order" if suffix else ""
        made += [
            _posture(part, f"axial_rotation{suffix}", "deg", f"{word} axial rotation{tag}",
                     "open to the target", f"Turn of the {part}; 0 = square to the target line; {order}", src,
                     -180, 200),
            _posture(part, f"lateral_flexion{suffix}", "deg", f"{word} lateral flexion{tag}",
                     "trail side lower", f"Side bend of the {part}; {order}", src, -70, 70),
            _posture(part, f"flexion{suffix}", "deg", f"{word} flexion{tag}", "bent forward",
                     f"Forward bend of the {part}; ISB's own sign is the opposite; {order}", src, -90, 90),
        ]  # fmt: skip
    lean = "third set of angles: lean direction, lean, spin about the long axis (cross-talk between them is small)"
    made += [
        _posture(part, "lean", "deg", f"{word} lean", "away from upright",
                 f"Angle of the {part}'s long axis from vertical; {lean}", KIT, 0, 120),
        _posture(part, "lean_direction", "deg", f"{word} lean direction", "toward the trail side",
                 f"Heading of the {part}'s lean: 0 = to the ball, 90 = to the trail side; {lean}", KIT, -180, 180),
        _posture(part, "spin", "deg", f"{word} spin", "open to the target",
                 f"Turn of the {part} about its own long axis after the lean is taken out; {lean}", KIT, -180, 200),
    ]  # fmt: skip
    return made


def _positions(part: str, words: str, source: str, *, farthest: float = 80.0) -> list[Column]:
    """Return the columns of a part's positions; `farthest` (cm) is the largest plausible shift from address."""
    relative = "relative to address; an error of the position at address is the same at all events"
    return [
        _posture(part, "toward_target", "cm", f"{words} shift toward the target", "toward the target",
                 f"Position of the {words.lower()} along the target line, {relative}", source,
                 -farthest, farthest),
        _posture(part, "up", "cm", f"{words} rise", "up", f"Height of the {words.lower()}, {relative}", source,
                 -farthest, farthest),
        _posture(part, "toward_ball", "cm", f"{words} shift toward the ball", "toward the ball",
                 f"Position of the {words.lower()} across the target line, {relative}", source,
                 -farthest, farthest),
        _posture(part, "ahead_of_ball", "cm", f"{words} ahead of the ball", "target side of the ball",
                 f"Position of the {words.lower()} along the target line, from the ball centre", source,
                 -farthest - 60, farthest + 60),
    ]  # fmt: skip


def _limbs() -> list[Column]:
    made = []
    for side in ("lead", "trail"):
        Side = side.capitalize()
        made += [
            _posture(f"{side}_elbow", "flexion", "deg", f"{Side} elbow flexion", "bent",
                     "Humerus to forearm, joint coordinate system Z-X-Y; 0 = straight", WU2005, -15, 160),
            _posture(f"{side}_knee", "flexion", "deg", f"{Side} knee flexion", "bent",
                     "Thigh to shank, joint coordinate system Z-X-Y; 0 = straight", GROOD1983, -20, 140),
            _posture(f"{side}_hip", "flexion", "deg", f"{Side} hip flexion", "thigh forward of the pelvis",
                     "Pelvis to femur, joint coordinate system Z-X-Y", WU2002, -40, 130),
            _posture(f"{side}_hip", "adduction", "deg", f"{Side} hip adduction", "thigh toward the mid-line",
                     "Pelvis to femur, joint coordinate system Z-X-Y", WU2002, -60, 60),
            _posture(f"{side}_hip", "internal_rotation", "deg", f"{Side} hip internal rotation",
                     "thigh turned inward", "Pelvis to femur, joint coordinate system Z-X-Y", WU2002, -80, 80),
            _posture(f"{side}_shoulder", "plane_of_elevation", "deg", f"{Side} shoulder plane of elevation",
                     "forward of the frontal plane", "Thorax to humerus, sequence Y-X-Y; undefined near 0 and "
                     "180 deg of elevation", WU2005, -180, 180),
            _posture(f"{side}_shoulder", "elevation", "deg", f"{Side} shoulder elevation", "arm raised",
                     "Thorax to humerus, sequence Y-X-Y (ISB's own sign is the opposite)", WU2005, 0, 180),
            _posture(f"{side}_shoulder", "internal_rotation", "deg", f"{Side} shoulder internal rotation",
                     "humerus turned inward", "Thorax to humerus, sequence Y-X-Y", WU2005, -180, 180),
        ]  # fmt: skip
    return made


def _other_posture() -> list[Column]:
    return [
        _posture("trunk", "flexion", "deg", "Trunk flexion", "bent forward",
                 "Thorax in pelvis, joint coordinate system Z-X-Y", WU2002, -70, 90),
        _posture("trunk", "lateral_flexion", "deg", "Trunk lateral flexion", "toward the trail side",
                 "Thorax in pelvis, joint coordinate system Z-X-Y", WU2002, -70, 70),
        _posture("trunk", "axial_rotation", "deg", "Trunk axial rotation", "thorax opened on the pelvis",
                 "Thorax in pelvis, joint coordinate system Z-X-Y", WU2002, -100, 100),
        _posture("pelvis_thorax", "separation", "deg", "Pelvis minus thorax turn",
                 "pelvis more open than thorax",
                 "Pelvis axial rotation minus thorax axial rotation, turn-first", "Brown et al. 2013", -100, 110,
                 group="trunk"),
        _posture("pelvis", "ahead_of_thorax", "cm", "Pelvis ahead of thorax", "pelvis nearer the target",
                 "Pelvis centre minus thorax centre along the target line", KIT, -60, 60),
        _posture("neck", "flexion", "deg", "Neck flexion", "head bent forward on the thorax",
                 "Head in thorax, joint coordinate system Z-X-Y; the head's frame has no published definition, so "
                 "that values from neutral compare better", WU2002, -100, 100),
        _posture("elbow", "spacing", "cm", "Elbow spacing", "further apart",
                 "Distance between the elbow centres", KIT, 0, 120, group="arms"),
        _posture("lead_wrist", "flexion", "deg", "Lead wrist flexion", "bowed (palm toward the forearm)",
                 "Forearm to hand, joint coordinate system Z-X-Y", WU2005, -90, 90),
        _posture("lead_wrist", "ulnar_deviation", "deg", "Lead wrist ulnar deviation",
                 "toward the little finger", "Forearm to hand, joint coordinate system Z-X-Y; the forearm's axis runs "
                 "to the ulnar styloid, so that a straight wrist reads about -7 deg: compare values from neutral",
                 WU2005, -60, 60),
        _posture("trail_heel", "ahead_of_toe", "cm", "Trail heel ahead of toe", "heel nearer the target",
                 "Trail heel minus trail toe along the target line", KIT, -40, 40, group="feet"),
        _posture("trail_heel", "height", "cm", "Trail heel height", "up", "Height of the trail heel, relative "
                 "to address", KIT, -5, 40, group="feet"),
        _posture("stance", "width", "cm", "Stance width", "wider",
                 "Distance between the heels along the target line at address", KIT, 0, 120,
                 events=("address",), group="feet"),
        _posture("ball", "ahead_of_lead_heel", "cm", "Ball ahead of the lead heel", "ball nearer the target",
                 "Ball centre minus lead heel along the target line at address", KIT, -80, 40,
                 events=("address",), group="feet"),
        _posture("ball", "distance", "cm", "Ball distance", "further from the feet",
                 "Ball centre from the line of the toes, across the target line at address", KIT, 0, 150,
                 events=("address",), group="feet"),
        _posture("shaft", "forward_lean", "deg", "Shaft forward lean", "hands nearer the target",
                 "Angle of the shaft from vertical, in the vertical plane through the target line", KIT, -60, 60,
                 events=("address", "impact"), group="club"),
    ]  # fmt: skip


#: Angles that are also given relative to their mean in the golfer's neutral capture, if the study has such a capture.
_FROM_NEUTRAL = tuple(
    f"{joint}_{motion}_deg"
    for joint, motions in {
        **dict.fromkeys(("pelvis", "thorax"), ("lateral_flexion", "flexion")),
        "trunk": ("flexion", "lateral_flexion", "axial_rotation"),
        **dict.fromkeys(("neck", "lead_elbow", "trail_elbow", "lead_knee", "trail_knee"), ("flexion",)),
        **dict.fromkeys(("lead_hip", "trail_hip"), ("flexion", "adduction", "internal_rotation")),
        "lead_wrist": ("flexion", "ulnar_deviation"),
    }.items()
    for motion in motions
)


def _from_neutral(c: Column) -> Column:
    stem = f"{c.stem}_from_neutral"
    return replace(
        c, name=f"{stem}_{c.unit}", stem=stem, motion=f"{c.motion}_from_neutral", quantity=f"{stem}_{c.unit}",
        label=f"{c.label} from neutral", meaning=f"{c.meaning}; minus its mean in the golfer's neutral capture",
        source=f"{c.source}; {KIT}",
    )  # fmt: skip


QUANTITIES: dict[str, Column] = {
    c.name: c
    for c in (
        *_segment("pelvis", WU2002),
        *_segment("thorax", WU2005),
        *_other_posture(),
        *_limbs(),
        *_positions("pelvis_centre", "Pelvis centre", WU2002),
        *_positions("thorax_centre", "Thorax centre", WU2005),
        *_positions("head_centre", "Head centre", KIT),
        *_positions("hands", "Hands", KIT, farthest=170.0),
        *_positions("body_centre_of_mass", "Body centre of mass", "de Leva 1996"),
    )
}
QUANTITIES |= {made.name: made for made in map(_from_neutral, (QUANTITIES[name] for name in _FROM_NEUTRAL))}
