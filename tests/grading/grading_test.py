#!/usr/bin/env python3
"""Grades submissions, friendly and hostile, and looks at the class page.

Usage: grading_test.py ROOT PREWIRE [PAGE], where ROOT is the source tree and PREWIRE the built command. The class page
is kept as PAGE, for somebody to look at.
"""
import base64
import csv
import hashlib
import html.parser
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
        {"check": "warns of an overflow", "points": 2,
         "stimuli": [{"set": "FLOAT", "to": "2.5 V"}, {"at": "60 ms", "set": "FLOAT", "to": "4.46 V"}],
         "expect": [{"at": "50 ms", "led": "FULL", "is": "off"}, {"at": "120 ms", "led": "FULL", "is": "on"}]},
    ],
}


def begin(folder):
    lab = folder / "lab"
    lab.mkdir()
    shutil.copy(lab_source / "gauge.json", lab)
    (lab / "gauge.check.json").write_text(json.dumps(CHECKS, indent=2))
    (folder / "submissions").mkdir()


def everything_in(folder):
    """Names, kinds, sizes and times of all that is handed in."""
    found = []
    for place, folders, files in os.walk(os.fsencode(folder)):
        for name in sorted(folders + files):
            state = os.lstat(os.path.join(place, name))
            found.append((place, name, state.st_mode, state.st_size, state.st_mtime_ns))
    return sorted(found)


def grade(folder, *options, status=None):
    """Nothing that is handed in is changed, and nothing is left beside it."""
    before = everything_in(folder / "submissions")
    done = run("prewire", "grade", "lab", "submissions", *options, cwd=folder, status=status)
    if everything_in(folder / "submissions") != before:
        faults.append(f"{options}: grading has changed a submission")
    return done


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
    done = grade(folder, "--csv", "marks.csv", "--html", "marks.html", "--junit", "marks.xml", "--max-wall", "20s",
                 status=3)
    if time.monotonic() - begun > 300:
        faults.append("hostile submissions hold up the others")
    said = done.stdout
    document = json.loads(grade(folder, "--json", "--max-wall", "20s", status=3).stdout)
    verdicts, reached = {}, {}
    for line in document["checks"]:
        verdicts.setdefault(line["student"], []).append(line["verdict"])
        reached[line["student"]] = reached.get(line["student"], 0) + line["points"]
    expect("verdicts", verdicts, {
        "ann": ["passed", "passed"], "bob": ["passed", "failed"], "endless": ["failed", "failed"],
        "nowhere": ["failed", "failed"], "crash": ["failed", "failed"], "blink": ["failed", "failed"],
        "reads": ["error", "error"], "reads-absolute": ["error", "error"], "device": ["error", "error"],
        "nothing": ["error", "error"], "empty": ["error", "error"], "huge": ["error", "error"],
        "noise": ["error", "error"], "recursive": ["error", "error"], "link": ["error", "error"],
        "link-out": ["error", "error"], "link-to-ann": ["error", "error"], "link-nowhere": ["error", "error"],
        "pipe": ["error", "error"],
        "cheat": ["passed", "failed"]})
    expect("points in the table", {line["student"]: int(line["points"]) for line in table(folder / "marks.csv")},
           {**reached, "(all)": sum(reached.values())})
    expect("points", [reached[name] for name in ("ann", "bob", "endless", "nothing")], [3, 1, 0, 0])
    expect("what is said of what is no folder", done.stderr, "prewire: note.txt: this is no folder\n")
    for name in ("link", "link-nowhere", "link-out", "link-to-ann"):
        if f"{name}: stop: links are not followed" not in said:
            faults.append(f"{name}: nothing is said of the link:\n{said}")
    # The partner is asked, and what went wrong first stands in each form.
    for kind in ("html", "xml"):
        text = (folder / f"marks.{kind}").read_text()
        for student, rule in (("crash", "undefined-opcode"), ("nowhere", "astray")):
            if rule not in text:
                faults.append(f"marks.{kind}: nothing of {rule}, for {student}")
    everything = done.stdout + done.stderr + "".join((folder / f"marks.{kind}").read_text() for kind in
                                                      ("csv", "html", "xml"))
    if "answers of the exam" in everything or "root:" in everything:
        faults.append("a submission has read another file")
    if len(done.stdout) > 200_000:
        faults.append(f"a submission has flooded the output: {len(done.stdout)} bytes")
    run("xmllint", "--noout", "--schema", here / "junit.xsd", "marks.xml", cwd=folder, status=0)

    # What is handed in as whole folders: the link out of them is refused.
    done = run("prewire", "test", "submissions/cheat", cwd=folder, status=3)
    if "[check-place]" not in done.stdout or "answers" in done.stdout:
        faults.append("a check file that is a link out of the folder is not refused:\n" + done.stdout)

    # Limits end a check with their reason.
    tight = json.loads(json.dumps(CHECKS))
    tight["limits"]["output"] = 20
    (folder / "lab/tight.check.json").write_text(json.dumps(tight))
    for student, options, reason in (
            ("blink", ["--filter", "shows the level"], "the limit of 20 bytes of output is reached"),
            ("endless", ["--max-cycles", "1000"], "the limit of 1000 cycles is reached"),
            ("endless", ["--max-wall", "1ns"], "the limit of 1 ns of real time is reached")):
        done = grade(folder, "--student", student, *options, status=5)
        if reason not in done.stdout:
            faults.append(f"{student} {options}: expected \"{reason}\":\n{done.stdout}")
    (folder / "lab/tight.check.json").unlink()

    # Who hands in among the checks could read or bring some.
    shutil.copytree(folder / "lab", folder / "submissions/lab")
    for lab, submissions in (("submissions/lab", "submissions"), (".", "submissions"), ("lab", "lab")):
        done = run("prewire", "grade", lab, submissions, cwd=folder, status=3)
        if "are not apart" not in done.stderr:
            faults.append(f"{lab} and {submissions}: {done.stderr}")
    shutil.rmtree(folder / "submissions/lab")


# Each is somebody's folder; those that differ only in what shells and terminals drop are different people's.
ODD_NAMES = (b"two  words", b"-rf", b"--help", b"-", b"quote'd \"twice\"", b"`touch hit`", b"$(touch hit)", b"; touch hit",
             b"*", b"?", b"[a-z]", b"~", b"#1", b"a\\nb", b"new\nline", b"end", b"end\n", b"end\n\n", b"\n", b"tab\t",
             b"\x1b[31mred", b"bell\x07\x08\x7f", b"c1\xc2\x9b31m", b"turn\xe2\x80\xaeed", b"no text \xff\xc0", "J\u00F6rg".encode(),
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
    (folder / "submissions/%s%n/gauge.asm").write_text(wrong)
    done = grade(folder, "--csv", "marks.csv", "--html", "marks.html", "--junit", "marks.xml", "--artifacts", "seen",
                 status=3)
    expect("what is said about an odd name", [line for line in done.stdout.splitlines() if "stop:" in line],
           ["    -li\\x0Ank \\x1B[31m: stop: links are not followed [submission-place]"] * 2)
    lines = table(folder / "marks.csv")[:-1]
    expect("folders with odd names", sorted(line["points"] for line in lines), ["0", "1"] + ["3"] * len(ODD_NAMES))
    expect("names in the table", len({line["student"] for line in lines}), len(ODD_NAMES) + 2)
    expect("formulas in the table", [line for line in lines if line["student"][0] in "=+-@\t"], [])
    expect("the last one", [line["points"] for line in lines if line["student"] == "zoe"], ["3"])
    # What is written down of a failure: names that no shell minds, nothing outside, all of them different.
    seen = sorted(path.name for path in (folder / "seen").iterdir())
    expect("names of artifacts", [name for name in seen if not re.fullmatch(r"[0-9A-Za-z][0-9A-Za-z._-]*", name)], [])
    expect("kinds of artifacts", [name[-4:] for name in seen], [".txt", ".vcd"])
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
            done = grade(folder, *form, "--jobs", jobs, "--junit", files[0], "--csv", files[1], "--html", files[2],
                         status=3)
            outputs.append([done.stdout, *((folder / name).read_text() for name in files)])
        if outputs[0] != outputs[1]:
            faults.append(f"{form}: one job and eight jobs differ")
    for student, status in (("ann", 0), ("bob", 1)):
        tap = folder / f"{student}.tap"
        tap.write_text(grade(folder, "--student", student, "--tap").stdout)
        done = run("prove", "--exec", "cat", tap.name, cwd=folder, status=status)
        if "Parse errors" in done.stdout:
            faults.append(f"prove cannot read {tap.name}:\n{done.stdout}")
    # The command under a failure runs just that again.
    failed = grade(folder, "--student", "bob").stdout
    again = re.search(r"^    again:    (.*)$", failed, re.M).group(1)
    done = run("sh", "-c", again, cwd=folder, status=5)
    expect("run again", done.stdout.splitlines()[-3:],
           ["1 check: 0 passed, 1 failed, 0 errors", "bob: 0 of 2 points, 0 of 1 check",
            "1 student: 0 with all checks passed"])


def check_shipped(folder):
    """The lab as it comes, with the programs as they come: whichever processor somebody chooses."""
    (folder / "lab").mkdir()
    (folder / "submissions").mkdir()
    for path in lab_source.glob("*.json"):
        shutil.copy(path, folder / "lab")
    shutil.copy(lab_source / "gauge.asm", folder / "lab")  # the answer: nobody gets marks for it
    for name, programs in (("ann", ["gauge.asm"]), ("ben", ["gauge-6809.asm"]), ("cy", ["gauge.asm", "gauge-6809.asm"]),
                           ("dot", [])):
        (folder / "submissions" / name).mkdir()
        for program in programs:
            shutil.copy(lab_source / program, folder / "submissions" / name)
    # Whoever calls labels otherwise is right all the same: the checks go by vectors.
    (folder / "submissions/eve").mkdir()
    program = right
    for label in ("converted", "astray", "start", "more"):
        program = re.sub(rf"\b{label}\b", f"my{label}", program)
    (folder / "submissions/eve/gauge.asm").write_text(program)
    grade(folder, "--csv", "marks.csv", status=3)
    expect("the lab as it comes", {line["student"]: (line["points"], line["errors"])
                                   for line in table(folder / "marks.csv")[:-1]},
           {"ann": ("6", "0"), "ben": ("1", "5"), "cy": ("6", "0"), "dot": ("0", "6"), "eve": ("6", "0")})


class Page(html.parser.HTMLParser):
    """The class page as a browser takes it apart: rows of cells, targets, scripts, and what would fetch something."""

    def __init__(self, text):
        super().__init__()
        self.rows, self.ids, self.links, self.scripts, self.tags = [], set(), [], [], {}
        self.policy, self.open, self.in_script = "", [], False
        self.feed(text)
        self.close()

    def handle_starttag(self, tag, attributes):
        attributes = dict(attributes)
        self.tags[tag] = self.tags.get(tag, 0) + 1
        if tag not in ("meta", "br", "input"):
            self.open.append(tag)
        if "id" in attributes:
            self.ids.add(attributes["id"])
        for key, value in attributes.items():
            if key.startswith("on") or key in ("src", "style", "srcset", "action", "formaction"):
                faults.append(f"class page: {tag} has {key}=\"{value}\"")
        if tag == "a":
            self.links.append(attributes["href"])
        if tag == "tr":
            self.rows.append([])
        if tag in ("td", "th"):
            self.rows[-1].append("")
        if tag == "meta" and attributes.get("http-equiv") == "Content-Security-Policy":
            self.policy = attributes["content"]

    def handle_endtag(self, tag):
        if not self.open or self.open.pop() != tag:
            faults.append(f"class page: </{tag}> closes something else")

    def handle_data(self, data):
        if self.open[-1:] == ["script"]:
            self.scripts.append(data)
        elif "tr" in self.open:
            self.rows[-1][-1] += data


SLIPS = {  # what a class gets wrong
    "right": right,
    "lamp": wrong,
    "stack": right.replace("lds     #$007F", "nop"),
    "hundreds": right.replace("orab    #SHUT-$10", "orab    #SHUT-$20"),
    "no-interrupt": right.replace("        cli\n", ""),
    "never-ready": right.replace("staa    level", "ldab    level"),
    "syntax": right.replace("ldab    #100", "ldab    #100 +"),
    "label": right.replace("bsr     show", "bsr     shew"),
    "no-vector": right.replace("        fdb     converted       ; IRQ", "        fdb     astray"),
    "endless": head("here:   bra     here"),
}
HOSTILE = {
    "<script>alert(1)</script>": right.replace("show:", "show:   ; </pre></section><script>alert(2)</script>\n", 1),
    "\"><img src=x onerror=alert(3)>": wrong,
    "&lt;b&gt; 'q' \"": right.replace("level", "a<b"),
    "=HYPERLINK(\"x\")": wrong + "        fcc     \"</script><script>alert(4)</script>\"\n",
    "\u202eevil": head("        include \"</pre><script>alert(5)</script>\""),
    "</table></body></html>": None,
}


def check_class_page(folder, keep=None):
    """Sixty students, good and hostile, on one page: every cell right, every cell's report there, nothing else."""
    begin(folder)
    kinds = list(SLIPS.items())
    for number in range(60 - len(HOSTILE)):
        kind, program = kinds[number % len(kinds)]
        hand_in(folder, f"{number:02} {kind}", program)
    for name, program in HOSTILE.items():
        place = folder / "submissions" / name.replace("/", "\u2215")
        place.mkdir()
        if program is not None:
            (place / "gauge.asm").write_text(program)
    grade(folder, "--html", "class.html", "--csv", "class.csv", "--quiet", status=3)
    text = (folder / "class.html").read_text()
    if keep is not None:
        shutil.copy(folder / "class.html", keep)
    page = Page(text)
    marks = table(folder / "class.csv")
    expect("rows of the page", len(page.rows), 60 + 2)
    expect("heads", [re.sub(r"\d+ points?$", "", cell) for cell in page.rows[0]],
           ["Student", "shows the level", "warns of an overflow", "Sum"])
    names = sorted(os.listdir(folder / "submissions"), key=os.fsencode)
    shown = [name.replace("\u202e", "\\u202E") for name in names]
    expect("students on the page", [row[0] for row in page.rows[1:-1]], shown)
    for row, line in zip(page.rows[1:-1], marks):
        expect(f"{line['student']}: sum", row[-1], f"{line['points']} of {line['of']}")
        expect(f"{line['student']}: points", [int(cell.split()[-1]) for cell in row[1:-1]],
               [int(line[title]) for title in ("shows the level", "warns of an overflow")])
    expect("cells lead to reports", [link for link in page.links if link[1:] not in page.ids], [])
    expect("reports", sum(1 for name in page.ids if re.fullmatch(r"r\d+-\d+", name)), 120)
    expect("scripts", len(page.scripts), 1)
    digest = base64.b64encode(hashlib.sha256(page.scripts[0].encode()).digest()).decode()
    if f"script-src 'sha256-{digest}'" not in page.policy or "default-src 'none'" not in page.policy:
        faults.append(f"the policy of the page does not fit its script, sha256-{digest}: {page.policy}")
    expect("what a page may not have", [tag for tag in ("img", "link", "iframe", "object", "base", "b") if tag in page.tags],
           [])
    expect("never closed", page.open, [])
    if re.search(r"https?:|url\(|@import", text):
        faults.append("the class page needs something from elsewhere")
    # In a browser, if there is one: the filter counts, nothing of a student's runs, it prints.
    browser = shutil.which("chromium-headless-shell")
    if browser is None:
        faults.append("chromium-headless-shell is missing: .ci/deps installs it")
        return
    view = [browser, "--no-sandbox", "--disable-gpu", f"--user-data-dir={folder / 'browser'}"]
    url = (folder / "class.html").as_uri()
    dom = run(*view, "--dump-dom", url, cwd=folder, status=0).stdout
    if ">60 of 60</output>" not in dom:
        faults.append("the filter of the class page does not run")
    run(*view, "--no-pdf-header-footer", f"--print-to-pdf={folder / 'class.pdf'}", url, cwd=folder, status=0)
    pages = len(re.findall(rb"/Type\s*/Page\b(?!s)", (folder / "class.pdf").read_bytes()))
    if not 1 <= pages <= 4:
        faults.append(f"the class prints on {pages} pages")


def check_many(folder):
    """500 submissions: at once, and in shares with GNU parallel."""
    begin(folder)
    for number in range(500):
        hand_in(folder, f"s{number:03}", wrong if number % 7 == 0 else right)
    begun = time.monotonic()
    grade(folder, "--csv", "all.csv", "--quiet", status=5)
    print(f"1000 checks of 500 submissions: {time.monotonic() - begun:.1f} s")
    *whole, sums = table(folder / "all.csv")
    expect("students", [line["student"] for line in whole], [f"s{number:03}" for number in range(500)])
    expect("failed", [line["student"] for line in whole if line["failed"] == "1"],
           [f"s{number:03}" for number in range(0, 500, 7)])
    expect("sums", {name: sums[name] for name in ("student", "points", "of", "passed", "failed", "errors")},
           {"student": "(all)", "points": str(1500 - 2 * 72), "of": "1500", "passed": str(1000 - 72), "failed": "72",
            "errors": "0"})
    command = re.search(r"^parallel .*$", (root / "docs/grading.md").read_text(), re.M).group(0)
    run("sh", "-c", command, cwd=folder)
    shares = [table(folder / f"marks-{share}.csv")[:-1] for share in (1, 2, 3, 4)]
    expect("shares", [len(share) for share in shares], [125] * 4)
    expect("the shares together", [shares[i % 4][i // 4] for i in range(500)], whole)


with tempfile.TemporaryDirectory(prefix="prewire-grading-") as name:
    few, odd, many, shipped, sixty = (pathlib.Path(name) / part for part in ("few", "odd", "many", "shipped", "sixty"))
    for part in (few, odd, many, shipped, sixty):
        part.mkdir()
    check_shipped(shipped)
    check_class_page(sixty, *sys.argv[3:])
    check_few(few)
    check_outputs(few)
    check_names(odd)
    check_many(many)
for text in faults:
    print(text)
print(f"{len(faults)} faults")
sys.exit(1 if faults else 0)
