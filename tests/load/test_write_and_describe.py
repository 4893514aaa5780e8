"""Trials written and read back, and what `swinglab check` says of a capture."""

from __future__ import annotations

import warnings
from dataclasses import replace

import c3d
import ezc3d
import numpy as np
import pytest
from load.made_swing import CONTACT_S, as_captured, truth
from matplotlib import colors

from swinglab.errors import BadRequest
from swinglab.figures import draw_gaps
from swinglab.load import describe_capture, load_trial, read_capture, write_capture
from swinglab.records import Capture, FileEvent, Setup, Trial

Y_UP = Setup(up="+Y", target="+X")


def made_trial(hand: str = "right") -> Trial:
    """A loaded swing with a filled gap, a gap left open, noise and events."""
    points = truth()
    points["c7"][200:206] = np.nan
    points["toe_left"][100:200] = np.nan
    events = (FileEvent("impact", 1.5), FileEvent("top", 1.21))
    capture = as_captured(points, hand=hand, noise_m=0.0004, events=events)
    return load_trial(capture, replace(Y_UP, hand=hand), swing="s", golfer="g")


@pytest.mark.parametrize("hand", ["right", "left"])
def test_a_written_trial_reads_back_equal(tmp_path, hand) -> None:
    """Truth: made. Points to 0.0002 mm, missing, rate, labels by side, events; without a single doubt."""
    trial = made_trial(hand)
    path = write_capture(trial, tmp_path / "cleaned.c3d")
    capture = read_capture(path)
    assert capture.warnings == ()
    assert (capture.rate_hz, capture.unit) == (240.0, "mm")
    again = load_trial(capture, replace(Y_UP, hand=hand), swing="s", golfer="g")
    assert again.landmarks == trial.landmarks
    # The origin is found anew from the ball's marker: to the rounding of its floats.
    np.testing.assert_allclose(again.raw_m, trial.points_m, atol=1e-6)
    np.testing.assert_array_equal(np.isnan(again.raw_m), np.isnan(trial.points_m))
    assert again.file_events == pytest.approx(dict(trial.file_events), abs=1e-5)
    side = "right" if hand == "left" else "left"
    assert f"toe_{side}" in capture.labels


def test_residuals_tell_filled_from_measured(tmp_path) -> None:
    """Truth: made. 0 where filled (as the C3D format says), the noise where measured, missing where missing."""
    trial = made_trial()
    capture = read_capture(write_capture(trial, tmp_path / "a.c3d"))
    assert capture.residual_m is not None
    k = trial.landmarks.index("c7")
    filled = trial.filled[:, k]
    assert filled.sum() == 6
    assert np.all(capture.residual_m[filled, k] == 0)
    np.testing.assert_allclose(capture.residual_m[~filled, k], trial.noise_m[k], atol=6e-6)


def test_other_readers_read_what_is_written(tmp_path) -> None:
    """Truth: other (ezc3d, c3d): the same points, labels and events."""
    trial = replace(made_trial(), file_events={"impact": 1.5, "top": 61.25})
    path = write_capture(trial, tmp_path / "a.c3d")
    file = ezc3d.c3d(str(path))
    points = file["data"]["points"][:3].transpose(2, 1, 0)
    np.testing.assert_allclose(points / 1000, trial.points_m, atol=3e-7)
    assert file["parameters"]["POINT"]["LABELS"]["value"] == list(trial.landmarks)
    assert file["parameters"]["EVENT"]["LABELS"]["value"] == ["impact", "top"]
    np.testing.assert_allclose(
        file["parameters"]["EVENT"]["TIMES"]["value"], [[0, 1], [1.5, 1.25]], atol=1e-6
    )
    with path.open("rb") as stream, warnings.catch_warnings():
        warnings.simplefilter("ignore")
        frames = np.array([p.copy() for _, p, _ in c3d.Reader(stream).read_frames()])
    np.testing.assert_allclose(
        frames[..., :3][~np.isnan(points[..., 0])], points[~np.isnan(points[..., 0])], atol=1e-3
    )


def test_a_made_trial_keeps_its_words(tmp_path) -> None:
    """Truth: made. A name that is no C3D file is refused before anything is written."""
    with pytest.raises(BadRequest, match=r"Do: give a name that ends in .c3d"):
        write_capture(made_trial(), tmp_path / "a.csv")
    assert not (tmp_path / "a.csv").exists()


# --- describe ----------------------------------------------------------------------------------------------


def holed_capture() -> Capture:
    """Gaps of known length: c7 6 frames far from contact, clubhead 5 at contact, the ball gone after contact."""
    points = truth()
    points["c7"][60:66] = np.nan
    points["clubhead"][358:363] = np.nan
    points["toe_left"][:] = np.nan
    points["ball"][380:] = np.nan
    return as_captured(points, events=(FileEvent("X", 1.0),), prefix="Max:")


def test_describe_tells_what_is_there_and_what_is_not() -> None:
    """Truth: made. Every field of the line; missing landmarks are listed, not raised."""
    setup = replace(Y_UP, landmarks={"xiphoid": ("STRN",), "acromion_left": ("Max:acromion_left",)})
    found = describe_capture(replace(holed_capture(), warnings=("a", "b")), setup)
    assert found["kind"] == "markers"
    assert (found["rate_hz"], found["unit"], found["frames"]) == (240.0, "mm", 504)
    assert found["duration_s"] == pytest.approx(2.1)
    assert "acromion_left" in found["landmarks_found"]
    assert "xiphoid" not in found["landmarks_found"]
    assert found["landmarks_missing"] == "xiphoid (STRN)"
    assert found["labels_unused"] == 1
    assert found["gaps"] == 3
    body = len(found["landmarks_found"].split(", ")) - 1
    assert found["missing_percent"] == pytest.approx(100 * (6 + 5 + 504) / (body * 504))
    assert (found["longest_gap_landmark"], found["longest_gap_s"]) == ("toe_left", pytest.approx(2.1))
    assert found["contact_time_s"] == pytest.approx(CONTACT_S, abs=4 / 240)
    assert found["longest_gap_near_contact_landmark"] == "toe_left"
    assert (found["events"], found["warnings"]) == ("X", "a | b")


def test_the_longest_gap_near_contact_is_told_apart() -> None:
    """Truth: made. A long gap far from contact does not hide a short one at contact."""
    points = truth()
    points["c7"][60:100] = np.nan
    points["t8"][355:362] = np.nan
    found = describe_capture(as_captured(points), Y_UP)
    assert (found["longest_gap_landmark"], found["longest_gap_s"]) == ("c7", pytest.approx(40 / 240))
    near = found["longest_gap_near_contact_landmark"], found["longest_gap_near_contact_s"]
    assert near == ("t8", pytest.approx(7 / 240))
    whole = describe_capture(as_captured(truth()), Y_UP)
    assert (whole["gaps"], whole["longest_gap_s"], whole["longest_gap_near_contact_landmark"]) == (0, 0.0, "")


def test_a_capture_without_landmarks_is_described_too() -> None:
    """Truth: made."""
    found = describe_capture(as_captured({"Channel103": truth()["c7"]}), Y_UP)
    assert (found["landmarks_found"], found["gaps"], found["labels_unused"]) == ("", 0, 1)
    assert np.isnan(found["contact_time_s"])


# --- the picture -------------------------------------------------------------------------------------------


def test_the_picture_of_gaps_shows_each_bar_in_its_place() -> None:
    """Truth: made. Bars by landmark, start and length; filled and missing differ in hatching too."""
    trial = made_trial()
    ax = draw_gaps(trial)
    names = [label.get_text() for label in ax.get_yticklabels()]
    assert names == list(trial.landmarks)
    bars = {names[round(bar.get_y() + bar.get_height() / 2)]: bar for bar in ax.patches}
    assert set(bars) == {"c7", "toe_left"}
    assert (bars["c7"].get_x(), bars["c7"].get_width()) == pytest.approx((199.5 / 240, 6 / 240))
    assert (bars["toe_left"].get_x(), bars["toe_left"].get_width()) == pytest.approx((99.5 / 240, 100 / 240))
    c7, toe = "c7", "toe_left"
    assert bars[c7].get_hatch()
    assert not bars[toe].get_hatch()
    assert colors.to_hex(bars[c7].get_facecolor()) != colors.to_hex(bars[toe].get_facecolor())
    assert {text.get_text() for text in ax.get_legend().get_texts()} == {
        "missing",
        "missing in the file, filled",
    }
    assert "contact" in [text.get_text() for text in ax.texts]


def test_the_picture_of_a_whole_trial_says_so() -> None:
    """Truth: made."""
    ax = draw_gaps(load_trial(as_captured(truth()), Y_UP, swing="s", golfer="g"))
    assert "nothing is missing" in [text.get_text() for text in ax.texts]
