#!/usr/bin/env python3
"""Runs the command-line cases: one text file is one test.

    run_cases.py --prewire PROGRAM [--rebase] [--sanitized] [CASE | PATTERN]...

Without a case all in cases/ run. Each runs in a folder of its own that holds a copy of data/. `--rebase` writes what
the program did into the files instead of comparing: look at the difference before you keep it.

A case begins with lines `key: value`; lines that start with `;` say what it is for.

    arguments: run tank.json --for 50ms       as a shell would split them
    exit: 0                                   expected status
    link: NAME -> TARGET                      a symbolic link to make
    folder: NAME                              a folder to make
    replace: REGEX -> TEXT                    in both outputs, for what differs from run to run
    json: yes                                 standard output must be one JSON document
    interrupt after: TEXT                     send SIGINT when the text has appeared in either output
    signal: TERM                              send SIGTERM instead
    closed: 0 1 2                             standard streams that are closed
    pipe: NAME                                a named pipe to make, to which nobody writes
    close after: TEXT                         close standard output when the text has appeared
    input: NAME                               a file that comes on standard input
    output: full                              standard output has no room
    output: unread                            nobody reads standard output
    absent: NAME                              no file of that name, * allowed, may be there afterwards
    file size: BYTES                          no file may become larger
    thread: BYTES                             address space that each thread takes, for its stack
    address space: limited                    what the case is about, and what a sanitizer has no room for

Then sections, each after a line `--- KIND`: `file NAME` is a file to make, `stdout` and `stderr` what is expected, and
`written NAME` a file that is expected afterwards.
"""
import argparse
import difflib
import fnmatch
import json
import os
import pathlib
import re
import resource
import select
import shlex
import shutil
import signal
import subprocess
import sys
import tempfile
import time

HERE = pathlib.Path(__file__).resolve().parent
KEYS = {"arguments", "exit", "link", "folder", "replace", "json", "interrupt after", "close after", "output",
        "absent", "file size", "input", "thread", "signal", "closed", "pipe", "address space"}
TIMEOUT = 60


class Case:
    def __init__(self, path):
        self.path = path
        self.head = []  # lines as they are
        self.keys = []  # (key, value), in order
        self.sections = []  # [kind, text], in order
        for number, line in enumerate(path.read_text().splitlines(), 1):
            if line.startswith("--- "):
                self.sections.append([line[4:], []])
            elif self.sections:
                self.sections[-1][1].append(line)
            else:
                self.head.append(line)
                if not line.strip() or line.startswith(";"):
                    continue
                key, colon, value = line.partition(":")
                if not colon or key not in KEYS:
                    raise SystemExit(f"{path}:{number}: no key of a case: {line}")
                self.keys.append((key, value.strip()))
        for section in self.sections:
            section[1] = "".join(line + "\n" for line in section[1])
            if section[0].split()[0] not in ("file", "stdout", "stderr", "written"):
                raise SystemExit(f"{path}: no section of a case: --- {section[0]}")
        if len(self.all("arguments")) != 1:
            raise SystemExit(f"{path}: a case has one line of arguments")

    def all(self, key):
        return [value for name, value in self.keys if name == key]

    def one(self, key, otherwise=None):
        values = self.all(key)
        return values[0] if values else otherwise

    def section(self, kind):
        return next((text for name, text in self.sections if name == kind), "")

    def replaced(self, text):
        for rule in self.all("replace"):
            pattern, _, new = rule.partition(" -> ")
            text = re.sub(pattern, new, text)
        return text


def read_until(child, errors, text, found):
    """Adds what comes on standard output to `found` until that or standard error contains `text`, or it ends."""
    deadline = time.monotonic() + TIMEOUT
    while text not in found[0] and text not in pathlib.Path(errors.name).read_text() and time.monotonic() < deadline:
        if select.select([child.stdout], [], [], 0.05)[0]:
            more = os.read(child.stdout.fileno(), 65536)
            if not more:
                return
            found[0] += more.decode(errors="replace")


def run(case, prewire, folder):
    """Exit status, standard output and standard error of the program."""
    shutil.copytree(HERE / "data", folder, dirs_exist_ok=True)
    for name in case.all("folder"):
        (folder / name).mkdir(parents=True)
    for kind, text in case.sections:
        if kind.startswith("file "):
            place = folder / kind[5:]
            place.parent.mkdir(parents=True, exist_ok=True)
            place.write_text(text)
    for rule in case.all("link"):
        name, _, target = rule.partition(" -> ")
        (folder / name).symlink_to(target)
    for name in case.all("pipe"):
        os.mkfifo(folder / name)

    def prepare():
        for stream in case.one("closed", "").split():
            os.close(int(stream))
        size = case.one("file size")
        if size is not None:
            signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
            resource.setrlimit(resource.RLIMIT_FSIZE, (int(size), int(size)))
        stack = case.one("thread")
        if stack is not None:
            hard = resource.getrlimit(resource.RLIMIT_STACK)[1]
            resource.setrlimit(resource.RLIMIT_STACK, (int(stack), hard))

    out = subprocess.PIPE
    if case.one("output") == "full":
        out = os.open("/dev/full", os.O_WRONLY)
    if case.one("output") == "unread":
        reader, out = os.pipe()
        os.close(reader)
    environment = {"PATH": os.environ.get("PATH", ""), "LC_ALL": "C", "ASAN_OPTIONS": os.environ.get("ASAN_OPTIONS", "")}
    command = [prewire, *shlex.split(case.one("arguments"))]
    with open(folder.parent / "stderr", "w+") as errors:
        child = subprocess.Popen(command, cwd=folder, stdin=open(folder / case.one("input")) if case.one("input") else subprocess.DEVNULL, stdout=out, stderr=errors,
                                 env=environment, preexec_fn=prepare)
        if out != subprocess.PIPE:
            os.close(out)
        found = [""]
        try:
            if case.one("interrupt after"):
                read_until(child, errors, case.one("interrupt after"), found)
                child.send_signal(getattr(signal, "SIG" + case.one("signal", "INT")))
            if case.one("close after"):
                read_until(child, errors, case.one("close after"), found)
                child.stdout.close()
                child.stdout = None
                found[0] = found[0].splitlines(keepends=True)[0]
            rest = child.communicate(timeout=TIMEOUT)[0]
            found[0] += (rest or b"").decode(errors="replace")
        except subprocess.TimeoutExpired:
            child.kill()
            child.communicate()
            found[0] += f"\n(killed after {TIMEOUT} s)\n"
        errors.seek(0)
        return child.returncode, found[0], errors.read()


def check(case, prewire, rebase):
    """What is wrong, as a text; empty if nothing is."""
    with tempfile.TemporaryDirectory(prefix="prewire-case-") as outer:
        folder = pathlib.Path(outer) / "lab"
        status, out, errors = run(case, prewire, folder)
        found = {"stdout": case.replaced(out), "stderr": case.replaced(errors)}
        for kind, _ in case.sections:
            if kind.startswith("written "):
                place = folder / kind[8:]
                found[kind] = place.read_text() if place.exists() else "(no such file)\n"
        trouble = []
        for pattern in case.all("absent"):
            for name in fnmatch.filter((path.name for path in folder.iterdir()), pattern):
                trouble.append(f"the file {name} should not be there")
    if case.one("json"):
        try:
            json.loads(out)
        except ValueError as error:
            trouble.append(f"standard output is no JSON: {error}")
    if rebase:
        write(case, status, found)
        return "\n".join(trouble)
    if str(status) != case.one("exit"):
        trouble.append(f"exit status {status}, expected {case.one('exit')}")
    for kind in found:
        if found[kind] != case.section(kind):
            trouble.append("".join(difflib.unified_diff(case.section(kind).splitlines(keepends=True),
                                                        found[kind].splitlines(keepends=True),
                                                        f"expected {kind}", f"found {kind}")))
    if trouble:
        trouble.append(f"command: {prewire} {case.one('arguments')}\n"
                       f"again:   {sys.executable} {HERE / 'run_cases.py'} --prewire {prewire} {case.path}")
    return "\n".join(trouble)


def write(case, status, found):
    head = [line for line in case.head if not line.startswith("exit:")]
    while head and not head[-1].strip():
        head.pop()
    head.append(f"exit: {status}")
    text = "".join(line + "\n" for line in head)
    for kind, old in case.sections:
        if kind.startswith("file "):
            text += f"--- {kind}\n{old}"
    for kind, new in found.items():
        if new:
            text += f"--- {kind}\n{new}" + ("" if new.endswith("\n") else "\n")
    if text != case.path.read_text():
        case.path.write_text(text)
        print(f"rebased {case.path.name}")


def main():
    parser = argparse.ArgumentParser(description="Runs the command-line cases.")
    parser.add_argument("--prewire", required=True, help="the program")
    parser.add_argument("--rebase", action="store_true", help="write what it does as the new expectation")
    parser.add_argument("--sanitized", action="store_true", help="the program is built with a sanitizer, which takes "
                        "terabytes of address space: leave out the cases about that")
    parser.add_argument("cases", nargs="*", help="files, or patterns such as bad-*")
    options = parser.parse_args()
    paths = []
    for name in options.cases or ["*"]:
        if pathlib.Path(name).is_file():
            paths.append(pathlib.Path(name))
        else:
            paths += sorted((HERE / "cases").glob(pathlib.Path(name).name.removesuffix(".txt") + ".txt"))
    if not paths:
        raise SystemExit("no such case")
    prewire = str(pathlib.Path(options.prewire).resolve())
    failed = 0
    cases = [Case(path) for path in paths]
    cases = [case for case in cases if not (options.sanitized and case.one("address space"))]
    for case in cases:
        trouble = check(case, prewire, options.rebase)
        if trouble:
            failed += 1
            print(f"{case.path.stem}:\n{trouble}\n")
    print(f"{len(cases)} cases, {failed} failed")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
