#!/usr/bin/env python3
"""Reads what `prewire run` writes about a run with other tools, and compares the files with each other.

    check_files.py PREWIRE MACHINE...

Coverage goes through lcov and genhtml (Debian package lcov), waveforms through vcd2fst and fst2vcd (gtkwave), tables
through Python's csv, JSON lines through its json. What coverage, profile and waveform say is worked out again from the
traces of the same run.
"""
import collections
import csv
import json
import pathlib
import re
import subprocess
import sys
import tempfile

SPAN = "60000cycles"
faults = []


def expect(found, wanted, what):
    if found != wanted:
        faults.append(f"{what}: expected {wanted!r}, found {found!r}"[:2000])


def tool(*command, **options):
    done = subprocess.run([str(word) for word in command], capture_output=True, text=True, **options)
    if done.returncode != 0:
        faults.append(f"{command[0]} ends with {done.returncode}: {done.stdout}{done.stderr}"[:2000])
    return done.stdout


def json_lines(file):
    return [json.loads(line) for line in file.read_text().splitlines()]


def records(tracefile):
    """File -> kind of line -> list of fields, of an lcov tracefile."""
    files = {}
    for line in tracefile.read_text().splitlines():
        kind, _, rest = line.partition(":")
        if kind == "SF":
            here = files[rest] = collections.defaultdict(list)
        elif kind not in ("TN", "end_of_record"):
            here[kind].append(rest.split(","))
    return files


def check_coverage(folder, steps):
    files = records(folder / "run.info")
    lines, ways = collections.Counter(), collections.Counter()
    for step, after in zip(steps, steps[1:] + [None]):
        if step["bytes"] == "" or "source" not in step:
            continue
        file, _, line = step["source"].rpartition(":")
        lines[file, int(line)] += 1
        branch = re.match(r"L?B(?!IT|RA|SR|RN)[A-Z][A-Z] \$", step["instruction"])
        if branch and after is not None:
            behind = step["address"] + len(step["bytes"].split())
            ways[file, int(line), 1 if after["address"] == behind else 0] += 1
    found = {(file, int(line)): int(count) for file, of in files.items() for line, count in of["DA"]}
    expect({key: count for key, count in found.items() if count}, dict(lines), "executed lines")
    taken = {(file, int(line), int(way)): int(count) for file, of in files.items()
             for line, _, way, count in of["BRDA"] if count not in ("-", "0")}
    expect(taken, dict(ways), "ways of branches")

    summary = tool("lcov", "--rc", "lcov_branch_coverage=1", "--summary", folder / "run.info")
    for what, all_of, hit in (("lines", "LF", "LH"), ("functions", "FNF", "FNH"), ("branches", "BRF", "BRH")):
        counts = [sum(int(of[kind][0][0]) for of in files.values()) for kind in (hit, all_of)]
        if f"({counts[0]} of {counts[1]} {what})" not in summary:
            faults.append(f"lcov --summary does not say {counts[0]} of {counts[1]} {what}: {summary}")
    tool("genhtml", "--branch-coverage", "--quiet", "-o", folder / "html", folder / "run.info")
    if not (folder / "html" / "index.html").exists():
        faults.append("genhtml has written no index.html")


def check_tables(folder, steps, cycles):
    with open(folder / "steps.csv", newline="") as file:
        rows = list(csv.DictReader(file))
    expect(len(rows), len(steps), "rows of steps.csv")
    for row, step in zip(rows, steps):
        same = (int(row["cycle"]), int(row["address"][1:], 16), row["bytes"], row["instruction"], row["source"])
        expect(same, (step["cycle"], step["address"], step["bytes"], step["instruction"], step.get("source", "")), "row")
    with open(folder / "cycles.csv", newline="") as file:
        rows = list(csv.DictReader(file))
    expect(len(rows), len(cycles), "rows of cycles.csv")
    for row, cycle in zip(rows, cycles):
        expect((int(row["cycle"]), int(row["address"][1:], 16), int(row["data"][1:], 16), row["access"]),
               (cycle["cycle"], cycle["address"], cycle["data"], cycle["access"]), "row")
    text = [line for line in (folder / "cycles.txt").read_text().splitlines() if not line.startswith("#")]
    expect(len(text), len(cycles), "lines of cycles.txt")
    # The first cycle of each instruction that was not an interrupt entry is in both.
    fetches = {cycle["cycle"] for cycle in cycles if cycle["fetch"]}
    missing = [step["cycle"] for step in steps if step["bytes"] and step["cycle"] not in fetches]
    expect(missing, [], "instructions without a fetch")


def check_profile(folder, total):
    ways = [re.fullmatch(r"(\(main\)(?:;[^; ]+)*) (\d+)", line) for line in (folder / "run.folded").read_text().splitlines()]
    if not all(ways):
        faults.append("run.folded has a line that is no stack and count")
        return
    expect(sum(int(way[2]) for way in ways), total, "cycles of run.folded")
    own = collections.Counter()
    for way in ways:
        own[way[1].split(";")[-1]] += int(way[2])
    for line in (folder / "run.txt").read_text().split("\n\n")[1].splitlines()[1:]:
        fields = line.split()
        expect(int(fields[0]), own[fields[-1]], f"own cycles of {fields[-1]} in run.txt")


def changes(text):
    """Time -> code -> value at the end of that moment, and the names of codes, of a VCD."""
    head, _, body = text.partition("$enddefinitions $end")
    names = {code: name for code, name in re.findall(r"\$var (?!event)\w+ \d+ (\S+) (.+?) \$end", head)}
    values, now = collections.defaultdict(dict), 0
    for line in body.splitlines():
        if line.startswith("#"):
            now = int(line[1:])
        elif re.match(r"[01xz]\S+$", line):
            if line[1:] in names:  # else it is an event, which has no value
                values[now][line[1:]] = line[0]
        elif line[:1] in ("b", "r"):
            value, code = line[1:].split()
            values[now][code] = float(value) if line[0] == "r" else value
    return names, values


def check_waveform(folder, cycles):
    ours = (folder / "run.vcd").read_text()
    tool("vcd2fst", folder / "run.vcd", folder / "run.fst")
    theirs = tool("fst2vcd", folder / "run.fst")
    names, values = changes(ours)
    again, read = changes(theirs)
    # Codes are fst2vcd's own: by name, and names of different scopes apart by their order.
    expect(list(again.values()), list(names.values()), "signals that vcd2fst has read")
    code = dict(zip(names, again))

    def widened(value):
        return value if isinstance(value, float) else re.sub(r"^([01xz])\1*", r"\1", value)

    def flat(values, code):
        return {(time, code[key]): widened(value) for time, of in values.items() for key, value in of.items()}
    first = {(min(values), code[key]): widened(value) for key, value in values[min(values)].items()}
    ours_flat, theirs_flat = flat(values, code), flat(read, {key: key for key in again})
    for key in set(ours_flat) ^ set(theirs_flat):
        faults.append(f"only one of run.vcd and vcd2fst has a change at {key}")
    for key in set(ours_flat) & set(theirs_flat):
        expect(theirs_flat[key], ours_flat[key], f"value at {key}")
    expect(len(first), len(names), "values at the start")

    # The address stands from a quarter into the cycle on, the data at its end: 4 quarters of 25 units at 1 MHz.
    address = next(key for key, name in names.items() if name == "A [15:0]")
    data = next(key for key, name in names.items() if name == "D [7:0]")
    wanted = {}
    for cycle in cycles:
        let_go = "z" * 16 if cycle["ba"] else f"{cycle['address']:016b}"
        wanted[100 * cycle["cycle"] + 25, address] = let_go
        wanted[100 * cycle["cycle"] + 100, data] = f"{cycle['data']:08b}" if cycle["driven"] else "z" * 8
    state, shown = {}, {}
    for time in sorted(set(values) | {time for time, _ in wanted}):
        state.update(values.get(time, {}))
        shown.update({(time, key): state.get(key) for key in (address, data) if (time, key) in wanted})
    expect(shown == wanted, True, "the bus in run.vcd is that of the trace")


def check(prewire, machine):
    with tempfile.TemporaryDirectory() as place:
        folder = pathlib.Path(place)

        def run(*options):
            out = tool(prewire, "run", machine, "--for", SPAN, "--json", "--no-wall-time", *options, cwd=folder)
            document = json.loads(out)
            for each in document["summary"]["files"]:
                if not (folder / each["file"]).exists():
                    faults.append(f"the summary names {each['file']}, which is not there")
            return document["summary"]

        summary = run("--trace", "steps.jsonl", "--trace-of", "instructions", "--coverage", "run.info", "--profile",
                      "run.folded", "--profile", "run.txt", "--coverage", "listing.txt")
        expect([each["what"] for each in summary["files"]],
               ["trace", "coverage", "coverage", "profile", "profile"], "files of the summary")
        run("--trace", "steps.csv", "--trace-of", "instructions")
        run("--trace", "cycles.csv")
        run("--trace", "cycles.txt")
        run("--trace", "cycles.jsonl", "--waveform", "run.vcd", "--waveform-of", "CPU,PIA,ADC")
        steps, cycles = json_lines(folder / "steps.jsonl"), json_lines(folder / "cycles.jsonl")
        expect(len(cycles), summary["cycles"], "cycles in the trace")
        check_coverage(folder, steps)
        check_tables(folder, steps, cycles)
        check_profile(folder, summary["cycles"])
        check_waveform(folder, cycles)


for machine in sys.argv[2:]:
    check(pathlib.Path(sys.argv[1]).resolve(), pathlib.Path(machine).resolve())
for text in faults[:50]:
    print(text)
print(f"{len(faults)} faults in what was written of {len(sys.argv) - 2} runs")
sys.exit(1 if faults else 0)
