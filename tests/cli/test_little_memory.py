"""Under a limit on memory (ulimit -v) a command works or says so in one sentence; it never hangs."""

from __future__ import annotations

import subprocess
import sys

import pytest

resource = pytest.importorskip("resource")


def limited(megabytes, *words):
    """A command under a limit on its address space."""
    size = megabytes * 1_000_000
    return subprocess.run(
        [sys.executable, "-m", "lightsim", *words],
        capture_output=True,
        text=True,
        check=False,
        timeout=300,
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_AS, (size, size)),
    )


@pytest.mark.skipif(sys.platform != "linux", reason="limits of the address space are Linux's")
@pytest.mark.parametrize("megabytes", [300, 100])
@pytest.mark.parametrize("command", ["check", "preview"])
def test_too_little_for_the_libraries_is_said_at_once(folder, megabytes, command):
    done = limited(megabytes, command, "my-set.toml")
    assert (done.returncode, done.stdout) == (2, "")
    told = f"lightsim: memory: found a limit of {megabytes} MB (ulimit -v), allowed 500 MB or more\n"
    assert done.stderr == told


@pytest.mark.skipif(sys.platform != "linux", reason="limits of the address space are Linux's")
def test_a_picture_that_does_not_fit_is_refused_by_its_estimate(folder):
    done = limited(600, "preview", "my-set.toml", "--width", "1500")
    assert (done.returncode, done.stdout) == (2, "")
    (line,) = done.stderr.splitlines()
    assert line.startswith("lightsim: ")
    assert "memory" in line
    assert sorted(path.name for path in folder.iterdir()) == ["my-set.toml"]
