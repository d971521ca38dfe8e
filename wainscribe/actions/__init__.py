"""What a person can do with a job, one function each; the command line and the pages both call these."""

from wainscribe.actions.about import (
    ABOUT,
    KEYED,
    calibrate_lens,
    keep_logo,
    new_job,
    set_about,
    set_print_run,
    set_scheme,
    take_lenses,
)
from wainscribe.actions.alternatives import set_alternative
from wainscribe.actions.change import ActionError, change_wall, checked, read_file
from wainscribe.actions.conditions import CONDITIONS, set_conditions
from wainscribe.actions.marks import add_mark, check_sights, free_name, remove_mark, unknown_kind
from wainscribe.actions.photos import add_photo, add_photos, describe_photo, find_photo, remove_photo, take_photo
from wainscribe.actions.planning import first_reading, plan_job, plan_solved, sills_to_tape, unmarked, what_next
from wainscribe.actions.snapping import OnEdges, SnappedMark, snap_mark, snap_marks
from wainscribe.actions.solving import SolvedWall, Tell, locate, no_wall_yet, solve_job, solve_wall
from wainscribe.actions.tapes import add_tape, check_tape, place_name, remove_tape, replaced_by, usual_along
from wainscribe.actions.walls import corner_doubts, remove_wall, set_aside, set_wall
from wainscribe.actions.yard import NAMED, PLAIN, gather, set_yard

__all__ = [
    "ABOUT",
    "CONDITIONS",
    "KEYED",
    "NAMED",
    "PLAIN",
    "ActionError",
    "OnEdges",
    "SnappedMark",
    "SolvedWall",
    "Tell",
    "add_mark",
    "add_photo",
    "add_photos",
    "add_tape",
    "calibrate_lens",
    "change_wall",
    "check_sights",
    "check_tape",
    "checked",
    "corner_doubts",
    "describe_photo",
    "find_photo",
    "first_reading",
    "free_name",
    "gather",
    "keep_logo",
    "locate",
    "new_job",
    "no_wall_yet",
    "place_name",
    "plan_job",
    "plan_solved",
    "read_file",
    "remove_mark",
    "remove_photo",
    "remove_tape",
    "remove_wall",
    "replaced_by",
    "set_about",
    "set_alternative",
    "set_aside",
    "set_conditions",
    "set_print_run",
    "set_scheme",
    "set_wall",
    "set_yard",
    "sills_to_tape",
    "snap_mark",
    "snap_marks",
    "solve_job",
    "solve_wall",
    "take_lenses",
    "take_photo",
    "unknown_kind",
    "unmarked",
    "usual_along",
    "what_next",
]
