"""Notebook panel that changes the posture of a simulated or measured swing and shows the effect on the strike."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import ipywidgets as widgets
import pandas as pd

from swinglab import columns, simulate
from swinglab.answers import posture_effect, sensitivity
from swinglab.answers.posture_effect import outcomes_of
from swinglab.controls import html as words
from swinglab.controls.choosers import dropdown
from swinglab.controls.chosen_study import ChosenStudy
from swinglab.controls.panel import Panel
from swinglab.controls.swing_viewer import SwingViewer
from swinglab.controls.swings import SwingChooser
from swinglab.errors import SwinglabError
from swinglab.events import find_events
from swinglab.figures.arc_sketch import DRAWN, sketch_arcs
from swinglab.figures.viewer import swing_frames
from swinglab.records import Events, Trial
from swinglab.segments import measure_posture
from swinglab.strike import measure_strike

#: Posture -> label of its slider, and the largest change of a simulated golfer.
SLIDERS: Mapping[str, tuple[str, float]] = {
    "thorax_lateral_flexion_deg": ("tilt of the thorax to the trail side (deg)", 10.0),
    "thorax_flexion_deg": ("forward bend of the thorax (deg)", 10.0),
    "thorax_axial_rotation_deg": ("turn of the thorax to the target (deg)", 10.0),
    "pelvis_centre_toward_target_cm": ("pelvis toward the target (cm)", 6.0),
    "pelvis_centre_up_cm": ("pelvis up (cm)", 2.0),
    "lead_elbow_flexion_deg": ("bend of the lead elbow (deg)", 15.0),
    "ball_ahead_of_lead_heel_cm": ("ball farther forward in the stance (cm)", 6.0),
}
SHOWN = (
    "attack_angle_deg",
    "club_path_in_to_out_deg",
    "low_point_ahead_cm",
    "low_point_height_cm",
    "sole_at_impact_cm",
)
LABELS = {"attack_angle_deg": "attack angle (deg)", "club_path_in_to_out_deg": "club path, in-to-out (deg)",
          "low_point_ahead_cm": "low point ahead of the ball (cm)", "low_point_height_cm": "low point's height (cm)",
          "sole_at_impact_cm": "sole's height at impact (cm)"}  # fmt: skip
EXPECTED = (("I expect nothing yet", ""), ("lower or farther back", "less"), ("much the same", "same"),
            ("higher or farther forward", "more"))  # fmt: skip
#: Smaller changes of the outcome, in its unit, count as "much the same".
SAME = {"attack_angle_deg": 0.3, "low_point_ahead_cm": 0.7}


def try_posture(chosen: ChosenStudy, *, golfer: simulate.Golfer | None = None) -> WhatIfPanel:
    """Show sliders that change the posture of a swing, a sketch of the club's arc, and the changed swing.

    Parameters
    ----------
    chosen : ChosenStudy
        The study whose swings can be chosen; the sliders are then limited to the range of the golfer's own swings.
    golfer : simulate.Golfer, optional
        The simulated golfer that is shown first.

    Returns
    -------
    WhatIfPanel
    """
    return WhatIfPanel(chosen, golfer or simulate.make_golfer(name="simulated golfer"))


class WhatIfPanel(Panel):
    """Notebook panel with sliders for posture, a sketch of the club's arc, and the result of the change.

    Attributes
    ----------
    trial, events, strike : Trial, Events, Strike
        Records of the unchanged swing.
    slopes : dict
        Posture -> outcome -> change of the outcome for one unit of posture, predicted by geometry.
    effect
        Result of the last change that was measured; None before the first.
    """

    def __init__(self, chosen: ChosenStudy, golfer: simulate.Golfer) -> None:
        self.golfer = golfer
        self.slopes: dict[str, pd.Series] = {}
        self.effect: Any = None
        self.viewer: SwingViewer | None = None
        self.swing = SwingChooser("Swing (none: the simulated golfer)", optional=True)
        self.sliders = {
            name: widgets.FloatSlider(
                0.0, min=-most, max=most, step=0.5, description=label, readout_format=".1f",
                style={"description_width": "22em"}, layout=widgets.Layout(width="44em", max_width="100%"),
            )
            for name, (label, most) in SLIDERS.items()
        }  # fmt: skip
        self.attack = dropdown("I expect the attack angle", EXPECTED)
        self.low = dropdown("and the low point", EXPECTED)
        self.look_button = widgets.Button(
            description="Look: measure the changed swing", layout=widgets.Layout(width="20em")
        )
        self.reset_button = widgets.Button(description="Back to the swing")
        self.sketch, self.outcome, self.shown = widgets.HTML(), widgets.HTML(), widgets.VBox()
        for slider in self.sliders.values():
            slider.observe(self._moved, "value")
        self.look_button.on_click(lambda _: self.look())
        self.reset_button.on_click(lambda _: self.reset())
        super().__init__(chosen, [self.swing])

    def refill_choosers(self) -> None:
        """Fill the list with the study's swings."""
        if self.chosen.study is not None:
            self.swing.offer(self.chosen.study)

    def show(self) -> list[widgets.Widget | str]:
        """Return the panel's content: sliders, sketch, lists for the user's expectation, buttons, and the result."""
        self._load()
        self.reset()
        expecting = widgets.HBox([self.attack, self.low], layout=widgets.Layout(flex_flow="row wrap"))
        buttons = widgets.HBox([self.look_button, self.reset_button])
        return [*self.sliders.values(), self.sketch, expecting, buttons, self.outcome, self.shown]

    # --- the swing -------------------------------------------------------------------------------------------

    def _load(self) -> None:
        self.slopes, self.effect = {}, None
        if self.swing.value:
            records = self.chosen.records_of(self.swing.value)
            self.trial, self.events, self.strike = records.trial, records.events, records.strike
        else:
            self.trial = simulate.make_swing(self.golfer, seed=1).trial()
            self.events = find_events(self.trial, measure_posture(self.trial))
            self.strike = measure_strike(self.trial, self.events)
        for name, slider in self.sliders.items():
            most = self._range(name)
            slider.disabled = most < slider.step
            slider.max, slider.min = max(most, slider.step), -max(most, slider.step)

    def _range(self, name: str) -> float:
        """Return the largest change of a slider: half the range of this golfer's swings at delivery.

        It is not larger than the value in `SLIDERS`. A quantity without a value at delivery is taken at
        address; 0 if it is not known there either.
        """
        if not self.swing.value:
            return SLIDERS[name][1]
        column = columns.event_column_name(name, "shaft_horizontal_down")
        table = self.chosen.results.swings
        own = table[table["golfer"] == self.trial.golfer]
        if column not in own.columns:
            column = columns.event_column_name(name, "address")
        if column not in own.columns or own[column].notna().sum() < 2:
            return 0.0
        covered = float(own[column].max() - own[column].min()) / 2
        return min(SLIDERS[name][1], covered - covered % 0.5)

    # --- moving ----------------------------------------------------------------------------------------------

    @property
    def change(self) -> dict[str, float]:
        """Posture -> change set by its slider, in the posture's unit; zero changes are left out."""
        return {name: slider.value for name, slider in self.sliders.items() if slider.value}

    def predicted(self) -> dict[str, float]:
        """Return outcome -> value predicted from `slopes`; a linear prediction, good for small changes.

        NaN for an outcome whose slope on a changed posture cannot be computed.
        """
        values = outcomes_of(self.strike)
        for posture, amount in self.change.items():
            if posture not in self.slopes:
                table = sensitivity(self.trial, self.events, postures=[posture], draws=0).set_index("outcome")
                self.slopes[posture] = table["slope"] / table["per"]
            values = {name: value + amount * self.slopes[posture][name] for name, value in values.items()}
        return values

    def _moved(self, change: Any) -> None:
        try:
            self._draw(self.predicted())
        except SwinglabError as fault:
            self.report(fault)

    def _draw(self, after: Mapping[str, float]) -> None:
        fixed = {name: self.strike.values[name] for name in DRAWN[2:]}
        arcs = [("as swung", {**outcomes_of(self.strike), **fixed})]
        if self.change:
            arcs.append(("changed", {**after, **fixed}))
        unknown = {
            f"{LABELS.get(name, name)} {title}"
            for title, arc in arcs
            for name in DRAWN
            if arc[name] != arc[name]
        }
        self.sketch.value = (
            words.lines(f"No arc is drawn, because it is not known: {', '.join(sorted(unknown))}.")
            if unknown
            else sketch_arcs(arcs)
        )

    def reset(self) -> None:
        """Set all sliders to 0."""
        for slider in self.sliders.values():
            slider.value = 0.0
        self.outcome.value = ""
        self.shown.children = ()
        self._draw(outcomes_of(self.strike))

    # --- looking ---------------------------------------------------------------------------------------------

    def look(self) -> None:
        """Measure the changed swing and show it next to the unchanged one, with the user's expectation."""
        try:
            self.effect = posture_effect(self.trial, self.events, self.change, strike=self.strike)
        except SwinglabError as fault:
            self.report(fault)
            return
        before, after = outcomes_of(self.strike), outcomes_of(self.effect.strike)
        self._draw(after)
        rows = [
            {"outcome": LABELS[n], "as swung": f"{before[n]:z.1f}", "changed": f"{after[n]:z.1f}",
             "difference": f"{self.effect.change[n]:+z.1f}"}
            for n in SHOWN
        ]  # fmt: skip
        reasons = [f"{LABELS[n]}: {why}" for n, why in self.effect.missing.items()]
        self.outcome.value = "".join([
            words.lines(*self._judged(), *_why(self.trial, self.effect.trial, self.events, self.effect.change)),
            words.table(pd.DataFrame(rows)),
            words.lines(*reasons, *self.effect.warnings, "Geometry alone: a simulation is not a prescription."),
        ])  # fmt: skip
        drawn = next(iter(self.change), "thorax_lateral_flexion_deg")
        pair = ((self.trial, self.events, "as swung"), (self.effect.trial, self.effect.events, "changed"))
        frames = [swing_frames(t, measure_posture(t), e, quantity=drawn, title=title) for t, e, title in pair]
        if self.viewer is None:
            self.viewer = SwingViewer(frames, start="impact")
        else:
            self.viewer.show(frames, start="impact")
        self.shown.children = (self.viewer,)

    def _judged(self) -> list[str]:
        """Return lines that compare what was expected with the result."""
        sentences = []
        for chooser, name in ((self.attack, "attack_angle_deg"), (self.low, "low_point_ahead_cm")):
            moved = self.effect.change[name]
            if not chooser.value or moved != moved:
                continue
            came = "same" if abs(moved) < SAME[name] else "more" if moved > 0 else "less"
            right = "as you expected" if came == chooser.value else "not as you expected"
            sentences.append(f"{LABELS[name]}: {right}, it changed by {moved:+.1f}.")
        return sentences


def _why(before: Trial, after: Trial, events: Events, change: Mapping[str, float]) -> list[str]:
    """Return sentences that explain the change of the low point by that of the lead shoulder at impact.

    `before`, `after` : the swing and the changed swing. `change` : change of each outcome. Empty if not
    known.
    """
    k = int(abs(before.time_s - events.time_s("impact")).argmin())
    bodies = [simulate.MeasuredBody(trial) for trial in (before, after)]
    ahead, up, _ = 100 * (bodies[1].shoulder("left") - bodies[0].shoulder("left"))[k]
    low = change["low_point_ahead_cm"]
    if ahead != ahead or low != low:
        return []
    along = f"{abs(ahead):.1f} cm {'nearer to' if ahead > 0 else 'farther from'} the target"
    height = f"{abs(up):.1f} cm {'higher' if up > 0 else 'lower'}"
    return [
        f"Why: arm and club swing about the lead shoulder, which at impact is {along} and {height}. The arc moves with "
        f"the shoulder: the low point moves {low:+.1f} cm.",
        "The ball stays, so the club meets it earlier or later on the arc: the farther the low point is ahead of the "
        "ball, the more the club still comes down.",
    ]
