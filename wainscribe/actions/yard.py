"""What the yard has and how the shop saws; and all that is to be cut from it."""

from capture.errors import UnknownNameError
from layout.plan import Plan
from layout.shop import SECONDS, Shop, shop_of
from layout.stock import Material
from layout.yard import Yard, offered
from wainscribe.actions.change import ActionError, checked, with_changes
from wainscribe.folder import JobFolder
from wainscribe.job import Job

# KEY.NAME=VALUE, the field that holds it, and what it offers.
NAMED = {
    "board": ("boards", Material.BOARD), "moulding": ("mouldings", Material.MOULDING),
    "sheet": ("sheets", Material.SHEET), "price": ("prices", None),
}  # fmt: skip
PLAIN = tuple(field for field in Yard.model_fields if field not in [field for field, _ in NAMED.values()])


def set_yard(folder: JobFolder, notes: dict[str, str]) -> Yard:
    """Note what the yard has: ``board.1 x 4=8 ft, 12 ft``, ``kerf=3/32``, ``price.1 x 4=1.85/ft``.

    An empty value takes a size or a price out, or goes back to the usual one.
    """
    for key in notes:
        if key not in PLAIN and key.partition(".")[0] not in NAMED:
            raise UnknownNameError("note about the yard", key, [*(f"{word}.NAME" for word in NAMED), *PLAIN])
    named = {key: value for key, value in notes.items() if key.partition(".")[0] in NAMED}
    with folder.changing() as change:
        yard = with_changes(
            change.job.yard, {k: v for k, v in notes.items() if k not in named}, PLAIN, "note about the yard"
        )
        for key, value in sorted(named.items(), key=lambda note: note[0].startswith("price.") and note[1] != ""):
            yard = _with_named(yard, *_parted(key), value)
        change.job = change.job.model_copy(update={"yard": yard})
    return yard


def _parted(key: str) -> tuple[str, str]:
    word, _, name = key.partition(".")
    if not 1 <= len(name.strip()) <= 80:
        raise ActionError(f"“{key}” wants a name of 1 to 80 letters after the point, such as {word}.1 x 4.")
    return word, name.strip()


def _with_named(yard: Yard, word: str, name: str, value: str) -> Yard:
    """The yard with one line more, or one less; a price goes with what it was for."""
    field, material = NAMED[word]
    if value and material is not None:
        offered(material, name, value)  # a sentence of its own before the whole record is checked
    kept = {key: text for key, text in getattr(yard, field).items() if key != name}
    changed = {**dict(yard), field: {**kept, name: value} if value else kept}
    if not value:
        changed["prices"] = {key: text for key, text in changed["prices"].items() if key != name}
    return checked(Yard, changed)


def gather(job: Job, plan: Plan, seconds: float = SECONDS) -> Shop:
    """All that is to be cut for a job's plan, room by room."""
    return shop_of(plan, job.yard, job.walls_by_room, seconds)
