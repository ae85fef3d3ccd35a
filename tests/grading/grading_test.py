#!/usr/bin/env python3
"""Grades submissions, friendly and hostile, with the script of docs/grading.md.

Usage: grading_test.py ROOT PREWIRE, where ROOT is the source tree and PREWIRE the built command.
"""
import csv
import json
import os
import pathlib
import re
import shutil
import subprocess
import sys
import tempfile
import time

root = pathlib.Path(sys.argv[1]).resolve()
prewire = pathlib.Path(sys.argv[2]).resolve()
here = root / "tests/grading"
lab_source = root / "scenarios/rain_barrel"
faults = []


def expect(what, found, wanted):
    if found != wanted:
        faults.append(f"{what}:\n  expected {wanted!r}\n  found    {found!r}")


def run(*command, cwd, status=None):
    environment = {"PATH": f"{prewire.parent}:{os.environ['PATH']}", "LC_ALL": "C", "HOME": str(cwd),
                   "ASAN_OPTIONS": os.environ.get("ASAN_OPTIONS", "")}
    done = subprocess.run([str(part) for part in command], cwd=cwd, env=environment, capture_output=True, text=True,
                          timeout=600)
    if status is not None and done.returncode != status:
        faults.append(f"{command}: exit status {done.returncode}, expected {status}\n{done.stdout[-2000:]}{done.stderr}")
    return done


def table(path):
    with open(path, newline="", encoding="utf-8", errors="surrogateescape") as file:
        return list(csv.DictReader(file))


right = (lab_source / "gauge.asm").read_text()
wrong = right.replace("bcs     below", "bcc     below")  # the lamp the wrong way round
assert wrong != right

CHECKS = {
    "machine": "gauge.json",
    "limits": {"cycles": 1_000_000, "wall": "20 s", "output": 20_000},
    "checks": [
        {"check": "shows the level",
         "stimuli": [{"set": "FLOAT", "to": "2.5 V"}],
         "expect": [{"at": "60 ms", "display": "LEVEL", "shows": "125"}]},
        {"check": "warns of an overflow",
         "stimuli": [{"set": "FLOAT", "to": "2.5 V"}, {"at": "60 ms", "set": "FLOAT", "to": "4.46 V"}],
         "expect": [{"at": "50 ms", "led": "FULL", "is": "off"}, {"at": "120 ms", "led": "FULL", "is": "on"}]},
    ],
}


def begin(folder):
    lab = folder / "lab"
    lab.mkdir()
    shutil.copy(lab_source / "gauge.json", lab)
    (lab / "gauge.check.json").write_text(json.dumps(CHECKS, indent=2))
    shutil.copy(here / "grade.sh", folder)
    (folder / "submissions").mkdir()


def hand_in(folder, name, program):
    place = folder / "submissions" / name
    place.mkdir()
    if program is not None:
        (place / "gauge.asm").write_text(program)
    return place


def head(body):
    return f"""        cpu     mc6800
        org     $F800
start:  lds     #$007F
{body}
        org     $FFF8
        fdb     start,start,start,start
"""


# Counts on the digits, slowly enough to be seen, with all latches open.
BLINK = head("""        clr     $4003
        ldaa    #$FF
        staa    $4002
        ldaa    #$04
        staa    $4003
        clrb
loop:   ldx     #4000
wait:   dex
        bne     wait
        incb
        tba
        anda    #$0F
        staa    $4002
        bra     loop""")


def check_few(folder):
    """What each of a few submissions comes to, and that nothing of one touches another."""
    begin(folder)
    secret = folder / "secret.asm"
    secret.write_text("        fcb     $42 the answers of the exam\n")
    hand_in(folder, "ann", right)
    hand_in(folder, "bob", wrong)
    hand_in(folder, "endless", head("here:   bra     here"))
    hand_in(folder, "nowhere", head("        jmp     $2000"))
    hand_in(folder, "crash", head("        fcb     $02"))
    hand_in(folder, "blink", BLINK)
    hand_in(folder, "reads", right + "        include \"../../secret.asm\"\n")
    hand_in(folder, "reads-absolute", right + f"        include \"{secret}\"\n")
    hand_in(folder, "device", right + "        include \"/dev/zero\"\n")
    hand_in(folder, "nothing", None)
    hand_in(folder, "empty", "")
    hand_in(folder, "huge", "        nop\n" * 3_000_000)
    hand_in(folder, "noise", "\0\1\2" * 10_000)
    hand_in(folder, "recursive", head("more    macro\n        more\n        endm\n        more\n"))
    (hand_in(folder, "link", None) / "gauge.asm").symlink_to(secret)
    cheat = hand_in(folder, "cheat", wrong)  # brings checks of its own
    (cheat / "gauge.check.json").write_text(json.dumps({"machine": "gauge.json", "checks": [
        {"check": "shows the level", "expect": [{"at": "1 ms", "net": "CPU.NMI", "is": "high"}]}]}))
    (cheat / "more.check.json").symlink_to(secret)
    outside = folder / "outside"
    outside.mkdir()
    (outside / "gauge.asm").write_text(right)
    (folder / "submissions/link-out").symlink_to(outside)
    (folder / "submissions/link-to-ann").symlink_to("ann")
    (folder / "submissions/link-nowhere").symlink_to("nobody")
    (folder / "submissions/note.txt").write_text("we were ill")
    os.mkfifo(hand_in(folder, "pipe", None) / "gauge.asm")
    begun = time.monotonic()
    done = run("sh", "grade.sh", "lab", "submissions", "bench", "--csv", "marks.csv", "--html", "marks.html", "--junit",
               "marks.xml", "--max-wall", "20s", cwd=folder, status=3)
    if time.monotonic() - begun > 300:
        faults.append("hostile submissions hold up the others")
    verdicts = {}
    for line in table(folder / "marks.csv"):
        verdicts.setdefault(pathlib.Path(line["file"]).parent.name, []).append(line["verdict"])
    expect("verdicts", verdicts, {
        "ann": ["passed", "passed"], "bob": ["passed", "failed"], "endless": ["failed", "failed"],
        "nowhere": ["failed", "failed"], "crash": ["failed", "failed"], "blink": ["failed", "failed"],
        "reads": ["error", "error"], "reads-absolute": ["error", "error"], "device": ["error", "error"],
        "nothing": ["error", "error"], "empty": ["error", "error"], "huge": ["error", "error"],
        "noise": ["error", "error"], "recursive": ["error", "error"], "link": ["error", "error"],
        "link-out": ["error", "error"], "link-to-ann": ["error", "error"], "link-nowhere": ["error", "error"],
        "pipe": ["error", "error"],
        "cheat": ["passed", "failed"]})
    expect("what grade.sh says", sorted(line for line in done.stderr.splitlines() if line.startswith("grade.sh: ")), [
        *(f"grade.sh: {name}: links are not followed" for name in ("link", "link-nowhere", "link-out", "link-to-ann")),
        "grade.sh: note.txt: this is no folder"])
    everything = done.stdout + done.stderr + "".join((folder / f"marks.{kind}").read_text() for kind in
                                                      ("csv", "html", "xml"))
    if "answers of the exam" in everything or "root:" in everything:
        faults.append("a submission has read another file")
    if len(done.stdout) > 200_000:
        faults.append(f"a submission has flooded the output: {len(done.stdout)} bytes")
    if re.search(r"<script|https?://", (folder / "marks.html").read_text()):
        faults.append("the page is not self-contained")
    run("xmllint", "--noout", "--schema", here / "junit.xsd", "marks.xml", cwd=folder, status=0)

    # What is handed in as whole folders: the link out of them is refused.
    done = run("prewire", "test", "submissions/cheat", cwd=folder, status=3)
    if "[check-place]" not in done.stdout or "answers" in done.stdout:
        faults.append("a check file that is a link out of the folder is not refused:\n" + done.stdout)

    # Limits end a check with their reason.
    tight = json.loads(json.dumps(CHECKS))
    tight["limits"]["output"] = 20
    (folder / "bench/blink/tight.check.json").write_text(json.dumps(tight))
    for path, options, reason in (
            ("bench/blink/tight.check.json", [], "the limit of 20 bytes of output is reached"),
            ("bench/endless", ["--max-cycles", "1000"], "the limit of 1000 cycles is reached"),
            ("bench/endless", ["--max-wall", "1ns"], "the limit of 1 ns of real time is reached")):
        done = run("prewire", "test", path, *options, cwd=folder, status=5)
        if reason not in done.stdout:
            faults.append(f"{path} {options}: expected \"{reason}\":\n{done.stdout}")
    (folder / "bench/blink/tight.check.json").unlink()


# Each is somebody's folder; those that differ only in what shells and terminals drop are different people's.
ODD_NAMES = (b"two  words", b"-rf", b"--help", b"-", b"quote'd \"twice\"", b"`touch hit`", b"$(touch hit)", b"; touch hit", b"*",
             b"?", b"[a-z]", b"~", b"#1", b"a\\nb", b"new\nline", b"end", b"end\n", b"end\n\n", b"\n", b"tab\t", b"\x1b[31mred",
             b"bell\x07\x08\x7f", b"c1\xc2\x9b31m", b"turn\xe2\x80\xaeed", b"no text \xff\xc0", "J\u00F6rg".encode(),
             b"=1+1", b"<b>", b"&amp;", b"%s%n", b"x" * 255)


def check_names(folder):
    """A name stops nobody, runs nothing, and hides nothing."""
    begin(folder)
    for name in ODD_NAMES:
        place = os.path.join(os.fsencode(folder / "submissions"), name)
        os.mkdir(place)
        with open(os.path.join(place, b"gauge.asm"), "w", encoding="utf-8") as file:
            file.write(right)
    os.symlink(b"end", os.path.join(os.fsencode(folder / "submissions"), b"-li\nnk \x1b[31m"))
    hand_in(folder, "zoe", right)
    done = run("sh", "grade.sh", "lab", "submissions", "bench", "--csv", "marks.csv", "--html", "marks.html", "--junit",
               "marks.xml", cwd=folder, status=3)
    expect("what is said about an odd name", done.stderr.splitlines()[0], "grade.sh: -li?nk ?[31m: links are not followed")
    lines = table(folder / "marks.csv")
    expect("folders with odd names", sorted(line["verdict"] for line in lines),
           ["error"] * 2 + ["passed"] * 2 * (len(ODD_NAMES) + 1))
    expect("names in the table", len({line["file"] for line in lines}), len(ODD_NAMES) + 2)
    expect("the last one", [line["verdict"] for line in lines if "zoe" in line["file"]], ["passed"] * 2)
    if list(folder.rglob("hit")):
        faults.append("a name of a folder has been executed")
    everything = done.stdout + done.stderr + "".join((folder / f"marks.{kind}").read_text() for kind in ("html", "xml"))
    if "\x1b" in everything or "\x07" in everything:
        faults.append("control characters of a name reach the terminal")
    run("xmllint", "--noout", "--schema", here / "junit.xsd", "marks.xml", cwd=folder, status=0)


def check_outputs(folder):
    """One job or eight: the same bytes. TAP as `prove` (Perl's TAP::Harness) reads it."""
    for form in ([], ["--json"], ["--tap"]):
        outputs = []
        for jobs in (1, 8):
            files = [f"out-{jobs}.{kind}" for kind in ("xml", "csv", "html")]
            done = run("prewire", "test", "bench", *form, "--jobs", jobs, "--junit", files[0], "--csv", files[1],
                       "--html", files[2], cwd=folder, status=3)
            outputs.append([done.stdout, *((folder / name).read_text() for name in files)])
        if outputs[0] != outputs[1]:
            faults.append(f"{form}: one job and eight jobs differ")
    for name, path, status in (("good", "bench/ann", 0), ("bad", "bench/bob", 1)):
        tap = folder / f"{name}.tap"
        tap.write_text(run("prewire", "test", path, "--tap", cwd=folder).stdout)
        done = run("prove", "--exec", "cat", tap.name, cwd=folder, status=status)
        if "Parse errors" in done.stdout:
            faults.append(f"prove cannot read {name}.tap:\n{done.stdout}")


def check_many(folder):
    """500 submissions: at once, and in shares with GNU parallel."""
    begin(folder)
    for number in range(500):
        hand_in(folder, f"s{number:03}", wrong if number % 7 == 0 else right)
    begun = time.monotonic()
    run("sh", "grade.sh", "lab", "submissions", "bench", "--csv", "all.csv", cwd=folder, status=5)
    print(f"1000 checks of 500 submissions: {time.monotonic() - begun:.1f} s")
    whole = table(folder / "all.csv")
    expect("checks", len(whole), 1000)
    expect("failed", [line["file"] for line in whole if line["verdict"] == "failed"],
           [f"bench/s{number:03}/gauge.check.json" for number in range(0, 500, 7)])
    command = re.search(r"^parallel .*$", (root / "docs/grading.md").read_text(), re.M).group(0)
    run("sh", "-c", command, cwd=folder)
    shares = [table(folder / f"marks-{share}.csv") for share in (1, 2, 3, 4)]
    expect("shares", [len(share) for share in shares], [250] * 4)
    together = [shares[i % 4][i // 4] for i in range(1000)]
    expect("the shares together", together, whole)


if f"```sh\n{(here / 'grade.sh').read_text()}```" not in (root / "docs/grading.md").read_text():
    faults.append("docs/grading.md does not quote tests/grading/grade.sh")
with tempfile.TemporaryDirectory(prefix="prewire-grading-") as name:
    few, odd, many = (pathlib.Path(name) / part for part in ("few", "odd", "many"))
    for part in (few, odd, many):
        part.mkdir()
    check_few(few)
    check_outputs(few)
    check_names(odd)
    check_many(many)
for text in faults:
    print(text)
print(f"{len(faults)} faults")
sys.exit(1 if faults else 0)
