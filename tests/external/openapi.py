"""Holds what `coldbed dialect describe` says against published readers of OpenAPI.

Usage: openapi.py COMMAND ARG…, the command that starts coldbed.

For every version of every built-in dialect, and of the tests' dialect that has every key:
- the document is a valid one of OpenAPI 3.1 (openapi-spec-validator: the specification's own
  meta-schema and what it says in words);
- a running mock of it answers as the document says (schemathesis: generated requests, good and bad,
  all its checks on, with a fixed seed). It looks into the events of streams too.

Source: OpenAPI Specification 3.1; the two packages are pinned in requirements.txt.
"""

import json
import pathlib
import re
import subprocess
import sys
import tempfile
import tomllib

from openapi_spec_validator import OpenAPIV31SpecValidator

MOCK = pathlib.Path(__file__).resolve().parents[2] / "mock"
DIALECTS = sorted((MOCK / "dialects").glob("*.toml"))
# The file of the tests that uses every key of the language.
EVERY_KEY = MOCK / "src" / "dialect" / "tests" / "every-key.toml"
KEY = "sesame"
SEED = 1
# For each operation and phase; more of them take longer and have found nothing more.
MOST_EXAMPLES = 50

# What schemathesis is told, and why where it is told to look away. Nothing is switched off.
SETTINGS = """
seed = {seed}
request-timeout = 10.0
continue-on-failure = true
# A stream of events does not end: it is read this far.
max-stream-events = 2

[generation]
max-examples = {most}

[phases.coverage]
# All that schemathesis would try but QUERY, which it wants answered 405. A method that a server does
# not know is answered 501 (RFC 9110 section 9.1), and this one is not among those of section 9.3.
unexpected-methods = ["GET", "PUT", "POST", "DELETE", "OPTIONS", "PATCH", "TRACE"]

[checks]
# A printer may decline what is well formed: 404 for a heater that this printer does not have, 409 for
# a command at the wrong time, 422 for a target above the heater's limit. Only the scenario knows
# these, not the dialect, so no document of a dialect can rule such requests out.
positive_data_acceptance.expected-statuses = ["2xx", 404, 409, 422]
"""


def versions(file, name):
    """Gives every version of a dialect as --dialect takes it."""
    dialect = tomllib.loads(file.read_text())
    names = [dialect.get("version", "1.0"), *(each["name"] for each in dialect.get("versions", []))]
    return [f"{name}@{version}" for version in names]


def credentials(document):
    """Gives the settings that let schemathesis in: none where no key is asked for, None where a client
    has to log in first. Log-ins end at any call of the log-out, and then all answers are the same."""
    operations = [operation for item in document["paths"].values() for operation in item.values()]
    if any(operation["summary"] == "Log in" for operation in operations):
        return None
    text = ""
    for name, scheme in document["components"].get("securitySchemes", {}).items():
        match scheme:
            case {"type": "http", "scheme": "bearer"}:
                entry = {"bearer": KEY}
            case {"type": "http", "scheme": "basic"}:
                user = re.search(r"User name: (.*?)\.", scheme["description"]).group(1)
                entry = {"username": user, "password": KEY}
            case {"type": "apiKey"}:
                prefix = re.search(r"after the text `(.*)`", scheme.get("description", ""))
                entry = {"api_key": (prefix.group(1) if prefix else "") + KEY}
            case _:
                sys.exit(f"how to show a key is not known here: {scheme}")
        fields = ", ".join(f"{key} = {json.dumps(value)}" for key, value in entry.items())
        text += f"\n[auth.openapi]\n{name} = {{ {fields} }}\n"
    return text


def check(command, version, folder):
    described = subprocess.run(
        [*command, "dialect", "describe", version], check=True, stdout=subprocess.PIPE
    )
    document = json.loads(described.stdout)
    OpenAPIV31SpecValidator(document).validate()
    operations = sum(len(item) for item in document["paths"].values())
    print(f"{version}: a valid document of {operations} operations", flush=True)

    file = folder / "openapi.json"
    file.write_bytes(described.stdout)
    settings = folder / "schemathesis.toml"
    secret = credentials(document)
    if secret is None:
        print(f"{version}: not tested while running, since clients have to log in")
        return True
    settings.write_text(SETTINGS.format(seed=SEED, most=MOST_EXAMPLES) + secret)
    key = ["--key", KEY] if secret else []
    serve = [*command, "serve", "printing", "--from", "10m", "--rate", "60", "--dialect", version, *key]
    host = subprocess.Popen([*serve, "--listen", "127.0.0.1:0"], stdout=subprocess.PIPE, text=True)
    try:
        url = host.stdout.readline().removeprefix("listening on ").strip()
        tester = [sys.executable, "-m", "schemathesis.cli", "--config-file", settings]
        told = ["--url", url, "--checks", "all", "--workers", "1"]
        return subprocess.run([*tester, "run", file, *told], cwd=folder).returncode == 0
    finally:
        host.terminate()
        host.wait()


def main():
    command = sys.argv[1:] or sys.exit(__doc__)
    wanted = [version for file in DIALECTS for version in versions(file, file.stem)]
    wanted += versions(EVERY_KEY, EVERY_KEY)
    with tempfile.TemporaryDirectory() as folder:
        failed = [one for one in wanted if not check(command, one, pathlib.Path(folder))]
    if failed:
        sys.exit(f"answers are not as described: {', '.join(failed)}")


if __name__ == "__main__":
    main()
