"""What the tests of the commands read and check alike."""

from __future__ import annotations

import csv
import json

import numpy as np
from PIL import Image


def picture(path):
    """A picture file as (h, w, 3) uint8."""
    with Image.open(path) as image:
        return np.asarray(image.convert("RGB"))


def rows(path):
    """The rows of a CSV file."""
    with open(path, newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def refused(result, sentence):
    """One sentence on standard error, exit code 2, nothing on standard output."""
    assert result.stderr == f"lightsim: {sentence}\n"
    assert (result.exit_code, result.stdout) == (2, "")


def told(run, *words):
    """What a command prints as JSON."""
    result = run(*words, "--json")
    assert result.exit_code == 0, result.output
    return json.loads(result.stdout)
