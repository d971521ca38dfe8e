"""README and DEVELOPERS name only what is there: files, modules, make targets, commands and their options."""

import re
import shlex
from pathlib import Path

import pytest

from wainscribe.cli import main

ROOT = Path(__file__).parent.parent
README, DEVELOPERS = ((ROOT / name).read_text(encoding="utf-8") for name in ("README.md", "DEVELOPERS.md"))
HOUSE = ("capture", "layout", "report", "wainscribe", "tests", "fixtures", "desk")


def named_files() -> list[str]:
    """Paths between backticks, the desk's by their short names."""
    paths = re.findall(r"`([\w./*-]+/[\w./*-]*)`", README + DEVELOPERS)
    return sorted({path for path in paths if path.split("/")[0] in HOUSE and "*" not in path})


def typed() -> list[list[str]]:
    """The command lines of README, split into words; a comment is no part of them."""
    lines = [line.strip() for line in README.splitlines() if line.startswith("    wainscribe ")]
    inline = re.findall(r"`(wainscribe [^`]+)`", " ".join(README.split()))
    return [shlex.split(line, comments=True) for line in lines + inline if "COMMAND" not in line and "..." not in line]


def test_there_is_something_to_look_at():
    assert len(named_files()) > 30
    assert len(typed()) > 25


@pytest.mark.parametrize("path", named_files())
def test_a_file_that_is_named_is_there(path):
    known = (ROOT / path, ROOT / "wainscribe" / path, ROOT / f"{path}.py")
    assert any(place.exists() for place in known)


@pytest.mark.parametrize("name", sorted(set(re.findall(r"`(?:python -m )?(tests\.\w+)", DEVELOPERS))))
def test_a_module_of_figures_that_is_named_runs_alone(name):
    assert '__name__ == "__main__"' in (ROOT / f"{name.replace('.', '/')}.py").read_text(encoding="utf-8")


@pytest.mark.parametrize("target", sorted(set(re.findall(r"make (\w+)(?=`|  )", README + DEVELOPERS))))
def test_a_make_target_that_is_named_is_there(target):
    assert re.search(rf"^{target}:", (ROOT / "Makefile").read_text(encoding="utf-8"), re.M)


@pytest.mark.parametrize("words", typed(), ids=" ".join)
def test_a_command_that_is_named_takes_these_options(words):
    command = main.commands[words[1]]
    options = {option for parameter in command.params for option in (*parameter.opts, *parameter.secondary_opts)}
    assert {word for word in words[2:] if word.startswith("-")} <= options


def test_the_picture_of_the_flow_names_modules_that_are_there():
    picture = DEVELOPERS.partition("what people give")[2].partition("\n\nBeside the stream")[0]
    middle = " ".join(line[33:84] for line in picture.splitlines()[1:])
    words = set(re.findall(r"[a-z_]{2,}", middle))
    assert len(words) > 40
    there = {path.stem for package in HOUSE[:4] for path in (ROOT / package).rglob("*")} | set(HOUSE)
    assert words <= there
