"""Work shared out between processes: the same answers, whatever becomes of the processes."""

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from capture.errors import PlainError, UnknownNameError
from wainscribe import workers
from wainscribe.workers import Workers, let_go

HOME = os.getpid()  # in another process, which imports this module, its own


def double(number: int) -> tuple[int, int]:
    return 2 * number, os.getpid()


def refuse(name: str) -> None:
    raise UnknownNameError("wall", name, ["north wall", "south wall"])


def die_elsewhere(home: int) -> str:
    if os.getpid() != home:
        os._exit(9)
    return "done here"


def test_answers_come_as_they_are_asked_for_from_other_processes():
    with Workers(2) as others:
        started = [others.start(double, n) for n in range(6)]
        answers = [answer() for answer in started]
    assert [value for value, _ in answers] == [0, 2, 4, 6, 8, 10]
    assert HOME not in {process for _, process in answers}


@pytest.mark.parametrize("count", [1, 2])
def test_a_sentence_for_a_person_comes_back_as_it_was(count):
    with Workers(count) as others, pytest.raises(PlainError, match="No wall is called “nort wall”; did you mean"):
        others.start(refuse, "nort wall")()


def test_one_process_does_all_the_work_itself():
    with Workers(1) as others:
        assert others.start(double, 4)() == (8, HOME)


def test_where_a_process_dies_the_work_is_done_here():
    with Workers(2) as others:
        answer = others.start(die_elsewhere, HOME)
        assert answer() == "done here"
        assert others.start(double, 1)() == (2, HOME)  # and no process is asked again


@pytest.mark.parametrize("why", [OSError("no semaphores"), NotImplementedError("no semaphores")])
def test_where_no_process_can_be_had_the_work_is_done_here(monkeypatch, why):
    def none(*_):
        raise why

    monkeypatch.setattr(workers, "ProcessPoolExecutor", none)
    with Workers(2) as others:
        assert others.start(double, 3)() == (6, HOME)


@pytest.mark.parametrize("why", [OSError("no more"), EOFError("unexpected EOF")])  # EOF: what makes them was stopped
def test_where_a_process_cannot_begin_the_work_is_done_here_without_a_word(monkeypatch, capfd, why):
    def refused(*_):
        raise why

    monkeypatch.setattr(workers.ProcessPoolExecutor, "submit", refused)
    with Workers(2) as others:
        assert others.start(double, 3)() == (6, HOME)
    assert capfd.readouterr() == ("", "")


def leave_asleep() -> None:
    with Workers(2) as others:
        others.start(double, 1)()  # both are up
        others.start(time.sleep, 600)
        raise KeyboardInterrupt


def test_what_is_not_waited_for_is_ended():
    start = time.monotonic()
    with pytest.raises(KeyboardInterrupt):
        leave_asleep()
    assert time.monotonic() - start < 300  # not the ten minutes that it would have slept


SLOW = """
import time
print("importing", flush=True)
time.sleep(3)
"""

STOPPED = """
import signal, time
from wainscribe.workers import Workers
if __name__ == "__main__":
    signal.signal(signal.SIGINT, signal.default_int_handler)  # what a shell runs in the background is deaf to it
    try:
        with Workers(2, ["slow"]) as others:
            time.sleep(600)
    except KeyboardInterrupt:
        print("stopped", flush=True)
"""


@pytest.mark.skipif(sys.platform != "linux", reason="elsewhere no server imports for all")
def test_ctrl_c_while_processes_begin_is_told_by_this_one_alone(tmp_path):
    """A terminal sends it to all that it runs."""
    (tmp_path / "slow.py").write_text(SLOW)
    (tmp_path / "stopped.py").write_text(STOPPED)
    program = subprocess.Popen(
        [sys.executable, tmp_path / "stopped.py"], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        env={**os.environ, "PYTHONPATH": os.pathsep.join([str(tmp_path), *sys.path])}, start_new_session=True,
    )  # fmt: skip
    assert program.stdout.readline() == "importing\n"
    os.killpg(program.pid, signal.SIGINT)
    assert program.communicate(timeout=120) == ("stopped\n", "")
    assert program.returncode == 0


ORPHAN = """
import os, sys, time
from tests.test_workers import double
from wainscribe.workers import Workers, let_go
if __name__ == "__main__":
    with Workers(2) as others:
        print(others.start(double, 1)()[1], flush=True)
        time.sleep(600)
"""


@pytest.mark.skipif(sys.platform == "win32", reason="no SIGKILL there")
def test_processes_go_with_the_one_that_started_them_even_when_it_is_killed(tmp_path):
    script = tmp_path / "orphan.py"
    script.write_text(ORPHAN)
    parent = subprocess.Popen(
        [sys.executable, script], stdout=subprocess.PIPE, env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)}
    )
    child = int(parent.stdout.readline())
    parent.send_signal(signal.SIGKILL)
    parent.wait()
    parent.stdout.close()
    assert _gone(child)


def _gone(process: int) -> bool:
    for _ in range(600):
        try:
            os.kill(process, 0)
        except ProcessLookupError:
            return True
        time.sleep(0.1)
    return False


SHARED = """
import sys
from tests.test_workers import knows
from wainscribe.workers import Workers, let_go
if __name__ == "__main__":
    with Workers(2, ["wave"]) as others:
        print("wave" in sys.modules, others.start(knows, "wave")())
"""


def knows(module: str) -> bool:
    return module in sys.modules


@pytest.mark.skipif(sys.platform != "linux", reason="elsewhere each process imports for itself")
def test_what_all_need_is_imported_once_for_all(tmp_path):
    script = tmp_path / "shared.py"
    script.write_text(SHARED)
    env = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)}
    told = subprocess.run([sys.executable, script], env=env, capture_output=True, text=True, check=True)
    assert told.stdout.split() == ["False", "True"]


@pytest.mark.skipif(sys.platform != "linux", reason="elsewhere nothing is done, and no /proc tells what is held")
def test_memory_that_is_free_goes_back_to_the_system():
    """Glibc gives back by itself only what lies above all that is still held: here each small piece holds some up."""
    pieces = [bytes(20_000) for _ in range(10_000)]
    still_held = pieces[::100]
    del pieces
    before = held_now()
    let_go()
    assert before - held_now() > 100e6  # of 198 MB that are free
    assert len(still_held) == 100


def held_now() -> int:
    """Bytes of this process in memory (proc(5), statm, second number)."""
    return int(Path("/proc/self/statm").read_text().split()[1]) * os.sysconf("SC_PAGE_SIZE")
