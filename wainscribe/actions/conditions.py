"""What was found of the state of the house and of each wall."""

from capture.record import Conditions, Wall
from wainscribe.actions.change import change_wall, with_changes
from wainscribe.folder import JobFolder

CONDITIONS = tuple(Conditions.model_fields)


def set_conditions(folder: JobFolder, wall: str | None, facts: dict[str, str]) -> Conditions:
    """Note conditions of a wall, or of the whole house where none is named; an empty value clears one."""
    if wall is None:
        with folder.changing() as change:
            noted = _with(change.job.conditions, facts)
            change.job = change.job.model_copy(update={"conditions": noted})
        return noted

    def edit(now: Wall) -> Wall:
        return now.model_copy(update={"conditions": _with(now.conditions, facts)})

    return change_wall(folder, wall, edit).conditions


def _with(conditions: Conditions, facts: dict[str, str]) -> Conditions:
    return with_changes(conditions, facts, CONDITIONS, "condition")
