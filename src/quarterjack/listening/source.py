"""Sound as blocks of float32 samples, from a file of any kind that a recorder, a phone or a camera writes.

Frame counts in headers are not believed: blocks come until the decoder gives fewer samples than asked for or
stumbles, and what came is kept.
"""

from __future__ import annotations

import hashlib
import io
from collections.abc import Iterator
from pathlib import Path
from types import TracebackType
from typing import Any, Protocol

import av
import av.error
import numpy as np
import soundfile
from numpy.typing import NDArray

from quarterjack.errors import RecordingNotFound, RecordingUnreadable
from quarterjack.listening.headers import WaveHeader, read_wave_header
from quarterjack.listening.started import started_from

Block = tuple[int, NDArray[np.float32]]
"""Index of the first sample, and samples of shape (n, channels)."""

BLOCK_S = 4.0
LOWEST_RATE_HZ, HIGHEST_RATE_HZ = 4_000, 768_000
_LOST_S = 0.050


class _Decoder(Protocol):
    sample_rate_hz: int
    channels: int
    claimed_samples: int | None
    metadata: tuple[str | None, ...]
    fault: str | None

    def blocks(self, size: int) -> Iterator[Block]: ...
    def close(self) -> None: ...


class Source:
    """An open recording; iterate `blocks` once, then ask what became of it.

    Parameters
    ----------
    path : Path
        The file.
    decoder
        What decodes it.

    Attributes
    ----------
    sample_rate_hz, channels : int
        As decoded.
    started_utc : str or None
        When the recording began, ISO 8601, from metadata or from its name.
    samples_read : int
        Samples a channel so far, lost ones counted.
    fault : str or None
        What the decoder said when it stumbled.
    """

    def __init__(self, path: Path, decoder: _Decoder) -> None:
        self.path, self._decoder = path, decoder
        self.sample_rate_hz, self.channels = decoder.sample_rate_hz, decoder.channels
        self.started_utc = started_from((*decoder.metadata, path.stem))
        self.samples_read = 0

    def __enter__(self) -> Source:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._decoder.close()

    def blocks(self, seconds: float = BLOCK_S) -> Iterator[Block]:
        """Yield blocks of about `seconds`, with the index of their first sample; it jumps where samples were lost."""
        for first, block in self._decoder.blocks(max(1, round(seconds * self.sample_rate_hz))):
            self.samples_read = first + len(block)
            yield first, block

    @property
    def claimed_samples(self) -> int | None:
        """Samples a channel that the header promises; None where it says nothing that could be meant."""
        claimed = self._decoder.claimed_samples
        return claimed if claimed is not None and 0 < claimed < 1 << 48 else None

    @property
    def fault(self) -> str | None:
        """What the decoder said when it stumbled; None where it read to a proper end."""
        return self._decoder.fault

    def sha256(self) -> str:
        """SHA-256 of the file's bytes, in hexadecimal."""
        with self.path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()


def open_recording(path: str | Path) -> Source:
    """Open a recording: WAV, W64, RF64, FLAC, OGG, MP3, and what phones write (m4a, mp4, mov, webm, 3gp, amr).

    Parameters
    ----------
    path : str or Path
        The file; its kind is told by its content, not by its name.

    Raises
    ------
    RecordingNotFound
        If there is no such file.
    RecordingUnreadable
        If no sound can be decoded from it.
    """
    path = Path(path)
    if not path.is_file():
        raise RecordingNotFound(f"There is no recording {str(path)!r}; check the name and the folder.", file=str(path))
    reasons = []
    for opener in (_SoundFile, _Container):
        try:
            decoder: _Decoder = opener(path)
        except (soundfile.LibsndfileError, av.error.FFmpegError, OSError, ValueError, IndexError) as error:
            reasons.append(str(error))
            continue
        if LOWEST_RATE_HZ <= decoder.sample_rate_hz <= HIGHEST_RATE_HZ:
            return Source(path, decoder)
        decoder.close()
        reasons.append(f"its sample rate is {decoder.sample_rate_hz} Hz")
    raise RecordingUnreadable(
        f"No sound can be read from {path.name!r} ({'; '.join(reasons)}). Give a WAV, FLAC, OGG, MP3, m4a, mp4 or webm "
        f"file with {LOWEST_RATE_HZ} to {HIGHEST_RATE_HZ} samples a second.",
        file=str(path),
        reasons=tuple(reasons),
    )


class _Tail(io.RawIOBase):
    """The bytes of a file from an offset on, as a file of its own."""

    def __init__(self, path: Path, at: int) -> None:
        self._file, self._at = path.open("rb"), at
        self._file.seek(at)

    def seekable(self) -> bool:
        return True

    def readable(self) -> bool:
        return True

    def seek(self, offset: int, whence: int = io.SEEK_SET) -> int:
        return self._file.seek(offset + (self._at if whence == io.SEEK_SET else 0), whence) - self._at

    def tell(self) -> int:
        return self._file.tell() - self._at

    def readinto(self, buffer: Any) -> int:
        return self._file.readinto(buffer)

    def close(self) -> None:
        self._file.close()
        super().close()


class _SoundFile:
    """What libsndfile decodes."""

    def __init__(self, path: Path) -> None:
        header = read_wave_header(path)
        self._file = soundfile.SoundFile(path)
        self._tail: _Tail | None = None
        date = self._file.copy_metadata().get("date")
        dates = [header.originated if header else None, date]
        if self._file.format == "MP3":
            dates += _container_dates(path)
        self.metadata = tuple(dates)
        self.sample_rate_hz, self.channels = self._file.samplerate, self._file.channels
        self.claimed_samples: int | None = self._file.frames
        self.fault: str | None = None
        self._float = self._file.subtype in ("FLOAT", "DOUBLE")
        if header and not header.sizes_believed:
            self._read_past_header(path, header)

    def _read_past_header(self, path: Path, header: WaveHeader) -> None:
        """Read the samples as raw ones to the end of the file where the header's sizes cannot be right."""
        bytes_a_sample = {"PCM_U8": 1, "PCM_16": 2, "PCM_24": 3, "PCM_32": 4, "FLOAT": 4, "DOUBLE": 8}
        subtype = self._file.subtype
        frames = header.data_bytes // (bytes_a_sample.get(subtype, 1) * self.channels)
        if subtype not in bytes_a_sample or frames <= self._file.frames:
            return
        self.fault = f"the header's sizes are wrong; {frames} samples a channel stand in the file"
        self._file.close()
        self._tail = _Tail(path, header.data_at)
        self._file = soundfile.SoundFile(
            self._tail,
            samplerate=self.sample_rate_hz,
            channels=self.channels,
            format="RAW",
            subtype=subtype,
            endian="LITTLE",
        )

    def blocks(self, size: int) -> Iterator[Block]:
        first = 0
        while True:
            block = np.full((size, self.channels), np.nan, np.float32)
            try:
                got = self._file.buffer_read_into(block, dtype="float32")
            except soundfile.LibsndfileError as error:
                # The decoder fills the block as far as it comes before it stumbles.
                got = int(np.count_nonzero(~np.isnan(block[:, 0])))
                self.fault = self.fault or str(error)
            short = got < size
            block = block[:got]
            if self._float:
                np.nan_to_num(block, copy=False, nan=0.0, posinf=0.0, neginf=0.0)
            if got:
                yield first, block
            first += got
            if short:
                return

    def close(self) -> None:
        self._file.close()
        if self._tail:
            self._tail.close()


class _Container:
    """What the FFmpeg libraries decode: the sound of a phone's recording or video."""

    def __init__(self, path: Path) -> None:
        self._container = av.open(str(path))
        try:
            self._stream = self._container.streams.audio[0]
        except IndexError:
            self._container.close()
            raise ValueError("it holds no sound") from None
        self.metadata = _dates_of(self._container)
        self.sample_rate_hz = int(self._stream.codec_context.sample_rate)
        self.channels = int(self._stream.codec_context.channels)
        duration, base = self._stream.duration, self._stream.time_base
        self.claimed_samples = round(duration * base * self.sample_rate_hz) if duration and base else None
        self.fault: str | None = None

    def _pieces(self) -> Iterator[Block]:
        layout = self._stream.codec_context.layout
        even = av.AudioResampler(format="fltp", layout=layout, rate=self.sample_rate_hz)
        at, began = 0, None
        for frame in self._frames():
            if frame.pts is not None and frame.time_base is not None:
                began = frame.pts * frame.time_base if began is None else began
                lost = round(float(frame.pts * frame.time_base - began) * self.sample_rate_hz) - at
                # Containers round their time stamps, and some drift; only a real hole counts as lost samples.
                at += lost if lost > _LOST_S * self.sample_rate_hz else 0
            for piece in even.resample(frame):
                samples = piece.to_ndarray().T.astype(np.float32, copy=False)
                yield at, samples
                at += len(samples)

    def _frames(self) -> Iterator[av.AudioFrame]:
        packets = self._container.demux(self._stream)
        while True:
            try:
                packet = next(packets)
            except StopIteration:
                return
            except av.error.FFmpegError as error:
                self.fault = self.fault or str(error)
                return
            try:
                yield from packet.decode()
            except av.error.EOFError:
                return
            except av.error.FFmpegError as error:
                self.fault = self.fault or str(error)

    def blocks(self, size: int) -> Iterator[Block]:
        held: list[NDArray[np.float32]] = []
        first = count = 0
        for at, piece in self._pieces():
            if held and (count >= size or at != first + count):
                yield first, np.concatenate(held)
                held, count = [], 0
            if not held:
                first = at
            held.append(piece)
            count += len(piece)
        if held:
            yield first, np.concatenate(held)

    def close(self) -> None:
        self._container.close()


def _container_dates(path: Path) -> tuple[str | None, ...]:
    try:
        with av.open(str(path)) as container:
            return _dates_of(container)
    except (av.error.FFmpegError, OSError, ValueError):
        return ()


def _dates_of(container: Any) -> tuple[str | None, ...]:
    """Every text in the metadata that may say when the recording began, the most telling first."""
    found = dict(container.metadata)
    for stream in container.streams:
        found = {**stream.metadata, **found}
    lower = {key.lower(): text for key, text in found.items()}
    return tuple(lower.get(key) for key in ("com.apple.quicktime.creationdate", "creation_time", "date", "tdrc"))
