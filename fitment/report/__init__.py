"""Results as text and as the JSON of the contract."""

from fitment.report.alignment import ALIGN_CAUTION, align_json, align_subtitle, align_text, ball_words, setting_words
from fitment.report.builds import (
    CHANGE_WORDS,
    case_json,
    case_text,
    clearance_json,
    clearances_csv,
    compare_json,
    compare_text,
    verdict_words,
)
from fitment.report.change_sets import sets_text
from fitment.report.changes import changes_json, changes_text
from fitment.report.checked import checked_json, checked_text
from fitment.report.codes import chord_text, tire_text, wheel_text
from fitment.report.common import (
    VERDICT_WORDS,
    angle_text,
    both_units,
    corner_words,
    dumps,
    free_name,
    measure_text,
    offsets_text,
    pose_words,
    records_csv,
    rounded,
    setup_json,
    setup_words,
    table,
    wrapped,
)
from fitment.report.envelope import envelope_json, envelope_text, ply_bytes, stl_bytes
from fitment.report.next_reading import next_json, next_text, sure_json, sure_words
from fitment.report.offset_window import both_sides_text, window_json, window_text, without_json
from fitment.report.order_sheet import order_json, order_text
from fitment.report.pose_table import poses_csv, poses_json, poses_text
from fitment.report.profiles import profile_json, profile_text
from fitment.report.readings import slip_lines, slip_words
from fitment.report.screening import (
    MOST,
    answer_columns,
    groups_text,
    screen_csv,
    screen_json,
    screen_text,
)
from fitment.report.summary import check_summary, compare_summary, verdict_lines
from fitment.report.uncertainty import certainty_json, certainty_text

__all__ = [
    "ALIGN_CAUTION",
    "CHANGE_WORDS",
    "MOST",
    "VERDICT_WORDS",
    "align_json",
    "align_subtitle",
    "align_text",
    "angle_text",
    "answer_columns",
    "ball_words",
    "both_sides_text",
    "both_units",
    "case_json",
    "case_text",
    "certainty_json",
    "certainty_text",
    "changes_json",
    "changes_text",
    "check_summary",
    "checked_json",
    "checked_text",
    "chord_text",
    "clearance_json",
    "clearances_csv",
    "compare_json",
    "compare_summary",
    "compare_text",
    "corner_words",
    "dumps",
    "envelope_json",
    "envelope_text",
    "free_name",
    "groups_text",
    "measure_text",
    "next_json",
    "next_text",
    "offsets_text",
    "order_json",
    "order_text",
    "ply_bytes",
    "pose_words",
    "poses_csv",
    "poses_json",
    "poses_text",
    "profile_json",
    "profile_text",
    "records_csv",
    "rounded",
    "screen_csv",
    "screen_json",
    "screen_text",
    "sets_text",
    "setting_words",
    "setup_json",
    "setup_words",
    "slip_lines",
    "slip_words",
    "stl_bytes",
    "sure_json",
    "sure_words",
    "table",
    "tire_text",
    "verdict_lines",
    "verdict_words",
    "wheel_text",
    "window_json",
    "window_text",
    "without_json",
    "wrapped",
]
