"""Holds the corpus of JSON texts against two readers that are not ours: Python's and Node's.

Usage: json_corpus.py CORPUS.toml

Every `accept` has to be taken by both and every `reject` refused, but for the extensions named below;
an extension that is no longer there is a failure, too, so that the lists stay true. `may` is whatever
the reader makes of it, and printed.

# Source
RFC 8259 section 9: a parser must accept all texts of the grammar, and may accept others.
Python: library reference, `json`, "Standard Compliance and Interoperability", and `json.loads` of bytes.
Node: ECMA-262, `JSON.parse`, after a strict decoding of the bytes (WHATWG Encoding, `TextDecoder`, fatal).
"""

import json
import subprocess
import sys
import tomllib

# What Python takes that is no JSON, and why.
PYTHON_TAKES = {
    "number-nan": "it takes NaN",
    "number-infinity": "it takes Infinity",
    "number-minus-infinity": "it takes -Infinity",
    "utf-16-little-endian": "it takes bytes in UTF-16 and UTF-32",
    "utf-16-big-endian": "it takes bytes in UTF-16 and UTF-32",
    "utf-16-with-mark": "it takes bytes in UTF-16 and UTF-32",
    "utf-32-little-endian": "it takes bytes in UTF-16 and UTF-32",
    "utf-8-surrogate": "it lets surrogates pass in UTF-8",
    "utf-8-pair-of-surrogates": "it lets surrogates pass in UTF-8",
}

# What Node takes that is no JSON, and why.
NODE_TAKES = {}

NODE = """
const decoder = new TextDecoder("utf-8", { fatal: true, ignoreBOM: true });
const texts = JSON.parse(require("fs").readFileSync(0, "utf8"));
const taken = texts.map((text) => {
  try {
    JSON.parse(decoder.decode(Buffer.from(text, "hex")));
    return true;
  } catch {
    return false;
  }
});
process.stdout.write(JSON.stringify(taken));
"""


def text_of(entry):
    if "text" in entry:
        return entry["text"].encode()
    if "hex" in entry:
        return bytes.fromhex(entry["hex"])
    times, around = entry["times"], entry.get("around", "")
    inner = entry["open"] * times + entry.get("inner", "") + entry["close"] * times
    return (around + inner + around).encode()


def python_takes(text):
    try:
        json.loads(text)
    except (ValueError, RecursionError):
        return False
    return True


def node_takes(texts):
    given = json.dumps([text.hex() for text in texts])
    done = subprocess.run(["node", "-e", NODE], input=given, capture_output=True, text=True, check=True)
    return json.loads(done.stdout)


def judge(reader, entries, taken, extensions):
    wrong = []
    free = []
    for entry, took in zip(entries, taken, strict=True):
        name, verdict = entry["id"], entry["verdict"]
        if verdict == "may":
            free.append(f"{name} {'taken' if took else 'refused'}")
            continue
        wanted = verdict == "accept" or name in extensions
        if took != wanted:
            wrong.append(f"{reader} {'takes' if took else 'refuses'} {name}, which is {verdict}")
    print(f"{reader}: {len(entries)} texts, {len(extensions)} known extensions; may: {', '.join(free)}")
    unknown = set(extensions) - {entry["id"] for entry in entries}
    return wrong + [f"{reader}: there is no {name} in the corpus" for name in sorted(unknown)]


def main():
    with open(sys.argv[1], "rb") as file:
        corpus = tomllib.load(file)
    entries = [entry for rule in corpus["rule"] for entry in rule["entries"]]
    texts = [text_of(entry) for entry in entries]
    wrong = judge("python", entries, [python_takes(text) for text in texts], PYTHON_TAKES)
    wrong += judge("node", entries, node_takes(texts), NODE_TAKES)
    for line in wrong:
        print(line, file=sys.stderr)
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
