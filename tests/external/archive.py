"""What `session export` writes, held against the JSON Schemas of HAR 1.2 that the npm package har-schema publishes.

Usage: archive.py COLDBED

The schemas are those of har-schema 2.0.0 (har-schema/, with its licence), the validator is jsonschema from PyPI. The
session is the sample that the tests show, with a fault and a stream, and one recorded here from a running mock.
"""

import json
import pathlib
import signal
import subprocess
import sys
import tempfile
import urllib.request

from jsonschema import Draft6Validator
from referencing import Registry, Resource

HERE = pathlib.Path(__file__).parent
SAMPLE = HERE.parents[1] / "harness" / "src" / "commands" / "session" / "sample.jsonl"


def validator():
    """Gives a validator of whole archives; the schemas refer to each other by name."""
    schemas = [json.loads(file.read_text(encoding="utf-8")) for file in sorted((HERE / "har-schema").glob("*.json"))]
    resources = [(schema["$id"].rstrip("#"), Resource.from_contents(schema)) for schema in schemas]
    whole = next(schema for schema in schemas if schema["$id"] == "har.json#")
    return Draft6Validator(whole, registry=Registry().with_resources(resources))


def errors(checker, archive):
    return [f"{'/'.join(map(str, error.absolute_path))}: {error.message}" for error in checker.iter_errors(archive)]


def exported(coldbed, session, folder):
    archive = pathlib.Path(folder) / "session.har"
    subprocess.run([coldbed, "session", "export", session, "--to", archive], check=True)
    return json.loads(archive.read_text(encoding="utf-8"))


def started(command):
    process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True)
    line = process.stdout.readline()
    return process, line[line.index("http://"):].strip()


def recorded(coldbed, folder):
    """Records some answers of a running mock, and one that is not found."""
    session = pathlib.Path(folder) / "recorded.jsonl"
    host, url = started([coldbed, "serve", "printing", "--from", "1h", "--listen", "127.0.0.1:0"])
    recorder, through = started(
        [coldbed, "record", "--upstream", url, "--to", session, "--listen", "127.0.0.1:0"])
    for path in ("/printer", "/job?now=1", "/heaters/extruder", "/nowhere"):
        try:
            urllib.request.urlopen(through + path, timeout=10).read()
        except urllib.error.HTTPError as error:
            error.read()
    for process in (recorder, host):
        process.send_signal(signal.SIGTERM)
        process.wait()
    return session


def need(claim, holds, why=""):
    if not holds:
        sys.exit(f"not so: {claim} {why}")
    print(f"ok  {claim}")


def main():
    if len(sys.argv) != 2:
        sys.exit(__doc__)
    coldbed, checker = sys.argv[1], validator()
    with tempfile.TemporaryDirectory() as folder:
        for name, session in (("the sample", SAMPLE), ("a recorded session", recorded(coldbed, folder))):
            archive = exported(coldbed, session, folder)
            found = errors(checker, archive)
            need(f"{name} is an archive by the published schemas", not found, "\n".join(found[:10]))
            need(f"{name} has its exchanges", len(archive["log"]["entries"]) >= 3)
            # A check that cannot fail is none.
            del archive["log"]["entries"][0]["request"]["httpVersion"]
            need(f"{name} without a member that is needed is none", errors(checker, archive))


if __name__ == "__main__":
    main()
