"""Gap filling: short gaps by a spline, longer ones from the other markers of the same segment as a rigid body.

Gaps that contain the time of contact are not filled, nor are those before a landmark's first or after its last sample.
Every filled sample is marked as filled.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.interpolate import CubicSpline

from swinglab.conventions import SEGMENT_LANDMARKS, is_club_landmark
from swinglab.load.rigid_body import carry_points, rotations_onto
from swinglab.signals import stretches

#: Number of samples used on either side of a gap, for the spline and for the rigid body's shape.
_SUPPORT = 4
_SHAPE_SUPPORT = 12
#: Shoulder landmarks have the filter of the thorax but move relative to it: in a published tennis serve, the acromion
#: as a rigid part of the thorax was off by 31 mm (root mean square; at most 81 mm). They are neither filled this way
#: nor used to fill others.
_GLIDING = ("acromion_left", "acromion_right", "shoulder_left", "shoulder_right")
#: A rigid body needs three other markers that are not collinear: their second largest extent must reach this.
_LEAST_WIDTH_M = 0.01


@dataclass(frozen=True, slots=True)
class Gap:
    """A period of consecutive missing frames of one landmark (given by its index): first <= frame < end."""

    landmark: int
    first: int
    end: int

    @property
    def frames(self) -> int:
        """Number of missing frames in the gap."""
        return self.end - self.first


def find_gaps(missing: np.ndarray) -> list[Gap]:
    """Return all gaps: periods of missing samples between two measured samples of the same landmark.

    `missing` : (n_frames, n_landmarks), True where a sample is missing.
    """
    gaps = []
    for k in np.flatnonzero(missing.any(axis=0)):
        inside = (s for s in stretches(missing[:, k]) if s.start > 0 and s.stop < len(missing))
        gaps += [Gap(int(k), stretch.start, stretch.stop) for stretch in inside]
    return gaps


def fill_gaps(
    names: tuple[str, ...], raw: np.ndarray, rate_hz: float, contact_s: float | None, longest_gap_s: float
) -> tuple[np.ndarray, np.ndarray, list[str]]:
    """Fill gaps in the positions of landmarks; return the points, a mask of filled samples, and sentences about them.

    `raw` : (n_frames, n_landmarks, 3) in metres, NaN where missing. `contact_s` : approximate time of contact, None if
    unknown; a gap that contains it is not filled. `longest_gap_s` : longest gap that is filled by a spline; a longer
    one is filled from the other markers of the segment as a rigid body. The mask is (n_frames, n_landmarks). The
    sentences state how many samples were filled by each method, and which gaps remain.
    """
    missing = ~np.isfinite(raw).all(axis=-1)
    points = np.where(missing[..., None], np.nan, raw)
    filled = np.zeros_like(missing)
    gaps = find_gaps(missing)
    if not gaps:
        return points, filled, []
    done: dict[str, list[Gap]] = {"spline": [], "rigid": [], "open": [], "contact": []}
    contact = None if contact_s is None else contact_s * rate_hz
    for gap in gaps:
        if contact is not None and gap.first - 1 < contact < gap.end:
            done["contact"].append(gap)
            continue
        if gap.frames <= longest_gap_s * rate_hz + 1e-9:
            value = _spline(raw[:, gap.landmark], gap, missing[:, gap.landmark], contact, names[gap.landmark])
            if value is not None:
                points[gap.first : gap.end, gap.landmark] = value
                done["spline"].append(gap)
                continue
        value = _rigid(names, raw, missing, gap)
        if value is None:
            done["open"].append(gap)
            continue
        points[gap.first : gap.end, gap.landmark] = value
        done["rigid"].append(gap)
    for gap in done["spline"] + done["rigid"]:
        filled[gap.first : gap.end, gap.landmark] = True
    return points, filled, _sentences(done, names, rate_hz)


def _sentences(done: dict[str, list[Gap]], names: tuple[str, ...], rate_hz: float) -> list[str]:
    words = {
        "spline": "filled by a spline",
        "rigid": "filled from the segment's other markers",
        "open": "not filled (too long for a spline, and no three other markers are visible on the same rigid segment)",
        "contact": "not filled (the gap contains contact)",
    }
    lines = []
    for key, text in words.items():
        if done[key]:
            samples = sum(gap.frames for gap in done[key])
            which = dict.fromkeys(names[gap.landmark] for gap in done[key])
            longest = max(gap.frames for gap in done[key]) / rate_hz
            lines.append(
                f"missing samples of {', '.join(which)} {text}: {samples} (longest gap {longest:.3f} s)"
            )
    return lines


def _spline(
    path: np.ndarray, gap: Gap, missing: np.ndarray, contact: float | None, name: str
) -> np.ndarray | None:
    """Positions in a gap by a cubic spline through the nearest samples; None with fewer than two on a side.

    For the club, only samples from the same side of contact are used.
    """
    seen: np.ndarray = ~missing
    if contact is not None and is_club_landmark(name):
        frames = np.arange(len(path))
        seen = seen & ((frames < contact) == (gap.first < contact))
    before = np.flatnonzero(seen[: gap.first])[-_SUPPORT:]
    after = np.flatnonzero(seen[gap.end :])[:_SUPPORT] + gap.end
    if len(before) < 2 or len(after) < 2:
        return None
    support = np.concatenate([before, after])
    return CubicSpline(support, path[support])(np.arange(gap.first, gap.end))


def _rigid(names: tuple[str, ...], raw: np.ndarray, missing: np.ndarray, gap: Gap) -> np.ndarray | None:
    """Positions in a gap from the segment's other markers, as a rigid body; None if they do not determine them.

    The shape of the body comes from the frames around the gap.
    """
    segment = _rigid_with(names[gap.landmark])
    inside = slice(gap.first, gap.end)
    others = [
        k for k, name in enumerate(names)
        if name in segment and k != gap.landmark and not missing[inside, k].any()
    ]  # fmt: skip
    if len(others) < 3:
        return None
    whole = np.isfinite(raw[:, [*others, gap.landmark]]).all(axis=(1, 2))
    before = np.flatnonzero(whole[: gap.first])[-_SHAPE_SUPPORT:]
    after = np.flatnonzero(whole[gap.end :])[:_SHAPE_SUPPORT] + gap.end
    if not len(before) or not len(after):
        return None
    around = np.concatenate([before, after])
    shape, local = _shape(raw[around][:, others], raw[around, gap.landmark])
    if np.linalg.svd(shape, compute_uv=False)[1] < _LEAST_WIDTH_M:
        return None
    # The differences at both edges are removed linearly over the gap, so that the path has no step.
    edges = raw[[before[-1], after[0]]]
    over = edges[:, gap.landmark] - carry_points(shape, local, edges[:, others])
    share = (np.arange(gap.first, gap.end) - before[-1]) / (after[0] - before[-1])
    carried = carry_points(shape, local, raw[inside][:, others])
    return carried + (1 - share)[:, None] * over[0] + share[:, None] * over[1]


def _rigid_with(name: str) -> tuple[str, ...]:
    """The landmarks that move with this one as a rigid body; none for a shoulder or the club."""
    if name in _GLIDING:
        return ()
    segment = next((members for members in SEGMENT_LANDMARKS.values() if name in members), ())
    return tuple(member for member in segment if member not in _GLIDING)


def _shape(others: np.ndarray, point: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Mean shape (n_others, 3) about its centroid, and the point relative to it, from frames aligned to the first."""
    middle = others.mean(axis=1, keepdims=True)
    rotations = rotations_onto(others[0] - middle[0], others - middle)
    shape = np.einsum("fji,fkj->fki", rotations, others - middle).mean(axis=0)
    local = np.einsum("fji,fj->fi", rotations, point - middle[:, 0]).mean(axis=0)
    return shape, local
