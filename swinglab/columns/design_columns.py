"""Columns of a study's design and of the methods used; text and numbers without a unit."""

from __future__ import annotations

from swinglab.columns.definition import Column


def _design(name: str, label: str, meaning: str, unit: str = "") -> Column:
    return Column(name, label, unit, meaning, "design", name, group="design")


DESIGN = (
    _design("swing", "Swing", "Name of the swing, one row each"),
    _design("golfer", "Golfer", "Code of the golfer, never a name"),
    _design("hand", "Hand", "right or left"),
    _design("group", "Group", "Group of the golfer"),
    _design("capture", "Capture", "File of the capture, in captures/"),
    _design("session", "Session", "Markers stay on within a session"),
    _design("examiner", "Examiner", "Code of the person who put the markers on, never a name"),
    _design("phase", "Phase", "Before, after or a later look of a lesson"),
    _design("order", "Order", "Place of the swing in its session"),
    _design(
        "from_s", "From", "Where the swing begins in its capture, seconds from the file's first frame", "s"
    ),
    _design("to_s", "To", "Where the swing ends in its capture, seconds from the file's first frame", "s"),
    _design("club", "Club", "Club swung"),
    _design("shot", "Shot", "Kind of shot, such as full, chip or putt"),
    _design("surface", "Surface", "What the ball lay on: turf, mat, sand or tee"),
    _design("lie", "Lie", "level, uphill, downhill, ball above feet or ball below feet"),
    _design("soled", "Soled", "yes where the sole rested on the ground at address"),
    _design("contact", "Contact", "fat, clean, thin or uncertain, from the arc and the sole"),
    _design("measured_contact", "Measured contact", "fat, clean or thin, seen or by another device"),
    _design("capture_kind", "Kind of capture", "markers or joint_centres"),
    _design("pelvis_frame_method", "Pelvis frame", "How the pelvis frame was made"),
    _design("thorax_frame_method", "Thorax frame", "How the thorax frame was made"),
    _design("arm_method", "Arm points", "Points that make the arm in the arm events"),
    _design("impact_method", "Impact method", "How impact was found"),
    _design("ball_method", "Ball method", "Where the ball's place comes from"),
)
