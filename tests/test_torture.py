"""A short run of the sudden deaths; `make torture` is the long one."""

import re
import subprocess
import sys

import pytest


@pytest.mark.slow
def test_forty_sudden_deaths_and_a_full_disk_are_survived():
    run = subprocess.run(
        [sys.executable, "-m", "tests.torture", "--kills", "40"], capture_output=True, text=True, check=False
    )
    assert run.returncode == 0, run.stderr[-2000:]
    told = re.search(r"^kills: 40, answers heard (\d+)", run.stdout, re.M)
    assert told, run.stdout
    assert int(told[1]) >= 19  # every other child answers once at least before it dies; one of the twenty makes papers
