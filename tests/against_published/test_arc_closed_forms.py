"""The whole line of the strike against closed forms of an inclined circular arc, and the geometry of the face.

Every row is built from p = low + R sin(th) e_h + R (1 - cos th) e_s as frames of a capture, measured by
`measure_strike`, and compared with the closed form's number.
"""

from __future__ import annotations

import numpy as np
import pytest
from published import cases
from strike.arcs import ellipse, make_arc, make_trial

from swinglab.strike import measure_strike
from swinglab.strike.dplane import spin_axis_tilt_deg, spin_loft_deg, start_direction_deg


def _ids(found: list[dict]) -> list[str]:
    return [case["name"] for case in found]


def _measured(given: dict, attack: float) -> tuple[dict, np.ndarray, np.ndarray]:
    shape = ellipse(given["radius_m"], given["radius_m"])
    arc = make_arc(
        shape, inclination=given["inclination_deg"], direction=given["direction_deg"], attack=attack
    )
    strike = measure_strike(*make_trial(arc, 240.0))
    return strike.values, strike.arc["contact_m"], strike.arc["low_point_m"]


@pytest.mark.parametrize("case", cases("arc.toml"), ids=_ids(cases("arc.toml")))
def test_the_closed_form_of_a_circular_arc_is_measured(case: dict) -> None:
    """Truth: published (a closed form; source and flag in arc.toml)."""
    given, expected, tolerance = case["given"], case["expected"], case["tolerance"]
    values, contact, low = _measured(given, given["attack_deg"])
    psi = np.radians(given["direction_deg"])
    measured = {
        "low_point_mm": 1000 * (low - contact) @ [np.cos(psi), 0.0, np.sin(psi)],
        "along_target_mm": 1000 * (low - contact)[0],
        "depth_mm": 1000 * (contact - low)[1],
        "path_deg": values["club_path_in_to_out_deg"],
    }
    if "mm_per_deg" in expected:
        later = [_measured(given, given["attack_deg"] + step)[1:] for step in (-0.5, 0.5)]
        measured["mm_per_deg"] = 1000 * ((later[0][1] - later[0][0]) - (later[1][1] - later[1][0]))[0]
    for name, number in expected.items():
        assert measured[name] == pytest.approx(number, abs=tolerance[name] + 0.002), name
    assert values["attack_angle_deg"] == pytest.approx(given["attack_deg"], abs=0.002)
    assert values["arc_radius_m"] == pytest.approx(given["radius_m"], abs=0.002)
    assert values["arc_plane_inclination_deg"] == pytest.approx(given["inclination_deg"], abs=0.002)
    assert values["arc_plane_direction_in_to_out_deg"] == pytest.approx(given["direction_deg"], abs=0.002)


@pytest.mark.parametrize("case", cases("dplane.toml"), ids=_ids(cases("dplane.toml")))
def test_spin_loft_and_tilt_follow_from_path_and_face(case: dict) -> None:
    """Truth: published (geometry; source and flag in dplane.toml)."""
    given = case["given"]
    angles = (given["attack_deg"], given["path_deg"], given["loft_deg"], given["face_deg"])
    measured = {"spin_loft_deg": spin_loft_deg(*angles), "tilt_deg": spin_axis_tilt_deg(*angles)}
    for name, number in case["expected"].items():
        assert measured[name] == pytest.approx(number, abs=case["tolerance"][name]), name
    # The short form tilt ~ atan(sin(face - path) / tan(spin loft)) is within 4 % in these rows.
    short = np.degrees(
        np.arctan(
            np.sin(np.radians(given["face_deg"] - given["path_deg"]))
            / np.tan(np.radians(measured["spin_loft_deg"]))
        )
    )
    assert measured["tilt_deg"] == pytest.approx(short, rel=0.04, abs=1e-9)


def test_the_ball_starts_between_path_and_face() -> None:
    """Truth: published (Wood et al. 2018, Proceedings 2(6):249: 61 to 83 % toward the face; seen)."""
    assert start_direction_deg(-4.0, 3.0, 22.0, 0.0, toward_face=0.0) == pytest.approx((-4.0, 3.0))
    assert start_direction_deg(-4.0, 3.0, 22.0, 0.0, toward_face=1.0) == pytest.approx((22.0, 0.0))
    up, out = start_direction_deg(-4.0, 3.0, 22.0, 0.0, toward_face=0.75)
    assert 0.0 < out < 1.5 and 14.0 < up < 17.0
