"""From TOML text to `Movement`, with every fault listed together."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path as FilePath

from quarterjack.errors import SheetFault, SheetInvalid, SheetNotFound
from quarterjack.sheet.build import build
from quarterjack.sheet.check import check
from quarterjack.sheet.faults import Faults
from quarterjack.sheet.lines import find_lines
from quarterjack.sheet.movement import Movement

_WHERE = re.compile(r"^(.*) \(at (?:line (\d+), column (\d+)|end of document)\)$", re.DOTALL)


def parse_sheet(text: str, file: str = "sheet.toml") -> Movement:
    """Read a sheet from its text.

    Parameters
    ----------
    text : str
        The sheet, TOML.
    file : str
        What the sheet is called in faults.

    Returns
    -------
    Movement

    Raises
    ------
    SheetInvalid
        With every fault of the sheet: file, line, key, code and what to do. If the text is not TOML, the first place
        where it is not.
    """
    text = text.removeprefix("\ufeff")
    try:
        raw = tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        # Besides its own error, tomllib lets through those of numbers too long and of lists too deep.
        found = _WHERE.match(str(error))
        what = found[1] if found else str(error)
        line = int(found[2]) if found and found[2] else text.rstrip().count("\n") + 1
        column = f" at column {found[3]}" if found and found[3] else ""
        said = f"this is not TOML{column}: {what[:1].lower()}{what[1:]}. Text stands in quotation marks."
        raise SheetInvalid([SheetFault(code="toml-syntax", file=file, line=line, key="", text=said)]) from error
    faults = Faults(file, find_lines(text))
    movement = build(check(raw, faults), faults)
    faults.raise_any()
    return movement


def read_sheet(path: str | FilePath) -> Movement:
    """Read a sheet from a file.

    Raises
    ------
    SheetNotFound
        If there is no such file.
    SheetInvalid
        With every fault of the sheet (see `parse_sheet`).
    """
    return parse_sheet(decoded(path), str(path))


def decoded(path: str | FilePath) -> str:
    """The text of a sheet.

    Raises
    ------
    SheetNotFound
        If there is no such file.
    SheetInvalid
        If the file is not UTF-8 text.
    """
    try:
        return FilePath(path).read_bytes().decode("utf-8")
    except (FileNotFoundError, IsADirectoryError) as error:
        text = f"There is no sheet {str(path)!r}; `quarterjack new` writes one."
        raise SheetNotFound(text, file=str(path)) from error
    except UnicodeDecodeError as error:
        text = f"byte {error.start + 1} is not UTF-8 text; save the sheet as UTF-8."
        raise SheetInvalid([SheetFault(code="not-text", file=str(path), line=None, key="", text=text)]) from error
