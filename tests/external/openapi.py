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
import urllib.request

from openapi_spec_validator import OpenAPIV31SpecValidator

MOCK = pathlib.Path(__file__).resolve().parents[2] / "mock"
DIALECTS = sorted((MOCK / "dialects").glob("*.toml"))
# The file of the tests that uses every key of the language.
EVERY_KEY = MOCK / "src" / "dialect" / "tests" / "every-key.toml"
KEY = "sesame"
SEED = 1
# For each operation and phase; more of them take longer and have found nothing more.
MOST_EXAMPLES = 10

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


def source(version):
    """Gives the file that a dialect as --dialect takes it is in."""
    name = version.rsplit("@", 1)[0]
    built_in = MOCK / "dialects" / f"{name}.toml"
    return built_in if built_in.exists() else pathlib.Path(name)


def versions(file, name):
    """Gives every version of a dialect as --dialect takes it."""
    dialect = tomllib.loads(file.read_text())
    names = [dialect.get("version", "1.0"), *(each["name"] for each in dialect.get("versions", []))]
    return [f"{name}@{version}" for version in names]


def credentials(document, key):
    """Gives the settings that let schemathesis in; none where no key is asked for."""
    text = ""
    for name, scheme in document["components"].get("securitySchemes", {}).items():
        match scheme:
            case {"type": "http", "scheme": "bearer"}:
                entry = {"bearer": key}
            case {"type": "http", "scheme": "basic"}:
                user = re.search(r"User name: (.*?)\.", scheme["description"]).group(1)
                entry = {"username": user, "password": key}
            case {"type": "apiKey"}:
                prefix = re.search(r"after the text `(.*)`", scheme.get("description", ""))
                entry = {"api_key": (prefix.group(1) if prefix else "") + key}
            case _:
                sys.exit(f"how to show a key is not known here: {scheme}")
        fields = ", ".join(f"{key} = {json.dumps(value)}" for key, value in entry.items())
        text += f"\n[auth.openapi]\n{name} = {{ {fields} }}\n"
    return text


def routes(dialect, key):
    """Gives the routes of a dialect that have a key."""
    return [route for route in dialect["routes"] if key in route]


def checks_for(version):
    """Gives the checks of schemathesis: all of them, except for a host that answers what it refuses
    with 200, on purpose and against RFC 9110. Of that one only what the document says can be held to
    it, not what a host should do: to refuse strangers, malformed requests and unknown methods."""
    if version.startswith("flat@"):
        return ",".join(
            [
                "not_a_server_error",
                "status_code_conformance",
                "content_type_conformance",
                "response_headers_conformance",
                "response_schema_conformance",
            ]
        )
    return "all"


def log_in(url, dialect):
    """Logs in as the dialect asks for. Gives what a client shows from then on, and the setting that
    leaves the log-out alone: after that all answers would be the same."""
    auth, route = dialect["auth"], routes(dialect, "log-in")[0]
    places = route["log-in"]
    body = {places["key"]["body"].removeprefix("/"): KEY}
    if "user" in places:
        body[places["user"]["body"].removeprefix("/")] = auth.get("user", "anybody")
    request = urllib.request.Request(
        url + route["path"], json.dumps(body).encode(), method=route["method"]
    )
    with urllib.request.urlopen(request) as answer:
        if "cookie" in auth:
            token = answer.headers["Set-Cookie"].split(";")[0].split("=", 1)[1]
        else:
            token = json.load(answer)["token"]
    settings = "".join(for_operation(out, "enabled = false") for out in routes(dialect, "log-out"))
    # No document can tell the right key.
    refusal = auth.get("status", 401)
    return token, settings + for_operation(route, accepted(refusal))


def for_operation(route, line):
    """Gives a setting of schemathesis for one operation."""
    return f'\n[[operations]]\ninclude-name = "{route["method"]} {route["path"]}"\n{line}\n'


def accepted(status):
    return f'checks.positive_data_acceptance.expected-statuses = ["2xx", 404, 409, 422, {status}]'


def for_web_sockets(dialect):
    """Gives settings for what OpenAPI has no word for: a handshake, without which the answer is 426
    (RFC 6455 section 4.4)."""
    pushes = [route for route in routes(dialect, "push") if route["push"]["form"] == "websocket"]
    return "".join(for_operation(route, accepted(426)) for route in pushes)


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
    dialect = tomllib.loads(source(version).read_text())
    # Only a file's own version has a log-in in any of these.
    has_log_in = version.endswith("@1.0") and routes(dialect, "log-in")
    asks = bool(document["components"].get("securitySchemes"))
    key = ["--key", KEY] if asks else []
    serve = [*command, "serve", "printing", "--from", "10m", "--rate", "60", "--dialect", version, *key]
    host = subprocess.Popen([*serve, "--listen", "127.0.0.1:0"], stdout=subprocess.PIPE, text=True)
    try:
        url = host.stdout.readline().removeprefix("listening on ").strip()
        shown, apart = log_in(url, dialect) if has_log_in else (KEY, "")
        apart = credentials(document, shown) + apart + for_web_sockets(dialect)
        settings.write_text(SETTINGS.format(seed=SEED, most=MOST_EXAMPLES) + apart)
        tester = [sys.executable, "-m", "schemathesis.cli", "--config-file", settings]
        told = ["--url", url, "--checks", checks_for(version), "--workers", "1"]
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
