"""Records of a capture and of the measurements from it; lengths in metres, times in seconds, angles in degrees."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import NamedTuple

import numpy as np
import pandas as pd

from swinglab import conventions
from swinglab.errors import BadRequest, MissingInput, near_names
from swinglab.records.frozen import Pickled, check_shape, freeze


class FileEvent(NamedTuple):
    """An event as stored in a capture file: its label, time in seconds from the file's first frame, and context."""

    label: str
    time_s: float
    context: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class Capture(Pickled):
    """The contents of a capture file: points with the file's own axes and labels, in metres.

    events : events in the file. first_frame : number of the first frame in the file. points_m : (n_frames, n_points,
    3), NaN where missing. residual_m : (n_frames, n_points), residuals of the file (0 marks a point that was
    filled or filtered before), NaN if there are none. confidence : (n_frames, n_points) in 0..1 for pose tables
    that give one, else None. unit_judged : whether the unit was judged from the size of the body, because neither
    the file nor the caller gave it.
    """

    file: str
    labels: tuple[str, ...]
    points_m: np.ndarray
    rate_hz: float
    events: tuple[FileEvent, ...] = ()
    warnings: tuple[str, ...] = ()
    unit: str = "m"
    first_frame: int = 1
    kind: str = "c3d"  # c3d | table
    residual_m: np.ndarray | None = None
    confidence: np.ndarray | None = None
    unit_judged: bool = False

    def __post_init__(self) -> None:
        frames = self.points_m.shape[0] if self.points_m.ndim == 3 else -1
        check_shape(self, "points_m", (frames, len(self.labels), 3))
        if not self.rate_hz > 0:
            raise BadRequest(f"the frame rate of a capture must be above 0 Hz, not {self.rate_hz}")
        freeze(self)

    @property
    def time_s(self) -> np.ndarray:
        """Times (n_frames,) of the frames, in seconds from the file's first frame."""
        return np.arange(len(self.points_m)) / self.rate_hz


@dataclass(frozen=True, slots=True, eq=False)
class Setup(Pickled):
    """Settings of a study for the capture of a swing: axes, labels, ball, club, processing.

    Fields have the names and units of the settings in study.toml (references/study_folder.md), among them:

    up, target : an axis name or a vector (3,) in the capture's axes. ground : in the capture's unit.
    landmarks : swinglab's name -> labels in the file (their mean). events : label in the file -> event.
    ball_position : (3,) in the capture's axes and unit. ball_marker : "centre" or "top" of the ball.
    reference_behind_face_cm : distance of the clubhead's reference point behind the face; None = not known.
    reference_beside_face_cm : its distance from the face's centre, across the path.
    unit : mm | cm | m | none (scale-free: angles only). source : one of `conventions.CAPTURE_SOURCES`; None = not
    stated. surface : turf | mat | sand | tee. lie : level | uphill | downhill | ball above feet | ball below feet.
    shot : any text; "putt" has no contact class. marker_radius_mm : from a marker's centre to the skin; None = not
    known. target_assumed : the target line was not calibrated but assumed to be the nearest lab axis. hip_method :
    regression of the hip centres. read_later_s : time by which posture is read later than its event (negative:
    earlier); other than 0 only to study the effect of a shifted event. from_s, to_s : the part of the file that holds
    the swing, seconds from its first frame; None = from the start, to the end.
    """

    up: str | tuple[float, ...] = "+Z"
    target: str | tuple[float, ...] = "+X"
    ground: float = 0.0
    unit: str | None = None
    rate_hz: float | None = None
    hand: str = "right"
    landmarks: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    events: Mapping[str, str] = field(default_factory=dict)
    ball_position: tuple[float, ...] | None = None
    ball_marker: str = "centre"
    teed: bool = False
    soled_at_address: bool = False
    sole_height_se_mm: float = 4.0
    reference_behind_face_cm: float | None = None
    reference_beside_face_cm: float = 0.0
    face_landmarks: tuple[str, ...] = ()  # three on the face, not on one line; none = face not measured
    body_cutoff_hz: float | str = "residual"
    longest_gap_s: float = 0.05
    confidence_below: float = 0.5
    fat_behind_cm: float = 1.0
    thin_above_cm: float = 1.0
    source: str | None = None
    surface: str = "turf"
    lie: str = "level"
    shot: str = ""
    marker_radius_mm: float | None = None
    use_points_marked_invalid: bool = False
    target_assumed: bool = False
    from_s: float | None = None
    to_s: float | None = None
    hip_method: str = "harrington"
    read_later_s: float = 0.0

    def __post_init__(self) -> None:
        freeze(self)


@dataclass(frozen=True, slots=True, eq=False)
class Trial(Pickled):
    """One swing in the study frame, with gaps filled and body points smoothed; left-handers are mirrored.

    hand : right or left, as the golfer plays. time_s : (n_frames,) from the file's first frame. contact_time_s :
    approximate time of contact, for filling and smoothing only. cutoff_hz : cut-off of the smoothing by segment.
    file_events : times (s) of the events stored in the file.
    points_m : (n_frames, k, 3) of k landmarks, filled and smoothed, NaN where missing. raw_m : the same before
    filling and smoothing. filled : (n_frames, k) True where a sample was filled. noise_m : (k,) standard
    deviation of one coordinate's noise in raw_m, NaN where not estimated; common_noise : the share of its
    variance that all body landmarks have in common. deformation_m : (k,) standard deviation of a landmark's
    slow motion within its segment beyond noise, NaN where it cannot be assessed. ball_m : (3,) the ball centre
    at rest; ball_se_m : its standard error along the target line.
    """

    swing: str
    golfer: str
    file: str
    hand: str
    kind: str  # markers | joint_centres
    rate_hz: float
    time_s: np.ndarray
    landmarks: tuple[str, ...]
    points_m: np.ndarray
    raw_m: np.ndarray
    filled: np.ndarray
    noise_m: np.ndarray
    setup: Setup
    ball_m: np.ndarray | None = None
    ball_method: str = "none"  # marker | study | ball_from_address | none
    ball_se_m: float = 0.0
    contact_time_s: float | None = None
    cutoff_hz: Mapping[str, float] = field(default_factory=dict)
    file_events: Mapping[str, float] = field(default_factory=dict)
    warnings: tuple[str, ...] = ()
    deformation_m: np.ndarray | None = None
    common_noise: float = 0.0

    def __post_init__(self) -> None:
        n, k = len(self.time_s), len(self.landmarks)
        shapes = {"points_m": (n, k, 3), "raw_m": (n, k, 3), "filled": (n, k), "noise_m": (k,)}
        if self.deformation_m is not None:
            shapes["deformation_m"] = (k,)
        for name, shape in shapes.items():
            check_shape(self, name, shape)
        freeze(self)

    def has(self, *landmarks: str) -> bool:
        """Return whether all these landmarks are in the trial, each visible in at least one frame."""
        return all(name in self.landmarks and bool(np.isfinite(self.point(name)).any()) for name in landmarks)

    def point(self, landmark: str, *, raw: bool = False) -> np.ndarray:
        """Return the positions (n_frames, 3) of one landmark in metres, in the study frame.

        raw : whether they are as captured, before filling gaps and smoothing. Raises MissingInput, with similar names,
        if the landmark is not in the trial.
        """
        if landmark not in self.landmarks:
            do = near_names(landmark, self.landmarks) or "add it under [landmarks] in study.toml"
            raise MissingInput(f"the landmark {landmark} is not in this capture", file=self.file, do=do)
        return (self.raw_m if raw else self.points_m)[:, self.landmarks.index(landmark)]


@dataclass(frozen=True, slots=True, eq=False)
class Posture(Pickled):
    """Segment angles and positions of one swing, frame by frame.

    values, standard_errors : (n_frames, n_quantities), in each quantity's own unit (columns/); noise_errors :
    the part of standard_errors due to noise, without the deformation of segments (None = all). Positions are
    absolute, from the origin under the ball (`measure_at` makes them relative to address). rotations :
    (n_frames, 3, 3) by segment, with the segment axes as columns in the study frame. methods : frame or centre used,
    by quantity. missing : reason why a quantity cannot be measured, by quantity. stand_ins : quantities measured from
    a substitute (a frame from joint centres, a shaft without points on it).
    """

    swing: str
    golfer: str
    hand: str
    kind: str
    time_s: np.ndarray
    quantities: tuple[str, ...]
    values: np.ndarray
    standard_errors: np.ndarray
    methods: Mapping[str, str]
    missing: Mapping[str, str] = field(default_factory=dict)
    rotations: Mapping[str, np.ndarray] = field(default_factory=dict)
    centres_m: Mapping[str, np.ndarray] = field(default_factory=dict)
    warnings: tuple[str, ...] = ()
    noise_errors: np.ndarray | None = None
    stand_ins: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if self.noise_errors is None:
            object.__setattr__(self, "noise_errors", self.standard_errors)
        for name in ("values", "standard_errors", "noise_errors"):
            check_shape(self, name, (len(self.time_s), len(self.quantities)))
        freeze(self)

    def curve(self, quantity: str) -> np.ndarray:
        """Return the values (n_frames,) of one posture quantity in its own unit.

        Raises MissingInput, with the reason, if it was not measured.
        """
        if quantity not in self.quantities:
            why = self.missing.get(quantity)
            what = f"the quantity {quantity} was not measured in this swing" + (f": {why}" if why else "")
            raise MissingInput(what, do=near_names(quantity, self.quantities) or None)
        return self.values[:, self.quantities.index(quantity)]


@dataclass(frozen=True, slots=True, eq=False)
class Event:
    """One event: its time in seconds from the file's first frame (NaN if missing, with the reason in `note`).

    source : key of the origin of the time: found, by_hand, from_file; or of the reason why it is missing: missing,
    samples_missing (other points may still show the event). method, note : texts for the reader.
    """

    name: str
    time_s: float
    standard_error_s: float
    method: str
    note: str = ""
    source: str = "found"


@dataclass(frozen=True, slots=True, eq=False)
class Events(Pickled):
    """The events of one swing: one `Event` for every name in `conventions.EVENTS`, in that order."""

    swing: str
    golfer: str
    rate_hz: float
    events: tuple[Event, ...]
    warnings: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        names = tuple(event.name for event in self.events)
        if names != conventions.EVENTS:
            raise BadRequest(f"the events must be {conventions.EVENTS}, in this order, not {names}")

    def __getitem__(self, name: str) -> Event:
        if name not in conventions.EVENTS:
            raise BadRequest(
                f"there is no event {name}",
                do=near_names(name, conventions.EVENTS) or f"use one of {', '.join(conventions.EVENTS)}",
            )
        return self.events[conventions.EVENTS.index(name)]

    def time_s(self, name: str) -> float:
        """Return the time of an event in seconds from the file's first frame; NaN if the event is missing."""
        return self[name].time_s

    def found(self, name: str) -> bool:
        """Return whether an event was found, so that it has a time."""
        return bool(np.isfinite(self[name].time_s))

    def later(self, by_s: float) -> Events:
        """Return the events with all times shifted by a number of seconds (positive: later)."""
        if not by_s:
            return self
        return replace(self, events=tuple(replace(one, time_s=one.time_s + by_s) for one in self.events))

    def check_order(self, name: str, time_s: float) -> None:
        """Raise BadRequest if an event at this time (s) would not be in the order of `conventions.ENFORCED_ORDER`."""
        order = conventions.ENFORCED_ORDER
        if name not in order:
            return
        for other in order:
            known = self.time_s(other)
            is_before = order.index(other) < order.index(name)
            if other != name and np.isfinite(known) and is_before != (known < time_s):
                this, that = conventions.EVENT_LABELS[name], conventions.EVENT_LABELS[other]
                side = "after" if is_before else "before"
                raise BadRequest(
                    f"{this} at {time_s:.3f} s would not be {side} {that}, which is at {known:.3f} s",
                    where=f"swing {self.swing}",
                    do=f"choose another time, or set {that} first",
                )

    def table(self) -> pd.DataFrame:
        """Return a table with one row for each event and the columns of events.csv.

        The column frame counts from 0 at the file's first frame and may be fractional.
        """
        time_s = np.array([e.time_s for e in self.events])
        return pd.DataFrame({
            "swing": self.swing,
            "event": [e.name for e in self.events],
            "time_s": time_s,
            "time_from_impact_s": time_s - self.time_s("impact"),
            "frame": time_s * self.rate_hz,
            **{name: [getattr(e, name) for e in self.events] for name in ("method", "standard_error_s", "note")},
        })  # fmt: skip


@dataclass(frozen=True, slots=True, eq=False)
class Strike(Pickled):
    """The strike of one swing: values by column name, with standard errors and their covariance.

    values : by name, NaN if missing, with the reason in `missing`. standard_errors : by name, in the same units.
    covariance : (k, k) of the errors of `covariance_names`. contact : fat | clean | thin | uncertain | "" . arc : data
    for drawing the fitted path (arrays in metres, study frame; see `measure_strike`).
    """

    swing: str
    golfer: str
    values: Mapping[str, float]
    standard_errors: Mapping[str, float]
    covariance_names: tuple[str, ...]
    covariance: np.ndarray
    contact: str = ""
    contact_probabilities: Mapping[str, float] = field(default_factory=dict)
    method: str = ""
    missing: Mapping[str, str] = field(default_factory=dict)
    arc: Mapping[str, np.ndarray] = field(default_factory=dict)
    warnings: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        k = len(self.covariance_names)
        check_shape(self, "covariance", (k, k))
        freeze(self)
