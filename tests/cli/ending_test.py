#!/usr/bin/env python3
"""Limits and signals end every command, whatever it is doing, and leave no temporary file.

    ending_test.py PREWIRE [--sanitized]

A sanitizer takes more address space than any limit, so with it there is none.
"""
import json
import os
import pathlib
import signal
import subprocess
import sys
import tempfile
import time

PREWIRE = os.path.abspath(sys.argv[1])
SANITIZED = "--sanitized" in sys.argv
TEXT = "words that a macro is called with, again and again, so that what it makes of them is long"
faults = []


def slow_source():
    """A small source that takes long: much of it is made by macros."""
    lines = ["        CPU     mc6800", "many    MACR", *(["* " + "\\0 " * 8] * 300), "        NOP", "        ENDM", "        ORG     $F800"]
    lines += [f"        many    {TEXT}"] * 60
    return "\n".join([*lines, "start:  BRA     start", "        ORG     $FFFE", "        FDB     start", ""])


def catches(pid, number):
    """Whether the process has a handler for the signal: the program has begun, then."""
    for line in pathlib.Path(f"/proc/{pid}/status").read_text().splitlines():
        if line.startswith("SigCgt:"):
            return int(line.split()[1], 16) & 1 << number - 1 != 0
    return False


def leftovers(folder):
    return [p.name for p in folder.iterdir() if p.suffix not in (".asm", ".json") or p.name == "out.asm"]


def main():
    folder = pathlib.Path(tempfile.mkdtemp(prefix="prewire-ending-"))
    os.chdir(folder)
    (folder / "slow.asm").write_text(slow_source())
    machine = {"machine": "slow", "cpu": {"type": "mc6800", "clock": "1 MHz"},
               "chips": {"ROM": {"type": "2716", "at": "$F800-$FFFF"}}, "program": ["slow.asm"]}
    (folder / "slow.json").write_text(json.dumps(machine))
    (folder / "slow.check.json").write_text(json.dumps({"machine": "slow.json", "checks": [{"check": "c", "for": "1 ms", "expect": []}]}))
    slow = [("assemble", "slow.asm", "-o", "out.s19", "--listing", "out.lst"), ("check", "slow.json"), ("run", "slow.json", "--trace", "t.txt"),
            ("debug", "slow.json"), ("handout", "slow.json", "-o", "out.html"), ("disassemble", "--machine", "slow.json", "-o", "out.asm"),
            ("test", "slow.check.json", "--junit", "out.xml")]

    def expect(command, status, done, text=""):
        if done.returncode != status or text not in done.stderr + done.stdout:
            faults.append(f"{' '.join(command)}: exit status {done.returncode}, expected {status}:\n{done.stdout}{done.stderr}")
        # Lab checks always have a report.
        if leftovers(folder) and leftovers(folder) != ["out.xml"]:
            faults.append(f"{' '.join(command)}: leaves {leftovers(folder)}")
        for name in leftovers(folder):
            (folder / name).unlink()

    def run(*command, **more):
        return subprocess.run([PREWIRE, *command], stdin=subprocess.DEVNULL, capture_output=True, text=True, timeout=120, check=False, **more)

    for command in slow:
        wall = ("--max-wall", "20ms")
        expect((*command, *wall), 3 if command[0] == "test" else 6, run(*command, *wall), "real time is reached")
        if not SANITIZED:
            memory = ("--max-memory", "24 MiB")
            expect((*command, *memory), 3 if command[0] == "test" else 6, run(*command, *memory), "memory is used up")
        for number in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP, signal.SIGQUIT):
            child = subprocess.Popen([PREWIRE, *command], stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
            while not catches(child.pid, number):
                time.sleep(0.001)
            child.send_signal(number)
            out, err = child.communicate(timeout=120)
            expect((*command, number.name), 130, subprocess.CompletedProcess(command, child.returncode, out, err), "interrupted")
    os.chdir("/")
    for path in folder.iterdir():
        path.unlink()
    folder.rmdir()
    if faults:
        print("\n".join(faults))
        sys.exit(1)


if __name__ == "__main__":
    main()
