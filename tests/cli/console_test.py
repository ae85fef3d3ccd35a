#!/usr/bin/env python3
"""The console at a terminal: prompt, completion by Tab, the lines before, Ctrl-C, the end, a signal.

    console_test.py PREWIRE
"""
import os
import pathlib
import pty
import select
import signal
import sys
import termios
import time

HERE = pathlib.Path(__file__).resolve().parent
TIMEOUT = 30


class Console:
    def __init__(self, prewire):
        self.pid, self.terminal = pty.fork()
        if self.pid == 0:
            os.environ["TERM"] = "vt100"
            os.execv(prewire, [prewire, "debug", str(HERE / "data/basin.json"), "--max-cycles", "1000000000000"])
        self.seen = ""

    def wait_for(self, text):
        """Reads until the text has come since the last call."""
        deadline = time.monotonic() + TIMEOUT
        while text not in self.seen:
            if time.monotonic() > deadline:
                raise SystemExit(f"no {text!r} within {TIMEOUT} s, but {self.seen!r}")
            if select.select([self.terminal], [], [], 0.1)[0]:
                self.seen += os.read(self.terminal, 65536).decode(errors="replace")
        self.seen = self.seen.split(text, 1)[1]

    def type(self, text):
        os.write(self.terminal, text.encode())

    def end(self):
        deadline = time.monotonic() + TIMEOUT
        while time.monotonic() < deadline:
            if select.select([self.terminal], [], [], 0.05)[0]:
                try:
                    os.read(self.terminal, 65536)
                except OSError:
                    pass
            pid, status = os.waitpid(self.pid, os.WNOHANG)
            if pid:
                return os.waitstatus_to_exitcode(status)
        os.kill(self.pid, signal.SIGKILL)
        os.waitpid(self.pid, 0)
        raise SystemExit("the console does not end")


console = Console(os.path.abspath(sys.argv[1]))
console.wait_for("Garden basin")
console.wait_for("prewire> ")
console.type("reg\t\n")  # a command
console.wait_for("CC  $")
console.wait_for("prewire> ")
console.type("break cha\t\n")  # a label
console.wait_for("break 1: $")
console.wait_for("prewire> ")
console.type("st\t")  # several
console.wait_for("states")
console.wait_for("stops")
console.type("\x03stpe\n")  # Ctrl-C empties the line
console.wait_for("there is no such command")
console.wait_for("did you mean step?")
console.wait_for("prewire> ")
console.type("\x1b[A\x1b[A\n")  # the line before the last
console.wait_for("break 2: $")
console.wait_for("prewire> ")
console.type("run\n")  # nothing stops it
console.wait_for("LAMP")
console.type("\x03")
console.wait_for("interrupted")
console.wait_for("prewire> ")
console.type("quit\n")
status = console.end()
if status != 0:
    raise SystemExit(f"exit status {status}")

# A signal while a line is edited: the terminal is as it was.
console = Console(os.path.abspath(sys.argv[1]))
console.wait_for("prewire> ")
console.type("reg")
console.wait_for("reg")
os.kill(console.pid, signal.SIGTERM)
status = console.end()
if status != 130:
    raise SystemExit(f"exit status {status} after SIGTERM")
modes = termios.ICANON | termios.ECHO | termios.ISIG
if termios.tcgetattr(console.terminal)[3] & modes != modes:
    raise SystemExit("SIGTERM leaves the terminal as the console has set it")
print("the console works at a terminal")
