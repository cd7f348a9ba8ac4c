"""The page of the control API, used in a browser: Chromium, driven by its DevTools protocol.

Source: the Chrome DevTools Protocol (the domains Target, Page, Runtime, Log, Input and Emulation), through the
package `websockets` from PyPI; from memory.

Usage: bench_page.py COLDBED [FOLDER]   with the command, and a folder for pictures if they are wanted.
"""

import base64
import json
import pathlib
import shutil
import subprocess
import sys
import tempfile
import time
import urllib.error
import urllib.request

from websockets.sync.client import connect

# Longer than anything here takes on a loaded machine.
PATIENCE_S = 30
BETWEEN_LOOKS_S = 0.05
KEY = "open-sesame"
JOB = "<b>hook</b><script>window.hurt = 1</script><img src=x onerror='window.hurt = 1'>"
SCENARIO = f"""
include = "desk-printer"
title = "A print whose name is HTML"
length = "4h"
[[job]]
name = {json.dumps(JOB)}
at = "1m"
duration = "3h"
targets-celsius = {{ platform = 60, extruder = 210 }}
"""


class Mock:
    """Is a mock with its control API."""

    def __init__(self, command, scenario, listen="127.0.0.1:0", *more):
        serve = ["serve", scenario, "--from", "1h", "--listen", "127.0.0.1:0", f"--control={listen}"]
        self.process = subprocess.Popen([command, *serve, *more], stdout=subprocess.PIPE, text=True)
        self.url = self.process.stdout.readline().removeprefix("listening on ").strip()
        self.control = self.process.stdout.readline().removeprefix("control on ").strip()

    def status(self, target):
        """Asks as a watcher does."""
        try:
            with urllib.request.urlopen(self.url + target, timeout=PATIENCE_S) as answer:
                return answer.status
        except urllib.error.HTTPError as error:
            return error.code

    def stop(self):
        self.process.terminate()
        self.process.wait()


class Browser:
    """Is a browser."""

    def __init__(self, folder):
        program = shutil.which("chromium") or sys.exit("there is no chromium [install Debian's chromium]")
        # Root has no sandbox, and no page is opened but our own.
        flags = ["--headless=new", "--no-sandbox", "--disable-gpu", "--remote-debugging-port=0"]
        self.process = subprocess.Popen(
            [program, *flags, f"--user-data-dir={folder}", "about:blank"], stderr=subprocess.DEVNULL
        )
        self.told = folder / "DevToolsActivePort"

    def address(self):
        """Gives where it listens, once it says so."""
        end = time.monotonic() + PATIENCE_S
        while not (self.told.exists() and "/" in self.told.read_text()):
            if time.monotonic() > end:
                sys.exit("chromium does not start")
            time.sleep(BETWEEN_LOOKS_S)
        port, path = self.told.read_text().split()
        return f"ws://127.0.0.1:{port}{path}"

    def stop(self):
        self.process.terminate()
        self.process.wait()


class Page:
    """Is a page of a browser, and a person before it."""

    def __init__(self, socket):
        self.socket = socket
        self.sent = 0
        self.session = None
        self.complaints = []
        pages = self.call("Target.getTargets")["targetInfos"]
        page = next(page["targetId"] for page in pages if page["type"] == "page")
        self.session = self.call("Target.attachToTarget", targetId=page, flatten=True)["sessionId"]
        for domain in ("Page", "Runtime", "Log"):
            self.call(f"{domain}.enable")

    def call(self, method, **parameters):
        self.sent += 1
        message = {"id": self.sent, "method": method, "params": parameters}
        if self.session:
            message["sessionId"] = self.session
        self.socket.send(json.dumps(message))
        while True:
            reply = json.loads(self.socket.recv(timeout=PATIENCE_S))
            if reply.get("method") == "Runtime.exceptionThrown":
                self.complaints.append(json.dumps(reply["params"])[:500])
            if reply.get("method") == "Log.entryAdded" and reply["params"]["entry"]["source"] == "security":
                self.complaints.append(reply["params"]["entry"]["text"])
            if reply.get("id") == self.sent:
                if "error" in reply:
                    sys.exit(f"{method}: {reply['error']}")
                return reply["result"]

    def value(self, expression):
        result = self.call("Runtime.evaluate", expression=expression, returnByValue=True)
        if "exceptionDetails" in result:
            sys.exit(f"{expression}: {result['exceptionDetails']}")
        return result["result"].get("value")

    def wait(self, claim, expression):
        """Waits until something is so on the page, and says it."""
        self.until(claim, expression)
        print(f"ok  {claim}")

    def until(self, claim, expression):
        end = time.monotonic() + PATIENCE_S
        while not self.value(f"Boolean({expression})"):
            if time.monotonic() > end:
                sys.exit(f"not so: {claim}\n{self.value('document.body.innerText')}")
            time.sleep(BETWEEN_LOOKS_S)

    def open(self, url, width=1280, height=900):
        self.size(width, height)
        self.call("Page.navigate", url=url)

    def size(self, width, height):
        self.call("Emulation.setDeviceMetricsOverride", width=width, height=height, deviceScaleFactor=1, mobile=False)
        self.until(f"the page is {width} pixels wide", f"innerWidth === {width}")

    def fill(self, selector, value):
        self.value(
            f"""(() => {{ const field = document.querySelector({json.dumps(selector)});
            field.value = {json.dumps(value)};
            for (const type of ["input", "change"]) field.dispatchEvent(new Event(type, {{ bubbles: true }})); }})()"""
        )

    def click(self, selector):
        """Clicks where the element is, as a mouse does."""
        element = f"document.querySelector({json.dumps(selector)})"
        self.value(f"{element}.scrollIntoView({{ block: 'center', behavior: 'instant' }})")
        middle = f"""(() => {{ const {{ x, y, width, height }} = {element}.getBoundingClientRect();
            return {{ x: x + width / 2, y: y + height / 2 }}; }})()"""
        there = f"(({{ x, y }}) => {element}.contains(document.elementFromPoint(x, y)))({middle})"
        self.value("window.clicked = false")
        self.value(f"{element}.addEventListener('click', () => (window.clicked = true), {{ once: true, capture: true }})")
        # What is above may grow in the meantime, as the page is live.
        while not self.value("window.clicked"):
            self.until(f"{selector} can be clicked", there)
            at = self.value(middle)
            for kind in ("mousePressed", "mouseReleased"):
                self.call("Input.dispatchMouseEvent", type=kind, button="left", clickCount=1, **at)

    def press_enter(self, selector):
        self.value(f"document.querySelector({json.dumps(selector)}).focus()")
        for kind in ("keyDown", "keyUp"):
            self.call("Input.dispatchKeyEvent", type=kind, key="Enter", code="Enter", windowsVirtualKeyCode=13, text="\r")

    def picture(self, file):
        self.value("scrollTo(0, 0)")
        data = self.call("Page.captureScreenshot", captureBeyondViewport=True)["data"]
        file.write_bytes(base64.b64decode(data))


def shown(selector, text):
    """Gives the claim that an element has a text."""
    return f"document.querySelector({json.dumps(selector)})?.textContent.includes({json.dumps(text)})"


def look_at_the_printer(page):
    page.wait("the page is live", shown("#line", "live"))
    page.wait("it says that it is a mock", shown("#mock", "mock, not a printer"))
    page.wait("the phase is there in words", shown("#phase", "Printing"))
    page.wait("a name of a job is text", f"document.querySelector('#job-name').textContent === {json.dumps(JOB)}")
    page.wait("nothing was made of it", "!document.querySelector('main b, main script, main img')")
    page.wait("both heaters are drawn", "document.querySelectorAll('.heater path.actual[d^=M]').length === 2")
    page.wait("every input has a label", "[...document.querySelectorAll('main input, main select')].every((one) => one.labels.length)")
    page.value("document.body.append(Object.assign(document.createElement('script'), { textContent: 'window.hurt = 2' }))")
    page.wait("a script that got into the page does not run", "window.hurt === undefined")
    end = time.monotonic() + PATIENCE_S
    while not page.complaints and time.monotonic() < end:
        page.value("null")
    if not page.complaints or any("inline script" not in one for one in page.complaints):
        sys.exit(f"the browser complains of something else: {page.complaints}")
    page.complaints.clear()


def raise_a_fault(page, mock):
    page.fill("#faults .kind", "status")
    page.wait("what is sent is shown beforehand", shown("#faults .sent", '{"fault":{"status":{"code":503}}}'))
    page.click("#faults form > button")
    page.wait("the fault is listed", shown("#faults .raised", "every answer is 503"))
    if mock.status("/printer") != 503:
        sys.exit("the fault is not in force")
    page.wait("the request is there with its status", shown("#requests tbody tr", "503"))
    page.wait("and with its fault", "document.querySelector('#requests tbody tr.happened td:last-child').textContent === 'status'")
    page.wait("the fault has happened", shown("#faults .raised", "happened once"))
    page.click("#requests tbody td button")
    page.wait("a click shows the exchange", f"document.querySelector('#exchange').open && {shown('#exchange', 'GET /printer')}")
    page.press_enter("#exchange button")
    page.wait("it closes by the keyboard", "!document.querySelector('#exchange').open")


def clear_the_fault(page, mock):
    page.press_enter("#faults .raised button")
    page.wait("the fault is cleared by the keyboard", "document.querySelectorAll('#faults .raised li').length === 0")
    if mock.status("/printer") != 200:
        sys.exit("the fault is still in force")


def be_refused(page):
    page.fill("#faults .kind", "refuse")
    page.value("document.querySelector('#faults details').open = true")
    page.fill("#faults .scope label:nth-child(5) input", "2")
    page.click("#faults form > button")
    page.wait("an error is a sentence beside the form", shown("#faults .problem", "takes no `times`"))
    page.fill("#faults .scope label:nth-child(5) input", "")


def raise_everything(page, what, most):
    """Posts every kind as the form is filled in beforehand."""
    kinds = page.value(f"[...document.querySelectorAll('#{what} .kind option')].map((one) => one.value)")
    raised = page.value(f"document.querySelectorAll('#{what} .raised li').length")
    for kind in kinds:
        page.fill(f"#{what} .kind", kind)
        # The form itself, where no input is found wanting by the browser.
        page.value(f"document.querySelector('#{what} form > button').click()")
        problem = f"document.querySelector('#{what} form .problem').textContent"
        more = f"document.querySelectorAll('#{what} .raised li').length > {raised}"
        page.until(f"{kind} is raised or refused", f"{problem} || {more}")
        told = page.value(problem)
        if told and "speaks TLS" not in told:
            sys.exit(f"{what}: {kind}: {told}")
        raised = page.value(f"document.querySelectorAll('#{what} .raised li').length")
    if raised < most:
        sys.exit(f"only {raised} {what} are raised")
    page.click(f"#{what} .clear-all")
    page.wait(f"all {raised} {what} are cleared", f"document.querySelectorAll('#{what} .raised li').length === 0")


def change_the_rest(page):
    page.fill("#drifts .kind", "replace-by-null")
    page.fill("#drifts .pointer", "/job")
    page.click("#drifts form > button")
    page.wait("a drift is listed", shown("#drifts .raised", "/job is null"))
    page.fill("#events .kind", "set-target")
    page.fill("#events [name=heater]", "extruder")
    page.fill("#events [name=celsius]", "190")
    page.click("#events form > button")
    page.wait("an event happens", shown("#heaters", "target 190.0 °C"))
    page.click("#pause")
    page.wait("the clock is paused", shown("#pace", "Paused"))
    page.fill("#jump-time", "30m")
    page.click("#jump-form button")
    page.wait("the clock is put forward", shown("#now", "1 h 3"))
    page.fill("#jump-how", "to")
    page.click("#jump-form button")
    page.wait("it does not go back", shown("section[aria-labelledby=clock-title] .problem", "Cannot go back"))
    page.click("#rates button[value='60']")
    page.wait("the rate is set", "document.querySelector('#rates [value=\"60\"]').getAttribute('aria-pressed') === 'true'")


def lose_the_mock(page, mock, command, scenario):
    address = mock.control.removeprefix("http://")
    mock.stop()
    page.wait("old numbers are shown as old", f"document.querySelector('.seen.old') && {shown('#line', 'What is shown is old')}")
    other = Mock(command, scenario, address)
    page.wait("the page comes back by itself", f"!document.querySelector('.seen.old') && {shown('#line', 'live')}")
    return other


def show_a_key(page, command, scenario):
    mock = Mock(command, scenario, "127.0.0.1:0", "--control-key", KEY)
    try:
        page.open(mock.control)
        page.wait("a key is asked for", "document.querySelector('#key-form')?.hidden === false")
        page.fill("#key", "wrong")
        page.click("#key-form button")
        page.wait("a wrong one is told", shown("#key-form .problem", "The key is wrong."))
        page.fill("#key", KEY)
        page.click("#key-form button")
        page.wait("with the key it is live", shown("#line", "live"))
    finally:
        mock.stop()


def use(page, command, scenario, pictures):
    mock = Mock(command, scenario)
    try:
        page.open(mock.control)
        look_at_the_printer(page)
        raise_a_fault(page, mock)
        for width in (1440, 900, 360):
            page.size(width, 900)
            page.wait(f"nothing sticks out at {width} pixels", "document.documentElement.scrollWidth <= document.documentElement.clientWidth")
            if pictures:
                page.picture(pictures / f"{width}.png")
        page.size(1280, 900)
        clear_the_fault(page, mock)
        be_refused(page)
        change_the_rest(page)
        raise_everything(page, "faults", 30)
        page.fill("#drifts .pointer", "")
        raise_everything(page, "drifts", 35)
        mock = lose_the_mock(page, mock, command, scenario)
    finally:
        mock.stop()
    show_a_key(page, command, scenario)
    if page.complaints:
        sys.exit("the browser complains:\n" + "\n".join(page.complaints))


def main():
    if len(sys.argv) < 2:
        sys.exit(__doc__)
    command, *pictures = sys.argv[1:]
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as folder:
        scenario = pathlib.Path(folder) / "named.toml"
        scenario.write_text(SCENARIO)
        browser = Browser(pathlib.Path(folder) / "profile")
        try:
            with connect(browser.address(), max_size=None) as socket:
                use(Page(socket), command, scenario, pathlib.Path(pictures[0]) if pictures else None)
        finally:
            browser.stop()


if __name__ == "__main__":
    main()
