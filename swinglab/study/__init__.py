"""A study folder and its tables: opened, checked, measured, answered, kept."""

from swinglab.study.answering import answer_study
from swinglab.study.checking import check_study
from swinglab.study.marking import mark_event, unmark_event
from swinglab.study.measuring import measure_study
from swinglab.study.opening import Study, open_study
from swinglab.study.results import Results
from swinglab.study.results_folder import check_writable, read_results, run_record, write_results
from swinglab.study.stored_results import keep_results, kept_findings, kept_results, measure_again
from swinglab.study.swing import SwingRecords, load_swing

__all__ = [
    "Results", "Study", "SwingRecords", "answer_study", "check_study", "check_writable", "keep_results",
    "kept_findings", "kept_results", "load_swing", "mark_event", "measure_again", "measure_study", "open_study",
    "read_results", "run_record", "unmark_event", "write_results",
]  # fmt: skip
