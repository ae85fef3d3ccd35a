#!/usr/bin/env python3
"""Every command gets names, paths and files with control characters, marks of writing direction, line separators and bytes
that are no UTF-8. Nothing of it may reach a terminal, a report or a table as it is.

    hostile_test.py PREWIRE [PREWIRE-DESK]

What must not be there is taken from Python's copy of the Unicode character database.
"""
import csv
import io
import json
import os
import pathlib
import re
import shutil
import subprocess
import sys
import tempfile
import unicodedata
import xml.etree.ElementTree

FORGED = "forged: line"
# A colour, the one-byte CSI, an override, an isolate, an Arabic letter mark, two separators, a tag, a byte order mark.
EVIL = "\x1b[31m\x07\x7f\u009b1m\u202e\u2066\u061c\u2028\u2029\U000e0041\ufeff"
EVIL_NAME = b"=lab\n" + FORGED.encode() + b"\t" + EVIL.encode() + b"\xff\xc3"

faults = []


def text_of(what, data):
    """The text, unless it is no UTF-8 or has in it what moves, colours, orders or ends lines."""
    try:
        text = data.decode()
    except UnicodeDecodeError as error:
        faults.append(f"{what}: no UTF-8: {error}")
        return ""
    for c in sorted(set(text)):
        category, direction = unicodedata.category(c), unicodedata.bidirectional(c)
        control = category == "Cc" and c not in "\n\t" and not (c == "\r" and ".csv" in what)
        ordering = direction in ("LRE", "RLE", "LRO", "RLO", "PDF", "LRI", "RLI", "FSI", "PDI") or c in "\u200e\u200f\u061c"
        if control or ordering or category in ("Zl", "Zp") or c == "\ufeff" or "\U000e0000" <= c <= "\U000e0fff":
            faults.append(f"{what}: U+{ord(c):04X} as it is")
    for line in text.split("\n"):
        if line.startswith(FORGED):
            faults.append(f"{what}: a line out of a name")
    return text


def no_formulas(what, text, columns):
    for row in list(csv.reader(io.StringIO(text)))[1:]:
        for column in columns:
            if row[column][:1] in ("=", "+", "-", "@", "\t", "\r"):
                faults.append(f"{what}: the cell {row[column]!r} is a formula")


def main():
    programs = [os.path.abspath(path) for path in sys.argv[1:]]
    outer = pathlib.Path(tempfile.mkdtemp(prefix="prewire-hostile-"))
    os.chdir(outer)
    lab = os.path.join(b".", EVIL_NAME)
    os.mkdir(lab)

    def at(name):
        return os.path.join(lab, name.encode() if isinstance(name, str) else name)

    def put(name, text):
        with open(at(name), "wb") as file:
            file.write(text if isinstance(text, bytes) else text.encode())

    source = ("        NAM     lab " + EVIL + "\n        CPU     mc6800\n        INCLUDE \"" + EVIL.replace("\x07", "") +
              ".inc\"\n        ORG     $F800\nstart:  LDAA    #1 ; " + EVIL + "\n        STAA    $0010\n        BSR     sub\n"
              "        BRA     start\nsub:    RTS\n        FILL    $FF,$FFF8-*\n        FDB     start,start,start,start\n")
    put("lab.asm", source)
    put(EVIL.replace("\x07", "") + ".inc", "; nothing\n")
    put("bad.asm", "        CPU     mc6800\n\tLDAA    " + EVIL + "\nx" + EVIL + "  NOP\n        INCLUDE \"" + EVIL + "\"\n")
    put("latin.asm", b"        CPU     mc6800\n        ORG $F800\nstart:  BRA start ; caf\xe9 \x9b31m\n")
    put("lab.json", json.dumps({
        "machine": "=lab\n" + FORGED + EVIL, "about": EVIL, "cpu": {"type": "mc6800", "clock": "1 MHz"},
        "chips": {"RAM": {"type": "mcm6810", "at": "$0000-$007F"}, "ROM": {"type": "2716", "at": "$F800-$FFFF"}},
        "program": ["lab.asm"]}))
    put("bad.json", json.dumps({
        "machine": EVIL, "cpu": {"type": EVIL, "clock": EVIL}, EVIL: 1,
        "chips": {"\n" + FORGED + EVIL: {"type": "2716"}, "A": {"type": EVIL, EVIL: 2}},
        "wires": [["A." + EVIL, EVIL], [EVIL]], "program": [EVIL, "\n" + FORGED], "display": EVIL}, ensure_ascii=False))
    put("odd.json", b"{ \"machine\": \"\xff\x1b" + EVIL.encode() + b"\" ")
    put("lab.check.json", json.dumps({
        "machine": "lab.json",
        "checks": [{"check": "=1+1", "tags": ["@" + EVIL], "for": "1 ms", "expect": [
            {"memory": "$0010", "is": "$01"}]},
            {"check": "-2", "for": "1 ms", "expect": [{"memory": "$0010", "is": "$02"}]},
            {"check": "@3", "for": "1 ms", "stimuli": [{"at": "0", "set": EVIL, "to": EVIL}], "expect": []}]}))
    put("bad.check.json", json.dumps({"machine": EVIL, "checks": [{"check": EVIL, EVIL: 1, "expect": [{"net": EVIL}]}]}))
    put("stimulus.json", json.dumps({"stimulus": [{"at": EVIL, "set": EVIL, "to": EVIL}, {"at": "1 ms", "set": EVIL, "to": "\n" + FORGED}]}))
    put("lab.key", "; " + EVIL + "\nF800: 86 01\n")
    put("bad.s19", "S1" + EVIL + "\nS9030000FC\n")
    put("script", "save " + EVIL.replace("\n", "") + "\nstates\nnet " + EVIL + "\n")
    put("more", EVIL + "\n")
    put("expect", "expect display=" + EVIL + "\n")

    def run(*arguments, stdin=None, program=0, raw=False):
        """Standard output as text; all that is written is looked at."""
        command = [programs[program].encode(), *(a if isinstance(a, bytes) else a.encode("utf-8", "surrogateescape") for a in arguments)]
        before = {p for p in os.listdir(lab)}
        environment = {"PATH": os.environ["PATH"], "LC_ALL": "C.UTF-8", "ASAN_OPTIONS": os.environ.get("ASAN_OPTIONS", "")}
        done = subprocess.run(command, stdin=open(at(stdin)) if stdin else subprocess.DEVNULL, capture_output=True,
                              env=environment, timeout=60, check=False)
        what = " ".join(ascii(a) for a in command[1:])
        if done.returncode not in (0, 2, 3, 4, 5):
            faults.append(f"{what}: exit status {done.returncode}: {done.stderr!r}")
        out = "" if raw else text_of(f"{what}: stdout", done.stdout)
        text_of(f"{what}: stderr", done.stderr)
        for name in sorted({p for p in os.listdir(lab)} - before):
            with open(os.path.join(lab, name), "rb") as file:
                if not name.endswith((b".bin", b".png")):
                    text_of(f"{what}: {name!r}", file.read())
        return out

    def read(name):
        with open(at(name), newline="", encoding="utf-8", errors="replace") as file:
            return file.read()

    evil = EVIL + "\n" + FORGED
    for name in ("lab.json", "bad.json", "odd.json", "none.json", evil):
        run("check", at(name))
        json.loads(run("check", "--map", "--json", at(name)))
        run("run", at(name), "--for", "1ms", "--no-wall-time", "--log", "debug")
        run("run", at(name), "--for", "1ms", "--quiet")
        json.loads(run("run", at(name), "--for", "1ms", "--json") or "{}")
        run("handout", at(name))
        run("debug", at(name), "--script", at("script"))
        run("disassemble", "--machine", at(name), "--bytes")
    run("check", "--map", at("lab.json"))
    for name in ("stimulus.json", "bad.json", "odd.json", "none"):
        run("run", at("lab.json"), "--stimulus", at(name))
    for option in ("--until", "--expect"):
        for text in (evil, "display=" + evil, "net:" + evil + "=low", "address=" + evil):
            run("run", at("lab.json"), "--for", "1ms", option, text)
    for option in ("--set", "--why", "--rule", "--for", "--root", "--partner", "--max-cycles", "--max-wall", "--max-memory", "--max-output",
                   "--log", "--trace-of", "--trace-range", "--trace-from", "--waveform-of", "--trace-kind", "--coverage", "--profile",
                   "--stimulus", "--trace", "--waveform", "--" + evil):
        run("run", at("lab.json"), option, evil, "--for", "1ms")
    for extension in ("txt", "csv", "jsonl"):
        run("run", at("lab.json"), "--for", "1ms", "--no-wall-time", "--trace", at("trace." + extension), "--trace-of", "instructions",
            "--trace-range", "sub", "--trace-from", "start")
    no_formulas("trace.csv", read("trace.csv"), (3, 5, 6))
    for line in read("trace.jsonl").splitlines():
        json.loads(line)
    run("run", at("lab.json"), "--for", "1ms", "--waveform", at("lab.vcd"), "--coverage", at("lab.info"), "--coverage", at("lab.txt"),
        "--profile", at("profile.txt"), "--profile", at("lab.folded"), "--why", "$0010", "--json")
    for line in read("lab.info").splitlines():
        if not re.match(r"(SF|FN|FNDA|FNF|FNH|BRDA|BRF|BRH|DA|LF|LH):|end_of_record$", line):
            faults.append(f"lab.info: {line!r} is no line of a tracefile")

    run("test", lab, "--junit", at("junit.xml"), "--csv", at("marks.csv"), "--html", at("marks.html"))
    for form in ("--tap", "--json", "--quiet"):
        run("test", lab, form)
    run("test", at("lab.check.json"), "--filter", evil)
    run("test", at("lab.check.json"), "--tag", evil)
    run("test", at("lab.check.json"), "--jobs", evil, "--shard", evil)
    run("test", at("none.check.json"))
    run("test", at("lab.check.json"), "--record", at("recorded.check.json"))
    no_formulas("marks.csv", read("marks.csv"), (0, 1, 2, 3, 7))
    xml.etree.ElementTree.parse(at("junit.xml").decode("utf-8", "surrogateescape"))
    tap = run("test", at("lab.check.json"), "--tap").splitlines()
    if any(not line.startswith(("TAP ", "1..", "ok ", "not ok ", "#")) for line in tap):
        faults.append(f"TAP: {tap}")

    for name in ("lab.asm", "bad.asm", "latin.asm", "none.asm", evil):
        run("assemble", at(name))
        run("assemble", at(name), "--listing", "-")
        run("assemble", at(name), "-o", at(name + ".s19"), "--listing", at(name + ".lst"), "--symbols", at(name + ".sym"))
        run("assemble", at(name), "-o", at(name + ".key"), "--cpu", evil)
    json.loads(read("lab.asm.sym"))
    run("assemble", at("lab.asm"), "-o", at("lab.s19"))
    for name in ("lab.s19", "lab.key", "bad.s19", "none.s19", evil):
        run("disassemble", at(name), "--cpu", "mc6800")
        run("disassemble", at(name), "--cpu", "mc6800", "--json")
        run("disassemble", at(name), "--cpu", "mc6800", "-o", at("back-" + name + ".asm"))
        run("image", "info", at(name))
        run("image", "info", at(name), "--json")
        run("image", "convert", at(name), "-o", at("copy-" + name + ".key"))
        run("image", "compare", at(name), at("lab.key"))
        run("handout", at("lab.json"), "--compare", at(name))
    run("image", "split", at("lab.s19"), "--even-odd", "-o", at("even.key"), "-o", at("odd.hex"))
    run("image", "join", at("lab.s19"), at("lab.key"), "-o", at("joined.s19"))
    for option in ("--entry", "--table", "--name", "--range", "--base", "--format", "--direct-page", "--cpu"):
        run("disassemble", at("lab.s19"), "--cpu", "mc6800", option, evil)
    for option in ("--crop", "--move", "--pad", "--fill", "--chip", "--cpu", "--format", "-o"):
        run("image", "convert", at("lab.s19"), option, evil)
    run("image", evil, at("lab.s19"))

    run("handout", at("lab.json"), "-o", at("handout.html"))
    run("handout", at("lab.json"), "-o", at("handout.txt"))
    run("handout", at("lab.json"), "-o", at("sheet.key"), "--only", "keys")
    for option in ("--only", "--set", "--format", "-o", "--compare", "--root"):
        run("handout", at("lab.json"), option, evil)
    run("handout", at("lab.json"), "--set", evil + "=" + evil)

    for script in ("script", "more", "expect", "none"):
        run("debug", at("lab.json"), "--script", at(script))
    run("debug", at("lab.json"), stdin="script")
    run("debug", at("lab.json"), "--history", evil)
    for command in ("list", "rules", "schema", evil):
        run(command, evil)
    run("--" + evil)
    if len(programs) > 1:
        for arguments in ((at("bad.json"), "--shot", at("a.png")), (at("none.json"), "--shot", at("b.png")), ("--" + evil,), (evil, evil),
                          (at("lab.json"), "--net", evil, "--shot", at("c.png")), (at("lab.json"), "--check", evil, "--shot", at("d.png")),
                          (at("lab.json"), "--stimulus", at("stimulus.json"), "--shot", at("e.png")), ("--size", evil), ("--root", evil)):
            run(*arguments, program=1)
    os.chdir("/")
    shutil.rmtree(outer)
    if faults:
        print(f"{len(faults)} faults")
        print("\n".join(faults[:60]))
        sys.exit(1)


if __name__ == "__main__":
    main()
