#!/usr/bin/env python3
"""Prepare quarterjack in this folder and start it.

    python3 start.py              open the first page in the browser
    python3 start.py test         run all tests (whatever follows goes to pytest)
    python3 start.py -- ARGS      run the command: quarterjack ARGS

Only the standard library is used, and only what every Python 3 can parse, so that an old Python can say which one is
needed. What start.py itself has to say goes to standard error: standard output belongs to the command.
"""

import glob
import hashlib
import os
import shutil
import subprocess
import sys
import tempfile

ROOT = os.path.dirname(os.path.abspath(__file__))
VENV = os.path.join(ROOT, ".venv")
WINDOWS = os.name == "nt"
SUPPORTED = ((3, 11), (3, 12), (3, 13), (3, 14))
SYSTEM_WHEELS = "/usr/share/python-wheels"  # where Debian keeps the wheels that it leaves out of ensurepip
CHROMIUM_NAMES = ("chromium", "chromium-browser", "google-chrome-stable", "google-chrome")
USAGE = "usage: python3 start.py [test [PYTEST ARGS] | -- QUARTERJACK ARGS]"


class CannotStart(Exception):
    """Nothing more can be done here; the message says what a person can type."""


def say(text):
    """Tell the person something, on standard error."""
    sys.stderr.write(text + "\n")
    sys.stderr.flush()


# --- which Python ----------------------------------------------------------------------------------------------------


def other_pythons():
    """Commands that may start a supported Python, newest first."""
    for major, minor in reversed(SUPPORTED):
        if WINDOWS:
            yield ["py", "-%d.%d" % (major, minor)]
        yield ["python%d.%d" % (major, minor)]


def is_supported(command):
    """Whether a command starts a Python of a supported version (a name on PATH may be a mere shim)."""
    question = "import sys; print('%d.%d' % sys.version_info[:2])"
    try:
        process = subprocess.Popen(
            command + ["-c", question], stdout=subprocess.PIPE, stderr=subprocess.PIPE, universal_newlines=True
        )
        answer = process.communicate()[0].strip()
    except OSError:
        return False
    return process.returncode == 0 and answer in ["%d.%d" % version for version in SUPPORTED]


def run_under_another_python(arguments):
    """Start again with a supported Python and return its exit code."""
    for command in other_pythons():
        if is_supported(command):
            say(
                "This is Python %d.%d; going on with %s."
                % (sys.version_info[0], sys.version_info[1], " ".join(command))
            )
            return hand_over(command + [os.path.abspath(__file__)] + arguments)
    raise CannotStart(
        "quarterjack needs Python 3.11, 3.12, 3.13 or 3.14. This is Python %d.%d (%s), and none of those is on PATH.\n"
        "Install one of them, then type:  python3.13 start.py"
        % (sys.version_info[0], sys.version_info[1], sys.executable)
    )


def hand_over(command):
    """Run a command in place of this program (beside it on Windows) and return its exit code."""
    sys.stdout.flush()
    sys.stderr.flush()
    if not WINDOWS:
        os.execvp(command[0], command)
    process = subprocess.Popen(command)
    while True:
        try:
            return process.wait()
        except KeyboardInterrupt:
            pass  # the command got it as well and ends by itself


# --- the environment -------------------------------------------------------------------------------------------------


def venv_python():
    """The environment's interpreter."""
    return os.path.join(VENV, "Scripts", "python.exe") if WINDOWS else os.path.join(VENV, "bin", "python")


def base_python():
    """The interpreter that environments are made from, even where this one lives in an environment itself."""
    return getattr(sys, "_base_executable", None) or sys.executable


def find_program(names):
    """Path of the first program of these names on PATH, or None."""
    return next((path for path in map(shutil.which, names) if path), None)


def quiet(command):
    """Run a command without showing what it says; return whether it succeeded and what it said."""
    try:
        process = subprocess.Popen(
            command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, stdin=subprocess.DEVNULL, universal_newlines=True
        )
        said = process.communicate()[0]
    except OSError as error:
        return False, str(error)
    return process.returncode == 0, said


def has_pip():
    """Whether the environment stands and its pip works; False after an interrupted or outdated creation."""
    return is_supported([venv_python()]) and quiet([venv_python(), "-m", "pip", "--version"])[0]


def has_ensurepip():
    """Whether this Python can put pip into an environment by itself (Debian packs that separately)."""
    return quiet([base_python(), "-c", "import ensurepip; ensurepip.version()"])[0]


def pip_wheels(folder):
    """Paths of pip's own wheel, best first; what cannot be found is fetched into `folder` by any pip at hand."""
    library = os.path.dirname(os.__file__)
    for place in (os.path.join(library, "ensurepip", "_bundled"), SYSTEM_WHEELS):
        for wheel in sorted(glob.glob(os.path.join(place, "pip-*.whl")), reverse=True):
            yield wheel
    version = "%d.%d" % sys.version_info[:2]
    for pip in ([base_python(), "-m", "pip"], ["python3", "-m", "pip"], ["pip3"], ["pip"]):
        fetch = ["download", "--quiet", "--no-deps", "--only-binary=:all:", "--python-version", version, "-d", folder]
        if quiet(pip + fetch + ["pip"])[0]:
            for wheel in glob.glob(os.path.join(folder, "pip-*.whl")):
                yield wheel


def install_pip():
    """Put pip into an environment without one: its wheel is a program that can install itself."""
    with tempfile.TemporaryDirectory() as folder:
        for wheel in pip_wheels(folder):
            program = os.path.join(wheel, "pip")
            quiet([venv_python(), program, "install", "--quiet", "--no-index", "--no-deps", "--no-compile", wheel])
            if has_pip():  # an old wheel is no program for a new Python
                return
    version = "%d.%d" % sys.version_info[:2]
    lines = (
        ("apt-get", "sudo apt-get install python%s-venv" % version),
        ("dnf", "sudo dnf install python3-pip"),
        ("pacman", "sudo pacman -S python-pip"),
        ("apk", "sudo apk add py3-pip"),
    )
    line = next((line for manager, line in lines if find_program([manager])), "%s -m ensurepip" % base_python())
    raise CannotStart("Python %s has no pip to install with. Type this, then start again:\n  %s" % (version, line))


def make_venv():
    """Make `.venv` afresh."""
    say("Making a Python environment in .venv ...")
    pip = [] if has_ensurepip() else ["--without-pip"]
    done, said = quiet([base_python(), "-m", "venv", "--clear"] + pip + [VENV])
    if not done and not pip:  # ensurepip is there and fails, as behind some proxies and on some trimmed systems
        done, said = quiet([base_python(), "-m", "venv", "--clear", "--without-pip", VENV])
    if not done:
        raise CannotStart("The environment could not be made; Python said:\n%s" % said.strip())
    if not has_pip():
        install_pip()


def write(path, text):
    """Write a file whole or not at all."""
    with open(path + ".part", "w") as file:
        file.write(text)
    os.replace(path + ".part", path)


def fingerprint(pins):
    """What an installed environment depends on: the pins, the project's own settings, the Python and the folder."""
    digest = hashlib.sha256(ROOT.encode("utf-8"))
    for name in pins + ["pyproject.toml", os.path.join(".venv", "pyvenv.cfg")]:
        with open(os.path.join(ROOT, name), "rb") as file:
            digest.update(file.read())
    return digest.hexdigest()


def prepare(for_tests):
    """Make sure that everything is installed; quick where nothing has changed since the last time."""
    pins = [os.path.join("requirements", name) for name in (("run.txt", "test.txt") if for_tests else ("run.txt",))]
    # One stamp for each set of pins. It is written last, so that whatever was interrupted is done again.
    stamp = os.path.join(VENV, "ready-for-tests" if for_tests else "ready")
    unfinished = os.path.join(VENV, "unfinished")
    if os.path.exists(venv_python()) and not os.path.exists(unfinished):
        try:
            with open(stamp) as file:
                if file.read() == fingerprint(pins):
                    return
        except (IOError, OSError):
            pass
    if not has_pip():
        make_venv()
    if os.path.exists(stamp):
        os.remove(stamp)
    # An installation that was cut off may have left half a package that looks whole: everything is laid anew then.
    anew = ["--force-reinstall"] if os.path.exists(unfinished) else []
    write(unfinished, "")
    purpose = "is tested with" if for_tests else "needs"
    say("Installing what quarterjack %s; the first time this takes a few minutes ..." % purpose)
    pip = [venv_python(), "-m", "pip", "--disable-pip-version-check", "--no-input", "install", "-qq"] + anew
    listed = [part for name in pins for part in ("-r", os.path.join(ROOT, name))]
    # The second step builds with the pinned hatchling of the first: nothing unpinned is ever fetched.
    for command in (pip + listed, pip + ["--no-deps", "--no-build-isolation", "--editable", ROOT]):
        if subprocess.call(command, stdout=sys.stderr.fileno(), stdin=subprocess.DEVNULL):
            raise CannotStart("The installation did not finish (see above). Mend that and start again.")
    write(stamp, fingerprint(pins))
    os.remove(unfinished)


# --- tests -----------------------------------------------------------------------------------------------------------


def prepare_browser():
    """Make sure of a Chromium for the page tests: install it where that is allowed, else say how."""
    if os.environ.get("QUARTERJACK_CHROMIUM") or find_program(CHROMIUM_NAMES):
        return
    if find_program(["apt-get"]) and hasattr(os, "geteuid") and os.geteuid() == 0:
        say("Installing Chromium for the tests of the pages ...")
        os.environ["DEBIAN_FRONTEND"] = "noninteractive"
        for command in (["apt-get", "-qq", "update"], ["apt-get", "-qq", "-y", "install", "chromium"]):
            subprocess.call(command, stdout=sys.stderr.fileno(), stdin=subprocess.DEVNULL)
    if not find_program(CHROMIUM_NAMES):
        line = (
            "sudo apt-get install chromium"
            if find_program(["apt-get"])
            else "set QUARTERJACK_CHROMIUM to a Chromium's path"
        )
        say("No Chromium was found: THE TESTS OF THE PAGES WILL BE SKIPPED. To run them:  %s" % line)


def main(arguments):
    """Do what the arguments ask for and return the exit code."""
    if arguments and arguments[0] not in ("test", "--"):
        say(__doc__.strip() if arguments[0] in ("-h", "--help") else USAGE)
        return 0 if arguments[0] in ("-h", "--help") else 2
    if sys.version_info[:2] not in SUPPORTED:
        return run_under_another_python(arguments)
    for_tests = arguments[:1] == ["test"]
    prepare(for_tests)
    if for_tests:
        prepare_browser()
        os.chdir(ROOT)
        return hand_over([venv_python(), "-m", "pytest"] + arguments[1:])
    command = arguments[1:] if arguments else ["serve"]
    return hand_over([venv_python(), "-m", "quarterjack"] + command)


if __name__ == "__main__":
    try:
        sys.exit(main(sys.argv[1:]))
    except CannotStart as error:
        say(str(error))
        sys.exit(2)
    except KeyboardInterrupt:
        say("Stopped. Start again at any time.")
        sys.exit(130)
