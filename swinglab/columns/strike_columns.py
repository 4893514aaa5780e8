"""Columns with one number for each swing: timing, strike, face delivery, contact, and values from another device."""

from __future__ import annotations

from dataclasses import replace

from swinglab.columns.definition import KIT, Column


def _swing(stem: str, unit: str, label: str, meaning: str, low: float, high: float) -> Column:
    return Column(
        f"{stem}_{unit}", label, unit, meaning, "swing", stem, source=KIT, low=low, high=high, group="timing"
    )


def _swings() -> list[Column]:
    made = [
        _swing("backswing_time", "s", "Backswing time", "Takeaway to top", 0.3, 3.0),
        _swing("downswing_time", "s", "Downswing time", "Top to impact", 0.1, 0.8),
        _swing("pelvis_thorax_peak_separation", "deg", "Peak pelvis-thorax separation",
               "Largest pelvis minus thorax turn between takeaway and impact", -20, 110),
        _swing("pelvis_thorax_peak_separation_time", "s", "Time of peak separation",
               "Time from impact; negative before impact", -2, 0.5),
        _swing("pelvis_thorax_stretch", "deg", "Pelvis-thorax stretch",
               "Peak separation minus the separation at the top: how much the separation grows after the top", 0, 50),
    ]  # fmt: skip
    for part, words in (
        ("pelvis", "Pelvis"),
        ("thorax", "Thorax"),
        ("lead_arm", "Lead arm"),
        ("club", "Club"),
    ):
        made += [
            _swing(f"{part}_peak_axial_speed", "dps", f"{words} peak axial speed",
                   "Largest speed of turning toward the target between top and impact; pelvis and thorax about "
                   "their own long axes, arm and club about the normal of the swing plane", 1, 4000),
            _swing(f"{part}_peak_axial_speed_time", "s", f"{words} time of peak axial speed",
                   "Time from impact; negative before impact", -0.6, 0.6),
        ]  # fmt: skip
    made.append(
        Column("peak_order_probability", "Peaks in the order pelvis, thorax, lead arm, club", "probability",
               "Probability that the peak axial speeds come in this order, given the errors of their times", "swing",
               "peak_order_probability", source=KIT, low=0, high=1, group="timing")
    )  # fmt: skip
    return made


def _strike(stem: str, unit: str, label: str, positive: str, meaning: str, low: float, high: float) -> Column:
    return Column(
        f"{stem}_{unit}", label, unit, meaning, "strike", stem, "club", stem, positive, KIT, low, high,
        group="strike",
    )  # fmt: skip


def _strikes() -> list[Column]:
    arc = "of the undisturbed arc (the path before impact, continued)"
    return [
        _strike("clubhead_speed", "mps", "Clubhead speed", "faster", "Speed of the clubhead at impact", 0.3, 70),
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
                "Angle from horizontal of the plane fitted to the clubhead's path from delivery to impact", 20, 90),
        _strike("arc_plane_direction_in_to_out", "deg", "Arc plane direction", "in-to-out",
                "Heading, from the target line, of the horizontal line in the plane of the clubhead's path", -45, 45),
        _strike("arc_radius", "m", "Arc radius", "flatter curve",
                "Radius of curvature of the clubhead's path at the low point", 0.5, 4),
    ]  # fmt: skip


def _deliveries() -> list[Column]:
    described = {
        "face_loft": ("Face loft", "lofted", "Elevation of the face's normal at impact"),
        "face_angle_in_to_out": ("Face angle", "in-to-out", "Heading of the face's normal at impact"),
        "face_to_path_in_to_out": ("Face to path", "in-to-out of the path", "Face angle minus club path"),
        "spin_loft": ("Spin loft", "larger", "Angle between the face's normal and the path; geometry alone"),
        "spin_axis_tilt": (
            "Spin axis tilt",
            "away from the golfer",
            "Tilt from horizontal of the normal of the plane of path and face normal; geometry alone",
        ),
    }
    return [_strike(stem, "deg", *words, -90, 90) for stem, words in described.items()]


def _probabilities() -> list[Column]:
    meaning = "Probability that the contact was {}, given the errors of the arc and of the height of the sole"
    return [
        Column(f"contact_{word}_probability", f"Probability of {word} contact", "probability", meaning.format(word),
               "strike", f"contact_{word}_probability", source=KIT, low=0, high=1, group="contact")
        for word in ("fat", "clean", "thin")
    ]  # fmt: skip


def _flights() -> list[Column]:
    """Return columns that only another device can measure: flight of the ball, and its point of impact on the face."""
    return [
        _strike("ball_speed", "mps", "Ball speed", "faster", "Speed of the ball after impact", 1, 100),
        _strike("launch_angle", "deg", "Launch angle", "up", "Elevation of the ball's path after impact", -10, 70),
        _strike("launch_direction_in_to_out", "deg", "Launch direction", "in-to-out",
                "Heading of the ball's path after impact from the target line", -45, 45),
        _strike("spin_rate", "rpm", "Spin rate", "faster", "Rate of turning of the ball after impact", 0, 15000),
        _strike("carry", "m", "Carry", "farther", "Distance from the ball to where it first meets the ground", 0, 350),
        _strike("side_in_to_out", "m", "Side", "away from the golfer",
                "Where the ball ends, across the target line", -150, 150),
        _strike("impact_toward_toe", "mm", "Impact toward the toe", "toe",
                "Where the ball met the face, along the face from its centre", -60, 60),
        _strike("impact_up_face", "mm", "Impact up the face", "up",
                "Where the ball met the face, up the face from its centre", -50, 50),
    ]  # fmt: skip


SWINGS: dict[str, Column] = {c.name: c for c in _swings()}
STRIKES: dict[str, Column] = {c.name: c for c in _strikes()}
#: Columns of the face at impact; measured only if a study names three landmarks of the face.
DELIVERIES: dict[str, Column] = {c.name: c for c in _deliveries()}
PROBABILITIES: dict[str, Column] = {c.name: c for c in _probabilities()}
MEASURED: dict[str, Column] = {
    f"measured_{c.name}": replace(
        c, name=f"measured_{c.name}", stem=f"measured_{c.stem}", kind="measured", label=f"{c.label} (measured)",
        meaning=f"{c.meaning}; by another device", source="other device",
    )
    for c in (*_strikes(), *_deliveries(), *_flights())
}  # fmt: skip
