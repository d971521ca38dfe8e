"""Help, examples, completion: what a person reads of a command is whole, fits a screen and works as it stands."""

import shlex
import shutil
import subprocess
import sys
import webbrowser
from pathlib import Path

import click
import pytest
import waitress
from click.testing import CliRunner
from PIL import Image

from tests import synthetic
from tests.conftest import PLACED
from wainscribe import demo
from wainscribe.cli import COMMANDS, main

NAMES = [command.name for command in COMMANDS]
PROGRAM = Path(sys.executable).with_name("wainscribe")
LENS_CARDS = {2: (38.0, 28.0, 1.0), **PLACED}  # calibration wants four
LENS_STANDS = (
    {"at": (60, 46, 95)}, {"at": (5, 46, 80), "yaw": 32}, {"at": (112, 44, 80), "yaw": -32},
    {"at": (60, 95, 72), "pitch": 32},
)  # fmt: skip


def help_of(name: str) -> str:
    shown = CliRunner().invoke(main, [name, "--help"], prog_name="wainscribe")
    assert shown.exit_code == 0
    return shown.stdout


def examples_in(told: str) -> list[str]:
    """The commands under “Examples:”, each on one line."""
    _, _, examples = told.partition("Examples:\n")
    return [line.strip() for line in examples.replace("\\\n", " ").splitlines() if line.strip()]


EXAMPLES = [(name, example) for name in NAMES for example in examples_in(help_of(name))]


@pytest.mark.parametrize("name", NAMES)
def test_the_help_of_a_command_has_examples_and_fits_80_columns(name):
    told = help_of(name)
    assert examples_in(told)
    assert all(example.startswith(f"wainscribe {name} ") for example in examples_in(told))
    assert max(map(len, told.splitlines())) <= 80


def test_the_help_of_all_lists_every_command_and_fits_80_columns():
    told = CliRunner().invoke(main, ["--help"], prog_name="wainscribe").stdout
    assert max(map(len, told.splitlines())) <= 80
    assert {line.split()[0] for line in told.partition("Commands:\n")[2].splitlines()} == set(NAMES)


@pytest.mark.parametrize("command", COMMANDS, ids=NAMES)
def test_every_option_says_what_it_is_for(command):
    options = [parameter for parameter in command.params if isinstance(parameter, click.Option)]
    assert [option.name for option in options if not option.help] == []


@pytest.fixture(scope="module")
def prepared(wall_photo, tmp_path_factory) -> Path:
    """What the examples take for granted: the job “miller” with a photo of its long wall, a folder of jobs, files."""
    place = tmp_path_factory.mktemp("examples")
    for name in ("IMG_2041.jpg", "IMG_2042.jpg", "dent.jpg"):
        shutil.copy(wall_photo, place / name)
    (place / "points.csv").write_text("name,u,v\ncorner,801,602\n")
    with pytest.MonkeyPatch.context() as here:
        here.chdir(place)
        here.setenv("XDG_CONFIG_HOME", str(place / "configuration"))
        here.setattr(synthetic, "OVERSAMPLE", 3)
        for n, stand in enumerate(LENS_STANDS, start=3001):
            picture = synthetic.photograph(synthetic.look((1600, 1200), 1170.0, **stand), LENS_CARDS, seed=n)
            exif = Image.Exif()
            exif[0x010F], exif[0x0110] = "Maker", "Phone"  # Make, Model: whose lens it is
            exif.get_ifd(0x8769)[0xA405] = 26  # FocalLengthIn35mmFilm
            Image.fromarray(picture).save(place / f"IMG_{n}.jpg", quality=95, exif=exif)
        for line in (
            "new miller", "new jobs/miller", "wall miller 'long wall' --width 120", "wall miller 'end wall' --width 96",
            "photo miller 'long wall' IMG_2041.jpg", "mark miller 'long wall' receptacle --across 32 --up 14",
            "aside miller 'long wall' 8", "scheme miller top=38", "undo miller",
        ):  # fmt: skip
            done = CliRunner().invoke(main, shlex.split(line))
            assert done.exit_code == 0, done.output
    return place


@pytest.fixture
def ready(prepared, tmp_path, monkeypatch) -> Path:
    """A fresh copy of it to work in; the pages are not served for ever, and the demo's papers have their own tests."""
    place = Path(shutil.copytree(prepared, tmp_path / "examples"))
    monkeypatch.chdir(place)
    monkeypatch.setattr(webbrowser, "open", lambda _: None)
    monkeypatch.setattr(waitress, "create_server", lambda *_, **__: type("Stopped", (), {"run": lambda _: None})())
    monkeypatch.setattr(demo, "make_papers", lambda _, folder, __: [folder / "site-report.pdf"])
    return place


@pytest.mark.parametrize(("name", "example"), EXAMPLES, ids=[example for _, example in EXAMPLES])
def test_an_example_works_as_it_stands(cli, ready, name, example):
    _, *words = shlex.split(example)
    typed = [found for word in words for found in (sorted(map(str, ready.glob(word))) if "*" in word else [word])]
    assert name == words[0]
    result = cli(*typed)
    assert result.exit_code == 0, result.output


# Completion is click's own; bash is tried for true, and the other two shells are at least given their script.


def completed(*lines: str) -> list[list[str]]:
    """What bash offers for the last word of each line."""
    script = (
        f'export PATH={shlex.quote(str(PROGRAM.parent))}:$PATH; eval "$(_WAINSCRIBE_COMPLETE=bash_source wainscribe)"'
    )
    for line in lines:
        words = line.split(" ")
        script += f"""
            COMPREPLY=(); COMP_WORDS=({" ".join(map(shlex.quote, words))}); COMP_CWORD={len(words) - 1}
            _wainscribe_completion wainscribe; echo "${{COMPREPLY[@]}}"
        """
    told = subprocess.run(["bash", "-c", script], capture_output=True, text=True, check=True).stdout
    return [offered.split() for offered in told.splitlines()]


def test_bash_completes_commands_options_and_choices():
    assert completed("wainscribe p", "wainscribe wall miller x --ri", "wainscribe cards --paper ") == [
        ["print-run", "photo", "plan", "papers"],  # as a job goes
        ["--right", "--right-detail"],
        ["a4", "letter"],
    ]


@pytest.mark.parametrize(("shell", "word"), [("zsh", "compdef"), ("fish", "complete --no-files")])
def test_the_other_shells_get_their_script(cli, monkeypatch, shell, word):
    monkeypatch.setenv("_WAINSCRIBE_COMPLETE", f"{shell}_source")
    told = CliRunner().invoke(main, [], prog_name="wainscribe").stdout
    assert word in told
    assert "wainscribe" in told
