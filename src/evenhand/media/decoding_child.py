"""Decode recordings apart from all else. Run as a script; standard library, av and numpy only.

Whatever a file does to a decoder, it does here: what decodes may use so much memory and time, and, where
``confined.py`` can see to it, open no file, write none, reach no network and start nothing. On Linux each
recording has a process of its own, forked from one that has loaded everything and never reads a recording,
so that of what one recording did nothing is left for the next; elsewhere one process reads them all.

Conventions: stdin is a socket. A request is a line of JSON, ``{"cpu_s": ...}``; with it come a pipe for the
answer and the recording, opened for reading. The answer is messages of kind (1 byte), length (4 bytes,
little-endian) and body, and the end of the pipe:
``h`` what the container says (JSON), ``s`` samples in the decoder's own form (planar: channel
after channel), ``g`` samples missing between two packets (JSON), ``e`` the end (JSON),
``x`` a refusal (JSON). A request with ``film`` is for its pictures: film/looking.py has those messages.
One with ``tries`` comes without a recording, and is answered by what this process could still do.
"""

from __future__ import annotations

import gc
import json
import os
import signal
import socket
import struct
import sys
from collections.abc import Callable, Iterator
from contextlib import suppress
from importlib import import_module
from types import ModuleType
from typing import TYPE_CHECKING, Any, NoReturn

if TYPE_CHECKING:
    import av
    from av.audio.frame import AudioFrame

    AudioPacket = av.Packet[av.AudioStream]

MEMORY_BYTES = 1 << 30
OPEN_FILES = 32
FORKS = sys.platform == "linux"  # macOS' own libraries do not bear it
MESSAGE_FRAMES = 1 << 15
GAP_S = 0.05  # a jump of the clock by less is jitter of the container's time stamps
LONGEST_GAP_S = 60.0  # a jump by more is a broken time stamp
CONTAINERS = (
    "aac,ac3,aiff,amr,amrnb,amrwb,ape,asf,au,avi,caf,dsf,eac3,flac,flv,loas,matroska,mov,mp3,"
    "mpeg,mpegts,mpc8,nut,ogg,tta,voc,w64,wav,wv"
)

Send = Callable[[bytes, bytes], None]


class Refused(Exception):
    """The recording cannot be decoded; ``why`` is a word the other side knows."""

    def __init__(self, why: str, said: str = "") -> None:
        super().__init__(why)
        self.why, self.said = why, said


class LocalFile:
    """A file without a name, so that its content alone says what it is, and no name is ever opened."""

    name = ""

    def __init__(self, number: int) -> None:
        self._number = number

    def read(self, size: int) -> bytes:
        """Read up to so many bytes."""
        return os.read(self._number, size)

    def seek(self, offset: int, whence: int = 0) -> int:
        """Go to a place."""
        return os.lseek(self._number, offset, whence)

    def tell(self) -> int:
        """Say where reading goes on."""
        return os.lseek(self._number, 0, os.SEEK_CUR)


def main() -> None:
    """Answer requests until there are no more."""
    sys.path.append(sys.argv[1])
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the parent decides; it closes our input
    asked = socket.socket(fileno=0)
    import av.subtitles.codeccontext
    import av.subtitles.stream  # noqa: F401 - all that av loads when it is needed; nothing can be loaded later

    set_limits()
    close_off = closing()[0]()
    gc.freeze()  # what is here is here for good; pages that nobody writes to are shared
    while (request := received(asked)) is not None:
        if "film" in request[0]:
            beside("film", "looking")
        if FORKS:
            answer_apart(asked, close_off, *request)
        else:
            answer(*request)


def answer_apart(
    asked: socket.socket, close_off: Callable[[], bool], request: dict[str, Any], numbers: list[int]
) -> None:
    """Let a process of its own answer, which is closed off; end as it ended, if it broke."""
    apart = os.fork()
    if not apart:
        asked.close()
        close_off()
        answer(request, numbers)
        os._exit(0)
    for number in numbers:
        os.close(number)
    ended = os.waitstatus_to_exitcode(os.waitpid(apart, 0)[1])
    if ended < 0:
        os.kill(os.getpid(), -ended)
    if ended:
        os._exit(ended)


def closing() -> tuple[Callable[[], Callable[[], bool]], Callable[[], list[str]]]:
    """Load what makes what closes a process off, and what tries whether it is."""
    if TYPE_CHECKING:
        from evenhand.media import confined
    else:
        confined = beside("confined")
    return confined.closes, confined.still_open


def received(asked: socket.socket) -> tuple[dict[str, Any], list[int]] | None:
    """Wait for a request and the opened files that come with it; None where no more come."""
    line, numbers = b"", b""
    while not line.endswith(b"\n"):
        part, beside_it, _, _ = asked.recvmsg(1 << 16, socket.CMSG_SPACE(8))
        if not part:
            return None
        line += part
        numbers += b"".join(data for _, _, data in beside_it)
    return json.loads(line), [number for (number,) in struct.iter_unpack("i", numbers)]


def set_limits() -> None:
    """Limit memory, files and written bytes, as far as the platform can; no limit can be raised again."""
    try:
        import resource
    except ImportError:
        return
    limits = (("AS", MEMORY_BYTES), ("NOFILE", OPEN_FILES), ("FSIZE", 0), ("CORE", 0))
    for name, most in limits:
        with suppress(ValueError, OSError, AttributeError):
            resource.setrlimit(getattr(resource, f"RLIMIT_{name}"), (most, most))


def set_cpu_limit(cpu_s: int) -> None:
    """Allow so many seconds of computing from now on; beyond them the system ends this process."""
    with suppress(ImportError, ValueError, OSError):
        import resource

        used = resource.getrusage(resource.RUSAGE_SELF)
        most = int(used.ru_utime + used.ru_stime) + cpu_s
        resource.setrlimit(resource.RLIMIT_CPU, (most, resource.getrlimit(resource.RLIMIT_CPU)[1]))


def answer(request: dict[str, Any], numbers: list[int]) -> None:
    """Decode one recording, or say why not; its files are closed then."""

    def send(kind: bytes, body: bytes) -> None:
        whole = memoryview(struct.pack("<cI", kind, len(body)) + body)
        while whole:
            whole = whole[os.write(numbers[0], whole) :]

    set_cpu_limit(request["cpu_s"])
    try:
        send(b"e", json.dumps(end_of(request, numbers[1:], send)).encode())
    except Refused as refusal:
        send(b"x", json.dumps({"why": refusal.why, "said": refusal.said}).encode())
    except MemoryError:
        send(b"x", json.dumps({"why": "memory", "said": ""}).encode())
    except Exception as error:  # noqa: BLE001 - the library's surprises are the file's, and not ours to trace
        send(b"x", json.dumps({"why": "failed", "said": f"{type(error).__name__}: {error}"}).encode())
    finally:
        for number in numbers:
            os.close(number)


def end_of(request: dict[str, Any], numbers: list[int], send: Send) -> dict[str, Any]:
    """Do what is asked, and return what was noticed."""
    if not numbers:
        return {"could": closing()[1]()}
    file = LocalFile(*numbers)
    return look_at(file, request["film"], send) if "film" in request else decode(file, send)


def look_at(file: LocalFile, asked: dict[str, Any], send: Send) -> dict[str, Any]:
    """Look at a film's frames: at some of them, for colours in all, or only whether it has any."""
    container = open_container(file)
    if "only" in asked:
        send(b"h", json.dumps({"film": has_moving_pictures(container)}).encode())
        return {}
    if TYPE_CHECKING:
        from evenhand.media.film import looking
    else:
        looking = beside("film", "looking")
    film = looking.Film(container, Refused)
    if "width_px" in asked:
        return looking.show(film, asked, send, Refused)
    if "weights" in asked:
        return looking.look(film, asked, send, Refused)
    return looking.sample(film, send, Refused)


def has_moving_pictures(container: av.container.InputContainer) -> bool:
    """Tell whether there are pictures that move: a cover that lies beside a sound does not."""
    from av.stream import Disposition

    still = Disposition.attached_pic | Disposition.still_image
    return any(not stream.disposition & still for stream in container.streams.video)


def beside(*names: str) -> ModuleType:
    """Load a module that lies beside this one, or in a folder there."""
    folder = os.path.join(os.path.dirname(os.path.abspath(__file__)), *names[:-1])  # noqa: PTH100, PTH118, PTH120
    if names[-1] not in sys.modules:
        sys.path.append(folder)
        import_module(names[-1])
        sys.path.remove(folder)
    return sys.modules[names[-1]]


def decode(file: LocalFile, send: Send) -> dict[str, Any]:
    """Send everything the recording's sound holds; return what was noticed on the way."""
    import av

    container = open_container(file)
    streams = container.streams.audio
    if not streams:
        raise Refused("no_audio", "video" if container.streams.video else "")
    best = container.streams.best("audio")
    stream = next((one for one in streams if best is not None and one.index == best.index), streams[0])
    if getattr(stream, "codec_context", None) is None:
        raise Refused("no_decoder")
    for other in container.streams:
        if other.index != stream.index:
            with suppress(AttributeError, ValueError):
                other.discard = av.stream.Discard.all
    decoding = Decoding(container, stream, send)
    for packet in decoding.packets():
        decoding.take_packet(packet)
    decoding.flush()
    return decoding.end()


def open_container(file: LocalFile) -> av.container.InputContainer:
    """Open what is in the file, if it is a recording's container, and nothing beside it."""
    import av

    def refuse(url: str, flags: int, options: dict[str, str]) -> NoReturn:
        raise PermissionError(f"a recording may not open another file: {url} {flags} {len(options)}")

    options = {"format_whitelist": CONTAINERS, "protocol_whitelist": "none"}
    try:
        return av.open(file, "r", container_options=options, io_open=refuse, buffer_size=1 << 17)
    except MemoryError:
        raise
    except Exception as error:  # noqa: BLE001 - whatever is raised on strange bytes, they are no recording
        raise Refused("no_container", str(error)) from None


class Decoding:
    """One recording on its way from packets to messages."""

    def __init__(self, container: av.container.InputContainer, stream: av.AudioStream, send: Send) -> None:
        self.container, self.stream, self.send = container, stream, send
        self.form: tuple[str, int, int] | None = None  # sample form, channels, rate of the first frame
        self.skipped: int | None = None  # samples that the container itself says to skip
        self.first_packet = True
        self.planes: list[list[bytes]] = []
        self.waiting = 0
        self.broken_packets = 0
        self.changed = self.broke_off = False
        self.tick_s = 0.0  # of the stream's clock
        self.clock_s: float | None = None  # where the next frame should begin

    def packets(self) -> Iterator[AudioPacket]:
        """Give packets to the end, or to where the container is damaged."""
        import av

        try:
            yield from self.container.demux(self.stream)
        except (av.error.FFmpegError, ValueError, IndexError):  # an index error: a new stream, half-way
            self.broke_off = True

    def take_packet(self, packet: AudioPacket) -> None:
        """Decode one packet; a broken one is counted and left out."""
        import av

        if self.first_packet and packet.size:
            self.first_packet = False
            self.skipped = skipped_samples(packet)
        try:
            frames = packet.decode()
        except av.error.FFmpegError as error:
            if isinstance(error, (av.error.DecoderNotFoundError, av.error.PatchWelcomeError)):
                raise Refused("no_decoder", self.stream.codec_context.name) from None
            self.broken_packets += bool(packet.size) and not isinstance(error, av.error.EOFError)
            return
        for frame in frames:
            self.take_frame(frame)

    def take_frame(self, frame: AudioFrame) -> None:
        """Keep one frame's samples, and mark what is missing before it."""
        channels = frame.layout.nb_channels
        form = (frame.format.name, channels, frame.sample_rate)
        if self.form is None:
            self.form = form
            self.planes = [[] for _ in frame.planes]
            self.tick_s = float(frame.time_base or 0)
            self.send(b"h", json.dumps(self.head(frame)).encode())
        if form != self.form:
            self.changed = True
            return
        self.mark_gap(frame)
        size = frame.samples * frame.format.bytes * (1 if frame.format.is_planar else channels)
        for kept, plane in zip(self.planes, frame.planes, strict=True):
            kept.append(bytes(memoryview(plane)[:size]))
        self.waiting += frame.samples
        if self.waiting >= MESSAGE_FRAMES:
            self.flush()

    def head(self, frame: AudioFrame) -> dict[str, Any]:
        """Say what the container and the first frame are."""
        stream, container = self.stream, self.container
        promised = None
        if stream.duration and stream.time_base:
            promised = float(stream.duration * stream.time_base)
        elif container.duration:
            promised = container.duration / 1e6
        return {
            "container": container.format.name,
            "codec": stream.codec_context.codec.canonical_name,
            "form": frame.format.packed.name,
            "planar": frame.format.is_planar,
            "channels": frame.layout.nb_channels,
            "rate_hz": frame.sample_rate,
            "promised_s": promised,
            "skipped": self.skipped,
            "has_video": bool(container.streams.video),
        }

    def mark_gap(self, frame: AudioFrame) -> None:
        """Tell of samples missing before this frame, so that what follows keeps its time."""
        if frame.pts is None:
            return
        starts_s = frame.pts * self.tick_s
        if self.clock_s is not None and GAP_S < starts_s - self.clock_s <= LONGEST_GAP_S:
            self.flush()
            missing = round((starts_s - self.clock_s) * frame.sample_rate)
            self.send(b"g", json.dumps({"samples": missing}).encode())
        self.clock_s = starts_s + frame.samples / frame.sample_rate

    def flush(self) -> None:
        """Send the samples that wait."""
        if self.waiting:
            self.send(b"s", b"".join(part for plane in self.planes for part in plane))
        self.planes = [[] for _ in self.planes]
        self.waiting = 0

    def end(self) -> dict[str, Any]:
        """Say what was noticed; a stream that gave no frame is no recording."""
        if self.form is None:
            raise Refused("nothing_decoded", self.stream.codec_context.name)
        noticed = {"changed": self.changed, "broke_off": self.broke_off}
        return {"broken_packets": self.broken_packets, **noticed}


def skipped_samples(packet: AudioPacket) -> int | None:
    """Read how many samples the container says the decoder must drop at the start."""
    with suppress(Exception):  # side data differ between versions of the library
        for part in packet.iter_sidedata():
            if part.data_type == "skip_samples":
                return int(struct.unpack_from("<I", bytes(part))[0])
    return None


if __name__ == "__main__":
    main()
