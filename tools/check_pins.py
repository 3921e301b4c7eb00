"""Check that the pinned versions can be had as wheels, and are complete, on systems that are not at hand.

Run it with the project's own interpreter: `.venv/bin/python tools/check_pins.py`. For each system and Python it asks
pip (a dry run: nothing is installed) for every pin as a wheel, then reads from the wheels' own metadata what each of
them needs there and reports what is not pinned, or pinned to a version that another package refuses. The package
index is asked, so this is not one of the tests.
"""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).resolve().parent.parent
PYTHONS = ("3.11", "3.12", "3.13", "3.14")
# pip itself goes on from a macOS version to the older ones whose wheels run there, but not so for glibc.
SYSTEMS: dict[str, tuple[tuple[str, ...], dict[str, str]]] = {
    "Windows x64": (
        ("win_amd64",),
        {"sys_platform": "win32", "platform_system": "Windows", "os_name": "nt", "platform_machine": "AMD64"},
    ),
    "macOS 14 arm64": (
        ("macosx_14_0_arm64",),
        {"sys_platform": "darwin", "platform_system": "Darwin", "os_name": "posix", "platform_machine": "arm64"},
    ),
    "Linux x64": (
        ("manylinux_2_28_x86_64", "manylinux_2_27_x86_64", "manylinux2014_x86_64", "manylinux1_x86_64"),
        {"sys_platform": "linux", "platform_system": "Linux", "os_name": "posix", "platform_machine": "x86_64"},
    ),
}


def environment(python: str, system: dict[str, str]) -> dict[str, str]:
    """Marker values of CPython `python` on a system."""
    return {
        **system,
        "python_version": python,
        "python_full_version": f"{python}.0",
        "implementation_name": "cpython",
        "implementation_version": f"{python}.0",
        "platform_python_implementation": "CPython",
        "extra": "",
    }


def pins(names: tuple[str, ...], where: dict[str, str]) -> dict[str, Requirement]:
    """The pins of the named files that hold in an environment."""
    found: dict[str, Requirement] = {}
    for name in names:
        for line in (ROOT / "requirements" / name).read_text(encoding="utf-8").splitlines():
            text = line.split("#", 1)[0].strip()
            if text:
                pin = Requirement(text)
                if pin.marker is None or pin.marker.evaluate(where):
                    found[canonicalize_name(pin.name)] = pin
    return found


def wheels(pinned: dict[str, Requirement], platforms: tuple[str, ...], python: str) -> list[dict[str, Any]]:
    """Ask pip for all pins as wheels; return the metadata of each.

    Raises
    ------
    RuntimeError
        With pip's own last lines, if one of them cannot be had.
    """
    with tempfile.TemporaryDirectory() as folder:
        listed = Path(folder, "pins.txt")
        # Markers are settled here: pip would judge them by the interpreter that runs it.
        listed.write_text("".join(f"{pin.name}{pin.specifier}\n" for pin in pinned.values()), encoding="utf-8")
        report = Path(folder, "report.json")
        command = [sys.executable, "-m", "pip", "install", "--dry-run", "--no-deps", "--only-binary=:all:", "--quiet"]
        # Nor would it believe --python-version about Requires-Python: `gaps` looks at that.
        command += [
            "--ignore-requires-python",
            "--ignore-installed",
            "--target",
            folder,
            "--python-version",
            python,
            "--report",
            str(report),
        ]
        command += [part for platform in platforms for part in ("--platform", platform)]
        done = subprocess.run([*command, "-r", str(listed)], capture_output=True, text=True, check=False)
        if done.returncode:
            raise RuntimeError("\n".join(line for line in done.stderr.splitlines() if line.startswith("ERROR")))
        return [item["metadata"] for item in json.loads(report.read_text(encoding="utf-8"))["install"]]


def gaps(metadata: list[dict[str, Any]], pinned: dict[str, Requirement], where: dict[str, str]) -> list[str]:
    """What the wheels need in this environment and the pins do not give."""
    versions = {canonicalize_name(item["name"]): item["version"] for item in metadata}
    found = []
    for item in metadata:
        if (span := item.get("requires_python")) and not Requirement(f"python{span}").specifier.contains(
            where["python_full_version"]
        ):
            found.append(f"{item['name']} {item['version']} refuses Python {where['python_version']}")
        for text in item.get("requires_dist", ()):
            need = Requirement(text)
            if need.marker is not None and not need.marker.evaluate(where):
                continue
            have = versions.get(canonicalize_name(need.name))
            if have is None:
                found.append(f"{item['name']} needs {need.name}, which is not pinned")
            elif not need.specifier.contains(have, prereleases=True):
                found.append(f"{item['name']} needs {need}, pinned is {have}")
    missing = sorted(set(pinned) - set(versions))
    return found + [f"{name} was not resolved" for name in missing]


def main() -> int:
    """Check every system and Python; print a line each, and return 1 if any fails."""
    bad = 0
    for system, (platforms, markers) in SYSTEMS.items():
        for python in PYTHONS:
            where = environment(python, markers)
            for names in (("run.txt",), ("run.txt", "test.txt")):
                pinned = pins(names, where)
                label = f"{system}, Python {python}, {' + '.join(names)}: {len(pinned)} pins"
                try:
                    trouble = gaps(wheels(pinned, platforms, python), pinned, where)
                except RuntimeError as error:
                    trouble = [str(error)]
                bad += bool(trouble)
                print(f"{label}: {'resolved' if not trouble else 'NOT resolved'}", *trouble, sep="\n    ", flush=True)
    return min(bad, 1)


if __name__ == "__main__":
    raise SystemExit(main())
