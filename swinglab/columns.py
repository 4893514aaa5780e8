"""Every column of every table: name, label, unit, meaning, positive direction, source, plausible range.

Table checks, axis labels, choosers, the report and the code book come from here. The parts of a name are
looked up in this registry, never split out of it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache

from swinglab.conventions import EVENT_LABELS, EVENTS
from swinglab.errors import BadRequest, near_names


@dataclass(frozen=True, slots=True)
class Column:
    """One column. `stem` is the name without its unit; low and high bound the plausible, in `unit`."""

    name: str
    label: str
    unit: str
    meaning: str
    kind: str  # posture | swing | strike | measured | design
    stem: str
    part: str = ""
    motion: str = ""
    positive: str = ""
    source: str = ""
    low: float = float("-inf")
    high: float = float("inf")
    events: tuple[str, ...] = ()
    event: str = ""
    quantity: str = ""
    group: str = ""
    error_of: str = ""  # of a standard-error column: the column whose error it is

    @property
    def axis_label(self) -> str:
        """Label with unit and positive direction, for an axis."""
        unit = f" ({UNIT_WORDS.get(self.unit, self.unit)})" if self.unit else ""
        return f"{self.label}{unit}" + (f"\n+ {self.positive}" if self.positive else "")


#: Units that are printed otherwise than they stand in names.
UNIT_WORDS = {"mps": "m/s", "dps": "deg/s"}

WU2002, WU2005, KIT = "Wu et al. 2002", "Wu et al. 2005", "this kit"
GROOD1983, BAKER2001 = "Grood & Suntay 1983", "Baker 2001"


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
    lean = "lean direction, lean, spin about the long axis (a third view; cross-talk between angles is small)"
    made += [
        _posture(part, "lean", "deg", f"{word} lean", "away from upright",
                 f"Angle of the {part}'s long axis from vertical; {lean}", KIT, 0, 120),
        _posture(part, "lean_direction", "deg", f"{word} lean direction", "toward the trail side",
                 f"Heading of the {part}'s lean: 0 = to the ball, 90 = to the trail side; {lean}", KIT, -180, 180),
        _posture(part, "spin", "deg", f"{word} spin", "open to the target",
                 f"Turn of the {part} about its own long axis after the lean is taken out; {lean}", KIT, -180, 200),
    ]  # fmt: skip
    return made


def _positions(part: str, words: str, source: str) -> list[Column]:
    relative = "relative to address, whose error it shares across events"
    return [
        _posture(part, "toward_target", "cm", f"{words} shift toward the target", "toward the target",
                 f"Position of the {words.lower()} along the target line, {relative}", source, -60, 80),
        _posture(part, "up", "cm", f"{words} rise", "up", f"Height of the {words.lower()}, {relative}", source,
                 -60, 80),
        _posture(part, "toward_ball", "cm", f"{words} shift toward the ball", "toward the ball",
                 f"Position of the {words.lower()} across the target line, {relative}", source, -80, 80),
        _posture(part, "ahead_of_ball", "cm", f"{words} ahead of the ball", "target side of the ball",
                 f"Position of the {words.lower()} along the target line, from the ball centre", source, -120, 120),
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
        _posture("pelvis_thorax", "separation", "deg", "Pelvis less thorax turn",
                 "pelvis more open than thorax",
                 "Pelvis axial rotation less thorax axial rotation, turn-first", "Brown et al. 2013", -100, 110,
                 group="trunk"),
        _posture("pelvis", "ahead_of_thorax", "cm", "Pelvis ahead of thorax", "pelvis nearer the target",
                 "Pelvis centre less thorax centre along the target line", KIT, -60, 60),
        _posture("neck", "flexion", "deg", "Neck flexion", "head bent forward on the thorax",
                 "Head in thorax, joint coordinate system Z-X-Y; the head's frame has no published definition, so "
                 "that values from neutral compare better", WU2002, -100, 100),
        _posture("elbow", "spacing", "cm", "Elbow spacing", "further apart",
                 "Distance between the elbow centres", KIT, 0, 120, group="arms"),
        _posture("lead_wrist", "flexion", "deg", "Lead wrist flexion", "bowed (palm toward the forearm)",
                 "Forearm to hand, joint coordinate system Z-X-Y", WU2005, -90, 90),
        _posture("lead_wrist", "ulnar_deviation", "deg", "Lead wrist ulnar deviation",
                 "toward the little finger", "Forearm to hand, joint coordinate system Z-X-Y", WU2005, -60, 60),
        _posture("trail_heel", "ahead_of_toe", "cm", "Trail heel ahead of toe", "heel nearer the target",
                 "Trail heel less trail toe along the target line", KIT, -40, 40, group="feet"),
        _posture("trail_heel", "height", "cm", "Trail heel height", "up", "Height of the trail heel, relative "
                 "to address", KIT, -5, 40, group="feet"),
        _posture("stance", "width", "cm", "Stance width", "wider",
                 "Distance between the heels along the target line at address", KIT, 0, 120,
                 events=("address",), group="feet"),
        _posture("ball", "ahead_of_lead_heel", "cm", "Ball ahead of the lead heel", "ball nearer the target",
                 "Ball centre less lead heel along the target line at address", KIT, -80, 40,
                 events=("address",), group="feet"),
        _posture("ball", "distance", "cm", "Ball distance", "further from the feet",
                 "Ball centre from the line of the toes, across the target line at address", KIT, 0, 150,
                 events=("address",), group="feet"),
        _posture("shaft", "forward_lean", "deg", "Shaft forward lean", "hands nearer the target",
                 "Shaft from vertical in the plane of target line and vertical", KIT, -60, 60,
                 events=("address", "impact"), group="club"),
    ]  # fmt: skip


def _swing(stem: str, unit: str, label: str, meaning: str, low: float, high: float) -> Column:
    return Column(
        f"{stem}_{unit}", label, unit, meaning, "swing", stem, source=KIT, low=low, high=high, group="timing"
    )


def _swings() -> list[Column]:
    made = [
        _swing("backswing_time", "s", "Backswing time", "Takeaway to top", 0.3, 3.0),
        _swing("downswing_time", "s", "Downswing time", "Top to impact", 0.1, 0.8),
        _swing("pelvis_thorax_peak_separation", "deg", "Peak pelvis-thorax separation",
               "Largest pelvis less thorax turn between takeaway and impact", -20, 110),
        _swing("pelvis_thorax_peak_separation_time", "s", "Time of peak separation", "From impact", -2, 0.5),
    ]  # fmt: skip
    for part, words in (
        ("pelvis", "Pelvis"),
        ("thorax", "Thorax"),
        ("lead_arm", "Lead arm"),
        ("club", "Club"),
    ):
        made += [
            _swing(f"{part}_peak_axial_speed", "dps", f"{words} peak axial speed",
                   "Largest speed of turning toward the target between top and finish; pelvis and thorax about "
                   "their own long axes, arm and club about the normal of the swing plane", 50, 4000),
            _swing(f"{part}_peak_axial_speed_time", "s", f"{words} time of peak axial speed", "From impact",
                   -0.6, 0.6),
        ]  # fmt: skip
    return made


def _strike(stem: str, unit: str, label: str, positive: str, meaning: str, low: float, high: float) -> Column:
    return Column(
        f"{stem}_{unit}", label, unit, meaning, "strike", stem, "club", stem, positive, KIT, low, high,
        group="strike",
    )  # fmt: skip


def _strikes() -> list[Column]:
    arc = "of the undisturbed arc (the path before impact, continued)"
    return [
        _strike("clubhead_speed", "mps", "Clubhead speed", "faster", "Speed of the clubhead at impact", 2, 70),
        _strike("attack_angle", "deg", "Attack angle", "up, - down",
                "Angle of the clubhead's path to horizontal at impact", -20, 20),
        _strike("club_path_in_to_out", "deg", "Club path", "in-to-out",
                "Heading of the clubhead's path from the target line at impact", -30, 30),
        _strike("low_point_ahead", "cm", "Low point ahead of the ball", "target side of the ball centre",
                f"Low point {arc}, along the target line from the ball centre", -60, 80),
        _strike("low_point_ahead_of_lead_heel", "cm", "Low point ahead of the lead heel",
                "target side of the lead heel", f"Low point {arc}, along the target line from the lead heel", -90, 60),
        _strike("low_point_height", "cm", "Low point height", "above the turf",
                f"Height of the sole above the turf at the low point {arc}", -10, 30),
        _strike("turf_entry_ahead", "cm", "Turf entry ahead of the ball", "target side of the ball centre",
                "Where the sole first meets the turf, along the target line from the ball centre; missing if never",
                -60, 60),
        _strike("arc_plane_inclination", "deg", "Arc plane inclination", "steeper",
                "Plane of the clubhead from delivery to impact, from horizontal", 20, 90),
        _strike("arc_plane_direction_in_to_out", "deg", "Arc plane direction", "in-to-out",
                "Heading of that plane's horizontal line from the target line", -45, 45),
        _strike("arc_radius", "m", "Arc radius", "flatter curve",
                "Radius of curvature of the clubhead's path at the low point", 0.5, 4),
    ]  # fmt: skip


def _deliveries() -> list[Column]:
    told = {
        "face_loft": ("Face loft", "lofted", "Elevation of the face's normal at impact"),
        "face_angle_in_to_out": ("Face angle", "in-to-out", "Heading of the face's normal at impact"),
        "face_to_path_in_to_out": ("Face to path", "in-to-out of the path", "Face angle less club path"),
        "spin_loft": ("Spin loft", "larger", "Angle between the face's normal and the path; geometry alone"),
        "spin_axis_tilt": ("Spin axis tilt", "away from the golfer", "Tilt of path x normal; geometry alone"),
    }
    return [_strike(stem, "deg", *words, -90, 90) for stem, words in told.items()]


def _probabilities() -> list[Column]:
    told = "Probability that the contact was {}, from the error of the arc and the sole"
    return [
        Column(f"contact_{word}_probability", f"Probability of {word} contact", "probability", told.format(word),
               "strike", f"contact_{word}_probability", source=KIT, low=0, high=1, group="contact")
        for word in ("fat", "clean", "thin")
    ]  # fmt: skip


def _design(name: str, label: str, meaning: str) -> Column:
    return Column(name, label, "", meaning, "design", name, group="design")


DESIGN = (
    _design("swing", "Swing", "Name of the swing, one row each"),
    _design("golfer", "Golfer", "Code of the golfer, never a name"),
    _design("hand", "Hand", "right or left"),
    _design("group", "Group", "Group of the golfer"),
    _design("capture", "Capture", "File of the capture, in captures/"),
    _design("session", "Session", "Markers stay on within a session"),
    _design("phase", "Phase", "Before, after or a later look of a lesson"),
    _design("order", "Order", "Place of the swing in its session"),
    _design("club", "Club", "Club swung"),
    _design("contact", "Contact", "fat, clean, thin or uncertain, from the arc and the sole"),
    _design("measured_contact", "Measured contact", "fat, clean or thin, seen or by another device"),
    _design("capture_kind", "Kind of capture", "markers or joint_centres"),
    _design("pelvis_frame_method", "Pelvis frame", "How the pelvis frame was made"),
    _design("thorax_frame_method", "Thorax frame", "How the thorax frame was made"),
    _design("arm_method", "Arm points", "Points that make the arm in the arm events"),
    _design("impact_method", "Impact method", "How impact was found"),
    _design("ball_method", "Ball method", "Where the ball's place comes from"),
)

#: Angles that are also given less their mean in the golfer's neutral capture, where a study names one.
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
        label=f"{c.label} from neutral", meaning=f"{c.meaning}; less its mean in the golfer's neutral capture",
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
        *_positions("hands", "Hands", KIT),
        *_positions("body_centre_of_mass", "Body centre of mass", "de Leva 1996"),
    )
}
QUANTITIES |= {made.name: made for made in map(_from_neutral, (QUANTITIES[name] for name in _FROM_NEUTRAL))}
SWINGS: dict[str, Column] = {c.name: c for c in _swings()}
STRIKES: dict[str, Column] = {c.name: c for c in _strikes()}
#: Measured only where a study names three landmarks of the face.
DELIVERIES: dict[str, Column] = {c.name: c for c in _deliveries()}
PROBABILITIES: dict[str, Column] = {c.name: c for c in _probabilities()}
MEASURED: dict[str, Column] = {
    f"measured_{c.name}": replace(
        c, name=f"measured_{c.name}", stem=f"measured_{c.stem}", kind="measured", label=f"{c.label} (measured)",
        meaning=f"{c.meaning}; by another device", source="other device",
    )
    for c in (*_strikes(), *_deliveries())
}  # fmt: skip


def event_column_name(quantity: str, event: str) -> str:
    """Name of a posture quantity at an event in the swing table.

    Examples
    --------
    >>> event_column_name("thorax_flexion_deg", "impact")
    'thorax_flexion_at_impact_deg'
    """
    c = quantity_column(quantity)
    return f"{c.stem}_at_{event}_{c.unit}"


@cache
def _registry() -> dict[str, Column]:
    known = {c.name: c for c in DESIGN}
    known |= QUANTITIES | SWINGS | STRIKES | DELIVERIES | PROBABILITIES | MEASURED
    for c in QUANTITIES.values():
        for event in c.events:
            at = replace(
                c, name=f"{c.stem}_at_{event}_{c.unit}", stem=f"{c.stem}_at_{event}", event=event,
                label=f"{c.label} at {EVENT_LABELS[event]}",
            )  # fmt: skip
            known[at.name] = at
    for c in [c for c in known.values() if c.kind in ("posture", "swing", "strike", "measured")]:
        if c.unit != "probability" and not (c.kind == "posture" and not c.event):
            known[f"{c.stem}_se_{c.unit}"] = replace(
                c, name=f"{c.stem}_se_{c.unit}", label=f"{c.label}: standard error", positive="",
                meaning=f"Standard error of {c.name}, from noise and timing only", low=0, high=float("inf"),
                error_of=c.name,
            )  # fmt: skip
    return known


def column(name: str) -> Column:
    """The declared column of this name; BadRequest with near names for an unknown one."""
    known = _registry()
    if name not in known:
        raise BadRequest(f"there is no column {name}", do=near_names(name, known) or None)
    return known[name]


def is_column(name: str) -> bool:
    """Whether a column of this name is declared."""
    return name in _registry()


def quantity_column(name: str) -> Column:
    """The posture quantity of this name; BadRequest with near names for an unknown one."""
    if name not in QUANTITIES:
        raise BadRequest(f"there is no posture quantity {name}", do=near_names(name, QUANTITIES) or None)
    return QUANTITIES[name]


def error_column_name(name: str) -> str:
    """Name of the standard-error column that goes with a column.

    Examples
    --------
    >>> error_column_name("attack_angle_deg"), error_column_name("thorax_flexion_at_impact_deg")
    ('attack_angle_se_deg', 'thorax_flexion_at_impact_se_deg')
    """
    c = column(name)
    return f"{c.stem}_se_{c.unit}"


def outcomes() -> dict[str, Column]:
    """Columns a hunch can name as its outcome: strike, measured strike and contact."""
    contacts = {c.name: c for c in DESIGN if c.name in ("contact", "measured_contact")}
    return {**STRIKES, **DELIVERIES, **MEASURED, **SWINGS, **contacts}
