"""The reports of a failing watcher, read by others: JUnit XML, TAP and JSON by packages from PyPI, the page in a browser.

Usage: reports.py COLDBED [FOLDER]   with the command, and a folder for pictures if they are wanted.
"""

import json
import pathlib
import subprocess
import sys
import tempfile

from bench_page import Browser, Page
from junitparser import Failure, JUnitXml
from tap.parser import Parser
from websockets.sync.client import connect

HERE = pathlib.Path(__file__).parent
WATCHER = HERE.parent / "watchers" / "python" / "watch.py"
MARKUP = "<b>mark&up</b> <script>window.hurt = 1</script>"
# Heating is shown as printing, the last claim is kept when the host is gone, and every line is markup.
EDITS = [
    ('return {True: "heating", False: "printing", None: "unknown"}[heating(answer)]', 'return "printing"'),
    ("sighting = UNKNOWN", 'sighting = globals().get("LAST", UNKNOWN)'),
    (
        "print(json.dumps(sighting), flush=True)",
        f'globals()["LAST"] = sighting; print({MARKUP!r} + chr(27) + "[31m", file=sys.stderr, flush=True); '
        "print(json.dumps(sighting), flush=True)",
    ),
]
FILES = {"json": "report.json", "junit": "report.xml", "tap": "report.tap", "html": "report.html"}
ONLY = ["phase-heat-up", "progress", "refused-connection", "key-not-in-url"]
BROKEN = {"phase-heat-up", "refused-connection"}


def need(claim, holds):
    if not holds:
        sys.exit(f"not so: {claim}")
    print(f"ok  {claim}")


def reports(command, folder):
    """Lets the mistaken watcher be judged."""
    text = WATCHER.read_text()
    for replace, by in EDITS:
        if text.count(replace) != 1:
            sys.exit(f"the watcher has not once: {replace}")
        text = text.replace(replace, by)
    watcher = folder / "watch.py"
    watcher.write_text(text)
    words = [command, "check"]
    words += [word for check in ONLY for word in ("--only", check)]
    words += [word for form, file in FILES.items() for word in ("--report", f"{form}={folder / file}")]
    done = subprocess.run([*words, "--", "python3", watcher, "{url}", "{key}", "0.3"], capture_output=True, text=True)
    need("two musts are broken", done.returncode == 1 and "2 passed, 2 failed, 0 skipped" in done.stdout)


def read_back(folder):
    report = json.loads((folder / FILES["json"]).read_text())
    failed = {check["id"] for check in report["checks"] if check["outcome"] == "failed"}
    need("the JSON has both", failed == BROKEN)

    suites = JUnitXml.fromfile(str(folder / FILES["junit"]))
    cases = [case for suite in suites for case in suite]
    failed = {case.name for case in cases if any(isinstance(result, Failure) for result in case.result)}
    need("junitparser reads every case", {case.name for case in cases} == set(ONLY))
    need("and the same failures", failed == BROKEN and suites.failures == 2 and suites.tests == 4)

    lines = list(Parser().parse_file(str(folder / FILES["tap"])))
    tests = [line for line in lines if line.category == "test"]
    plan = next(line for line in lines if line.category == "plan")
    need("tap.py reads every test", plan.expected_tests == len(tests) == len(ONLY))
    failed = {test.description.lstrip("- ") for test in tests if not test.ok}
    need("and the same failures", failed == BROKEN)
    blocks = [test.yaml_block for test in tests if not test.ok]
    need("and what was broken", all(block and block["violations"][0]["observed"] for block in blocks))


def look(folder, pictures):
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as profile:
        browser = Browser(pathlib.Path(profile))
        try:
            with connect(browser.address(), max_size=None) as socket:
                page = Page(socket)
                page.open((folder / FILES["html"]).as_uri())
                read(page)
                narrow(page)
                if pictures:
                    take(page, pictures)
                need("the browser complains of nothing", not page.complaints)
        finally:
            browser.stop()


def read(page):
    page.wait("the verdict stands at the top", "document.querySelector('h1')?.textContent.includes('breaks')")
    page.wait("markup of the watcher is text", f"document.body.textContent.includes({json.dumps(MARKUP)})")
    page.wait("nothing was made of it", "!document.querySelector('main b') && window.hurt === undefined")
    page.wait("there is one script", "document.scripts.length === 1")
    page.wait("nothing was loaded beside the page", "performance.getEntriesByType('resource').length === 0")
    page.wait("each broken rule has a plot", "document.querySelectorAll('article figure svg[role=img] .segment').length > 5")
    page.wait("the page has every check", "document.querySelectorAll('tr.check:not([hidden])').length === 4")
    page.click("#filter input[value=passed]")
    page.wait("a click hides what passed", "document.querySelectorAll('tr.check:not([hidden])').length === 2")
    page.wait("and says so", "document.querySelector('#shown').textContent === '2 of 4 shown'")
    page.fill("#filter input[type=search]", "Nobody listens")
    page.wait("words of a requirement narrow it", "document.querySelectorAll('tr.check:not([hidden])').length === 1")
    page.fill("#filter input[type=search]", "telling")
    page.wait("and so does an area", "document.querySelector('tr.check:not([hidden]) th').textContent === 'phase-heat-up'")
    page.press_enter("#filter input[type=search]")
    page.wait("enter sends nothing", "location.search === ''")
    page.press_enter("article details > summary")
    page.wait("the keyboard opens what happened", "document.querySelector('article details').open")
    page.click("nav a[href='#check-phase-heat-up']")
    page.wait("a link leads to the broken rule", "location.hash === '#check-phase-heat-up'")


def narrow(page):
    page.size(390, 800)
    page.wait("a phone scrolls only downwards", "document.documentElement.scrollWidth <= innerWidth")


def take(page, folder):
    for name, width, colours in (("light", 1280, "light"), ("dark", 1280, "dark"), ("phone", 390, "light")):
        page.call("Emulation.setEmulatedMedia", features=[{"name": "prefers-color-scheme", "value": colours}])
        page.size(width, 900)
        page.picture(folder / f"report-{name}.png")
    page.call("Emulation.setEmulatedMedia", media="print")
    page.size(800, 1100)
    page.picture(folder / "report-print.png")


def main():
    command = str(pathlib.Path(sys.argv[1]).resolve())
    with tempfile.TemporaryDirectory() as folder:
        folder = pathlib.Path(folder)
        reports(command, folder)
        read_back(folder)
        look(folder, pathlib.Path(sys.argv[2]) if len(sys.argv) > 2 else None)


if __name__ == "__main__":
    main()
