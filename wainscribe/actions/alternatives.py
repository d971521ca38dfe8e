"""Other ways to do a job, by name: only what each wants otherwise than the scheme is noted."""

from capture.errors import UnknownNameError
from layout.scheme import Scheme, check_scheme
from wainscribe.actions.change import checked
from wainscribe.folder import JobFolder

UNSET = ("unit",)  # the job has it


def set_alternative(folder: JobFolder, name: str, wishes: dict[str, str]) -> Scheme | None:
    """Note another way: ``{"middle_rail_at": "20", "paint": "navy"}``; what is given before stays, no wish forgets it.

    Returns
    -------
    Scheme or None
        The scheme as it is that way; None where it was forgotten.

    Raises
    ------
    PlainError
        A wish that is not known, cannot be read, or contradicts another; forgetting what is not there.
    """
    with folder.changing() as change:
        job = change.job
        if not wishes:
            job.other_scheme(name)  # says which there are
            kept = {key: value for key, value in job.alternatives.items() if key != name}
            change.job = job.model_copy(update={"alternatives": kept})
            return None
        known = [field for field in Scheme.model_fields if field not in UNSET]
        for key in wishes:
            if key not in known:
                raise UnknownNameError("scheme setting", key, known)
        wanted = {**job.alternatives.get(name, {}), **wishes}
        whole = checked(Scheme, {**dict(job.scheme), **{k: v for k, v in wanted.items() if v != ""}})
        check_scheme(whole)
        noted = {key: value for key, value in wanted.items() if value != ""}
        change.job = checked(type(job), {**dict(job), "alternatives": {**job.alternatives, name: noted}})
        return change.job.other_scheme(name)
