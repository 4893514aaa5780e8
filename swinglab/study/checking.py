"""What is there and what is missing, capture by capture, before anything is measured."""

from __future__ import annotations

import pandas as pd

from swinglab.errors import SwinglabError
from swinglab.load import describe_capture, read_capture
from swinglab.study.measuring import Progress
from swinglab.study.opening import Study


def check_study(study: Study, *, progress: Progress | None = None) -> pd.DataFrame:
    """One row a swing: what its capture holds, or why it cannot be used.

    Returns
    -------
    DataFrame
        swing, file, what `load.describe_capture` reports of the capture, and `problem` (empty where none).
    """
    golfer_of = dict(zip(study.swings["swing"], study.swings["golfer"], strict=True))
    rows = []
    for number, swing in enumerate(study.swings["swing"], start=1):
        if swing not in study.captures:  # outcomes of another device alone
            continue
        path = study.captures[swing]
        golfer = golfer_of[swing]
        row = {"swing": swing, "file": study.shown(path), "problem": ""}
        try:
            if not path.exists():
                raise SwinglabError("the capture is missing", do="put it there")
            setup = study.setup_for(golfer)
            capture = read_capture(
                path, unit=setup.unit, rate_hz=setup.rate_hz, use_invalid=setup.use_points_marked_invalid
            )
            row |= describe_capture(capture, setup)
        except SwinglabError as error:
            row["problem"] = f"{error.what}" + (f" ({error.do})" if error.do else "")
        except Exception as error:  # one bad file must not hide what the others hold
            row["problem"] = f"an unexpected fault ({type(error).__name__}: {str(error)[:200]})"
        rows.append(row)
        if progress:
            progress(number, len(study.swings), swing)
    return pd.DataFrame(rows)
