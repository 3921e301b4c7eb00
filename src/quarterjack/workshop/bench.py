"""The bench folder: one folder a clock, nothing else, so that it can be copied, backed up and read by hand."""

from __future__ import annotations

import shutil
import tempfile
from pathlib import Path

from quarterjack.errors import SheetNotFound
from quarterjack.workshop.clock_folder import SHEET, ClockFolder
from quarterjack.workshop.keeping import TEMPORARY, flush_folder, is_slug, numbered, slug_of, write_new


class Bench:
    """The clocks in hand.

    Parameters
    ----------
    folder : Path
        The bench folder; made when the first clock is.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = Path(folder)

    def clocks(self) -> tuple[ClockFolder, ...]:
        """Every clock's folder, by name; one without a usable sheet is there too and says so in its faults."""
        if not self.folder.is_dir():
            return ()
        found = [
            ClockFolder(path)
            for path in self.folder.iterdir()
            if path.is_dir() and not path.name.startswith(".") and is_slug(path.name)
        ]
        return tuple(sorted(found, key=lambda clock: (clock.name.casefold(), clock.slug)))

    def clock(self, slug: str) -> ClockFolder:
        """The clock of that slug.

        Raises
        ------
        SheetNotFound
            If there is none.
        """
        if not is_slug(slug) or not (self.folder / slug).is_dir():
            known = ", ".join(clock.slug for clock in self.clocks()) or "none yet"
            raise SheetNotFound(f"No clock is kept here as {slug!r}; kept are: {known}.", value=slug)
        return ClockFolder(self.folder / slug)

    def new_clock(self, name: str, sheet_text: str) -> ClockFolder:
        """Make a clock's folder with its sheet; a second clock of the same name gets a number.

        The folder is filled under a temporary name first, so that no half-made clock can be met.
        """
        self.folder.mkdir(parents=True, exist_ok=True)
        temporary = Path(tempfile.mkdtemp(prefix=TEMPORARY, dir=self.folder))
        try:
            temporary.chmod(0o755)
            write_new(temporary / SHEET, sheet_text.encode())
            while True:
                slug = numbered(slug_of(name), {path.name for path in self.folder.iterdir()})
                try:
                    temporary.rename(self.folder / slug)
                    break
                except OSError:
                    if not (self.folder / slug).exists():
                        raise
        except BaseException:
            shutil.rmtree(temporary, ignore_errors=True)
            raise
        flush_folder(self.folder)
        return ClockFolder(self.folder / slug)
