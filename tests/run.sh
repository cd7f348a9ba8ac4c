#!/usr/bin/env bash
# Installs what the checks need and runs all of them: format, lints, docs, tests.
# Debian or a relative of it, as root or with sudo; Rust as rust-version in Cargo.toml says.
set -euo pipefail
cd "$(dirname "$0")/.."

say() { printf '\n== %s\n' "$*"; }

need() { # need PROGRAM PACKAGE…: installs the packages unless the program is there
  command -v "$1" >/dev/null 2>&1 && return
  shift
  packages+=("$@")
}

say "what the watchers in tests/watchers are written in"
packages=()
need python3 python3
python3 -c 'import venv, ensurepip' 2>/dev/null || packages+=(python3-venv)
need node nodejs
need curl curl
need jq jq
need cc gcc libc6-dev
# A broker, and a client of it that is not ours. Debian puts the broker where only root looks.
PATH=$PATH:/usr/sbin need mosquitto mosquitto
need mosquitto_sub mosquitto-clients
# A browser for the bench page and the report.
need chromium chromium
header() { printf '#include <%s>\n' "$1" | cc -E - >/dev/null 2>&1; }
command -v cc >/dev/null 2>&1 && header curl/curl.h || packages+=(libcurl4-openssl-dev)
command -v cc >/dev/null 2>&1 && header cjson/cJSON.h || packages+=(libcjson-dev)
if [ "${#packages[@]}" -gt 0 ]; then
  as_root=$([ "$(id -u)" = 0 ] || echo sudo)
  $as_root apt-get update -qq
  DEBIAN_FRONTEND=noninteractive $as_root apt-get install -y -qq --no-install-recommends "${packages[@]}" >/dev/null
fi
echo "python3 $(python3 -c 'import platform; print(platform.python_version())'), node $(node --version), $(jq --version)"

# A snapshot that differs is a failure, never an update.
export INSTA_UPDATE=no

say "format"
cargo fmt --all -- --check
# The fuzzer and the Rust watcher are no members.
rustfmt --check --edition 2024 fuzz/fuzz_targets/*.rs fuzz/examples/*.rs tests/watchers/rust/src/main.rs

say "lints"
cargo clippy --workspace --all-targets --locked -- -D warnings

say "docs"
RUSTDOCFLAGS="-D warnings" cargo doc --workspace --no-deps --locked --document-private-items --quiet

say "tests"
cargo test --workspace --exclude coldbed-tests --locked
# The command and the examples as the tests have them: a package built by itself has other features, and
# would be compiled again with all it depends on.
cargo build --workspace --exclude coldbed-tests --bins --examples --locked --quiet
export COLDBED=$PWD/target/debug/coldbed

say "external checks: the thermal core against published reference packages"
# In an environment of its own below target/, so that nothing of the machine's Python is touched.
venv=target/external-checks
[ -x "$venv/bin/python" ] || python3 -m venv "$venv"
"$venv/bin/pip" install --quiet --disable-pip-version-check -r tests/external/requirements.txt
"$venv/bin/python" tests/external/temperature_lab.py \
  target/debug/examples/temperature_lab

say "external checks: the estimate of growth against scipy"
"$venv/bin/python" tests/external/growth_lab.py \
  target/debug/examples/growth_lab

say "external checks: what is announced, seen by another DNS-SD client"
"$venv/bin/python" tests/external/dns_sd.py target/debug/coldbed

say "external checks: what dialects are described as, against the specification and a general tester"
"$venv/bin/python" tests/external/openapi.py target/debug/coldbed

say "external checks: the corpus of JSON texts, read by two other readers"
python3 tests/external/json_corpus.py mock/src/drift/corpus/rfc8259.toml
say "external checks: faults, seen by curl, Python and Node"
python3 tests/external/faults.py target/debug/coldbed
say "external checks: faults of push streams, seen by other clients"
"$venv/bin/python" tests/external/push_faults.py target/debug/examples/push_faults

say "external checks: the bench page, used in a browser"
"$venv/bin/python" tests/external/bench_page.py target/debug/coldbed

say "external checks: reports, read back by other readers and in a browser"
"$venv/bin/python" tests/external/reports.py target/debug/coldbed

say "external checks: archives, by the schemas that another package publishes"
"$venv/bin/python" tests/external/archive.py target/debug/coldbed

say "external checks: what is fitted to a heater, by scipy"
"$venv/bin/python" tests/external/heater_fit.py target/debug/examples/heater_fit

say "external checks: captures of another packet library, imported"
"$venv/bin/python" tests/external/capture.py target/debug/coldbed

say "end-to-end tests"
# Watchers sleep most of the time: more of them at once than there are cores.
# `--workspace`, though it is one package's: with other features all would be compiled again.
cargo test --workspace --locked --test e2e -- --test-threads 4

say "examples: a watcher under pytest and under Node's test runner"
(cd examples/pytest && "../../$venv/bin/python" -m pytest -q -p no:cacheprovider)
(cd examples/node-test && node --test)

say "examples: a bug from the field, kept as a test"
(cd examples/field-bug && "../../$venv/bin/python" -m pytest -q -p no:cacheprovider)
