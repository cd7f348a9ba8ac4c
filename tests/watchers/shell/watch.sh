#!/bin/sh
# Watch a filament printer through its network host: one JSON line, a sighting, per poll.
#
# Usage: watch.sh URL KEY [INTERVAL_SECONDS]
#
# POSIX sh with curl (7.75 or later), jq (1.6 or later) and a head that knows -c; a fraction as interval needs a sleep
# that takes one. A watcher only reports what the host says. It is no fire alarm and no reason to leave a hot printer
# alone.
#
# No traps: SIGTERM ends a shell at once and quietly by itself, and so does SIGINT from the keyboard, while a trap would
# have to wait for curl.

usage() {
    echo 'usage: watch.sh URL KEY [INTERVAL_SECONDS]' >&2
    exit 2
}

[ $# -ge 2 ] || usage
url=${1%/}
key=$2
interval_s=${3:-1}
timeout_s=$(jq -en --arg s "$interval_s" '$s | tonumber | select(. > 0 and . <= 3600) | [2, .] | max' 2>/dev/null) ||
    usage
body_limit_bytes=1048576

# Printed whenever there is no usable answer: what was seen before is withdrawn, because it may no longer be true.
unknown='{"phase":"unknown","heaters":{},"progress-percent":null,"elapsed-seconds":null,"remaining-seconds":null}'

# Asks the host once and writes the body to stdout, with one more JSON line behind it that says how the exchange went.
# - The key goes in by stdin, because every user of the machine can read a command line.
# - No -L: following a redirect could hand the key to another host. -q and --noproxy: no settings from elsewhere.
# - --max-time is for the whole exchange. A body that ends early (RFC 9112 s8) gives an exit code other than 0.
# - A body over the limit loses the line behind it, and so counts as no answer.
fetch() {
    printf 'Authorization: Bearer %s\n' "$key" |
        curl -q -s -g --noproxy '*' --proto '=http,https' --max-time "$timeout_s" \
            -H @- -H 'Accept: application/json' -H 'Connection: close' -A 'example-watcher-shell/1' \
            -w '\n{"exit":%{exitcode},"status":"%{http_code}"}' "$url/printer" 2>/dev/null |
        head -c "$body_limit_bytes"
}

# Reads what fetch wrote and makes the sighting of it; writes nothing when the answer is unusable.
# Each value stands alone, so that one bad value does not take the others with it.
make_sighting() {
    jq -cs '
        # The value if it is a finite number, else null: null, missing and wrong types all mean "not known".
        def number: if type == "number" and (isnan or isinfinite | not) then . else null end;
        def member(name): if type == "object" then .[name] else null end;

        # Whether some heater is on its way to its target; null if the reasons cannot be read.
        def heating:
            member("printer-state-reasons")
            | if type == "array" and all(.[]; type == "string")
              then any(.[]; endswith("-heating-report"))
              else null end;

        # The phase of the printer in the words that a person uses. Job states: RFC 8011 s5.3.7.
        def phase:
            heating as $heating
            | member("printer-state") as $printer
            | (.job | member("job-state")) as $state
            | if has("job") and .job == null then
                  if $printer == "stopped" then "error"
                  elif $heating == null then "unknown"
                  elif $heating then "heating"
                  elif $printer == "idle" or $printer == "processing" then "idle"
                  else "unknown" end
              elif $state == "processing" then
                  if $heating == null then "unknown" elif $heating then "heating" else "printing" end
              elif $state == "pending" or $state == "pending-held" then "idle"
              elif $state == "processing-stopped" then "paused"
              elif $state == "canceled" then "cancelled"
              elif $state == "aborted" then "error"
              elif $state == "completed" then "finished"
              else "unknown" end;

        # One heater. On or off is what the host wants, so it follows from the target alone.
        def heater:
            (member("actual-celsius") | number) as $actual
            | (member("target-celsius") | number) as $target
            | {"actual-celsius": $actual,
               "target-celsius": $target,
               "on": (if $target == null then null else $target > 0 end)};

        select(length == 2 and .[1] == {"exit": 0, "status": "200"})
        | .[0]
        | select(type == "object")
        | {"phase": phase,
           "heaters": (.heaters | if type == "object" then map_values(heater) else {} end),
           "progress-percent": (.job | member("progress-percent") | number),
           "elapsed-seconds": (.job | member("elapsed-seconds") | number),
           "remaining-seconds": (.job | member("remaining-seconds") | number)}
    ' 2>/dev/null
}

while :; do
    # Started before the request and waited for after it, so that a slow answer does not make the rhythm drift.
    sleep "$interval_s" >/dev/null &
    pace=$!
    sighting=$(fetch | make_sighting)
    if [ -z "$sighting" ]; then
        echo 'no usable answer' >&2
        sighting=$unknown
    fi
    printf '%s\n' "$sighting"
    wait "$pace" || exit 1 # a sleep that fails would turn this into a loop without a pause
done
