"""Labels read as words: sides, separators, cases, prefixes, traps."""

from __future__ import annotations

import pytest

from swinglab.begin.words import propose, read_labels


def landmark_of(label: str, *others: str) -> str | None:
    """The landmark that a label names in a file with other labels."""
    found = {p.label: p.landmark for p in propose(read_labels([label, *others]))}
    return found.get(label)


@pytest.mark.parametrize(
    "label",
    ["LASI", "lasis", "L_ASIS", "L.ASIS", "ASIS_L", "asis left", "Left-ASIS", "ASISLeft", "leftAsis", "Subject 1:LASI",
     "anterior superior iliac spine left", "Left_Anterior_Superior_Iliac_Spine", "asis_left"],
)  # fmt: skip
def test_case_separator_prefix_and_place_of_the_side_do_not_matter(label: str) -> None:
    """Truth: made. One landmark in the spellings that files use."""
    assert landmark_of(label) == "asis_left"


@pytest.mark.parametrize(
    ("label", "landmark"),
    [("LEL", "elbow_lateral_left"), ("REM", "elbow_medial_right"), ("RRS", "wrist_radial_right"),
     ("LUS", "wrist_ulnar_left"), ("RAC", "acromion_right"), ("IJ", "jugular_notch"), ("PX", "xiphoid"), ("C7", "c7"),
     ("T8", "t8"), ("LLM", "ankle_lateral_left"), ("RMM", "ankle_medial_right"), ("LGH", "shoulder_left")],
)  # fmt: skip
def test_abbreviations_of_the_isb_papers(label: str, landmark: str) -> None:
    """Truth: published. Bony landmarks of Wu et al. (2002) and Wu et al. (2005), with a side before them."""
    assert landmark_of(label) == landmark


@pytest.mark.parametrize(
    ("label", "landmark"),
    [("left_shoulder", "shoulder_left"), ("RElbow", "elbow_right"), ("LKnee", "knee_left"), ("right_hip", "hip_right"),
     ("Nose", "nose"), ("left_ear", "ear_left"), ("LBigToe", "toe_left"), ("RHeel", "heel_right"), ("Neck", "neck"),
     ("left_foot_index", "toe_left")],
)  # fmt: skip
def test_joint_names_of_keypoint_sets(label: str, landmark: str) -> None:
    """Truth: published. Joint names of open keypoint data sets (COCO and its relatives): joints are centres."""
    assert landmark_of(label, "left_eye", "RWrist") == landmark


def test_a_bare_joint_among_skin_markers_is_the_lateral_one() -> None:
    """Truth: published. Gait sets with one knee marker place it laterally; there a bare hip is no joint centre."""
    assert landmark_of("L.Knee", "L.ASIS") == "knee_lateral_left"
    assert landmark_of("L.Knee", "R.Ankle") == "knee_left"
    assert landmark_of("RHIP", "VSAC") is None


@pytest.mark.parametrize(
    "label",
    ["pRightBallHand", "LHipAngles", "L.Sac.Wand", "RHEA", "LTHI", "TopOfHand", "toe", "heel", "knee", "HEAD", "RTHI2",
     "LASIRASI", "club", "Wheel", "left", "", "RKneeMoment", "puck", "clubtoe", "head cover"],
)  # fmt: skip
def test_labels_that_name_no_landmark(label: str) -> None:
    """Truth: made. Traps: other words beside a place's name, a side that is lacking, two places at once."""
    assert landmark_of(label, "LASI", "RASI") is None


def test_numbered_brothers_are_a_cluster() -> None:
    """Truth: made. Points counted 1, 2, 3 on a segment are not the landmark; a lone number changes nothing."""
    assert landmark_of("LKnee1", "LKnee2", "LKnee3") is None
    assert landmark_of("r knee 1", "r asis", "r bar 1") == "knee_lateral_right"


@pytest.mark.parametrize(
    ("label", "landmark"),
    [("ClubHead", "clubhead"), ("club_face_centre", "clubhead"), ("Club:Butt", "club_butt"), ("grip end", "club_butt"),
     ("hosel", "club_hosel"), ("Shaft 2", "club_shaft"), ("golf ball", "ball"), ("Ball", "ball")],
)  # fmt: skip
def test_club_and_ball(label: str, landmark: str) -> None:
    """Truth: made. Words for the club's points and the ball."""
    assert landmark_of(label, "LASI") == landmark


def test_words_that_all_labels_share_are_left_out() -> None:
    """Truth: made. A player's name before every label, a word behind every label."""
    before = ["Smith_LASI", "Smith_RASI", "Smith_LKneeLat", "Smith_C7"]
    assert landmark_of(*before) == "asis_left"
    assert landmark_of("r.ASIS_study", "l.ASIS_study", "r_knee_study", "r_mknee_study") == "asis_right"
