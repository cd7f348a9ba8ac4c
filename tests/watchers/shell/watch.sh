#!/bin/sh
# Watch a filament printer through its network host: one JSON line, a sighting, per poll.
#
# Usage: watch.sh URL KEY [INTERVAL_SECONDS] [AUTHORITY_FILE]
#
# AUTHORITY_FILE (PEM) is whom to trust if the URL is https. POSIX sh with curl (7.83 or later), jq (1.6 or later) and a
# head that knows -c; a fraction as interval needs a sleep that takes one. A watcher only reports what the host says. It
# is no fire alarm and no reason to leave a hot printer alone.
#
# No traps: SIGTERM ends a shell at once and quietly by itself, and so does SIGINT from the keyboard, while a trap would
# have to wait for curl.
export LC_ALL=C # the names of days and months in HTTP's dates are English

usage() {
    echo 'usage: watch.sh URL KEY [INTERVAL_SECONDS] [AUTHORITY_FILE]' >&2
    exit 2
}

[ $# -ge 2 ] || usage
url=${1%/}
key=$2
interval_s=${3:-1}
authority=${4:-}
timeout_s=$(jq -en --arg s "$interval_s" '$s | tonumber | select(. > 0 and . <= 3600) | [2, .] | max' 2>/dev/null) ||
    usage
body_limit_bytes=1048576
# However long a host asks not to be asked, and however often it has failed: not to sleep for ever after nonsense.
most_wait_s=60
separator=$(printf '\036') # the control character RS, which no JSON text contains

# Printed whenever there is no usable answer: what was seen before is withdrawn, because it may no longer be true.
unknown='{"phase":"unknown","heaters":{},"progress-percent":null,"elapsed-seconds":null,"remaining-seconds":null}'

# Asks the host once and writes the body to stdout, with a separator and JSON behind it that says how it went.
# - The key goes in by stdin, because every user of the machine can read a command line.
# - No -L: following a redirect could hand the key to another host. -q and --noproxy: no settings from elsewhere.
# - --max-time is for the whole exchange. A body that ends early (RFC 9112 s8) gives an exit code other than 0.
# - If-None-Match spares the host a body that we have (RFC 9110 s13.1.2).
# - A body over the limit loses what is behind it, and so counts as no answer.
fetch() {
    printf 'Authorization: Bearer %s\n' "$key" |
        curl -q -s -g --noproxy '*' --proto '=http,https' --max-time "$timeout_s" ${authority:+--cacert "$authority"} \
            -H @- -H 'Accept: application/json' -H 'Connection: close' -A 'example-watcher-shell/2' \
            ${tag:+-H "If-None-Match: $tag"} \
            -w "$separator"'{"exit":%{exitcode},"status":"%{http_code}","head":%{header_json}}' "$url/printer" 2>/dev/null |
        head -c "$body_limit_bytes"
}

# Reads what fetch wrote and writes three lines: the sighting, `same` if the last one is true now, or nothing when the
# answer is unusable; the answer's tag; how many seconds the host asks to be left alone.
# Each value stands alone, so that one bad value does not take the others with it.
make_sighting() {
    jq -Rrs --argjson most "$most_wait_s" '
        # The value if it is a finite number, else null: null, missing and wrong types all mean "not known".
        def number: if type == "number" and (isnan or isinfinite | not) then . else null end;
        # What cannot be is a mistake or of another unit. Nothing is colder than absolute zero (BIPM, The International
        # System of Units, from memory).
        def within($least; $most): if . != null and $least <= . and . <= $most then . else null end;
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
            (member("actual-celsius") | number | within(-273.15; infinite)) as $actual
            | (member("target-celsius") | number) as $target
            | {"actual-celsius": $actual,
               "target-celsius": $target,
               "on": (if $target == null then null else $target > 0 end)};

        def sighting:
            {"phase": phase,
             "heaters": (.heaters | if type == "object" then map_values(heater) else {} end),
             "progress-percent": (.job | member("progress-percent") | number | within(0; 100)),
             "elapsed-seconds": (.job | member("elapsed-seconds") | number | within(0; infinite)),
             "remaining-seconds": (.job | member("remaining-seconds") | number | within(0; infinite))};

        # A date in one of the three forms of RFC 9110 s5.6.7, all of them in GMT, as Unix time; else nothing.
        def http_date:
            first(("%a, %d %b %Y %T GMT", "%A, %d-%b-%y %T GMT", "%a %b %d %T %Y") as $form
                | try strptime($form) catch empty | mktime);

        # How long a host that is busy asks to be left alone (RFC 9110 s10.2.3); 0 for nothing and for nonsense.
        # A date is held against the clock of the host if it has one, because ours may differ.
        def retry_after:
            (.head["retry-after"][0] // "") as $value
            | if (.status | IN("429", "503") | not) then 0
              elif $value | test("^[0-9]+$") then $value | tonumber
              else (.head.date[0] // "") as $date
                  | (($value | http_date) - (($date | http_date) // now)) // 0 end
            | [[., 0] | max, $most] | min;

        split("\u001e")
        | (.[1] | fromjson) as $how
        | (.[0] | try fromjson catch null) as $answer
        | if $how.exit == 0 and $how.status == "304" then "same"
          elif $how.exit == 0 and $how.status == "200" and ($answer | type) == "object" then
              $answer | sighting | tojson
          else "" end,
          ($how.head.etag[0] // ""),
          ($how | retry_after)
    ' 2>/dev/null
}

# Writes the wait after so many failures in a row: doubled each time, not the same for all who lost the host at once,
# and at least as long as the host asked for.
back_off() {
    jq -n --argjson interval "$interval_s" --argjson failures "$failures" --argjson asked "${asked_wait_s:-0}" \
        --argjson most "$most_wait_s" --argjson random "0$(od -An -N2 -tu2 /dev/urandom | tr -d ' ')" '
        ($random / 65536) as $random
        | ([$interval, ([8 * $interval, $most] | min)] | max) as $most
        | [[$interval * pow(2; $failures), $most] | min * (0.5 + $random / 2), $asked * (1 + $random / 10)] | max'
}

# Writes whole seconds that go on while the machine sleeps, where the system tells them.
awake() {
    if [ -r /proc/uptime ]; then cut -d. -f1 /proc/uptime; else date +%s; fi
}

failures=0 tag='' kept=''
while :; do
    # Started before the request and waited for after it, so that a slow answer does not make the rhythm drift.
    sleep "$interval_s" >/dev/null &
    pace=$!
    asked=$(awake)
    { read -r sighting; read -r tag; read -r asked_wait_s; } <<END
$(fetch | make_sighting)
END
    [ "$sighting" = same ] && sighting=$kept # empty if nothing was kept
    # Slept while we asked (one more second for the cut fractions): what was read is old, so ask again at once.
    [ -z "$sighting" ] || [ $(($(awake) - asked)) -le $((${timeout_s%.*} + 1)) ] || continue
    if [ -z "$sighting" ]; then
        echo 'no usable answer' >&2
        sighting=$unknown tag='' kept=''
        failures=$((failures + 1))
    else
        kept=$sighting
        failures=0
    fi
    printf '%s\n' "$sighting"
    [ "$failures" -eq 0 ] || sleep "$(back_off)" || exit 1
    wait "$pace" || exit 1 # a sleep that fails would turn this into a loop without a pause
done
