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
    lines = ["        CPU     mc6800", "many    MACRO", *(["* " + "\\0 " * 8] * 300), "        NOP", "        ENDM", "        ORG     $F800"]
    lines += [f"        many    {TEXT}"] * 60
    return "\n".join([*lines, "start:  BRA     start", "        ORG     $FFFE", "        FDB     start", ""])


def busy_machine():
    """A board on which so much moves that a millisecond of its time takes long: 50 oscillators through 900 buffers."""
    chips = {"ROM": {"type": "2716", "at": "$F800-$FFFF"}}
    wires = []
    for i in range(50):
        chips[f"Y{i}"] = {"type": "oscillator", "frequency": f"{400 + i} kHz"}
        before = f"Y{i}.OUT"
        for package in range(3):
            chip = f"B{i}_{package}"
            chips[chip] = {"type": "74ls244"}
            wires += [[f"{chip}.1G", "GND"], [f"{chip}.2G", "GND"]]
            for gate in (1, 2, 3, 4, 5, 6):
                side, number = ("1", gate) if gate < 5 else ("2", gate - 4)
                wires.append([before, f"{chip}.{side}A{number}"])
                before = f"{chip}.{side}Y{number}"
    return {"machine": "busy", "cpu": {"type": "mc6800", "clock": "1 MHz"}, "chips": chips, "wires": wires, "program": ["loop.asm"]}


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
        # Lab checks always have a report, a run its trace.
        if leftovers(folder) and leftovers(folder) not in (["out.xml"], ["t.txt"]):
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
    # In the middle of a run: five milliseconds of the machine's time, after which a run looks around, take far longer.
    (folder / "loop.asm").write_text("        CPU     mc6800\n        ORG     $F800\nstart:  BRA     start\n        ORG     $FFF8\n"
                                     "        FDB     start,start,start,start\n")
    (folder / "busy.json").write_text(json.dumps(busy_machine()))
    (folder / "busy.check.json").write_text(json.dumps({"machine": "busy.json", "checks": [{"check": "c", "for": "1 s", "expect": []}]}))
    (folder / "run.json").write_text("run 100s\n")
    run_it = ("run", "busy.json", "--for", "100s", "--run-faulty", "--json", "--trace", "t.txt", "--trace-last", "3", "--log", "debug")
    test_it = ("test", "busy.check.json", "--json", "--junit", "out.xml", "--log", "info")
    debug_it = ("debug", "busy.json", "--run-faulty", "--script", "run.json")
    busy = [(run_it, "the run begins", 6), (test_it, "reading busy.json", 5), (debug_it, "run 100s", 6), (("handout", "busy.json", "-o", "out.html"), "", 6)]
    for command, begun, status in busy:
        wall = (*command, "--max-wall", "1s")
        expect(wall, status, run(*wall), "real time is reached")
        for number in (signal.SIGTERM, signal.SIGHUP, signal.SIGINT, signal.SIGQUIT):
            with open("../" + folder.name + ".log", "w+") as log:
                child = subprocess.Popen([PREWIRE, *command], stdin=subprocess.DEVNULL, stdout=log, stderr=log, text=True)
                while not catches(child.pid, number) or begun not in pathlib.Path(log.name).read_text():
                    time.sleep(0.001)
                time.sleep(0.3)
                child.send_signal(number)
                child.wait(timeout=120)
                log.seek(0)
                said = log.read()
            document = said[said.find("{"):said.rfind("}") + 1]
            if command == run_it and not 0 < json.loads(document)["summary"]["cycles"] < 5000:
                faults.append(f"run, {number.name}: it has not ended in the middle of five milliseconds:\n{said}")
            if command == run_it and "t.txt" not in leftovers(folder):
                faults.append(f"run, {number.name}: no trace")
            if command == test_it and json.loads(document)["checks"][0]["why"] != "interrupted":
                faults.append(f"test, {number.name}:\n{said}")
            if (folder / "t.txt").exists():
                (folder / "t.txt").unlink()
            expect((*command, number.name), 130, subprocess.CompletedProcess(command, child.returncode, said, ""), "interrupted")
            os.unlink(log.name)
    os.chdir("/")
    for path in folder.iterdir():
        path.unlink()
    folder.rmdir()
    if faults:
        print("\n".join(faults))
        sys.exit(1)


if __name__ == "__main__":
    main()
