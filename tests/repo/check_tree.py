#!/usr/bin/env python3
"""Checks on the tree itself: who includes whom, what every chip comes with, what docs must name.

Usage: check_tree.py ROOT PREWIRE, where PREWIRE is the built command.
"""
import json
import pathlib
import re
import subprocess
import sys

root = pathlib.Path(sys.argv[1])
prewire = sys.argv[2]
faults = []


def fault(text):
    faults.append(text)


def sources(folder):
    return [p for p in sorted((root / folder).rglob("*")) if p.suffix in (".h", ".cc", ".def")]


# Rooms: what each may include, by the first part of a quoted or bracketed project include.
core_rooms = {"asm", "bus", "clock", "cpu", "description", "history", "image", "lab", "machine", "partner", "units",
              "watch", "wire"}
forbidden_in_core = re.compile(r"#include <(SDL|spdlog/|thread|mutex|coroutine|expected|source_location|format|ranges|"
                               r"sys/|unistd|chrono)")
for path in sources("core") + sources("peripherals"):
    for number, line in enumerate(path.read_text().splitlines(), 1):
        where = f"{path.relative_to(root)}:{number}"
        if forbidden_in_core.search(line):
            fault(f"{where}: core and peripherals stay portable: {line.strip()}")
        if re.match(r'#include "(shared|cli|debug|handout|desk)/', line):
            fault(f"{where}: the library knows no front end")
        if path.is_relative_to(root / "core") and re.match(r'#include ["<](prewire/)?chips\.h', line):
            fault(f"{where}: core knows no chip")
        if path.is_relative_to(root / "core/include") and re.match(r"#include <(nlohmann|fmt)", line):
            fault(f"{where}: public headers need only the standard library")
for path in sources("peripherals") + sources("frontend"):
    for number, line in enumerate(path.read_text().splitlines(), 1):
        match = re.match(r'#include "([a-z]+)/', line)
        if match and match.group(1) in core_rooms:
            fault(f"{path.relative_to(root)}:{number}: only public headers of core: {line.strip()}")

# Rooms of frontend: what each may include of the others, rooms or single files. `cli/main.cc` alone knows the console.
front_ends = {
    "shared": set(),
    "handout": set(),
    "debug": {"shared"},
    "cli": {"shared", "handout"},
    "cli/commands": {"shared", "handout", "cli", "cli/image"},
    "cli/grade": {"shared", "handout", "cli", "cli/test"},
    "cli/image": {"shared", "handout", "cli"},
    "cli/run": {"shared", "cli"},
    "cli/test": {"shared", "handout", "cli"},
    "cli/main.cc": {"shared", "cli", "debug/debug_command.h"},
    "desk": {"shared", "desk/session", "desk/view", "desk/panels", "desk/paint"},
    "desk/session": {"shared"},
    "desk/view": {"desk/session"},
    "desk/panels": {"desk/view"},
    "desk/paint": {"shared", "desk/panels/painter.h", "desk/panels/geometry.h"},
}


def room_of(path):
    """The innermost room that a path under frontend lies in."""
    for room in (path, *path.parents):
        if room.as_posix() in front_ends:
            return room.as_posix()
    return None


screen = re.compile(r"#include <SDL")
for path in sources("frontend"):
    name = path.relative_to(root / "frontend")
    room, home = room_of(name), room_of(name.parent)
    if room is None:
        fault(f"frontend/{name}: not in a room of its own")
        continue
    for number, line in enumerate(path.read_text().splitlines(), 1):
        where = f"frontend/{name}:{number}"
        if screen.match(line) and room not in ("desk", "desk/paint"):
            fault(f"{where}: {room} knows no screen")
        match = re.match(r'#include "([^"]+)"', line)
        if not match or match.group(1).startswith("prewire/"):
            continue
        if not (path.parent / match.group(1)).exists() and not (root / "frontend" / match.group(1)).exists():
            fault(f"{where}: no such file, seen from here or from frontend: {line.strip()}")
            continue
        beside = (path.parent / match.group(1)).exists()
        known = name.parent / match.group(1) if beside else pathlib.PurePath(match.group(1))
        if ".." in known.parts:
            fault(f"{where}: written from frontend on, not with dots")
        elif room_of(known) not in front_ends[room] | {home} and known.as_posix() not in front_ends[room]:
            fault(f"{where}: {room} may not know {known}")

# Rooms of core: an arrow may only point down.
below = {
    "units": set(),
    "clock": set(),
    "wire": {"clock"},
    "watch": {"clock"},
    "bus": {"clock", "watch"},
    "cpu": {"bus", "clock", "watch", "wire"},
    "image": set(),
    "asm": {"cpu", "image"},
    "partner": {"cpu"},
    "description": {"asm", "bus", "cpu", "image", "units"},
    "machine": {"bus", "clock", "cpu", "description", "units", "watch", "wire"},
    "history": {"bus", "clock", "cpu", "description", "machine", "units", "watch", "wire"},
    "lab": {"asm", "bus", "clock", "description", "machine", "units", "watch", "wire"},
}
for path in sources("core"):
    room = path.relative_to(root / "core").parts[0]
    for number, line in enumerate(path.read_text().splitlines(), 1):
        match = re.match(r'#include "([a-z]+)/', line)
        if room in below and match and match.group(1) in core_rooms - below[room] - {room}:
            fault(f"{path.relative_to(root)}:{number}: {room} may not know {match.group(1)}")
        if room == "asm" and match and match.group(1) == "cpu" and "cpu/instruction.h" not in line:
            fault(f"{path.relative_to(root)}:{number}: of cpu asm may know the instruction tables only")
        if room == "description" and "prewire/machine.h" in line:
            fault(f"{path.relative_to(root)}:{number}: a description knows nothing that runs")
        if room == "partner" and match and match.group(1) == "cpu" and "cpu/instruction.h" not in line:
            fault(f"{path.relative_to(root)}:{number}: of cpu the partner may know the instruction tables only")

# Every chip source has its doc page and its test; every type and every event stands on the page.
types = json.loads(subprocess.run([prewire, "list", "chips", "--json"], check=True, capture_output=True, text=True).stdout)
pages = {p.stem: p.read_text() for p in (root / "docs/chips").glob("*.md")}
for path in sorted((root / "peripherals").glob("*.cc")):
    if path.stem in ("chips", "rules"):
        continue
    page = path.stem.replace("_", "-")
    if page not in pages:
        fault(f"docs/chips/{page}.md is missing")
    if not (root / f"tests/unit/chip_{path.stem}_test.cc").exists():
        fault(f"tests/unit/chip_{path.stem}_test.cc is missing")
everything = "\n".join(pages.values())
for chip in types["chips"]:
    for word in [chip["type"], *chip.get("events", []), *(p["name"] for p in chip.get("parameters", []))]:
        if f"`{word}`" not in everything:
            fault(f"docs/chips: nothing names `{word}` (of {chip['type']})")

# Every fault and finding that a source can report is explained.
docs = "\n".join(p.read_text() for p in (root / "docs").rglob("*.md"))
ids = set()
for path in sources("core") + sources("peripherals") + sources("frontend"):
    text = path.read_text()
    ids |= set(re.findall(r'(?:report|finding|input_fault|fault|say|tell|\badd)\(\s*"([a-z0-9]+(?:-[a-z0-9]+)+)"', text))
    ids |= set(re.findall(r'\.id = "([a-z0-9]+(?:-[a-z0-9]+)+)"', text))
for name in sorted(ids):
    if f"`{name}`" not in docs:
        fault(f"docs: nothing explains `{name}`")

# The page of the console names every command.
console = subprocess.run([prewire, "debug", root / "tests/cli/data/basin.json"], input="help\n", check=True,
                         capture_output=True, text=True).stdout
commands = re.findall(r"^  ([a-z]+)\b", console, re.M)
if len(commands) < 20:
    fault("prewire debug: `help` lists no commands")
page = (root / "docs/debug.md").read_text()
for name in commands:
    if not re.search(rf"`{name}\b", page):
        fault(f"docs/debug.md: nothing names `{name}`")

# Every rule has its paragraph on the partner's page, and nothing finds fault without a rule. Faults of data are no rules.
rules = {r["id"]: r for r in
         json.loads(subprocess.run([prewire, "rules", "--json"], check=True, capture_output=True, text=True).stdout)["rules"]}
page = (root / "docs/lab-partner.md").read_text() if (root / "docs/lab-partner.md").exists() else ""
for name, rule in rules.items():
    if not re.search(rf"\*\*`{name}`\*\* \({rule['weight']}\)" if rule["by"] == "partner" else rf"`{name}`", page):
        fault(f"docs/lab-partner.md: no paragraph on `{name}` ({rule['weight']})")
said = set()
for path in [p for p in sources("core/bus") + sources("core/machine") + sources("core/partner") + sources("peripherals")
             if p.name != "rules.cc"]:
    text = path.read_text()
    if path.is_relative_to(root / "core/machine"):
        text = "\n".join(re.findall(r"findings\.report.*", text))
    said |= set(re.findall(r'(?:report|finding|say|tell)\(\s*(?:\w+(?:\(\))?,\s*)?"([a-z0-9]+(?:-[a-z0-9]+)+)"', text))
for name in sorted(said - set(rules)):
    fault(f"core/partner/rules.cc or peripherals/rules.cc: no rule for `{name}`")

# The published schemas are what the program prints.
for kind in ("machine", "check"):
    name = f"docs/schema/{kind}.schema.json"
    printed = subprocess.run([prewire, "schema", kind], check=True, capture_output=True, text=True).stdout
    if not (root / name).exists() or (root / name).read_text() != printed:
        fault(f"{name} is not current: run `prewire schema {kind} > {name}`")

# Links between pages lead somewhere, and README leads to every guide.
linked = set()
for path in [root / "README.md", root / "DEVELOPERS.md", *sorted((root / "docs").rglob("*.md"))]:
    for target in re.findall(r"\]\(([^)#\s]+)(?:#[^)]*)?\)", path.read_text()):
        if "://" in target:
            continue
        if not (path.parent / target).exists():
            fault(f"{path.relative_to(root)}: no such file: {target}")
        if path.name == "README.md":
            linked.add((path.parent / target).resolve())
for page in sorted((root / "docs").glob("*.md")):
    if page.resolve() not in linked:
        fault(f"{page.relative_to(root)}: README does not link it")

# Top level: nothing but what belongs there.
allowed = {"CMakeLists.txt", "CMakePresets.json", "README.md", "DEVELOPERS.md", "LICENSE", "core", "peripherals",
           "frontend", "tests", "scenarios", "docs", "build"}
for path in root.iterdir():
    if path.name not in allowed and not path.name.startswith("."):
        fault(f"{path.name}: not a place of its own at the top level")

for text in faults:
    print(text)
print(f"{len(faults)} faults in the tree")
sys.exit(1 if faults else 0)
