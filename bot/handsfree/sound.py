"""The door to PortAudio: loaded late, and only here; which devices there are, and which of them are used."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum
from types import ModuleType
from typing import Any

from bot.extras import Extra, install
from engine.errors import InputError, WorldError

RATE_HZ, SAMPLE = 16_000, "int16"
ADVICE = f"{install(Extra.SOUND)}, and on Debian or Ubuntu: apt-get install libportaudio2"


class SoundMissing(WorldError):
    """Microphone and loudspeaker cannot be used on this computer."""


class DeviceUnknown(InputError):
    """No device goes by this name or number."""

    def __init__(self, kind: Kind, wanted: str) -> None:
        self.kind, self.wanted = kind, wanted
        super().__init__(f"no {kind.told} is called {wanted!r}: --list-devices shows what is there")


class Kind(StrEnum):
    INPUT = "input"
    OUTPUT = "output"

    @property
    def told(self) -> str:
        return "microphone" if self is Kind.INPUT else "loudspeaker"


@dataclass(frozen=True)
class Device:
    """One device; ``inputs`` and ``outputs`` are channels, ``rate_hz`` is the one it likes best."""

    number: int
    name: str
    inputs: int
    outputs: int
    rate_hz: int

    def channels(self, kind: Kind) -> int:
        return self.inputs if kind is Kind.INPUT else self.outputs


@dataclass(frozen=True)
class Format:
    """How a device is opened: a rate and channels that it takes."""

    rate_hz: int
    channels: int


def portaudio() -> ModuleType:
    """The ``sounddevice`` module; raises SoundMissing in one sentence where it or PortAudio is not there."""
    try:
        import sounddevice
    except ImportError as error:
        raise SoundMissing(f"hands-free needs the sounddevice package: {ADVICE}") from error
    except OSError as error:
        raise SoundMissing(f"hands-free needs PortAudio, which cannot be loaded here: {ADVICE}") from error
    module: ModuleType = sounddevice
    return module


class Sound:
    """The devices of this computer. ``Failure`` is what a device raises when it cannot be used now."""

    def __init__(self, module: ModuleType) -> None:
        self.module = module
        self.Failure: type[Exception] = module.PortAudioError

    def devices(self) -> tuple[Device, ...]:
        return tuple(map(_device, self.module.query_devices()))

    def default(self, kind: Kind) -> Device | None:
        """The device that this computer uses where nobody chose."""
        try:
            return _device(self.module.query_devices(kind=kind.value))
        except (self.Failure, ValueError):
            return None

    def named(self, kind: Kind, wanted: str) -> Device:
        """The device of this number, or the first with this in its name; raises DeviceUnknown."""
        able = [device for device in self.devices() if device.channels(kind)]
        same = [device for device in able if str(device.number) == wanted.strip()]
        like = [device for device in able if wanted.strip().casefold() in device.name.casefold()]
        if not wanted.strip() or not (same or like):
            raise DeviceUnknown(kind, wanted)
        return (same or like)[0]

    def found(self, kind: Kind, wanted: str | None) -> Device | None:
        """The chosen device while it is there, else the default one."""
        try:
            return self.named(kind, wanted) if wanted else self.default(kind)
        except DeviceUnknown:
            return self.default(kind)

    def format(self, kind: Kind, device: Device, rate_hz: int) -> Format:
        """How to open a device: mono at the rate wanted, else what the device itself likes; raises ``Failure``."""
        check = self.module.check_input_settings if kind is Kind.INPUT else self.module.check_output_settings
        ways = ((rate_hz, 1), (device.rate_hz, 1), (device.rate_hz, min(2, device.channels(kind))))
        for rate, channels in ways[:-1]:
            if self._takes(check, device, rate, channels):
                return Format(rate, channels)
        rate, channels = ways[-1]
        check(device=device.number, channels=channels, dtype=SAMPLE, samplerate=rate)
        return Format(rate, channels)

    def _takes(self, check: Callable[..., Any], device: Device, rate: int, channels: int) -> bool:
        try:
            check(device=device.number, channels=channels, dtype=SAMPLE, samplerate=rate)
        except self.Failure:
            return False
        return True

    def refresh(self) -> None:
        """Look again at what is plugged in: PortAudio does so only at its start. Every stream must be closed before."""
        self.module._terminate()
        self.module._initialize()


def _device(found: dict[str, Any]) -> Device:
    return Device(
        number=int(found["index"]),
        name=str(found["name"]),
        inputs=int(found["max_input_channels"]),
        outputs=int(found["max_output_channels"]),
        rate_hz=int(found["default_samplerate"]),
    )


def listing(sound: Sound) -> list[str]:
    """One line a device, for a person who chooses."""
    devices = sound.devices()
    if not devices:
        return ["no sound device was found"]
    chosen = {kind: sound.default(kind) for kind in Kind}
    return ["number  in out  name", *(_line(device, chosen) for device in devices)]


def _line(device: Device, chosen: dict[Kind, Device | None]) -> str:
    uses = [kind.told for kind, one in chosen.items() if one == device]
    used = f"  (used as {' and '.join(uses)})" if uses else ""
    return f"{device.number:6d} {device.inputs:3d} {device.outputs:3d}  {device.name}{used}"
