"""A whole house for the figures: the demo's walls over and over, each with three photos of its own bytes."""

import json
import shutil
from pathlib import Path
from typing import Any

from wainscribe.demo import demo_source
from wainscribe.folder import JobFolder

PHOTOS = 3  # a wall


def build(path: Path, walls: int) -> JobFolder:
    """A job of so many walls in rooms of three, with photos never searched before.

    A photo that a wall has twice differs in its last bytes only, which no decoder reads.
    """
    source = demo_source()
    demo = json.loads((source / "job.json").read_text("utf-8"))
    kinds = [wall for room in demo["rooms"] for wall in room["walls"]]
    (path / "photos").mkdir(parents=True)
    (path / "history").mkdir()
    rooms: list[dict[str, Any]] = []
    for n in range(walls):
        if n % len(kinds) == 0:
            rooms.append({"name": f"room {n // len(kinds) + 1}", "walls": []})
        rooms[-1]["walls"].append(_wall(kinds[n % len(kinds)], n + 1, source / "photos", path / "photos"))
    (path / "job.json").write_text(json.dumps({**demo, "rooms": rooms, "scheme": _everywhere(demo["scheme"])}), "utf-8")
    folder = JobFolder(path)
    folder.load()
    return folder


def _everywhere(scheme: dict[str, Any]) -> dict[str, Any]:
    """The scheme without what it says of single walls and things."""
    return {key: value for key, value in scheme.items() if not isinstance(value, dict)}


def _wall(wall: dict[str, Any], number: int, source: Path, photos: Path) -> dict[str, Any]:
    measured = [p for p in wall["photos"] if not p.get("record_only")]
    copies = [(p, turn) for turn in range(PHOTOS) for p in measured][:PHOTOS]
    renamed: dict[str, list[str]] = {}
    taken = []
    for photo, turn in copies:
        stem, _, ending = photo["file"].rpartition(".")
        file = f"{stem}-{number}-{turn}.{ending}"
        shutil.copy(source / photo["file"], photos / file)
        if ending == "jpg":
            with open(photos / file, "ab") as more:
                more.write(f"wall {number}, copy {turn}".encode())
        renamed.setdefault(photo["name"], []).append(file)
        taken.append({**photo, "name": file, "file": file})
    marks = [
        {**m, "sights": [{**s, "photo": f} for s in m.get("sights", []) for f in renamed.get(s["photo"], [])]}
        for m in wall["marks"]
    ]
    return {**wall, "name": f"{wall['name']} {number}", "photos": taken, "marks": marks}
