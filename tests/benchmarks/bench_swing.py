"""How long one swing takes, from its file to its rows, beside what a student would write in an afternoon.

    OPENBLAS_NUM_THREADS=1 python tests/benchmarks/bench_swing.py [swings] [profile]

"plain" reads the file (ezc3d), turns the axes, filters every marker at 12 Hz, measures the turn-first and ISB angles of
pelvis and thorax, of the trunk and both elbows in every frame, finds nine events, reads the angles there, and fits the
club's path for speed, attack angle, path and low point: no standard error, residual analysis, check or stand-in.
"kit" is `measure_job`: all quantities with standard errors, and every check. CPU time of one process, medians over
swings of the demo, the two in turn in one run. With `profile` the stages of the kit are listed too.
"""

from __future__ import annotations

import cProfile
import pstats
import statistics
import sys
import time
from collections.abc import Callable
from pathlib import Path

import ezc3d
import numpy as np
from scipy.interpolate import CubicSpline
from scipy.signal import butter, filtfilt
from scipy.spatial.transform import Rotation

from swinglab import open_study, shipped_folder
from swinglab.study.swing import job_for, measure_job

STAGES = (
    "read_capture", "load_trial", "check_trial", "measure_posture", "find_events", "measure_at", "measure_swing",
    "measure_strike", "check_ranges", "hash_inputs",
)  # fmt: skip


def main(swings: int, profile: bool) -> None:
    """Print medians, their ratio and swings a second."""
    study = open_study(shipped_folder("data_demo"))
    names = [
        name for name in study.swings["swing"] if study.captures.get(name, Path()).suffix == ".c3d"
        and study.setup_for_swing(name).hand == "right" and not name.startswith("G03")
    ]  # fmt: skip
    jobs = [job_for(study, name) for name in names[:: max(1, len(names) // swings)][:swings]]
    ways: dict[str, Callable] = {"plain": lambda job: plain(job.path), "kit": measure_job}
    taken: dict[str, list[float]] = {name: [] for name in ways}
    for first in (True, False):
        for job in jobs[:3] if first else jobs:
            for name, run in ways.items():
                begin = time.process_time()
                run(job)
                if not first:
                    taken[name].append(time.process_time() - begin)
    for name, times in taken.items():
        middle = statistics.median(times)
        print(f"{name:6} {1e3 * middle:7.1f} ms a swing, {1 / middle:5.1f} swings a second and core")
    print(f"ratio  {statistics.median(taken['kit']) / statistics.median(taken['plain']):7.2f}")
    if profile:
        stages(jobs)


def stages(jobs: list) -> None:
    """Print each stage's share of the kit's time."""
    profiler = cProfile.Profile()
    profiler.enable()
    for job in jobs:
        measure_job(job)
    profiler.disable()
    found = pstats.Stats(profiler).stats  # type: ignore[attr-defined]
    whole = next(row[3] for (_, _, name), row in found.items() if name == "measure_job")
    for stage in STAGES:
        seconds = sum(row[3] for (_, _, name), row in found.items() if name == stage)
        print(f"{stage:16} {100 * seconds / whole:5.1f} %")


def plain(path: Path) -> dict[str, float]:
    """A swing of the demo's right-handers as a student would measure it."""
    file = ezc3d.c3d(str(path))
    labels = file["parameters"]["POINT"]["LABELS"]["value"]
    rate = float(file["parameters"]["POINT"]["RATE"]["value"][0])
    lab = file["data"]["points"][:3].transpose(2, 1, 0) / 1000
    points = dict(zip(labels, (lab[..., [1, 2, 0]] * [-1.0, 1.0, -1.0]).transpose(1, 0, 2), strict=True))
    b, a = butter(2, 12 / 0.802 / (rate / 2))
    for name, xyz in points.items():
        if not name.startswith(("club", "ball")):
            gap = ~np.isfinite(xyz[:, 0])
            if gap.any():
                frames = np.arange(len(xyz))
                xyz[gap] = CubicSpline(frames[~gap], xyz[~gap])(frames[gap])
            points[name] = filtfilt(b, a, xyz, axis=0)
    angles = body_angles(points)
    time_s = np.arange(len(lab)) / rate
    at = events(points, time_s)
    rows = {
        f"{name} at {event}": float(np.interp(t, time_s, curve))
        for name, curve in angles.items()
        for event, t in at.items()
    }
    return rows | strike(points, time_s, at)


def unit(vectors: np.ndarray) -> np.ndarray:
    return vectors / np.linalg.norm(vectors, axis=-1, keepdims=True)


def body_angles(p: dict[str, np.ndarray]) -> dict[str, np.ndarray]:
    """Degrees in every frame."""
    to_golfer = np.array([[0.0, 0.0, 1.0], [0.0, 1.0, 0.0], [-1.0, 0.0, 0.0]])
    z = unit(p["asis_right"] - p["asis_left"])
    forward = (p["asis_right"] + p["asis_left"]) / 2 - (p["psis_right"] + p["psis_left"]) / 2
    y = unit(np.cross(z, forward))
    pelvis = np.stack([np.cross(y, z), y, z], axis=-1)
    up = (p["jugular_notch"] + p["c7"]) / 2 - (p["xiphoid"] + p["t8"]) / 2
    y = unit(up)
    z = unit(np.cross(p["jugular_notch"] - p["c7"], y))
    thorax = np.stack([np.cross(y, z), y, z], axis=-1)
    found = {}
    for part, frames in (("pelvis", pelvis), ("thorax", thorax)):
        for order in ("YXZ", "ZXY"):
            turned = Rotation.from_matrix(to_golfer @ frames).as_euler(order, degrees=True)
            for k, axis in enumerate(order):
                found[f"{part} {order} {axis}"] = np.unwrap(turned[:, k], period=360)
    joint = Rotation.from_matrix(np.swapaxes(pelvis, 1, 2) @ thorax).as_euler("ZXY", degrees=True)
    found |= {f"trunk {axis}": joint[:, k] for k, axis in enumerate("ZXY")}
    for side in ("left", "right"):
        wrist = (p[f"wrist_radial_{side}"] + p[f"wrist_ulnar_{side}"]) / 2
        if f"elbow_lateral_{side}" in p:
            elbow = (p[f"elbow_lateral_{side}"] + p[f"elbow_medial_{side}"]) / 2
            upper, lower = unit(elbow - p[f"acromion_{side}"]), unit(wrist - elbow)
            found[f"elbow {side}"] = np.degrees(np.arccos(np.clip((upper * lower).sum(axis=1), -1, 1)))
    for name in ("pelvis", "thorax"):
        centre = forward if name == "pelvis" else up
        for k, axis in enumerate("XYZ"):
            found[f"{name} {axis} cm"] = 100 * centre[:, k]
    return found


def events(p: dict[str, np.ndarray], time_s: np.ndarray) -> dict[str, float]:
    """Seconds from the first frame."""
    head = p["clubhead"]
    speed = np.linalg.norm(np.gradient(head, time_s, axis=0), axis=1)
    impact = int(
        np.nanargmin(np.linalg.norm(head - np.nanmedian(p["ball"][:40], axis=0), axis=1) + 10 * (speed < 10))
    )
    shaft = unit(p["club_butt"] - head)
    slope = np.degrees(np.arcsin(shaft[:, 1]))
    top = int(
        np.nanargmin(
            np.where(time_s < time_s[impact] - 0.1, speed + 100 * (time_s < time_s[impact] - 0.6), 99)
        )
    )
    arm = unit((p["wrist_radial_left"] + p["wrist_ulnar_left"]) / 2 - p["acromion_left"])[:, 1]
    trail = unit((p["wrist_radial_right"] + p["wrist_ulnar_right"]) / 2 - p["acromion_right"])[:, 1]
    return {
        "address": float(time_s[max(0, int(np.argmax(speed > 0.2)) - 20)]),
        "takeaway": float(time_s[int(np.argmax(speed > 0.2))]),
        "back": crossing(time_s[:top], -slope[:top]),
        "arm back": crossing(time_s[:top], arm[:top]),
        "top": float(time_s[top]),
        "arm down": crossing(time_s[top:impact], -arm[top:impact]),
        "delivery": crossing(time_s[top:impact], slope[top:impact]),
        "impact": float(time_s[impact]),
        "through": crossing(time_s[impact:], trail[impact:]),
    }


def crossing(time_s: np.ndarray, values: np.ndarray) -> float:
    """The last time at which values rise through zero."""
    rises = np.flatnonzero((values[:-1] < 0) & (values[1:] >= 0))
    if not len(rises):
        return float("nan")
    k = rises[-1]
    return float(time_s[k] - values[k] * (time_s[k + 1] - time_s[k]) / (values[k + 1] - values[k]))


def strike(p: dict[str, np.ndarray], time_s: np.ndarray, at: dict[str, float]) -> dict[str, float]:
    """Speed (m/s), attack angle and path (deg), low point (cm): a cubic through the 40 ms before impact."""
    before = (time_s < at["impact"]) & (time_s > at["impact"] - 0.04)
    terms = np.polynomial.polynomial.polyfit(time_s[before] - at["impact"], p["clubhead"][before], 3)
    velocity, bend = terms[1], 2 * terms[2]
    low = -velocity[1] / bend[1]
    return {
        "speed": float(np.linalg.norm(velocity)),
        "attack": float(np.degrees(np.arctan2(velocity[1], np.hypot(velocity[0], velocity[2])))),
        "path": float(np.degrees(np.arctan2(-velocity[2], velocity[0]))),
        "low point": float(100 * (low * velocity[0] + low**2 / 2 * bend[0])),
    }


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 40, "profile" in sys.argv)
