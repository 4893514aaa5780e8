"""Angles relative to a neutral standing posture, in addition to the angles themselves."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from swinglab.columns import QUANTITIES
from swinglab.records import Posture

#: In a golfer at rest an angle varies by tenths of a degree. Above this standard deviation the golfer moved
#: (a chosen limit).
STANDING_SD_DEG = 2.0
#: Quantity relative to neutral -> the quantity from which it is computed.
FROM_NEUTRAL = {
    name: name.replace("_from_neutral", "") for name in QUANTITIES if name.endswith("_from_neutral_deg")
}


def add_from_neutral(posture: Posture, neutral: Posture) -> Posture:
    """Return a posture with additional quantities: angles minus their means in a neutral standing posture.

    The mean in the neutral capture is subtracted from each angle. For flexion, the last rotation in turn-first order,
    this is the same as segment axes whose flexion is 0 in the neutral posture. For the other angles it is only a
    difference, not a rotation between two segment axes. An angle is missing, with the reason, if the neutral capture
    lacks it or measured it by another method. If the golfer moves in the neutral capture, a warning is given. Standard
    errors are those of the angles; they do not include the error of the neutral mean, which is the same in all swings
    of a golfer.
    """
    assert posture.noise_errors is not None
    names, values, errors, noise_errors, moves = [], [], [], [], {}
    methods, missing = dict(posture.methods), dict(posture.missing)
    for name, plain in FROM_NEUTRAL.items():
        reason = _why_not(posture, neutral, plain)
        if reason:
            missing[name] = reason
            continue
        standing = neutral.curve(plain)
        standing = standing[np.isfinite(standing)]
        if standing.std() > STANDING_SD_DEG:
            moves[plain.removesuffix("_deg").replace("_", " ")] = standing.std()
        names.append(name)
        values.append(posture.curve(plain) - standing.mean())
        errors.append(posture.standard_errors[:, posture.quantities.index(plain)])
        noise_errors.append(posture.noise_errors[:, posture.quantities.index(plain)])
        methods[name] = f"{posture.methods[plain]}; minus the mean of the neutral capture"
    warnings = []
    if moves:
        most = max(moves, key=moves.__getitem__)
        warnings = [
            f"the golfer moves in the neutral capture (the standard deviation of {most} is {moves[most]:.2g} deg): "
            "angles from neutral are relative to the mean of this motion; record the golfer standing still"
        ]
    return replace(
        posture, quantities=(*posture.quantities, *names), methods=methods, missing=missing,
        values=np.column_stack([posture.values, *values]),
        standard_errors=np.column_stack([posture.standard_errors, *errors]),
        noise_errors=np.column_stack([posture.noise_errors, *noise_errors]),
        warnings=(*posture.warnings, *warnings),
    )  # fmt: skip


def _why_not(posture: Posture, neutral: Posture, plain: str) -> str:
    """Reason why a quantity cannot be given relative to the neutral capture, or an empty string."""
    if plain not in posture.quantities:
        return posture.missing.get(plain, "not measured")
    if plain not in neutral.quantities or not np.isfinite(neutral.curve(plain)).any():
        return f"not in the neutral capture: {neutral.missing.get(plain, 'no frame with all its markers')}"
    if posture.methods[plain] != neutral.methods[plain]:
        return f"in the neutral capture it was computed by another method ({neutral.methods[plain]})"
    return ""
