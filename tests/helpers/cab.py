"""A tractor cab of virtual devices: a PulseAudio server of its own, what is said into its microphone, what it says.

On Debian and Ubuntu it needs ``apt-get install pulseaudio pulseaudio-utils libportaudio2 libasound2-plugins``.
"""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import soundfile

from speech.audio import decode
from tests.helpers.process import ROOT

PACKAGES = "pulseaudio pulseaudio-utils libportaudio2 libasound2-plugins"
RATE = 16_000
LOUD = 0.01
PATIENCE_S = 60.0
"""So long a busy machine may take for anything: it is waited for so long only where it never comes."""
ANSWERED_S = 8.0
TRIES = 5
ALSA = """
pcm.pulse { type pulse  hint { show on  description "cab" } }
ctl.pulse { type pulse }
pcm.!default { type pulse  hint { show on  description "cab" } }
ctl.!default { type pulse }
"""


def missing() -> str | None:
    """Why there can be no virtual sound card here, None where there can."""
    lacking = [name for name in ("pulseaudio", "pactl", "parec", "paplay") if shutil.which(name) is None]
    if lacking:
        return f"{', '.join(lacking)} is missing (apt-get install {PACKAGES})"
    try:
        import sounddevice  # noqa: F401
    except (ImportError, OSError) as error:
        return f"{error} (pip install sounddevice, apt-get install {PACKAGES})"
    return None


def wait_for(what: Callable[[], object], seconds: float, why: str) -> None:
    end = time.monotonic() + seconds
    while not what():
        if time.monotonic() > end:
            raise TimeoutError(why)
        time.sleep(0.05)


class Cab:
    """``say`` plays into the microphone; ``loud_s`` is how long the loudspeaker was loud so far."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.loud_s, self._last_loud = 0.0, 0.0
        runtime = folder / "run"
        runtime.mkdir(mode=0o700)
        (folder / "alsa.conf").write_text(ALSA, encoding="utf-8")
        self.server = f"unix:{runtime / 'native'}"
        self.environment = os.environ | {
            "HOME": str(folder),
            "XDG_RUNTIME_DIR": str(runtime),
            "PULSE_RUNTIME_PATH": str(runtime),
            "PULSE_SERVER": self.server,
            "ALSA_CONFIG_PATH": str(folder / "alsa.conf"),
            "PYTHONPATH": str(ROOT),
            "PYTHONUNBUFFERED": "1",
            "ROWHAND_SPEECH_RATE": "2.0",
        }
        self._processes: list[subprocess.Popen[bytes]] = []

    def start(self) -> None:
        """Start the server with its devices; skips nothing, raises TimeoutError where it does not come up."""
        native = f"module-native-protocol-unix auth-anonymous=1 socket={self.server.removeprefix('unix:')}"
        options = ["--daemonize=no", "--exit-idle-time=-1", "--use-pid-file=no", "--disable-shm=yes"]
        self._spawn("pulseaudio", "-n", *options, "-L", native)
        wait_for(lambda: self._pactl("info").returncode == 0, PATIENCE_S, "PulseAudio does not start")
        self.plug()

    def plug(self) -> None:
        """Microphone and loudspeaker are there, and the loudspeaker is listened to."""
        for name in ("mouth", "ear"):
            self._pactl("load-module", "module-null-sink", f"sink_name={name}", f"rate={RATE}", "channels=1")
        self._pactl("set-default-sink", "ear")
        self._pactl("set-default-source", "mouth.monitor")
        sound = ["--device=ear.monitor", f"--rate={RATE}", "--channels=1", "--format=s16le", "--latency-msec=50"]
        listener = self._spawn("parec", *sound)
        threading.Thread(target=self._listen, args=(listener,), daemon=True).start()

    def unplug(self) -> None:
        """Both devices are gone at once, like a headset whose plug is pulled."""
        self._pactl("unload-module", "module-null-sink")

    def loop(self) -> None:
        """From now on the loudspeaker sounds into the microphone."""
        self._pactl("load-module", "module-loopback", "source=ear.monitor", "sink=mouth", "latency_msec=20")

    def say(self, recording: Path) -> None:
        """Speak a recording into the microphone, to its end."""
        file = self.folder / "said.wav"
        soundfile.write(file, decode(recording).samples, RATE)
        subprocess.run(["paplay", "--device=mouth", str(file)], env=self.environment, check=True, timeout=PATIENCE_S)

    def wait_until_quiet(self, silence_s: float = 1.2) -> None:
        """Wait until the loudspeaker was still for so long."""
        begun = time.monotonic()
        wait_for(
            lambda: time.monotonic() - max(self._last_loud, begun) > silence_s,
            PATIENCE_S,
            "the loudspeaker does not stop",
        )

    def wait_until_loud(self, loud_s: float) -> None:
        """Wait until the loudspeaker was loud for so long in all."""
        wait_for(lambda: self.loud_s > loud_s, PATIENCE_S, f"the loudspeaker was loud for {self.loud_s} s only")

    def run(self, *command: str) -> Voice:
        return Voice(subprocess.Popen([sys.executable, *command], env=self.environment, stdout=subprocess.PIPE))

    def stop(self) -> None:
        for process in self._processes:
            process.kill()
            process.wait()

    def _listen(self, listener: subprocess.Popen[bytes]) -> None:
        assert listener.stdout
        while block := listener.stdout.read(RATE // 10 * 2):
            if np.abs(np.frombuffer(block[: len(block) // 2 * 2], "<i2")).max() > LOUD * 32768:
                self.loud_s += 0.1
                self._last_loud = time.monotonic()

    def _spawn(self, *command: str) -> subprocess.Popen[bytes]:
        process = subprocess.Popen(
            command, env=self.environment, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, start_new_session=True
        )
        self._processes.append(process)
        return process

    def _pactl(self, *words: str) -> subprocess.CompletedProcess[bytes]:
        return subprocess.run(
            ["pactl", *words], env=self.environment, capture_output=True, check=False, timeout=PATIENCE_S
        )


class Voice:
    """The program in the cab: the lines it shows, as they come."""

    def __init__(self, process: subprocess.Popen[bytes]) -> None:
        self.process, self.lines = process, list[str]()
        threading.Thread(target=self._read, daemon=True).start()

    def shows(self, text: str, seconds: float, after: int) -> bool:
        """Whether a line that holds ``text`` comes within so long."""
        try:
            self.wait_for(text, seconds, after)
        except TimeoutError:
            return False
        return True

    def wait_for(self, text: str, seconds: float = PATIENCE_S, after: int = 0) -> int:
        """Wait for a line that holds ``text``; gives how many lines there are up to it."""
        wait_for(lambda: any(text in line for line in self.lines[after:]), seconds, f"no {text!r} in {self.lines}")
        return after + next(at for at, line in enumerate(self.lines[after:], 1) if text in line)

    def stop(self) -> int:
        """Ctrl-C; gives the exit code."""
        self.process.send_signal(signal.SIGINT)
        try:
            return self.process.wait(timeout=PATIENCE_S)
        finally:
            self.process.kill()

    def _read(self) -> None:
        assert self.process.stdout
        for line in self.process.stdout:
            self.lines.append(line.decode().rstrip("\n"))
