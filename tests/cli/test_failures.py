"""Whatever is wrong ends in one sentence and exit code 2: hostile values, names, streams, options."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time

import pytest
from click.testing import CliRunner

from lightsim.cli import main
from lightsim.cli.failures import plain_sign
from lightsim.errors import LightsimError, SceneError, named
from lightsim.scene.settings.quantities import QUANTITIES
from lightsim.scene.settings.value_list import parse_values
from tests.cli.conftest import SMALL_SET

MANY_NINES = "9" * 5000


def one_sentence(result):
    """Exit code 2, a single short line on standard error, nothing on standard output."""
    assert (result.exit_code, result.stdout) == (2, ""), result.output
    (line,) = result.stderr.splitlines()
    assert line.startswith("lightsim: ")
    assert len(line) < 700
    return line


def with_key(text, key, value):
    """The small set with one of its lines replaced."""
    lines = [f"{key} = {value}" if line.startswith(f"{key} =") else line for line in text.splitlines()]
    return "\n".join(lines)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("a = " + MANY_NINES, "a whole number of thousands of digits"),
        (with_key(SMALL_SET, "count", "0x" + "f" * 5000), "found a whole number of 20,000 bits"),
        (SMALL_SET + "\nspacing = 0x" + "f" * 5000, "spacing: found an unknown key"),
        (with_key(SMALL_SET, "form", '"mesh"\nfile = "a\\u0000b.ply"'), 'found "a\\x00b.ply"'),
        (".".join(["a"] * 20_000) + " = 1", "a key of more than 100 parts"),
        (".".join(['"a b"'] * 20_000) + " = 1", "a key of more than 100 parts"),
        ("[" + ".".join(["a"] * 20_000) + "]", "a key of more than 100 parts"),
        ("a = " + "[" * 50_000, "nested too deeply"),
        ("#" * 1_000_001, "found more than 1,000,000 bytes"),
    ],
    ids=["digits", "hexadecimal", "unknown", "nul", "dotted", "quoted", "heading", "nested", "large"],
)
def test_hostile_files_are_refused_quickly(run, folder, text, told):
    (folder / "my-set.toml").write_text(text)
    for command in ("check", "exposure"):
        result = run(command, "my-set.toml")
        assert (result.exit_code, result.stdout) == (2, "")
        assert told in result.stderr


def test_an_endless_file_is_not_read_to_its_end(run, folder):
    assert "found more than 1,000,000 bytes" in one_sentence(run("check", "/dev/zero"))


def test_dots_in_text_are_no_key(run, folder):
    (folder / "my-set.toml").write_text(SMALL_SET.replace("A flat petal", "A flat petal" + " ..." * 200))
    assert run("check", "my-set.toml").exit_code == 0


@pytest.mark.parametrize("number", ["1e-9", "1e-160", "1000"])
def test_guide_numbers_however_small_can_be_planned_with(run, folder, number):
    (folder / "my-set.toml").write_text(with_key(SMALL_SET, "guide_number_m", number))
    result = run("exposure", "my-set.toml")
    assert result.exit_code == 0, result.output
    result = run("exposure", "my-set.toml", "--json", "--solve", "power", "--f-number", "16")
    assert result.exit_code == 0, result.output


@pytest.mark.parametrize("text", ["0:1:1e-308", "0:1:5e-324", "100:200:5e-324", "1:2:1e-300"])
@pytest.mark.parametrize("name", ["angle", "iso", "f_number", "distance"])
def test_endlessly_many_values_are_too_many(name, text):
    with pytest.raises(LightsimError, match="allowed"):
        parse_values(text, QUANTITIES[name])


@pytest.mark.parametrize("value", ["5e-324", "1e308", MANY_NINES, "nan", "-inf", "\x1b[2J"])
@pytest.mark.parametrize("command", ["preview", "sweep", "lens", "exposure"])
def test_absurd_f_numbers_are_refused(run, folder, tracer, command, value):
    line = one_sentence(run(command, "my-set.toml", "--f-number", value))
    assert "--f-number: found" in line
    assert "\x1b" not in line


@pytest.mark.parametrize("threads", ["²", "0", "-1", "many", "1" * 5000, "1025", "1.5"])
def test_a_number_of_threads_that_is_none(monkeypatch, threads):
    from lightsim.tracer.kernels.jit import cores

    monkeypatch.setenv("LIGHTSIM_THREADS", threads)
    with pytest.raises(
        LightsimError, match=r"LIGHTSIM_THREADS: found .* allowed a whole number from 1 to 1024"
    ):
        cores()


def test_a_number_of_threads():
    from lightsim.tracer.kernels.jit import cores

    assert 1 <= cores() <= 1024


@pytest.mark.skipif(sys.platform == "darwin", reason="the file system refuses such names")
@pytest.mark.parametrize(
    "words",
    [
        ("check",),
        ("lens",),
        ("exposure", "-o", "chart.png"),
        ("preview",),
        ("sweep", "--angles", "20,60"),
        ("compare", "--angles", "20,60"),
        ("plan", "-o", "p.png"),
    ],
    ids=lambda words: words[0],
)
def test_file_names_of_any_bytes(run, folder, tracer, words):
    path = os.fsdecode(b"n\xff $\\frac{$ a\nb\x1b[31m [red].toml")
    (folder / path).write_text(SMALL_SET)
    result = run(words[0], path, *words[1:], "--json")
    assert result.exit_code == 0, result.output
    if words[0] not in ("plan", "sweep"):
        assert run(words[0], path, *words[1:]).exit_code == 0
    (folder / path).write_text("[petal]\ncurl = 7")
    line = one_sentence(run(words[0], path, *words[1 : 3 if words[0] == "compare" else 1]))
    assert "petal.curl: found 7" in line
    assert "\x1b" not in line


def program(*words, **settings):
    """The command line as a process of its own."""
    environment = {**os.environ, **settings.pop("environment", {})}
    command = [sys.executable, "-m", "lightsim", *words]
    return subprocess.run(command, capture_output=True, env=environment, check=False, **settings)


@pytest.mark.parametrize("encoding", ["ascii", "latin-1", "cp1252"])
def test_signs_fall_back_to_plain_ones(folder, encoding):
    for command in ("check", "exposure"):
        done = program(command, "my-set.toml", environment={"PYTHONIOENCODING": encoding})
        assert (done.returncode, done.stderr) == (0, b"")
        assert "mm" in done.stdout.decode(encoding)
    assert b"f/11" in done.stdout


def test_plain_signs():
    assert [plain_sign(sign) for sign in "×°µ–é☃"] == ["x", " deg", "u", "-", "e", "?"]


@pytest.mark.skipif(os.name != "posix", reason="needs a shell that can close streams")
@pytest.mark.parametrize(
    ("redirection", "told"),
    [(">&-", "standard output: found it closed"), (">/dev/full", "no space left on device")],
)
def test_standard_output_closed_or_full(folder, redirection, told):
    for command in ("check", "exposure", "--help", "--version"):
        words = command if command.startswith("--") else f"{command} my-set.toml"
        shell = ["sh", "-c", f'"{sys.executable}" -m lightsim {words} {redirection}']
        done = subprocess.run(shell, capture_output=True, text=True, check=False)
        assert done.returncode == 2
        assert told in done.stderr
        assert len(done.stderr.splitlines()) == 1


@pytest.mark.skipif(os.name != "posix", reason="needs a shell that can close streams")
def test_closed_streams_never_end_in_a_file(folder):
    shell = f'"{sys.executable}" -m lightsim exposure my-set.toml -o chart.png >/dev/null 2>&-'
    assert subprocess.run(["sh", "-c", shell], check=False).returncode == 0
    assert (folder / "chart.png").read_bytes().startswith(b"\x89PNG")
    pipe = f'"{sys.executable}" -m lightsim check my-set.toml | true'
    done = subprocess.run(["sh", "-c", pipe], capture_output=True, check=False)
    assert done.stderr == b""


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("--nope",), "--nope, which there is not, allowed --"),
        (("--versoin",), "allowed --version"),
        (("nwe",), "nwe: found no such command, allowed new (the nearest)"),
        (("preview", "my-set.toml", "--widht", "3"), "allowed --width"),
        (("preview", "my-set.toml", "-o", ""), "found nothing, allowed the name of a file"),
        (("sweep", "my-set.toml", "-o", " "), "found nothing, allowed the name of a file"),
        (("check", "a\0b"), "found a name with a NUL in it"),
        (("preview", "my-set.toml", "--width", MANY_NINES), "..."),
        (("check", "x" * 3000), "..."),
        (("lens", "my-set.toml", "--light", "x" * 3000), "which there is not"),
        (("preview", "my-set.toml", "--light", "x\x1b]0;" * 900), "..."),
    ],
)
def test_mistaken_command_lines_get_one_short_sentence(run, folder, tracer, words, told):
    line = one_sentence(run(*words))
    assert told in line
    assert "\x1b" not in line


def test_names_are_echoed_printable_and_short():
    assert named("a\nb\x1b\u202e\udcff") == "a\\nb\\x1b\\u202e\\udcff"
    assert len(named("x" * 1000)) == 200
    assert str(SceneError(["p: found 1", "q: found 2"], "a\nb")) == "a\\nb: p: found 1\na\\nb: q: found 2"


def test_a_fault_of_our_own_is_told_as_one(run, folder, monkeypatch):
    from lightsim.planning import set_description

    def broken(path):
        raise KeyError("spacing")

    monkeypatch.setattr(set_description, "check_file", broken)
    monkeypatch.delenv("LIGHTSIM_TRACEBACK", raising=False)
    result = CliRunner().invoke(main, ["check", "my-set.toml"], prog_name="lightsim")
    assert result.exit_code == 70
    assert result.stderr.startswith("lightsim: found a fault of its own (KeyError: 'spacing')")
    assert isinstance(run("check", "my-set.toml").exception, KeyError)


@pytest.mark.skipif(os.name != "posix", reason="needs signals")
def test_termination_ends_like_an_interruption(folder):
    code = (
        "import lightsim.planning.set_description as it, time, sys\n"
        "from lightsim.cli import main\n"
        "it.check_file = lambda path: (print('ready', flush=True), time.sleep(60))\n"
        "main(['check', 'my-set.toml'])"
    )
    with subprocess.Popen([sys.executable, "-c", code], stdout=subprocess.PIPE, stderr=subprocess.PIPE) as it:
        assert it.stdout.readline() == b"ready\n"
        time.sleep(0.1)
        it.send_signal(signal.SIGTERM)
        assert it.wait(20) == 143
        assert it.stderr.read() == b"lightsim: stopped; nothing was written\n"
