#!/usr/bin/env python3
"""Spoils a good lab in one place at a time and counts who notices.

Of each machine file of a lab, one wire is removed, swapped or shorted, or one instruction of its program is changed. A
mutant is caught if one of the lab's checks no longer passes. It is explained if `prewire check` or the lab partner in
`prewire run` says something that they do not say about the good lab, of which they may only give hints.
"""
import argparse
import concurrent.futures
import json
import pathlib
import random
import re
import shutil
import subprocess
import sys
import tempfile

KINDS = {
    "removed": "one end of a wire removed",
    "swapped": "ends of two wires swapped",
    "shorted": "two wires joined",
    "instruction": "one instruction changed or left out",
}
INPUTS = ["--set", "FLOAT=0.84V", "--set", "FLOAT=2.5V@100ms", "--set", "FLOAT=4.46V@200ms", "--for", "300ms"]

# Branches become their opposites; of the others an operand changes, or the instruction is left out.
OPPOSITE = {"bcs": "bcc", "bcc": "bcs", "beq": "bne", "bne": "beq", "blo": "bhs", "bhs": "blo", "bmi": "bpl", "bpl": "bmi"}
DIRECTIVES = {"equ", "org", "rmb", "fcb", "fdb", "fcc", "cpu", "end", "set", "setdp", "fill"}
LINE = re.compile(r"^(?P<label>[A-Za-z_.][\w.]*:?)?\s+(?P<word>[A-Za-z0-9]+)(?P<gap>\s*)(?P<operand>[^;\s]*)")


def wiring_mutants(machine):
    """A range of pins such as PIA.PA0..PA7 counts as one end."""
    wires = machine["wires"]

    def with_wires(change):
        changed = json.loads(json.dumps(machine))
        change(changed["wires"])
        changed["wires"] = [wire for wire in changed["wires"] if len(wire) > 1]
        return json.dumps(changed, indent=2)

    for at, wire in enumerate(wires):
        for end, pin in enumerate(wire):
            yield "removed", f"{pin} off {' - '.join(wire)}", with_wires(lambda w, at=at, end=end: w[at].pop(end))
    for at in range(len(wires)):
        other = (at + 1) % len(wires)
        one, two = wires[at][-1], wires[other][-1]
        if one == two or (".." in one) != (".." in two):
            continue

        def swap(w, at=at, other=other):
            w[at][-1], w[other][-1] = w[other][-1], w[at][-1]

        yield "swapped", f"{one} for {two}", with_wires(swap)
        if ".." not in one and ".." not in two:
            yield "shorted", f"{one} with {two}", with_wires(lambda w, one=one, two=two: w.append([one, two]))


def program_mutants(source):
    lines = source.splitlines()
    for at, line in enumerate(lines):
        match = LINE.match(line)
        if not match or match["word"].lower() in DIRECTIVES:
            continue
        word, operand = match["word"].lower(), match["operand"]
        head = line[: match.start("word")]
        rest = line[match.end():]
        if word in OPPOSITE:
            changed = f"{head}{OPPOSITE[word]}{match['gap']}{operand}{rest}"
            yield "instruction", f"line {at + 1}: {word} becomes {OPPOSITE[word]}", lines[:at] + [changed] + lines[at + 1:]
        elif operand.startswith("#"):
            changed = f"{head}{match['word']}{match['gap']}{operand}+1{rest}"
            yield "instruction", f"line {at + 1}: {operand} becomes {operand}+1", lines[:at] + [changed] + lines[at + 1:]
        label = match["label"] or ""
        yield "instruction", f"line {at + 1}: {word} left out", lines[:at] + [label] + lines[at + 1:]


def mutants(folder, machine_name):
    machine = json.loads((folder / machine_name).read_text())
    for kind, what, text in wiring_mutants(machine):
        yield kind, what, machine_name, text
    program = machine["program"][0]
    for kind, what, lines in program_mutants((folder / program).read_text()):
        yield kind, what, program, "\n".join(lines) + "\n"


def judge(prewire, folder, machine, file, text):
    """(caught, {id: weight} of what is said)"""
    with tempfile.TemporaryDirectory() as place:
        lab = pathlib.Path(place) / "lab"
        shutil.copytree(folder, lab, ignore=shutil.ignore_patterns("*.s19", "*.lst", "*.sym", "CMakeLists.txt"))
        if file:
            (lab / file).write_text(text)
        for check in lab.glob("*.check.json"):  # each lab is judged on its own
            document = json.loads(check.read_text())
            named = document["machine"] if isinstance(document["machine"], list) else [document["machine"]]
            if machine not in named:
                check.unlink()
                continue
            document["machine"] = machine
            check.write_text(json.dumps(document))

        def run(*arguments):
            return subprocess.run([prewire, *arguments], cwd=lab, capture_output=True, text=True, timeout=120)

        tested = run("test", "--quiet", "--max-wall", "20s", ".")
        caught = tested.returncode != 0
        ids = {}
        checked = json.loads(run("check", "--json", machine).stdout)["machines"][0]
        ids.update((fault["id"], fault["weight"]) for fault in checked["faults"])
        ran = run("run", machine, "--run-faulty", "--json", *INPUTS)
        if ran.stdout:
            ids.update((finding["id"], finding["weight"]) for finding in json.loads(ran.stdout)["findings"])
        if not ran.stdout and ran.returncode == 3:
            ids["refused"] = "stop"
        return caught, ids


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("prewire", type=pathlib.Path)
    parser.add_argument("lab", type=pathlib.Path, help="folder with machine files, programs and checks")
    parser.add_argument("machines", nargs="+", help="machine files in it")
    parser.add_argument("--sample", type=int, metavar="COUNT", help="so many of them, chosen by --seed")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--survivors", action="store_true", help="list what no check has caught and nothing explains")
    parser.add_argument("--least", type=int, default=0, metavar="PERCENT", help="fail if the checks catch fewer")
    options = parser.parse_args()
    prewire = options.prewire.resolve()

    usual = {}
    for machine in options.machines:
        caught, ids = judge(prewire, options.lab, machine, None, None)
        if caught or any(weight != "hint" for weight in ids.values()):
            sys.exit(f"{machine}: the good lab is not good: checks {'fail' if caught else 'pass'}, said: {sorted(ids)}")
        usual[machine] = set(ids)

    work = [(machine, *mutant) for machine in options.machines for mutant in mutants(options.lab, machine)]
    if options.sample:
        work = random.Random(options.seed).sample(work, min(options.sample, len(work)))
    with concurrent.futures.ThreadPoolExecutor(options.jobs) as pool:
        judged = list(pool.map(lambda w: judge(prewire, options.lab, w[0], w[3], w[4]), work))
    results = [(caught, set(ids) - usual[w[0]]) for w, (caught, ids) in zip(work, judged)]

    print("| Lab | Change | Mutants | Caught by the checks | Explained | Neither |")
    print("|---|---|---:|---:|---:|---:|")
    all_caught = 0
    for machine in options.machines:
        for kind, name in KINDS.items():
            mine = [result for job, result in zip(work, results) if job[0] == machine and job[1] == kind]
            caught = sum(1 for c, _ in mine if c)
            explained = sum(1 for _, ids in mine if ids)
            neither = sum(1 for c, ids in mine if not c and not ids)
            all_caught += caught
            if mine:
                print(f"| {machine} | {name} | {len(mine)} | {caught} | {explained} | {neither} |")
    if options.survivors:
        print()
        for job, (caught, ids) in zip(work, results):
            if not caught and not ids:
                print(f"{job[0]}: {job[2]}")
    if all_caught * 100 < options.least * len(work):
        sys.exit(f"the checks catch {all_caught} of {len(work)}, fewer than {options.least} %")


if __name__ == "__main__":
    main()
