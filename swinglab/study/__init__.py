"""A study folder and its tables: opening, checking, measuring, answering and storing them."""

from swinglab.study.answering import answer_question, answer_study, diagnose_question, search_study
from swinglab.study.check_words import check_lines, doubt_lines, note_lines
from swinglab.study.checking import StudyCheck, check_folder, check_study
from swinglab.study.csv_tables import read_table, store_table, write_table
from swinglab.study.device_outcomes import MATCH_FILE
from swinglab.study.events_by_hand import mark_event, unmark_event
from swinglab.study.excluded_by_hand import apply_exclusions, exclude_swing, include_swing
from swinglab.study.folder_tables import CAPTURE_ENDINGS
from swinglab.study.frames import write_frames
from swinglab.study.gate import shared_doubts
from swinglab.study.measuring import NothingMeasured, measure_study
from swinglab.study.names_of_people import names_in_study
from swinglab.study.opening import Study, open_study
from swinglab.study.processings import measure_processings
from swinglab.study.registration import register_study
from swinglab.study.results import Results
from swinglab.study.results_folder import check_writable, edited_files, finish_interrupted, write_results
from swinglab.study.reusing import (
    holding_record,
    load_or_answer,
    load_or_measure,
    measure_swing_again,
    others_are_valid,
    store_results,
    swings_folder,
)
from swinglab.study.run_record import PAGE, changed_during_run, run_record
from swinglab.study.stored_results import is_current, read_findings, read_kept, read_results
from swinglab.study.swing import SwingRecords, load_swing
from swinglab.study.swing_cache import SWINGS_FOLDER
from swinglab.study.validating import validate_study, validation_asked, validation_lines
from swinglab.study.whole_swings import measure_curves
from swinglab.study.worker_pool import process_pool

__all__ = [
    "CAPTURE_ENDINGS",
    "MATCH_FILE",
    "PAGE",
    "SWINGS_FOLDER",
    "NothingMeasured",
    "Results",
    "Study",
    "StudyCheck",
    "SwingRecords",
    "answer_question",
    "answer_study",
    "apply_exclusions",
    "changed_during_run",
    "check_folder",
    "check_lines",
    "check_study",
    "check_writable",
    "diagnose_question",
    "doubt_lines",
    "edited_files",
    "exclude_swing",
    "finish_interrupted",
    "holding_record",
    "include_swing",
    "is_current",
    "load_or_answer",
    "load_or_measure",
    "load_swing",
    "mark_event",
    "measure_curves",
    "measure_processings",
    "measure_study",
    "measure_swing_again",
    "names_in_study",
    "note_lines",
    "open_study",
    "others_are_valid",
    "process_pool",
    "read_findings",
    "read_kept",
    "read_results",
    "read_table",
    "register_study",
    "run_record",
    "search_study",
    "shared_doubts",
    "store_results",
    "store_table",
    "swings_folder",
    "unmark_event",
    "validate_study",
    "validation_asked",
    "validation_lines",
    "write_frames",
    "write_results",
    "write_table",
]
