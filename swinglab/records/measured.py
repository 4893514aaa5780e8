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
    """An event as stored in a capture file, with its time in seconds from the file's first frame.

    context : side of the body or "General", as stored in a C3D file; empty if there is none.
    """

    label: str
    time_s: float
    context: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class Capture(Pickled):
    """The contents of a capture file: points with the file's own axes and labels, in metres.

    points_m : (n_frames, n_points, 3), NaN where missing. events : events in the file. unit : the unit of the file; the
    points are converted to metres. first_frame : number of the first frame in the file. residual_m : (n_frames,
    n_points) residuals (m) of a C3D file, NaN where a point is missing (0 marks a point that was filled or filtered
    before the export); None for a pose table. confidence : (n_frames, n_points), 0 to 1, for pose tables that contain
    it, else None. unit_judged : whether the unit was determined from the size of the body, because neither the file nor
    the study gives it. unit_m : for a file without scale (unit "none"), the factor by which its coordinates were
    multiplied, so that the body has a usual size.
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
    unit_m: float = 1.0

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

    The settings in study.toml are described in references/study_folder.md. The fields are:

    up, target : directions up and to the target, as an axis name or a vector (3,) in the capture's axes. ground :
    height of the turf along up, in the capture's unit. unit : mm | cm | m | none (no scale: only angles and times);
    None = that of the file. rate_hz : frame rate; None = that of the file. hand : right | left, as the golfer plays.
    landmarks : landmark -> labels in the file; the landmark is the mean of these points. events : label in the file ->
    event. target_assumed : whether the target line was not calibrated but assumed to be the nearest lab axis.
    ball_position : (3,) in the capture's axes and unit. ball_marker : "centre" or "top" of the ball. teed : whether the
    ball is on a tee. soled_at_address : whether the sole of the club is on the turf at address. sole_height_se_mm :
    standard error of the height of the sole at impact. reference_behind_face_cm : distance of the landmark clubhead
    behind the face; None = not known. reference_beside_face_cm : distance of the landmark clubhead from the centre of
    the face, across the path.
    body_cutoff_hz : cut-off of the filter of body points, or "residual" (residual analysis). longest_gap_s : longest
    gap that is filled by a spline. confidence_below : samples of a pose table with less confidence are missing.
    fat_behind_cm, thin_above_cm : limits of fat contact (distance behind the ball at which the sole meets the turf) and
    thin contact (height of the sole at impact).
    source : one of `conventions.CAPTURE_SOURCES`; None = not stated. surface : turf | mat | sand | tee. lie : level |
    uphill | downhill | ball above feet | ball below feet. shot : any text; "putt" has no contact class.
    marker_radius_mm : distance from the centre of a marker to the skin; None = not known. use_points_marked_invalid :
    whether to use points that a C3D file marks as invalid. from_s, to_s : start and end of the part of the file with
    the swing, in s from its first frame; None = from the start, to the end. hip_method : regression of the hip centres.
    read_later_s : posture is read this time (s) after its event (negative: before it); 0 except in studies of the
    effect of a shifted event.
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
    face_landmarks: tuple[
        str, ...
    ] = ()  # three on the face, not on one line; if empty, the face is not measured
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

    hand : right or left, as the golfer plays. time_s : (n_frames,) in s from the file's first frame. contact_time_s :
    approximate time (s) of contact, accurate to about one frame; None if unknown (the exact time is that of the event
    impact). cutoff_hz : segment -> cut-off frequency of the smoothing. file_events : event -> time (s) in the file.
    points_m : (n_frames, k, 3) of k landmarks, filled and smoothed, NaN where missing. raw_m : the same before
    filling and smoothing. filled : (n_frames, k) True where a sample was filled. noise_m : (k,) standard
    deviation of one coordinate's noise in raw_m, NaN where not estimated; common_noise : the share of its
    variance that all body landmarks have in common. deformation_m : (k,) standard deviation of a landmark's motion
    within its segment in excess of the noise, NaN where it cannot be assessed. ball_m : (3,) the ball centre at rest,
    None if unknown; ball_method : how it was determined; ball_se_m : its standard error along the target line.
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

        raw : whether to return the positions before gaps are filled and points are smoothed. Raises MissingInput, with
        similar names, if the landmark is not in the trial.
        """
        if landmark not in self.landmarks:
            do = near_names(landmark, self.landmarks) or "add it under [landmarks] in study.toml"
            raise MissingInput(f"the landmark {landmark} is not in this capture", file=self.file, do=do)
        return (self.raw_m if raw else self.points_m)[:, self.landmarks.index(landmark)]


@dataclass(frozen=True, slots=True, eq=False)
class Posture(Pickled):
    """Segment angles and positions of one swing, frame by frame.

    time_s : (n_frames,) in s from the file's first frame. values, standard_errors : (n_frames, n_quantities), in each
    quantity's own unit (columns/); noise_errors : the part of standard_errors due to noise, without the deformation of
    segments (None: they are due to noise only). Positions are absolute, from the origin under the ball (`measure_at`
    makes them relative to address). rotations : segment -> (n_frames, 3, 3), the segment axes as columns in the study
    frame. centres_m : name -> (n_frames, 3), joint and segment centres in the study frame. methods : quantity ->
    segment axes or joint centre used. missing : quantity -> reason why it cannot be measured. stand_ins : quantities
    measured from substitute landmarks (axes from joint centres, a shaft without points on it).
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

    standard_error_s : standard error of the time. method : text on how the time was determined. source : key of the
    origin of the time: found (detected), by_hand, from_file; or of the reason why it is missing: missing,
    samples_missing (samples are missing; other landmarks may still show the event).
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
        """Return the events with `by_s` (s) added to all times; missing events stay missing."""
        if not by_s:
            return self
        return replace(self, events=tuple(replace(one, time_s=one.time_s + by_s) for one in self.events))

    def check_order(self, name: str, time_s: float) -> None:
        """Raise BadRequest if the event `name` at this time (s) would break the order of `conventions.ENFORCED_ORDER`.

        The time is compared with those of the other events of the swing that are not missing.
        """
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
                    f"{this} cannot be at {time_s:.3f} s: it must be {side} {that}, which is at {known:.3f} s",
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
    covariance : (k, k) of the errors of the k values in `covariance_names`. contact : fat | clean | thin | uncertain,
    or "" if it was not determined. contact_probabilities : class of contact -> probability. arc : data for drawing the
    fitted path (arrays in metres, study frame; see `measure_strike`).
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
