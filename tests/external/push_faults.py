"""Faults of push streams, seen by clients that are not ours.

Source: RFC 6455 (close codes, pings and pongs) as the package `websockets` from PyPI reads it; RFC 6455
and RFC 9112 (the last chunk) as Node's built-in WebSocket and fetch read them.

Usage: push_faults.py COMMAND [ARG...]   with the command that is the mock's example `push_faults`.
"""

import json
import subprocess
import sys

from websockets.exceptions import ConnectionClosed
from websockets.sync.client import connect

# Longer than anything here takes on a loaded machine.
PATIENCE_S = 20
# Twenty looks of the host: long enough for something to come if it came at all.
QUIET_S = 1

# Prints `begun` at the first message, and then how it ended.
NODE_WEBSOCKET = """
const socket = new WebSocket(process.argv[1]);
socket.onmessage = () => { socket.onmessage = null; console.log("begun"); };
socket.onclose = (event) => console.log(`${event.code} ${event.wasClean}`);
"""
NODE_EVENTS = """
const answer = await fetch(process.argv[1]);
const reader = answer.body.pipeThrough(new TextDecoderStream()).getReader();
let text = "";
try {
  for (;;) {
    const { value, done } = await reader.read();
    if (done) { console.log("ended in order"); break; }
    if (!text.includes("data: ") && (text + value).includes("data: ")) console.log("begun");
    text += value;
  }
} catch (error) { console.log(`broken: ${error.message}`); }
"""


class Host:
    """Is the mock, told what is wrong."""

    def __init__(self, command):
        self.process = subprocess.Popen(
            command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
        )
        self.url = self.process.stdout.readline().strip()
        self.socket_url = self.url.replace("http:", "ws:") + "/printer/socket"

    def raise_fault(self, fault, **scope):
        """Lets a fault take the place of the one before."""
        self.say(json.dumps({"fault": fault, "scope": scope}))

    def clear(self):
        self.say("none")

    def say(self, line):
        self.process.stdin.write(line + "\n")
        self.process.stdin.flush()
        assert self.process.stdout.readline() == "done\n", line


def follow(host):
    # No pings but those here. What is not asked for is kept without a limit: a client with a full
    # queue would stop reading, and not see a pong.
    return connect(host.socket_url, ping_interval=None, max_queue=None)


def next_or_none(socket, within_s):
    try:
        return socket.recv(timeout=within_s)
    except TimeoutError:
        return None


def close_codes(host):
    for fault, code in [({"stream-closed": {"code": 4001}}, 4001), ("stream-closed", 1005)]:
        with follow(host) as socket:
            socket.recv(timeout=PATIENCE_S)
            host.raise_fault(fault)
            try:
                while True:
                    socket.recv(timeout=PATIENCE_S)
            except ConnectionClosed as closed:
                # 1005 says that the frame had no code (section 7.4.1).
                assert closed.rcvd is not None and closed.rcvd.code == code, closed
                assert closed.rcvd_then_sent, closed
        host.clear()


def missing_pong(host):
    with follow(host) as socket:
        host.raise_fault("no-pong")
        pong = socket.ping()
        socket.recv(timeout=PATIENCE_S)
        assert not pong.wait(QUIET_S), "the ping was answered"
        socket.recv(timeout=PATIENCE_S)
        host.clear()
        assert socket.ping().wait(PATIENCE_S), "the ping is not answered again"


def messages(host):
    with follow(host) as socket:
        first = socket.recv(timeout=PATIENCE_S)
        host.raise_fault("silent-stream")
        # What was on its way already.
        while (late := next_or_none(socket, 0.2)) is not None:
            first = late
        pong = socket.ping()
        assert next_or_none(socket, QUIET_S) is None
        assert not pong.is_set(), "the ping was answered"
        host.clear()
        assert socket.recv(timeout=PATIENCE_S) != first
        host.raise_fault("repeated-messages")
        seen = [socket.recv(timeout=PATIENCE_S) for _ in range(8)]
        assert any(one == next for one, next in zip(seen, seen[1:])), seen
        assert len(set(seen)) > 2, seen


def node(host, script, path, fault, expected):
    url = (host.url if path == "/printer/events" else host.url.replace("http:", "ws:")) + path
    # Built in since Node 21; asked for by the flag before and harmless after.
    command = ["node", "--experimental-websocket", "--input-type=module", "-e", script, url]
    client = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
    try:
        begun = client.stdout.readline()
        assert begun == "begun\n", begun
        host.raise_fault(fault)
        rest, _ = client.communicate(timeout=PATIENCE_S)
        assert rest.strip() == expected, (fault, rest)
    finally:
        client.kill()
        client.wait()
    host.clear()


def main():
    host = Host(sys.argv[1:])
    try:
        close_codes(host)
        missing_pong(host)
        messages(host)
        closed = {"stream-closed": {"code": 4002}}
        node(host, NODE_WEBSOCKET, "/printer/socket", closed, "4002 true")
        node(host, NODE_WEBSOCKET, "/printer/socket", "stream-closed", "1005 true")
        node(host, NODE_WEBSOCKET, "/printer/socket", "close", "1006 false")
        node(host, NODE_EVENTS, "/printer/events", closed, "ended in order")
        node(host, NODE_EVENTS, "/printer/events", "close", "broken: terminated")
        host.process.stdin.close()
        assert host.process.wait(PATIENCE_S) == 0, host.process.returncode
    finally:
        host.process.kill()
        host.process.wait()
    print("push faults: as promised to websockets and Node")


main()
