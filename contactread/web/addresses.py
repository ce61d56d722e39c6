"""The addresses under which this machine can be reached, the likeliest first."""

from __future__ import annotations

import ipaddress
import re
import socket
from dataclasses import dataclass

LOOPBACK = "127.0.0.1"
# Names of interfaces that lead to virtual machines, containers or tunnels, not to a phone in the room.
_VIRTUAL = re.compile(
    r"docker|veth|virbr|br-|cni|flannel|podman|vmnet|vbox|hyper-v|vethernet|wsl|tun|tap|utun|wg|ppp|"
    r"vpn|zt|tailscale|loopback|pseudo|bluetooth",
    re.IGNORECASE,
)
_WIRELESS = re.compile(r"wl|wi-?fi|wireless|airport|en0", re.IGNORECASE)


@dataclass(frozen=True)
class Address:
    """One address. interface: its name. why: in a few words, why it stands where it does in the list."""

    ip: str
    interface: str
    why: str


def ranked_addresses() -> list[Address]:
    """Addresses (IPv4) that a phone could reach, best first; empty on a machine without a network."""
    import ifaddr

    adapters = ifaddr.get_adapters()
    found = [(str(ip.ip), each.nice_name) for each in adapters for ip in each.ips if ip.is_IPv4]
    return rank(found, _outward())


def rank(found: list[tuple[str, str]], outward: str | None) -> list[Address]:
    """Sort (address, interface) pairs. outward: the address that traffic leaves by, where there is one.

    Loopback and link-local addresses are left out: nothing else reaches the first, and phones rarely the
    second.
    """
    scored: list[tuple[int, Address]] = []
    for ip, interface in dict.fromkeys(found):
        address = ipaddress.ip_address(ip)
        if address.is_loopback or address.is_link_local or address.is_unspecified:
            continue
        if _VIRTUAL.search(interface):
            score, why = 4, "virtual or VPN: a phone seldom reaches it"
        elif not address.is_private:
            score, why = 3, "public address"
        elif ip == outward:
            score, why = 0, "the way this computer goes to the network"
        elif _WIRELESS.search(interface):
            score, why = 1, "wireless"
        else:
            score, why = 2, "local network"
        scored.append((score, Address(ip, interface, why)))
    return [address for _, address in sorted(scored, key=lambda each: each[0])]


def _outward() -> str | None:
    """The address of the way out. Nothing is sent: a datagram socket only looks up its route."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))  # a documentation address (RFC 5737)
        except OSError:
            return None
        return str(probe.getsockname()[0])
