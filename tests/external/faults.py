"""Holds the faults against clients that are not ours: curl by its documented exit codes, Python by the
classes of its exceptions, Node by the codes of its errors.

Usage: faults.py COLDBED

Sources: curl(1), section "Exit codes"; the documentation of Python's `http.client`, `urllib.error`,
`ssl` and "OS exceptions"; that of Node's "Errors" (`error.code`) and `tls`. What a client does where
its documentation is silent stands here as it was seen, marked `seen`.
"""

import http.client
import json
import os
import socket
import ssl
import subprocess
import sys
import tempfile
import urllib.error
import urllib.request
from pathlib import Path

HERE = Path(__file__).parent
PATIENCE_S = 0.6


class Host:
    """A running mock with its control interface."""

    def __init__(self, coldbed, *options):
        self.process = subprocess.Popen(
            [coldbed, "serve", "--listen", "127.0.0.1:0", "--control=127.0.0.1:0", *options],
            stdout=subprocess.PIPE,
            text=True,
        )
        self.url = self.process.stdout.readline().split()[-1]
        self.control = self.process.stdout.readline().split()[-1]
        self.port = int(self.url.rsplit(":", 1)[1])

    def raise_fault(self, fault, scope=None):
        body = json.dumps({"fault": fault, "scope": scope or {}}).encode()
        request = urllib.request.Request(
            self.control + "/faults", body, {"Content-Type": "application/json"}
        )
        with urllib.request.urlopen(request) as answer:
            assert answer.status == 201, answer.status

    def clear(self):
        request = urllib.request.Request(self.control + "/faults", method="DELETE")
        urllib.request.urlopen(request).close()

    def stop(self):
        self.process.terminate()
        self.process.wait()


# How each client asks. Each gives a short word for how it ended.


def curl(host, *options):
    command = ["curl", "-s", "-o", os.devnull, "--max-time", str(PATIENCE_S), *options]
    return subprocess.run([*command, host.url + "/printer"], check=False).returncode


def name_of(error):
    kind = type(error)
    return kind.__name__


def python(host, context=None):
    try:
        kind = http.client.HTTPSConnection if context else http.client.HTTPConnection
        more = {"context": context} if context else {}
        connection = kind("localhost" if context else "127.0.0.1", host.port, timeout=PATIENCE_S, **more)
        connection.request("GET", "/printer")
        answer = connection.getresponse()
        answer.read()
        return answer.status
    except (OSError, http.client.HTTPException) as error:
        return name_of(error)


def python_again(host, raise_fault):
    """The second request of one connection, the fault raised between the two."""
    connection = http.client.HTTPConnection("127.0.0.1", host.port, timeout=PATIENCE_S)
    connection.request("GET", "/printer")
    connection.getresponse().read()
    raise_fault()
    try:
        # `http.client` would connect anew by itself once it knows that the connection is closed.
        connection.auto_open = 0
        connection.request("GET", "/printer")
        return connection.getresponse().status
    except (OSError, http.client.HTTPException) as error:
        return name_of(error)


def python_redirected(host):
    try:
        with urllib.request.urlopen(host.url + "/printer", timeout=PATIENCE_S) as answer:
            return answer.status
    except (urllib.error.HTTPError, urllib.error.URLError, OSError) as error:
        return name_of(error)


def node(host, how="once", authority=None, between=None):
    command = ["node", str(HERE / "fault_client.mjs"), host.url + "/printer", how]
    if authority:
        command.append(authority)
    process = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
    if between:
        process.stdout.readline()
        between()
        process.stdin.write("\n")
        process.stdin.flush()
    said = process.stdout.readline().split()
    process.kill()
    process.wait()
    process.stdin.close()
    process.stdout.close()
    return int(said[1]) if said[0] == "status" else said[1]


TIMEOUT = (28, "TimeoutError", "timeout")
CUT = (18, "IncompleteRead", "ECONNRESET")
# Node reads what follows an answer as the next one; whether it is through with the first by then is
# a matter of chance (seen).
TOO_MUCH = {200, "HPE_INVALID_CONSTANT", "HPE_CLOSED_CONNECTION", "ECONNRESET"}
UNASKED = TOO_MUCH - {200} | {408}

# fault: (curl's exit code, Python's class or the status, Node's code or the status)
PLAIN = [
    ("refuse", (7, "ConnectionRefusedError", "ECONNREFUSED")),
    ("unreachable", TIMEOUT),
    ("silent", TIMEOUT),
    ({"stall": {"at": "start"}}, TIMEOUT),
    ({"stall": {"at": {"byte": 20}}}, TIMEOUT),
    ({"stall": {"at": "head-end"}}, TIMEOUT),
    ({"stall": {"at": {"body-byte": 30}}}, TIMEOUT),
    ({"latency": {"of": "5s"}}, TIMEOUT),
    ({"drip": {"gap": "5ms"}}, (28, 200, 200)),  # slow is not silent: only a limit on the whole helps
    ({"reset": {"at": "start"}}, (56, "ConnectionResetError", "ECONNRESET")),
    ({"reset": {"at": {"byte": 20}}}, (56, "ConnectionResetError", "ECONNRESET")),
    ({"reset": {"at": "head-end"}}, (56, "ConnectionResetError", "ECONNRESET")),
    ({"reset": {"at": {"body-byte": 30}}}, (56, "ConnectionResetError", "ECONNRESET")),
    ({"close": {"at": "start"}}, (52, "RemoteDisconnected", "ECONNRESET")),
    ({"close": {"at": "head-end"}}, CUT),
    ({"close": {"at": {"body-byte": 30}}}, CUT),
    ("no-last-chunk", CUT),
    ("garbage", (1, "BadStatusLine", "HPE_INVALID_CONSTANT")),
    ({"wrong-length": {"by": 50}}, TIMEOUT),
    ({"wrong-length": {"by": -50}}, (0, 200, TOO_MUCH)),
    ({"huge-header": {"bytes": 400000}}, (None, "LineTooLong", "HPE_HEADER_OVERFLOW")),
    ({"interim": {"code": 100, "times": 3}}, (0, 200, 200)),
    ("twice", (0, 200, TOO_MUCH)),
    ({"trailing-data": {}}, (0, 200, TOO_MUCH)),
    ({"unasked-data": {}}, (0, 408, UNASKED)),
    ("login-page", (0, 200, 200)),
    ({"status": {"code": 503, "retry-after": {"seconds": 30}}}, (0, 503, 503)),
    ({"status": {"code": 204}}, (0, 204, 204)),
]

AGAIN = [
    ({"close-on-reuse": {}}, ("RemoteDisconnected", "ECONNRESET")),
    ({"close-on-reuse": {"reset": True}}, ("ConnectionResetError", "ECONNRESET")),
    ("half-open", ("TimeoutError", "timeout")),
]

# curl: 60; Python's verify_code, from OpenSSL's x509_vfy.h; Node's code.
CERTIFICATES = [
    ("expired", 10, "CERT_HAS_EXPIRED"),
    ("wrong-name", 62, "ERR_TLS_CERT_ALTNAME_INVALID"),
    ("unknown-issuer", 20, "UNABLE_TO_VERIFY_LEAF_SIGNATURE"),
]

failures = []


def hold(what, client, found, expected):
    ok = found in expected if isinstance(expected, set) else found == expected
    print(f"  {'ok  ' if ok else 'FAIL'} {client:7} {found}" + ("" if ok else f", not {expected}"))
    if not ok:
        failures.append(f"{what}: {client}: {found}, not {expected}")


def plain(coldbed):
    host = Host(coldbed)
    try:
        for fault, (of_curl, of_python, of_node) in PLAIN:
            print(json.dumps(fault))
            host.raise_fault(fault)
            found = curl(host)
            # curl's code for a head that is too large has changed between its versions.
            hold(fault, "curl", found, of_curl if of_curl is not None else (found or "not 0"))
            hold(fault, "Python", python(host), of_python)
            hold(fault, "Node", node(host), of_node)
            host.clear()
        for fault, (of_python, of_node) in AGAIN:
            print(json.dumps(fault), "on a kept connection")
            hold(fault, "Python", python_again(host, lambda: host.raise_fault(fault)), of_python)
            host.clear()
            hold(fault, "Node", node(host, "again", between=lambda: host.raise_fault(fault)), of_node)
            host.clear()
        print("redirect-loop, followed")
        host.raise_fault("redirect-loop")
        hold("redirect-loop", "curl", curl(host, "-L"), 47)
        hold("redirect-loop", "Python", python_redirected(host), "HTTPError")
        hold("redirect-loop", "Node", node(host, "fetch"), "redirect")
        host.clear()
        print("captive-portal, followed")
        host.raise_fault("captive-portal")
        hold("captive-portal", "curl", curl(host, "-L"), 6)
        host.clear()
        print("nothing is left")
        hold("nothing", "curl", curl(host), 0)
    finally:
        host.stop()


def tls(coldbed):
    with tempfile.TemporaryDirectory() as folder:
        authority = str(Path(folder) / "authority.pem")
        host = Host(coldbed, "--tls", authority)
        try:
            trusting = ssl.create_default_context(cafile=authority)
            hold("good", "curl", curl(host, "--cacert", authority), 0)
            for kind, verify_code, of_node in CERTIFICATES:
                print("tls-certificate", kind)
                host.raise_fault({"tls-certificate": {"is": kind}})
                hold(kind, "curl", curl(host, "--cacert", authority), 60)
                try:
                    with socket.create_connection(("127.0.0.1", host.port)) as plain_socket:
                        trusting.wrap_socket(plain_socket, server_hostname="localhost")
                    found = "accepted"
                except ssl.SSLCertVerificationError as error:
                    found = error.verify_code
                hold(kind, "Python", found, verify_code)
                hold(kind, "Node", node(host, "once", authority), of_node)
                host.clear()
            print("tls-without-notify")
            host.raise_fault("tls-without-notify")
            with socket.create_connection(("127.0.0.1", host.port)) as plain_socket:
                secure = trusting.wrap_socket(
                    plain_socket, server_hostname="localhost", suppress_ragged_eofs=False
                )
                secure.sendall(b"GET /printer HTTP/1.1\r\nHost: localhost\r\n\r\n")
                try:
                    while secure.recv(4096):
                        pass
                    found = "an orderly end"
                except ssl.SSLEOFError as error:
                    found = name_of(error)
            hold("tls-without-notify", "Python", found, "SSLEOFError")
            host.clear()
        finally:
            host.stop()


plain(sys.argv[1])
tls(sys.argv[1])
if failures:
    sys.exit("\n".join(["what clients see is not what was expected:", *map(str, failures)]))
print("what clients see is what is documented")
