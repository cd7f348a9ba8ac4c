"""Has captures of HTTP conversations imported that another packet library built and wrote.

Usage: capture.py COLDBED

Each conversation is put into packets by scapy, changed on its way (sent twice, in another order, cut by a
reset), written as pcap or pcapng, imported by `coldbed session import`, and the session compared with what was
said: requests, answers, how they ended, and when their bytes came.

# Source
TCP: RFC 9293. The files' formats: draft-ietf-opsawg-pcap, draft-ietf-opsawg-pcapng. HTTP: RFC 9112.
"""

import json
import random
import subprocess
import sys
import tempfile
from pathlib import Path

from scapy.layers.inet import IP, TCP
from scapy.layers.inet6 import IPv6
from scapy.layers.l2 import CookedLinux, CookedLinuxV2, Dot1Q, Ether, Loopback
from scapy.packet import Raw
from scapy.utils import PcapNgWriter, PcapWriter

# 2026-11-24T21:00:05Z.
BEGAN = 1_795_554_005
STATUS = b'{"state":"processing","job":{"progress-percent":41.5}}'
# More than one segment, in both directions of reading the same.
LONG = json.dumps({"samples": list(range(2000))}).encode()
SEGMENT = 1400


class Talk:
    """What two sides say on one connection, as packets with times in seconds after the beginning."""

    def __init__(self, watcher, host, port=8080, watcher_port=50000, first=(1000, 2**32 - 500)):
        self.ends = {"watcher": (watcher, watcher_port), "host": (host, port)}
        self.next = {"watcher": first[0], "host": first[1]}
        self.now = 0.0
        self.packets = []

    def send(self, side, flags, payload=b""):
        other = "host" if side == "watcher" else "watcher"
        (source, source_port), (target, target_port) = self.ends[side], self.ends[other]
        network = IPv6(src=source, dst=target) if ":" in source else IP(src=source, dst=target)
        segment = TCP(sport=source_port, dport=target_port, seq=self.next[side], flags=flags, window=60000)
        if "A" in flags:
            segment.ack = self.next[other]
        packet = network / segment
        if payload:
            packet = packet / Raw(payload)
        self.packets.append([round(self.now, 6), packet])
        taken = len(payload) + ("S" in flags) + ("F" in flags)
        self.next[side] = (self.next[side] + taken) % 2**32
        self.now += 0.001

    def opens(self):
        self.send("watcher", "S")
        self.send("host", "SA")
        self.send("watcher", "A")

    def says(self, side, data):
        """Sends in segments, and gives when the first and the last of them went."""
        began = self.now
        for at in range(0, len(data), SEGMENT):
            self.send(side, "PA", data[at : at + SEGMENT])
        self.send("host" if side == "watcher" else "watcher", "A")
        return round(began, 6)

    def closes(self):
        self.send("watcher", "FA")
        self.send("host", "FA")
        self.send("watcher", "A")


def request(target):
    return f"GET {target} HTTP/1.1\r\nHost: printer.example\r\n\r\n".encode()


def by_length(body):
    head = f"HTTP/1.1 200 OK\r\nContent-Type: application/json\r\nContent-Length: {len(body)}\r\n\r\n"
    return head.encode() + body


def in_chunks(body, size=700):
    parts = [body[at : at + size] for at in range(0, len(body), size)]
    framed = b"".join(b"%x\r\n%s\r\n" % (len(part), part) for part in parts)
    return b"HTTP/1.1 200 OK\r\nTransfer-Encoding: chunked\r\n\r\n" + framed + b"0\r\n\r\n"


def conversation(watcher, host):
    """Gives a talk of three exchanges and what a session has to say of it."""
    talk = Talk(watcher, host)
    talk.opens()
    expected = []
    for target, body, frame in [
        ("/printer", STATUS, by_length),
        ("/samples", LONG, by_length),
        ("/samples?again", LONG, in_chunks),
    ]:
        asked = talk.says("watcher", request(target))
        talk.says("host", frame(body))
        expected.append((target, asked, 200, body, "complete"))
        talk.now += 2
    talk.closes()
    return talk, expected


def again(packets, rng):
    """Sends every third segment with data twice, the second time later."""
    sent = list(packets)
    for at, packet in [one for one in packets if Raw in one[1]][::3]:
        sent.append([at + rng.choice([0.0004, 0.0016]), packet])
    return sorted(sent, key=lambda one: one[0])


def mixed(packets, rng):
    """Lets segments overtake each other within some milliseconds; times stay in order, as they are captured."""
    # The handshake takes a way there and back.
    keys = [at if place < 3 else at + rng.uniform(0, 0.004) for place, (at, _) in enumerate(packets)]
    order = sorted(range(len(packets)), key=keys.__getitem__)
    times = sorted(at for at, _ in packets)
    return [[times[place], packets[which][1]] for place, which in enumerate(order)]


def on_ethernet(packet):
    return Ether(src="02:00:00:00:00:01", dst="02:00:00:00:00:02") / packet


LINKS = {
    "Ethernet": (1, on_ethernet),
    "VLAN": (1, lambda packet: Ether(src="02:00:00:00:00:01", dst="02:00:00:00:00:02") / Dot1Q(vlan=7) / packet),
    "raw IP": (101, lambda packet: packet),
    "Linux cooked": (113, lambda packet: CookedLinux() / packet),
    "Linux cooked 2": (276, lambda packet: CookedLinuxV2() / packet),
    "BSD loopback": (0, lambda packet: Loopback() / packet),
}


def write(file, packets, link="Ethernet", ng=False, **options):
    number, wrap = LINKS[link]
    writer = PcapNgWriter(str(file)) if ng else PcapWriter(str(file), linktype=number, **options)
    if ng:
        writer.linktype = number
    for at, packet in packets:
        # Built anew, so that lengths and check sums are right.
        whole = wrap(packet).__class__(bytes(wrap(packet)))
        whole.time = BEGAN + at
        writer.write(whole)
    writer.close()


def imported(coldbed, file, *args):
    session = file.with_suffix(".jsonl")
    done = subprocess.run(
        [coldbed, "session", "import", file, "--to", session, *args], capture_output=True, text=True
    )
    if done.returncode != 0:
        raise AssertionError(f"{file.name}: {done.stderr}")
    lines = [json.loads(line) for line in session.read_text().splitlines()]
    return lines, done.stderr


def exchanges(lines):
    """Gives target, time, status, body and end of each exchange."""
    asked = {line["exchange"]: line for line in lines if line["line"] == "request"}
    seen = []
    for line in lines:
        if line["line"] in ("answer", "no-answer"):
            of = asked[line["exchange"]]
            body = line.get("body", {}).get("text", "").encode()
            seen.append((of["target"], of["at-seconds"], line.get("status"), body, line["end"]))
    return seen


def same(name, seen, expected, with_times=True):
    cut = (lambda one: one) if with_times else (lambda one: (one[0], *one[2:]))
    seen, expected = [cut(one) for one in seen], [cut(one) for one in expected]
    if seen != expected:
        raise AssertionError(f"{name}:\n  seen     {seen}\n  expected {expected}")
    print(f"{name}: {len(seen)} exchanges, the same")


def whole_conversations(coldbed, folder):
    for name, ends in [("IPv4", ("192.0.2.10", "192.0.2.1")), ("IPv6", ("2001:db8::10", "2001:db8::1"))]:
        talk, expected = conversation(*ends)
        for link in LINKS:
            file = folder / f"{name} {link}.pcap"
            write(file, talk.packets, link)
            lines, told = imported(coldbed, file)
            same(file.name, exchanges(lines), expected)
            assert "left out" not in told, told
        forms = {"big-endian": {"endianness": ">"}, "little-endian": {"endianness": "<"}, "nanoseconds": {"nano": True}}
        for form, options in [*forms.items(), ("pcapng", {"ng": True})]:
            file = folder / f"{name} {form}.pcap"
            write(file, talk.packets, **options)
            lines, _ = imported(coldbed, file)
            # Times go through a binary fraction there.
            same(file.name, exchanges(lines), expected, with_times=form not in ("nanoseconds", "pcapng"))
        closed = [line for line in lines if line["line"] == "connection-closed"]
        assert [line["by"] for line in closed] == ["watcher"], closed


def troubled_conversations(coldbed, folder):
    for seed in range(20):
        rng = random.Random(seed)
        talk, expected = conversation("192.0.2.10", "192.0.2.1")
        for name, packets in [
            ("sent twice", again(talk.packets, rng)),
            ("in another order", mixed(talk.packets, rng)),
            ("both", mixed(again(talk.packets, rng), rng)),
        ]:
            file = folder / f"{name} {seed}.pcap"
            write(file, packets)
            lines, told = imported(coldbed, file)
            same(f"{name}, seed {seed}", exchanges(lines), expected, with_times=False)
            assert "left out" not in told, told


def reset_in_the_body(coldbed, folder):
    talk = Talk("192.0.2.10", "192.0.2.1")
    talk.opens()
    asked = talk.says("watcher", request("/samples"))
    came = by_length(LONG)[:3000]
    talk.says("host", came)
    talk.send("host", "RA")
    file = folder / "reset.pcap"
    write(file, talk.packets)
    lines, _ = imported(coldbed, file)
    body = came.partition(b"\r\n\r\n")[2]
    same("a reset at byte 3000", exchanges(lines), [("/samples", asked, 200, body, "reset")])
    [answer] = [line for line in lines if line["line"] == "answer"]
    assert [piece["bytes"] for piece in answer["pieces"]] == [1400, 1400, 200], answer
    [closed] = [line for line in lines if line["line"] == "connection-closed"]
    assert closed["by"] == "host" and closed["reset"], closed


def loss(coldbed, folder):
    talk, expected = conversation("192.0.2.10", "192.0.2.1")
    with_data = [one for one in talk.packets if Raw in one[1]]
    # The second segment of the second answer.
    lost = with_data[4]
    file = folder / "loss.pcap"
    write(file, [one for one in talk.packets if one is not lost])
    lines, told = imported(coldbed, file)
    target, asked, status, body, _ = expected[1]
    head = len(by_length(body)) - len(body)
    cut = (target, asked, status, body[: SEGMENT - head], "recording-stopped")
    # The third request comes two seconds after, so that the loss is clear, and begins anew.
    same("a lost segment", exchanges(lines), [expected[0], cut, expected[2]])
    assert "1 hole with 192.0.2.1:8080" in told, told


def host_among_others(coldbed, folder):
    talk, expected = conversation("192.0.2.10", "192.0.2.1")
    tls = Talk("192.0.2.10", "192.0.2.3", port=443, watcher_port=50001)
    tls.opens()
    tls.says("watcher", bytes([0x16, 3, 1, 0, 5, 1, 0, 0, 1, 0]))
    tls.closes()
    other = Talk("192.0.2.10", "192.0.2.2", port=80, watcher_port=50002)
    other.opens()
    asked = other.says("watcher", request("/"))
    other.says("host", by_length(b"{}"))
    other.closes()
    file = folder / "several.pcap"
    write(file, sorted(talk.packets + tls.packets + other.packets, key=lambda one: one[0]))
    lines, told = imported(coldbed, file)
    same("most exchanges", exchanges(lines), expected)
    assert "192.0.2.3:443: encrypted" in told and "1 exchange with 192.0.2.2:80" in told, told
    for args in (["--port", "80"], ["--host", "192.0.2.2"]):
        lines, _ = imported(coldbed, file, *args)
        same(" ".join(args), exchanges(lines), [("/", asked, 200, b"{}", "complete")])


def main():
    coldbed = sys.argv[1]
    with tempfile.TemporaryDirectory() as folder:
        folder = Path(folder)
        whole_conversations(coldbed, folder)
        troubled_conversations(coldbed, folder)
        reset_in_the_body(coldbed, folder)
        loss(coldbed, folder)
        host_among_others(coldbed, folder)
    print("all is as it was built")


if __name__ == "__main__":
    main()
