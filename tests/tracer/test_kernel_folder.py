"""Machine code is loaded from a folder that is ours alone, and only if it is unchanged."""

from __future__ import annotations

import os
import pickle
import stat
import subprocess
import sys
from pathlib import Path

import pytest

from lightsim.tracer import kernel_folder as it

pytestmark = pytest.mark.skipif(os.name != "posix", reason="owners and modes are POSIX's")

# Compiles, or fetches, one small kernel and says which.
SCRIPT = """
import numpy as np
from lightsim.tracer.kernels.jit import cache_folder, entry_point, jit

@jit
def halved(x):
    return 0.5 * x

def fill(values, x):
    for i in range(values.shape[0]):
        values[i] = halved(x)

kernel, values = entry_point(fill), np.zeros(3)
kernel(values, 8.0)
assert (values == 4.0).all()
print("fetched" if sum(kernel.dispatcher.stats.cache_hits.values()) else "compiled", cache_folder())
"""


@pytest.fixture
def script(tmp_path):
    path = tmp_path / "script.py"
    path.write_text(SCRIPT)
    return path


def run(script, check=True, **environment):
    """Whether the kernel was fetched or compiled, the folder, and what was said."""
    clean = {key: value for key, value in os.environ.items() if not key.startswith(("LIGHTSIM", "XDG"))}
    done = subprocess.run(
        [sys.executable, str(script)],
        capture_output=True,
        text=True,
        env={**clean, **{key: str(value) for key, value in environment.items()}},
        check=check,
    )
    how, _, folder = done.stdout.strip().partition(" ")
    return how, Path(folder), done.stderr


class Evil:
    """A pickle that leaves a mark where it is loaded."""

    def __init__(self, mark):
        self.mark = mark

    def __reduce__(self):
        return Path.touch, (self.mark,)


def plant(folder, mark):
    """Put a pickle that acts, correctly sealed, in the place of every file."""
    for file in folder.glob("*.nb?"):
        it.write_sealed(file, pickle.dumps(Evil(mark)))


def test_code_that_others_could_have_written_is_not_loaded(script, tmp_path):
    cache, mark = tmp_path / "cache", tmp_path / "mark"
    how, folder, said = run(script, LIGHTSIM_CACHE=cache)
    assert (how, folder.parent, said) == ("compiled", cache, "")
    assert {stat.S_IMODE(place.stat().st_mode) for place in (cache, folder)} == {0o700}
    assert run(script, LIGHTSIM_CACHE=cache)[0] == "fetched"
    plant(folder, mark)
    for place, mode in ((cache, 0o777), (folder, 0o720)):
        place.chmod(mode)
        how, used, said = run(script, LIGHTSIM_CACHE=cache)
        place.chmod(0o700)
        assert how == "compiled"
        assert cache not in used.parents
        assert f"LIGHTSIM_CACHE: found {place} open to writing by others, allowed one closed to them" in said
        assert len(said.splitlines()) == 1
        assert not mark.exists()
        assert not used.exists()  # a private folder goes with its process
    run(script, check=False, LIGHTSIM_CACHE=cache)
    assert mark.exists()  # so the plant would have acted


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() != 0, reason="only root gives folders away")
def test_a_folder_of_someone_else_is_not_used(script, tmp_path):
    cache = tmp_path / "cache"
    cache.mkdir(mode=0o700)
    os.chown(cache, 12345, 12345)
    _, used, said = run(script, LIGHTSIM_CACHE=cache)
    assert cache not in used.parents
    assert "owned by someone else, allowed a folder of your own" in said


def test_without_a_home_the_kernels_are_kept_in_a_private_folder(script, tmp_path):
    shared = tmp_path / "lightsim-cache"
    shared.mkdir()
    how, used, said = run(script, HOME="/dev/null/none", TMPDIR=tmp_path)
    assert (how, said) == ("compiled", "")
    assert used.parent.parent == tmp_path
    assert used.parent != shared
    assert sorted(path.name for path in tmp_path.iterdir()) == ["lightsim-cache", "script.py"]
    assert list(shared.iterdir()) == []


def test_the_home_s_cache_is_looked_at_in_the_same_way(script, tmp_path):
    how, used, _ = run(script, HOME=tmp_path)
    assert (how, used.parent) == ("compiled", tmp_path / ".cache" / "lightsim")
    used.parent.chmod(0o777)
    _, used, said = run(script, HOME=tmp_path)
    assert tmp_path not in used.parents
    assert "open to writing by others" in said


def test_a_complete_cache_that_cannot_be_written_is_used(script, tmp_path):
    cache = tmp_path / "cache"
    _, folder, _ = run(script, LIGHTSIM_CACHE=cache)
    it.mark_complete(folder)
    folder.chmod(0o500)
    cache.chmod(0o500)
    try:
        assert run(script, LIGHTSIM_CACHE=cache)[:2] == ("fetched", folder)
    finally:
        cache.chmod(0o700)
        folder.chmod(0o700)


def damaged(data, how):
    middle = len(data) // 2
    return {
        "empty": b"",
        "cut": data[:middle],
        "flipped": data[:middle] + bytes([data[middle] ^ 0x10]) + data[middle + 1 :],
        "zeros": bytes(len(data)),
    }[how]


@pytest.mark.parametrize(
    ("kind", "how"),
    [("nbi", "empty"), ("nbc", "cut"), ("nbc", "flipped")],
)
def test_damaged_files_are_told_of_and_made_anew(script, tmp_path, kind, how):
    cache = tmp_path / "cache"
    _, folder, _ = run(script, LIGHTSIM_CACHE=cache)
    it.mark_complete(folder)
    (file,) = folder.glob(f"*.{kind}")
    file.write_bytes(damaged(file.read_bytes(), how))
    result, _, said = run(script, LIGHTSIM_CACHE=cache)
    assert result == "compiled"
    assert said == f"lightsim: {folder}: found damaged kernels; they are compiled anew\n"
    assert not (folder / it.COMPLETE).exists()
    assert run(script, LIGHTSIM_CACHE=cache)[::2] == ("fetched", "")


def test_sealed_files(tmp_path, capsys):
    path = tmp_path / "code"
    assert it.read_sealed(path) is None
    it.write_sealed(path, b"content")
    assert it.read_sealed(path) == b"content"
    it.write_sealed(tmp_path / "no" / "folder", b"content")  # nothing is kept, nothing is raised
    path.write_bytes(b"x" * 50)
    assert it.read_sealed(path) is None
    assert not path.exists()
    assert "found damaged kernels" in capsys.readouterr().err


def test_the_oldest_kernels_of_other_sources_go_where_they_take_much_room(tmp_path, monkeypatch):
    monkeypatch.setattr(it, "RULES", it.RULES._replace(most_old_bytes=250))
    for days, name in enumerate(("now", "a", "b", "c")):
        folder = tmp_path / f"kernels-{name}"
        folder.mkdir()
        (folder / "code").write_bytes(bytes(100))
        then = 1.7e9 - 86400.0 * days
        os.utime(folder, (then, then))
    monkeypatch.setattr(it.time, "time", lambda: 1.7e9)
    it.forget_old(tmp_path / "kernels-now")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["kernels-a", "kernels-b", "kernels-now"]
