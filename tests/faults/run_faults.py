#!/usr/bin/env python3
"""Labs with one learner's fault each, and odd programs that are right: what does Prewire say about them?

A case is a text file in faults/ or correct/: a title, a blank line, keys, a blank line, then what is changed in the good lab
of machines/. README.md here describes the form. Each case is built in a folder of its own, looked at by `prewire check` and
`prewire run`, and judged:

  explained   what is said first is a right cause, and names the place
  later       the right cause is said, but something else comes first
  wrong       something is said, and the right cause is not among it
  silent      nothing is said

A correct program must do its job, and hear nothing of weight warn or stop.
"""
import argparse
import collections
import concurrent.futures
import json
import pathlib
import re
import shutil
import subprocess
import sys
import tempfile

HERE = pathlib.Path(__file__).resolve().parent
MANY = {"shows", "set"}  # keys that may stand several times
KEYS = {
    "machine", "class", "visible", "first", "names", "set", "for", "shows", "looks", "inputs", "folder", "why"}
VERDICTS = ["explained", "later", "wrong", "silent"]


class Broken(Exception):
    """The case itself is wrong, whatever Prewire says."""


# --- reading -----------------------------------------------------------------------------------------------------------


def read_case(path):
    """Title, keys and changes; a change is ("@" or "=", file, lines)."""
    lines = path.read_text().splitlines()
    case = {"name": path.stem, "kind": path.parent.name, "title": lines[0], "changes": [], "set": [], "shows": []}
    at = 2
    while at < len(lines) and lines[at].strip():
        key, colon, value = lines[at].partition(":")
        if not colon or key not in KEYS:
            raise Broken(f"{path}:{at + 1}: no key: {lines[at]}")
        if key in MANY:
            case[key].append(value.strip())
        elif key in case:
            raise Broken(f"{path}:{at + 1}: {key} stands twice")
        else:
            case[key] = value.strip()
        at += 1
    for number, line in enumerate(lines[at:], at + 1):
        if line[:2] in ("@ ", "= "):
            case["changes"].append((line[0], line[2:].strip(), []))
        elif case["changes"]:
            case["changes"][-1][2].append(line)
        elif line.strip():
            raise Broken(f"{path}:{number}: a change begins with '@ FILE' or '= FILE'")
    return case


def read_labs():
    labs = {}
    for path in sorted((HERE / "machines").glob("*/lab.txt")):
        lab = read_case(path)
        lab["folder"] = (path.parent / lab.get("folder", ".")).resolve()
        labs[path.parent.name] = lab
    return labs


def plain(line):
    return " ".join(line.split())


def patched(text, hunk, where):
    """The text with the lines of the hunk replaced; runs of blanks do not count when lines are compared."""
    lines = text.splitlines()
    old = [plain(line[1:]) for line in hunk if line[0] in " -"]
    if not old:
        raise Broken(f"{where}: a change without a line that says where")
    plains = [plain(line) for line in lines]
    places = [at for at in range(len(lines)) if plains[at:at + len(old)] == old]
    if len(places) != 1:
        raise Broken(f"{where}: matches {len(places)} times: {old[0]}")
    new, at = [], places[0]
    for line in hunk:
        if line[0] == "+":
            new.append(line[1:])
        else:
            if line[0] == " ":
                new.append(lines[at])
            at += 1
    return "\n".join(lines[:places[0]] + new + lines[at:]) + "\n"


def hunks(lines, where):
    hunk = []
    for line in [*lines, ""]:
        again = line[:1] == "-" and any(one[0] == "+" for one in hunk) and hunk[0][0] != "+"
        if (not line or again) and hunk:
            yield hunk
            hunk = []
        if not line:
            continue
        if line[0] in " -+":
            hunk.append(line)
        else:
            raise Broken(f"{where}: lines of a change begin with a blank, '-' or '+': {line}")


def build(case, lab, place):
    """The case's lab in the folder `place`."""
    shutil.copytree(lab["folder"], place, ignore=shutil.ignore_patterns("*.check.json", "lab.txt", "CMakeLists.txt"))
    for kind, name, lines in case["changes"]:
        where, file = f"{case['name']}, {name}", place / name
        if kind == "=":
            file.write_text("\n".join(lines) + "\n")
            continue
        if not file.exists():
            raise Broken(f"{where}: there is no such file")
        text = file.read_text()
        for hunk in hunks(lines, where):
            text = patched(text, hunk, where)
        file.write_text(text)


# --- what Prewire says -------------------------------------------------------------------------------------------------


def said(checked, ran):
    """All that is said, in the order in which a person meets it: {id, weight, text}. The first one is "what went wrong
    first". This function alone knows the form of the documents."""
    faults = checked["machines"][0]["faults"]

    def fault(f):
        return {"id": f["id"], "weight": f["weight"], "text": "\n".join(
            [f"{f.get('file', '')}:{f.get('line', '')}:"] + [str(f.get(k, "")) for k in ("pointer", "what", "found", "hint")])}

    def finding(f):
        return {"id": f["id"], "weight": f["weight"], "text": "\n".join(
            [f"{f.get('source') or ''}:"] + [str(f.get(k, "")) for k in ("message", "hint")])}

    static = [fault(f) for f in faults]
    dynamic = [finding(f) for f in ran["findings"]] if ran else []
    told = [f for weight in ("stop", "warn") for f in static if f["weight"] == weight]
    told += [f for f in dynamic if f["weight"] != "hint"]
    told += [f for f in static + dynamic if f["weight"] == "hint"]
    cause = ran.get("first_cause") if ran else None
    first = [f for f in told if cause and f["id"] == cause["id"] and cause["message"] in f["text"]]
    return first[:1] + [f for f in told if f not in first[:1]]


def pictures(ran):
    """Moments in ms and what is shown from then on: [(ms, part, text)]."""
    for event in ran["timeline"]:
        if event["event"] == "display":
            yield event["ms"], event["display"], event["text"].strip()
        elif event["event"] == "led":
            yield event["ms"], event["led"], "on" if event["on"] else "off"


def unmet(shows, ran):
    """What of `at 90ms SPEED=2 FAN1=on` is not so."""
    missed = []
    for line in shows:
        moment = re.fullmatch(r"at (\d+)ms (.+)", line)
        if not moment:
            raise Broken(f"cannot read what it shows: {line}")
        seen = {}
        for ms, part, text in pictures(ran):
            if ms <= int(moment[1]):
                seen[part] = text
        for what in moment[2].split():
            part, _, text = what.partition("=")
            found = seen.get(part, "off" if text in ("on", "off") else "")
            if found != text:
                missed.append(f"at {moment[1]} ms {part} is \"{found}\", not \"{text}\"")
    return missed


def finding_lines(text):
    """Lines of findings in what `prewire run` prints: from the word on to the last line that is set in beneath it."""
    count, inside = 0, False
    for line in text.splitlines():
        inside = bool(re.match(r" *[\d.]+ ms  finding |finding |cause |\S+:\d+:\d+: (warn|stop)", line)) or (
            inside and line.startswith("    ") and not re.match(r" *[\d.]+ ms ", line))
        count += inside
    return count


def run_case(prewire, case, labs):
    lab = labs[case["machine"]]
    result = {"case": case, "said": [], "lines": 0, "unmet": [], "broken": None}
    with tempfile.TemporaryDirectory() as folder:
        place = pathlib.Path(folder) / "lab"
        try:
            build(case, lab, place)
        except Broken as broken:
            result["broken"] = str(broken)
            return result

        def prewire_says(*arguments):
            done = subprocess.run([prewire, *arguments], cwd=place, capture_output=True, text=True, timeout=120, errors="replace")
            if done.returncode in (1, 2) or done.returncode < 0:
                result["broken"] = f"prewire {' '.join(arguments)}: status {done.returncode}: {done.stderr.strip()[:400]}"
            return done

        inputs = [] if case.get("inputs") == "none" else ["--stimulus", lab["inputs"]]
        for one in case["set"]:
            inputs += ["--set", one]
        common = ["run", lab["machine"], *inputs, "--for", case.get("for", lab["for"]), "--no-wall-time"]
        checked = prewire_says("check", "--json", lab["machine"])
        ran = prewire_says(*common, "--run-faulty", "--json")
        text = prewire_says(*common)
        if result["broken"]:
            return result
        document = json.loads(ran.stdout) if ran.stdout else None
        result["said"] = said(json.loads(checked.stdout), document)
        result["lines"] = finding_lines(text.stderr) + finding_lines(text.stdout)
        result["refused"] = text.returncode == 3
        try:
            result["unmet"] = unmet(case["shows"] or lab["shows"], document) if document else ["it does not run"]
            if "first" in case:
                judge(case, place, result, lab.get("usual", set()))
        except Broken as broken:
            result["broken"] = f"{case['name']}: {broken}"
    return result


def places(names, place):
    """Texts of which one must stand in the message. `line TEXT` is the file and number of each line that begins so,
    its label aside."""
    for name in names.split("|"):
        name = name.strip()
        if not name.startswith("line "):
            yield name
            continue
        wanted, found = plain(name[5:]) + " ", False
        for file in sorted(place.glob("*.asm")):
            for number, line in enumerate(file.read_text().splitlines(), 1):
                words = plain(line) + " "
                if words.startswith(wanted) or words.partition(" ")[2].startswith(wanted):
                    found = True
                    yield f"{file.name}:{number}"
        if not found:
            raise Broken(f"no line begins with: {wanted}")


def words(saying):
    """What is said, without the place."""
    return saying["id"], saying["text"].partition("\n")[2]


def judge(case, place, result, usual):
    """`usual`: what is said of the good lab, too, which are hints at most."""
    causes = case["first"].split()
    names = list(places(case["names"], place))

    def right(saying):
        text = saying["text"].replace("\n", " ")

        def stands(name):
            return re.search(r"(?<![\w.$])" + re.escape(name) + r"(?!\w)", text)

        def named(name):  # PIA.CA1 may be written as "CA1 of PIA"
            chip, dot, pin = name.partition(".")
            return stands(name) or (dot and ":" not in name and stands(chip) and stands(pin))

        return saying["id"] in causes and any(named(name) for name in names)

    heard = [s for s in result["said"] if words(s) not in usual]
    if not heard:
        result["verdict"] = "silent"
    elif right(heard[0]):
        result["verdict"] = "explained"
    elif any(right(s) for s in heard):
        result["verdict"] = "later"
    else:
        result["verdict"] = "wrong"


# --- what is reported --------------------------------------------------------------------------------------------------


def percent(part, whole):
    return f"{100 * part // whole} %" if whole else "-"


def table(results):
    faults = [r for r in results if r["case"]["kind"] == "faults"]
    good = [r for r in results if r["case"]["kind"] == "correct"]
    print("| Faults of | Labs | Explained | Right cause not first | Wrong cause | Silent |")
    print("|---|---:|---:|---:|---:|---:|")

    def row(name, some):
        counts = collections.Counter(r["verdict"] for r in some)
        print(f"| {name} | {len(some)} | " + " | ".join(str(counts[v]) for v in VERDICTS) + " |")

    visible = [r for r in faults if r["case"]["visible"] == "yes"]
    for name in sorted({r["case"]["class"] for r in visible}):
        row(name, [r for r in visible if r["case"]["class"] == name])
    row("all that can be seen without knowing what is meant", visible)
    row("those that only the intent tells", [r for r in faults if r["case"]["visible"] == "no"])
    print()
    print(f"Explained by the right first cause: {percent(explained(results), len(visible))} of the faults that can be seen "
          "without knowing what is meant.")
    longest = max(results, key=lambda r: r["lines"], default=None)
    if longest:
        print(f"Longest output: {longest['lines']} lines of findings ({longest['case']['name']}).")
    if good:
        loud = [r for r in good if heavy(r)]
        print(f"Correct programs: {len(good)}, of which {len(loud)} hear something of weight warn or stop.")


def heavy(result):
    return [s for s in result["said"] if s["weight"] != "hint"]


def explained(results):
    return sum(1 for r in results if r.get("verdict") == "explained" and r["case"]["visible"] == "yes")


def known_ids(prewire):
    rules = {r["id"] for r in json.loads(subprocess.run([prewire, "rules", "--json"], capture_output=True, text=True).stdout)["rules"]}
    documented = set()
    for page in ("machine-file.md", "assembler.md", "images.md"):
        documented |= set(re.findall(r"^\| `([a-z0-9-]+)` \|", (HERE.parents[1] / "docs" / page).read_text(), re.M))
    proposed = {line.split()[0] for line in (HERE / "proposed.txt").read_text().splitlines() if line and line[0] != "#"}
    return rules | documented, proposed


def complaints(results, prewire):
    """What is wrong with the corpus itself."""
    known, proposed = known_ids(prewire)
    for r in results:
        case = r["case"]
        if r["broken"]:
            yield r["broken"]
            continue
        if case["kind"] == "correct":
            if r["unmet"]:
                yield f"{case['name']}: is said to be correct, and does not do its job: {'; '.join(r['unmet'][:3])}"
            continue
        for id in case["first"].split():
            if id not in known and id not in proposed and case["visible"] == "yes":
                yield f"{case['name']}: there is no rule {id}, nor is it proposed"
        if not (r["unmet"] or r["refused"] or "looks" in case):
            yield f"{case['name']}: nothing in it fails"
    for id in sorted(proposed & known):
        yield f"proposed.txt: {id} is a rule now"


def detail(r):
    case = r["case"]
    print(f"{case['kind']}/{case['name']}: {case['title']}")
    for miss in r["unmet"]:
        print(f"    shows     {miss}")
    for s in r["said"][:12]:
        print(f"    said      {s['weight']} {s['id']}: {plain(s['text'])[:260]}")
    if len(r["said"]) > 12:
        print(f"    said      and {len(r['said']) - 12} more")
    if "first" in case:
        print(f"    expected  {case['first']} naming {case['names']}: {r.get('verdict')}")


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("prewire", type=pathlib.Path)
    parser.add_argument("--only", metavar="NAME", action="append", help="cases whose names contain this")
    parser.add_argument("--list", action="store_true", help="a line for each case: verdict, what was said first")
    parser.add_argument("--verbose", action="store_true", help="what each case shows and hears")
    parser.add_argument("--table", action="store_true", help="the table of docs/quality.md")
    parser.add_argument("--least", type=int, metavar="PERCENT", help="fail if fewer are explained by the right first cause")
    parser.add_argument("--most-lines", type=int, metavar="COUNT", help="fail if a run prints more lines of findings")
    parser.add_argument("--quiet-when-correct", action="store_true", help="fail if a correct program hears warn or stop")
    parser.add_argument("--good", action="store_true", help="the good labs themselves, and the good labs with each case's inputs")
    parser.add_argument("--jobs", type=int, default=2)
    options = parser.parse_args()
    prewire = options.prewire.resolve()

    labs = read_labs()
    cases = [read_case(path) for kind in ("faults", "correct") for path in sorted((HERE / kind).glob("*.txt"))]
    if options.only:
        cases = [c for c in cases if any(only in c["name"] for only in options.only)]
    for case in cases:
        for key in ("machine",) if case["kind"] == "correct" else ("machine", "class", "visible", "first", "names"):
            if key not in case:
                sys.exit(f"{case['name']}: {key} is missing")
        if case["machine"] not in labs:
            sys.exit(f"{case['name']}: there is no machine {case['machine']}")
        if case["kind"] == "correct" and not case["shows"] and case["changes"] and case["changes"][0][0] == "=":
            sys.exit(f"{case['name']}: a whole program has to say what it shows")
    # The good labs are always looked at: what is said of them would be said of all their cases.
    good = [{"name": name, "kind": "correct", "title": lab["title"], "machine": name, "changes": [], "set": [],
             "shows": []} for name, lab in labs.items()]
    if options.good:
        cases = good + [{**c, "kind": "correct", "changes": [], "first": ""} for c in cases
                        if c["kind"] == "faults" and (c["shows"] or c["set"]) and not any(k == "=" for k, _, _ in c["changes"])]
        for c in cases:
            c.pop("first", None)
    elif not options.only:
        cases = good + cases

    for case in good:
        labs[case["machine"]]["usual"] = {words(s) for s in run_case(prewire, case, labs)["said"] if s["weight"] == "hint"}
    with concurrent.futures.ThreadPoolExecutor(options.jobs) as pool:
        results = list(pool.map(lambda case: run_case(prewire, case, labs), cases))

    bad = list(complaints(results, prewire))
    whole = [r for r in results if not r["broken"]]
    if options.verbose:
        for r in whole:
            detail(r)
    if options.list:
        for r in whole:
            first = f"{r['said'][0]['weight']} {r['said'][0]['id']}" if r["said"] else ""
            verdict = r.get("verdict") or ("loud" if heavy(r) else "quiet")
            print(f"{verdict:10} {r['case']['name']:34} {r['lines']:5} {first:34} {r['case'].get('first', '')}")
    if options.table:
        table(whole)
    visible = [r for r in whole if r["case"].get("visible") == "yes"]
    if options.least is not None and explained(whole) * 100 < options.least * len(visible):
        bad.append(f"explained by the right first cause: {explained(whole)} of {len(visible)}, fewer than {options.least} %")
    for r in whole:
        if options.most_lines and r["lines"] > options.most_lines:
            bad.append(f"{r['case']['name']}: {r['lines']} lines of findings, more than {options.most_lines}")
        if options.quiet_when_correct and r["case"]["kind"] == "correct" and heavy(r):
            bad.append(f"{r['case']['name']} is correct and hears {heavy(r)[0]['id']}: {plain(heavy(r)[0]['text'])[:200]}")
    for line in bad:
        print(line, file=sys.stderr)
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
