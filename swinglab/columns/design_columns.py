"""Columns that describe each swing (golfer, session, club) and the methods by which it was measured."""

from __future__ import annotations

from swinglab.columns.definition import Column


def _design(name: str, label: str, meaning: str, unit: str = "") -> Column:
    return Column(name, label, unit, meaning, "design", name, group="design")


DESIGN = (
    _design("swing", "Swing", "Name of the swing, one row for each swing"),
    _design("golfer", "Golfer", "Code of the golfer, never a name"),
    _design("hand", "Hand", "right or left"),
    _design("group", "Group", "Group of the golfer"),
    _design("capture", "Capture", "File of the capture, in captures/"),
    _design("session", "Session", "Code of the recording session; markers stay on within a session"),
    _design("examiner", "Examiner", "Code of the person who put the markers on, never a name"),
    _design("phase", "Phase", "Phase of a lesson, such as before, after or a later occasion"),
    _design("order", "Order", "Position of the swing in its session, in order of play"),
    _design(
        "from_s", "From", "Where the swing begins in its capture, seconds from the file's first frame", "s"
    ),
    _design("to_s", "To", "Where the swing ends in its capture, seconds from the file's first frame", "s"),
    _design("club", "Club", "Club swung"),
    _design("shot", "Shot", "Kind of shot, such as full, chip or putt"),
    _design("surface", "Surface", "What the ball lay on: turf, mat, sand or tee"),
    _design("lie", "Lie", "level, uphill, downhill, ball above feet or ball below feet"),
    _design("soled", "Soled", "yes where the sole rested on the ground at address"),
    _design(
        "contact",
        "Contact",
        "fat, clean, thin or uncertain, from the clubhead's arc and the height of its sole",
    ),
    _design(
        "measured_contact",
        "Measured contact",
        "fat, clean or thin, as seen by a person or measured by another device",
    ),
    _design("capture_kind", "Kind of capture", "markers or joint_centres"),
    _design("pelvis_frame_method", "Pelvis frame", "Method by which the pelvis frame was computed"),
    _design("thorax_frame_method", "Thorax frame", "Method by which the thorax frame was computed"),
    _design(
        "arm_method",
        "Arm points",
        "Points that define the line of the arm, for the events at which an arm is horizontal",
    ),
    _design("impact_method", "Impact method", "Method by which the time of impact was found"),
    _design(
        "ball_method",
        "Ball method",
        "Source of the ball's position: a marker, the settings of the study, or the clubhead at address",
    ),
)
