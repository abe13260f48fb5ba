"""Where this computer is reached on the networks that it is on, and which names of it a browser may ask for."""

from __future__ import annotations

import fcntl
import ipaddress
import socket
import struct
from collections.abc import Iterator

ASK_ADDRESS = 0x8915
"""SIOCGIFADDR of Linux: the address of an interface."""
NAME_BYTES = 15
ANYWHERE = ("", "0.0.0.0", "::")
WIRELESS = ("wl", "ap", "uap")
"""How interfaces begin that phones reach: those of a wireless network, or of a hotspot of this computer."""


def reachable(bound: str) -> list[str]:
    """The addresses to print for a server that is bound to one, a wireless one first; its own where it is bound so."""
    if bound not in ANYWHERE:
        return [bound]
    found = sorted(_interfaces(), key=lambda one: not one[0].startswith(WIRELESS))
    near = [address for _, address in found if is_near(address) and not ipaddress.ip_address(address).is_loopback]
    return near or ["127.0.0.1"]


def is_near(address: str) -> bool:
    """Whether an address is of this computer or of a network without a way to the world."""
    try:
        one = ipaddress.ip_address(address.partition("%")[0])
    except ValueError:
        return False
    one = getattr(one, "ipv4_mapped", None) or one
    return one.is_loopback or one.is_private or one.is_link_local


def is_named(host: str, port: int, bound: str) -> bool:
    """Whether a Host header names this computer itself: by an address in figures, or as it is called here.

    A name out of the world's name service is refused, as a foreign page could let one point here.
    """
    name, given = _parted(host)
    if given != port:
        return False
    try:
        return is_near(str(ipaddress.ip_address(name)))
    except ValueError:
        own = socket.gethostname().lower()
        return name in {"localhost", own, f"{own.partition('.')[0]}.local", bound.lower()}


def in_url(address: str, port: int) -> str:
    """How a browser is told of it."""
    return f"http://{f'[{address}]' if ':' in address else address}:{port}/"


def _parted(host: str) -> tuple[str, int]:
    name, colon, port = host.strip().lower().rpartition(":")
    if not colon or port.endswith("]"):
        name, port = host.strip().lower(), "80"
    return name.removeprefix("[").removesuffix("]"), int(port) if port.isascii() and port.isdigit() else -1


def _interfaces() -> Iterator[tuple[str, str]]:
    """Name and IPv4 address of every interface that has one."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asked:
        for _, name in socket.if_nameindex():
            try:
                told = fcntl.ioctl(asked, ASK_ADDRESS, struct.pack("256s", name.encode()[:NAME_BYTES]))
            except OSError:
                continue
            yield name, socket.inet_ntoa(told[20:24])
