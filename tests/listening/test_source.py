"""Reading sound of every kind, whole and interrupted, and when it began."""

from __future__ import annotations

import struct
from pathlib import Path
from typing import Any

import av
import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray

from quarterjack.errors import RecordingNotFound, RecordingUnreadable
from quarterjack.listening.hear import hear
from quarterjack.listening.source import open_recording
from quarterjack.listening.started import started_from

RATE = 44_100
SECONDS = 6.0
NOISE = (0.1 * np.random.default_rng(2).standard_normal(round(SECONDS * RATE))).astype(np.float32)


@pytest.fixture(autouse=True)
def _utc(monkeypatch: pytest.MonkeyPatch) -> None:
    import time

    monkeypatch.setenv("TZ", "UTC")
    if hasattr(time, "tzset"):
        time.tzset()


def write(path: Path, kind: str, rate: int = RATE, channels: int = 1) -> Path:
    samples = np.stack([NOISE * (k + 1) / channels for k in range(channels)], axis=1)
    with soundfile.SoundFile(path, "w", rate, channels, format=kind) as file:
        for at in range(0, len(samples), rate):
            file.write(samples[at : at + rate])
    return path


def write_av(path: Path, codec: str, rate: int, layout: str = "mono", **metadata: str) -> Path:
    with av.open(str(path), "w") as container:
        container.metadata.update(metadata)
        stream: Any = container.add_stream(codec, rate=rate)
        stream.layout = layout
        frame = av.AudioFrame.from_ndarray(NOISE[None, : rate * 3], format="fltp", layout="mono")
        frame.sample_rate = rate
        for piece in av.AudioResampler(stream.format, layout, rate, frame_size=stream.frame_size or 1024).resample(
            frame
        ):
            container.mux(stream.encode(piece))
        container.mux(stream.encode(None))
    return path


def read(path: Path) -> NDArray[np.float32]:
    with open_recording(path) as source:
        blocks = list(source.blocks(1.3))
        assert source.samples_read == sum(len(block) for _, block in blocks)
        return np.concatenate([block for _, block in blocks])


@pytest.mark.parametrize("kind", ["WAV", "W64", "RF64", "FLAC", "OGG", "MP3"])
def test_every_kind_that_libsndfile_reads(tmp_path: Path, kind: str) -> None:
    samples = read(write(tmp_path / "sound", kind))
    assert samples.shape == (NOISE.size, 1)
    if kind not in ("OGG", "MP3"):
        np.testing.assert_allclose(samples[:, 0], NOISE, atol=2e-4)


@pytest.mark.parametrize(
    ("name", "codec", "rate"),
    [
        ("a.m4a", "aac", 44_100),
        ("a.mp4", "aac", 48_000),
        ("a.mov", "aac", 44_100),
        ("a.webm", "libopus", 48_000),
        ("a.3gp", "aac", 16_000),
        ("a.amr", "libopencore_amrnb", 8_000),
    ],
)
def test_every_kind_that_phones_write(tmp_path: Path, name: str, codec: str, rate: int) -> None:
    if codec not in av.codecs_available:
        pytest.skip(f"no encoder {codec} here to make such a file with")
    try:
        path = write_av(tmp_path / name, codec, rate)
    except (av.error.FFmpegError, ValueError) as error:
        pytest.skip(f"such a file cannot be made here: {error}")
    samples = read(path)
    assert samples.shape[1] == 1
    assert len(samples) == pytest.approx(3 * rate, abs=0.1 * rate)
    assert np.sqrt(np.mean(samples**2)) == pytest.approx(0.1, rel=0.6)


def test_the_sound_of_a_video_is_read(tmp_path: Path) -> None:
    path = tmp_path / "clip.mp4"
    with av.open(str(path), "w") as container:
        video = container.add_stream("mpeg4", rate=10)
        video.width, video.height, video.pix_fmt = 64, 48, "yuv420p"
        sound = container.add_stream("aac", rate=RATE)
        sound.layout = "mono"
        for _ in range(10):
            container.mux(video.encode(av.VideoFrame.from_ndarray(np.zeros((48, 64, 3), np.uint8), format="rgb24")))
        frame = av.AudioFrame.from_ndarray(NOISE[None, :RATE], format="fltp", layout="mono")
        frame.sample_rate = RATE
        for piece in av.AudioResampler("fltp", "mono", RATE, frame_size=1024).resample(frame):
            container.mux(sound.encode(piece))
        container.mux(sound.encode(None))
        container.mux(video.encode(None))
    assert len(read(path)) == pytest.approx(RATE, abs=0.1 * RATE)


@pytest.mark.parametrize("kind", ["WAV", "W64", "RF64", "FLAC", "OGG", "MP3"])
def test_a_truncated_file_is_read_as_far_as_it_goes(tmp_path: Path, kind: str) -> None:
    whole = write(tmp_path / "whole", kind).read_bytes()
    cut = tmp_path / "cut"
    cut.write_bytes(whole[: int(0.6 * len(whole))])
    samples = read(cut)
    # What is compressed comes in pages: up to half a second of the last one is lost.
    assert len(samples) == pytest.approx(0.6 * NOISE.size, abs=0.5 * RATE)
    assert np.isfinite(samples).all()


def test_a_truncated_flac_is_said_to_be_so(tmp_path: Path) -> None:
    whole = write(tmp_path / "whole", "FLAC").read_bytes()
    cut = tmp_path / "cut.flac"
    cut.write_bytes(whole[: len(whole) // 2])
    assert "truncated" in [remark.code for remark in hear(cut).remarks]


@pytest.mark.parametrize("claimed", [b"\0\0\0\0", b"\xff\xff\xff\xff", struct.pack("<I", 1000)])
def test_a_killed_wav_is_read_past_its_header(tmp_path: Path, claimed: bytes) -> None:
    data = bytearray(write(tmp_path / "a.wav", "WAV").read_bytes())
    at = data.index(b"data") + 4
    data[at : at + 4] = claimed
    data[4:8] = claimed
    (tmp_path / "b.wav").write_bytes(data)
    samples = read(tmp_path / "b.wav")
    assert len(samples) == NOISE.size
    np.testing.assert_allclose(samples[:, 0], NOISE, atol=2e-4)


@pytest.mark.parametrize("claimed", [0, 24, 5000])
def test_a_killed_w64_is_read_past_its_header(tmp_path: Path, claimed: int) -> None:
    data = bytearray(write(tmp_path / "a.w64", "W64").read_bytes())
    at = data.index(b"data") + 16
    data[at : at + 8] = struct.pack("<Q", claimed)
    data[16:24] = struct.pack("<Q", claimed)
    (tmp_path / "b.w64").write_bytes(data)
    assert len(read(tmp_path / "b.w64")) == NOISE.size


def test_a_chunk_after_the_samples_is_no_sound(tmp_path: Path) -> None:
    data = write(tmp_path / "a.wav", "WAV").read_bytes()
    (tmp_path / "b.wav").write_bytes(data + b"LIST" + struct.pack("<I", 4000) + b"\x7f" * 4000)
    assert len(read(tmp_path / "b.wav")) == NOISE.size


@pytest.mark.parametrize("rate", [8_000, 192_000])
def test_the_ends_of_the_range_of_rates(tmp_path: Path, rate: int) -> None:
    with open_recording(write(tmp_path / "a.wav", "WAV", rate)) as source:
        assert source.sample_rate_hz == rate


def test_broken_floats_become_silence(tmp_path: Path) -> None:
    samples = NOISE.copy()
    samples[100], samples[200] = np.nan, np.inf
    soundfile.write(tmp_path / "a.wav", samples, RATE, subtype="FLOAT")
    assert np.isfinite(read(tmp_path / "a.wav")).all()


def test_what_is_missing_or_no_sound_says_so(tmp_path: Path) -> None:
    with pytest.raises(RecordingNotFound, match="no recording"):
        hear(tmp_path / "absent.wav")
    with pytest.raises(RecordingNotFound):
        hear(tmp_path)
    (tmp_path / "note.wav").write_text("not a sound")
    with pytest.raises(RecordingUnreadable, match=r"note\.wav"):
        hear(tmp_path / "note.wav")
    (tmp_path / "empty.flac").write_bytes(b"")
    with pytest.raises(RecordingUnreadable):
        hear(tmp_path / "empty.flac")
    soundfile.write(tmp_path / "none.wav", np.zeros(0, np.float32), RATE)
    with pytest.raises(RecordingUnreadable):
        hear(tmp_path / "none.wav")


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("2025-03-04T10:11:12Z", "2025-03-04T10:11:12Z"),
        ("2025-03-04T10:11:12.000000Z", "2025-03-04T10:11:12Z"),
        ("2025-03-04T12:11:12+02:00", "2025-03-04T10:11:12Z"),
        ("VID_20250304_101112", "2025-03-04T10:11:12Z"),
        ("kitchen 2025-03-04 10.11.12", "2025-03-04T10:11:12Z"),
        ("2025-03-04 10-11", "2025-03-04T10:11:00Z"),
        ("2025-03-04", None),
        ("20251304_101112", None),
        ("1904-01-01T00:00:00Z", None),
        ("clock 3600", None),
        ("", None),
        (None, None),
    ],
)
def test_dates_with_a_time_of_day(text: str | None, expected: str | None) -> None:
    assert started_from([text]) == expected


def test_the_start_comes_from_metadata_before_the_name(tmp_path: Path) -> None:
    path = tmp_path / "20200101_000000.flac"
    with soundfile.SoundFile(path, "w", RATE, 1, format="FLAC") as file:
        file.date = "2025-03-04T10:11:12Z"
        file.write(NOISE)
    with open_recording(path) as source:
        assert source.started_utc == "2025-03-04T10:11:12Z"


def test_the_start_in_a_bext_chunk(tmp_path: Path) -> None:
    plain = write(tmp_path / "a.wav", "WAV").read_bytes()
    bext = bytearray(602)
    bext[320:338] = b"2025-03-0410:11:12"
    chunk = b"bext" + struct.pack("<I", len(bext)) + bytes(bext)
    (tmp_path / "b.wav").write_bytes(plain[:12] + chunk + plain[12:])
    with open_recording(tmp_path / "b.wav") as source:
        assert source.started_utc == "2025-03-04T10:11:12Z"
        assert sum(len(block) for _, block in source.blocks()) == NOISE.size


def test_the_start_in_a_phone_video(tmp_path: Path) -> None:
    path = write_av(tmp_path / "a.m4a", "aac", RATE, creation_time="2025-03-04T10:11:12.000000Z")
    with open_recording(path) as source:
        assert source.started_utc == "2025-03-04T10:11:12Z"


def test_the_start_is_never_the_file_s_own_date(tmp_path: Path) -> None:
    with open_recording(write(tmp_path / "clock.wav", "WAV")) as source:
        assert source.started_utc is None


def test_facts_of_a_file(tmp_path: Path) -> None:
    import hashlib

    path = write(tmp_path / "a.wav", "WAV", channels=2)
    facts = hear(path).recording
    assert facts.file == "a.wav"
    assert facts.sha256 == hashlib.sha256(path.read_bytes()).hexdigest()
    assert facts.seconds == SECONDS
    assert facts.channels == 2
