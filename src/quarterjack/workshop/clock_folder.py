"""One clock's folder: its sheet, its recordings, what was heard of them, and the proofs.

    <slug>/sheet.toml
           recordings/<file>  and beside each <file>.sha256
           heard/<sha256>-<sheet>-<version>.json
           proofs/<id>.json

Files are only ever added. A person may put files there by hand as well; one that cannot be read is reported as a
fault and everything else still loads.
"""

from __future__ import annotations

import hashlib
import io
import re
import shutil
import time
import tomllib
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import BinaryIO

import quarterjack
from quarterjack.errors import FileExists, QuarterjackError, RecordingNotFound, SheetInvalid, SheetNotFound
from quarterjack.listening import Heard
from quarterjack.proving import Proof
from quarterjack.reckoning import Reckoning, reckon
from quarterjack.records import read_json, to_json
from quarterjack.sheet import Movement, read_sheet
from quarterjack.workshop.keeping import (
    TEMPORARY,
    being_written,
    give_name,
    numbered,
    safe_filename,
    settle,
    sha256_of,
    write_new,
)

SHEET = "sheet.toml"
_SUM = ".sha256"
_PROOF_ID = re.compile(r"\d{8}T\d{6}-\d{6}")


@dataclass(frozen=True)
class BenchFault:
    """A file that cannot be used as it is: which one, the line where it is known, and what is wrong with it."""

    file: str
    text: str
    line: int | None = None


@dataclass(frozen=True)
class KeptRecording:
    """A recording in a clock's folder."""

    file: str
    path: Path
    sha256: str
    n_bytes: int


@dataclass(frozen=True)
class KeptProof:
    """A proof with the name it is kept under; names sort by time."""

    id: str
    proof: Proof

    @property
    def made(self) -> datetime:
        """When it was kept (UTC)."""
        return datetime.strptime(self.id, "%Y%m%dT%H%M%S-%f").replace(tzinfo=UTC)


class ClockFolder:
    """Everything kept about one clock.

    Parameters
    ----------
    folder : Path
        The clock's folder; its last part is the slug.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def __repr__(self) -> str:
        return f"ClockFolder({str(self.folder)!r})"

    @property
    def slug(self) -> str:
        """Name of the folder, safe in an address."""
        return self.folder.name

    @property
    def sheet_path(self) -> Path:
        """Where the sheet is, or should be."""
        return self.folder / SHEET

    @property
    def name(self) -> str:
        """The clock's name as its sheet has it; the slug where the sheet does not say or cannot be read."""
        try:
            table = tomllib.loads(self.sheet_text())
        except (QuarterjackError, tomllib.TOMLDecodeError):
            return self.slug
        found = table.get("name")
        if isinstance(table.get("clock"), dict):
            found = found or table["clock"].get("name")
        return found.strip() if isinstance(found, str) and found.strip() else self.slug

    def sheet_text(self) -> str:
        """The sheet as it stands in the file.

        Raises
        ------
        SheetNotFound
            If there is none.
        """
        try:
            return self.sheet_path.read_text("utf-8", errors="replace")
        except OSError as error:
            raise SheetNotFound(f"{self.sheet_path} cannot be read: {error.strerror}.", file=SHEET) from error

    def movement(self) -> Movement:
        """Read the sheet; raises `SheetNotFound`, or `SheetInvalid` with every fault."""
        self.sheet_text()
        return read_sheet(self.sheet_path)

    def reckoning(self) -> Reckoning:
        """What this clock must do; raises as `movement` does."""
        return reckon(self.movement())

    # Recordings

    def recordings(self) -> tuple[KeptRecording, ...]:
        """The recordings, by name."""
        return tuple(
            KeptRecording(path.name, path, self._sum_of(path), path.stat().st_size) for path in self._recording_files()
        )

    def recording(self, file: str) -> KeptRecording:
        """The recording of that name.

        Raises
        ------
        RecordingNotFound
            If this clock has none of that name.
        """
        for path in self._recording_files():
            if path.name == file:
                return KeptRecording(path.name, path, self._sum_of(path), path.stat().st_size)
        raise RecordingNotFound(f"{self.name} has no recording called {file!r}.", file=file)

    def add_recording(self, source: str | Path | bytes | BinaryIO, filename: str) -> KeptRecording:
        """Copy a recording into the folder; one that is there already, byte for byte, is not kept twice.

        Parameters
        ----------
        source : path, bytes or binary stream
            The recording; a path is copied, never moved.
        filename : str
            What it is called; made safe, and numbered where another recording has that name.
        """
        folder = self.folder / "recordings"
        with being_written(folder) as (stream, temporary):
            if isinstance(source, bytes):
                source = io.BytesIO(source)
            if isinstance(source, str | Path):
                with Path(source).open("rb") as opened:
                    shutil.copyfileobj(opened, stream, 1 << 20)
            else:
                shutil.copyfileobj(source, stream, 1 << 20)
            settle(stream)
            digest = sha256_of(temporary)
            for kept in self.recordings():
                if kept.sha256 == digest:
                    return kept
            name = safe_filename(filename)
            while True:
                path = folder / numbered(name, {p.name for p in folder.iterdir()})
                try:
                    give_name(temporary, path)
                    break
                except FileExists:
                    continue  # somebody took the name since we looked
        self._keep_sum(path, digest)
        return KeptRecording(path.name, path, digest, path.stat().st_size)

    def _recording_files(self) -> list[Path]:
        folder = self.folder / "recordings"
        if not folder.is_dir():
            return []
        return sorted(
            path
            for path in folder.iterdir()
            if path.is_file() and path.suffix != _SUM and not path.name.startswith((TEMPORARY, "."))
        )

    def _sum_of(self, path: Path) -> str:
        """The file's SHA-256 from the line beside it, or reckoned anew where that is missing or older than the file."""
        beside = path.with_name(path.name + _SUM)
        try:
            if beside.stat().st_mtime_ns >= path.stat().st_mtime_ns:
                digest = beside.read_text("ascii").split()[0]
                if re.fullmatch(r"[0-9a-f]{64}", digest):
                    return digest
        except (OSError, ValueError, IndexError):
            pass
        digest = sha256_of(path)
        self._keep_sum(path, digest)
        return digest

    @staticmethod
    def _keep_sum(path: Path, digest: str) -> None:
        """Write the line that `sha256sum --check` reads; it may be written again, since it can always be made anew."""
        beside = path.with_name(path.name + _SUM)
        with being_written(path.parent) as (stream, temporary):
            stream.write(f"{digest}  {path.name}\n".encode())
            settle(stream)
            temporary.replace(beside)

    # What was heard

    def keep_heard(self, heard: Heard) -> Path:
        """Keep what was heard under the present sheet, so that it is not listened to twice; returns the file."""
        path = self._heard_path(heard.recording.sha256)
        data = to_json(heard, indent=None).encode()
        try:
            write_new(path, data)
        except FileExists:
            if path.read_bytes() != data:
                path = path.with_name(numbered(path.name, {p.name for p in path.parent.iterdir()}))
                write_new(path, data)
        return path

    def heard_of(self, recording: KeptRecording) -> Heard | None:
        """What was heard of a recording under the present sheet and version, or None."""
        path = self._heard_path(recording.sha256)
        try:
            return read_json(Heard, path)
        except (OSError, QuarterjackError):
            return None

    def heard_place(self, recording: KeptRecording) -> str:
        """Where the heard document of a recording is or will be, from the clock's folder."""
        return f"heard/{self._heard_path(recording.sha256).name}"

    def heard_at(self, relative: str | None) -> Heard | None:
        """The heard document that a proof names (`heard/….json`), or None where it is gone or cannot be read."""
        if not relative or not re.fullmatch(r"heard/[\w.-]+\.json", relative):
            return None
        try:
            return read_json(Heard, self.folder / relative)
        except (OSError, QuarterjackError):
            return None

    def _heard_path(self, sha256: str) -> Path:
        # A sheet gives the listener its hints, and a later version may hear better: both belong to the name.
        try:
            sheet = hashlib.sha256(self.sheet_text().encode()).hexdigest()[:8]
        except SheetNotFound:
            sheet = "no-sheet"
        return self.folder / "heard" / f"{sha256[:16]}-{sheet}-{quarterjack.__version__}.json"

    # Proofs

    def proofs(self) -> tuple[KeptProof, ...]:
        """The proofs, oldest first; those that cannot be read are among `faults` instead."""
        return tuple(one for one in self._read_proofs() if isinstance(one, KeptProof))

    def proof(self, proof_id: str) -> KeptProof:
        """The proof of that id.

        Raises
        ------
        ResultNotUnderstood
            If the file cannot be read.
        FileNotFoundError
            If there is none.
        """
        if not _PROOF_ID.fullmatch(proof_id):
            raise FileNotFoundError(proof_id)
        return KeptProof(proof_id, read_json(Proof, self.folder / "proofs" / f"{proof_id}.json"))

    def keep_proof(self, proof: Proof) -> KeptProof:
        """Keep a proof under a name made of the present time."""
        data = to_json(proof).encode()
        micros = time.time_ns() // 1000
        while True:
            seconds, rest = divmod(micros, 1_000_000)
            proof_id = f"{datetime.fromtimestamp(seconds, UTC):%Y%m%dT%H%M%S}-{rest:06d}"
            try:
                write_new(self.folder / "proofs" / f"{proof_id}.json", data)
            except FileExists:
                micros += 1
            else:
                return KeptProof(proof_id, proof)

    def _read_proofs(self) -> list[KeptProof | BenchFault]:
        folder = self.folder / "proofs"
        found: list[KeptProof | BenchFault] = []
        for path in sorted(folder.glob("*.json")) if folder.is_dir() else []:
            if not _PROOF_ID.fullmatch(path.stem):
                found.append(BenchFault(f"proofs/{path.name}", "this is not the name of a proof, so it is left alone"))
                continue
            try:
                found.append(KeptProof(path.stem, read_json(Proof, path)))
            except (OSError, QuarterjackError) as error:
                found.append(BenchFault(f"proofs/{path.name}", str(error)))
        return found

    def faults(self) -> tuple[BenchFault, ...]:
        """Everything in the folder that cannot be used, the sheet's faults first, each with its line if it has one."""
        found: list[BenchFault] = []
        try:
            self.movement()
        except SheetInvalid as error:
            found += [
                BenchFault(SHEET, f"{fault.key}: {fault.text}" if fault.key else fault.text, fault.line)
                for fault in error.faults
            ]
        except QuarterjackError as error:
            found.append(BenchFault(SHEET, str(error)))
        found += [one for one in self._read_proofs() if isinstance(one, BenchFault)]
        return tuple(found)
