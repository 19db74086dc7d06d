"""Asks whether every dependency has a wheel for a 64-bit ARM board, so that none is compiled.

Usage: python -m tests.packaging.aarch64_wheels [--python 3.11 --python 3.13]

The requirements are the project's own with their lowest versions, all extras of `all` included:
without lower bounds pip silently takes unrelated old releases where a wheel is missing.
"""

from __future__ import annotations

import argparse
import platform
import re
import subprocess
import sys
import tempfile
from pathlib import Path

import tomli

ROOT = Path(__file__).parents[2]
# Debian 12 has glibc 2.36, so all three are good there.
PLATFORMS = ("manylinux2014_aarch64", "manylinux_2_17_aarch64", "manylinux_2_28_aarch64")
EXTRAS = ("gpio", "mqtt", "signalk", "pictures", "terminal")


def requirements() -> list[str]:
    project = tomli.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    optional = project["optional-dependencies"]
    return [*project["dependencies"], *(one for extra in EXTRAS for one in optional[extra])]


def version_of(wheels: list[str], name: str) -> str:
    """'2.3.0' from 'apprise-2.3.0-py3-none-any.whl'; '' when there is none."""
    plain = re.sub(r"[-_.]+", "_", name).lower()
    for wheel in wheels:
        parts = wheel.split("-")
        if re.sub(r"[-_.]+", "_", parts[0]).lower() == plain:
            return parts[1]
    return ""


def numbers(version: str) -> list[int]:
    return [int(part) for part in re.findall(r"\d+", version)]


def ask(python: str) -> bool:
    wanted = requirements()
    with tempfile.TemporaryDirectory() as folder:
        done = subprocess.run(
            [sys.executable, "-m", "pip", "download", "--quiet", "--disable-pip-version-check",
             "-d", folder, "--only-binary=:all:", "--implementation", "cp",
             "--python-version", python, *(f"--platform={name}" for name in PLATFORMS), *wanted],
            capture_output=True, text=True, check=False,
        )  # fmt: skip
        wheels = sorted(path.name for path in Path(folder).iterdir())
    if done.returncode:
        print(f"Python {python}: FAILED\n{done.stderr.strip()}")
        return False
    good = True
    for line in wanted:
        name, _, least = line.partition(">=")
        found = version_of(wheels, name)
        if not found or numbers(found) < numbers(least):
            print(f"Python {python}: {name}: wanted at least {least}, found {found or 'none'}")
            good = False
    compiled = [wheel for wheel in wheels if "aarch64" in wheel]
    print(f"Python {python}: {len(wheels)} wheels, {len(compiled)} of them compiled for aarch64:")
    for wheel in compiled:
        print(f"  {wheel}")
    return good


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--python", action="append", default=None)
    pythons = parser.parse_args().python or ["3.11", "3.13"]
    answers = [ask(python) for python in pythons]
    good = all(answers)
    print(f"{'every dependency has a wheel' if good else 'NOT every dependency has a wheel'}"
          f" (asked on {platform.machine()})")  # fmt: skip
    return 0 if good else 1


if __name__ == "__main__":
    sys.exit(main())
