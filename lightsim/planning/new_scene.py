"""A scene file to start from."""

from __future__ import annotations

from pathlib import Path

from lightsim.errors import OutputError
from lightsim.report.files.atomic import replacing
from lightsim.report.files.writable import require_file
from lightsim.scene.file.template import template_text


def write_template(path: Path, *, force: bool = False) -> Path:
    """Write the commented scene file; OutputError when there is a file already and force is not given."""
    require_file(path)
    if path.exists() and not force:
        raise OutputError(f"{path}: found a file of that name, allowed a new name (or --force to replace it)")
    with replacing(path) as part:
        part.write_text(template_text(), encoding="utf-8")
    return path
