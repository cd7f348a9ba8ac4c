"""What `coldbed serve --announce` announces, seen by a DNS-SD client that is not ours.

Source: RFC 6763 (DNS-SD) and RFC 6762 (multicast DNS) as the package `zeroconf` from PyPI reads them.

Usage: dns_sd.py COMMAND [ARG...]   with the command that is `coldbed`.
"""

import signal
import subprocess
import sys
import threading

from zeroconf import ServiceBrowser, ServiceStateChange, Zeroconf

# Longer than anything here takes on a loaded machine.
PATIENCE_S = 30
SERVICE = "_coldbed._tcp.local."
INSTANCE = f"printing.{SERVICE}"


class Seen:
    """Notes what happens to one instance."""

    def __init__(self):
        self.added = threading.Event()
        self.removed = threading.Event()

    def note(self, zeroconf, service_type, name, state_change):
        if name == INSTANCE:
            if state_change is ServiceStateChange.Added:
                self.added.set()
            elif state_change is ServiceStateChange.Removed:
                self.removed.set()


def main():
    served = subprocess.Popen(
        [*sys.argv[1:], "serve", "printing", "--listen", "127.0.0.1:0", "--announce"],
        stdout=subprocess.PIPE,
        text=True,
    )
    zeroconf = Zeroconf(interfaces=["127.0.0.1"])
    seen = Seen()
    try:
        line = served.stdout.readline().strip()
        port = int(line.rsplit(":", 1)[1])
        ServiceBrowser(zeroconf, SERVICE, handlers=[seen.note])
        assert seen.added.wait(PATIENCE_S), f"{INSTANCE} is not found"
        info = zeroconf.get_service_info(SERVICE, INSTANCE, timeout=PATIENCE_S * 1000)
        assert info is not None, f"{INSTANCE} is not resolved"
        assert info.port == port, f"port {info.port}, listening on {port}"
        assert info.parsed_addresses() == ["127.0.0.1"], info.parsed_addresses()
        served.send_signal(signal.SIGTERM)
        assert served.wait(PATIENCE_S) == 0, served.returncode
        assert seen.removed.wait(PATIENCE_S), f"{INSTANCE} is not withdrawn"
    finally:
        served.kill()
        served.wait()
        zeroconf.close()
    print(f"{INSTANCE}: found on port {port}, withdrawn")


if __name__ == "__main__":
    main()
