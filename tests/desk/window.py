#!/usr/bin/env python3
"""Opens the window on a screen of its own (Xvfb), lets it run for a moment, looks at its pixels, presses Ctrl S, has
`prewire test` run the check that this saves, and closes the window.

Usage: window.py PREWIRE-DESK PREWIRE MACHINE
"""
import ctypes
import json
import os
import pathlib
import shutil
import signal
import subprocess
import sys
import tempfile
import time

desk, prewire, machine = map(os.path.abspath, sys.argv[1:])


def press(display, *names):
    """Presses keys together, as the keyboard of the screen would (XTEST extension)."""
    x11, test = ctypes.CDLL("libX11.so.6"), ctypes.CDLL("libXtst.so.6")
    x11.XOpenDisplay.restype = ctypes.c_void_p
    x11.XStringToKeysym.restype = ctypes.c_ulong
    connection = ctypes.c_void_p(x11.XOpenDisplay(display.encode()))
    codes = [x11.XKeysymToKeycode(connection, ctypes.c_ulong(x11.XStringToKeysym(name.encode()))) for name in names]
    for code in codes:
        test.XTestFakeKeyEvent(connection, code, 1, 0)
    for code in reversed(codes):
        test.XTestFakeKeyEvent(connection, code, 0, 0)
    x11.XCloseDisplay(connection)


def until(condition, seconds=30):
    end = time.monotonic() + seconds
    while not (found := condition()) and time.monotonic() < end:
        time.sleep(0.2)
    return found


read_end, write_end = os.pipe()
with tempfile.TemporaryDirectory() as folder:
    lab = pathlib.Path(folder) / "lab"
    shutil.copytree(pathlib.Path(machine).parent, lab, ignore=shutil.ignore_patterns("*.check.json"))
    screen = subprocess.Popen(["Xvfb", "-displayfd", str(write_end), "-screen", "0", "1280x800x24", "-fbdir", folder],
                              pass_fds=[write_end], stderr=subprocess.DEVNULL)
    try:
        os.close(write_end)
        display = ":" + os.fdopen(read_end).readline().strip()
        environment = dict(os.environ, DISPLAY=display, SDL_VIDEODRIVER="x11", SDL_AUDIODRIVER="disk")
        window = subprocess.Popen([desk, lab / pathlib.Path(machine).name, "--set", "FLOAT=2.5V@30ms", "--run"],
                                  env=environment, cwd=folder)

        # A dark window with bright text and red digits; what an empty screen never has is many different rows.
        def rows():
            data = (pathlib.Path(folder) / "Xvfb_screen0").read_bytes()
            return len({data[i:i + 5120] for i in range(len(data) - 1280 * 800 * 4, len(data), 5120)})

        until(lambda: rows() > 200 or window.poll() is not None)
        seen = rows()
        time.sleep(2)  # something to write down
        press(display, "Control_L", "s")
        saved = until(lambda: list(lab.glob("*-session-1.check.json")))
        window.send_signal(signal.SIGTERM)
        code = window.wait(timeout=30)
    finally:
        screen.terminate()
        screen.wait()
    verdict = subprocess.run([prewire, "test", *saved], capture_output=True, text=True)
    expected = json.loads(saved[0].read_text())["checks"][0]["expect"] if saved else []
print(f"{seen} different rows of pixels, exit code {code}, {len(expected)} expectations, verdict:")
print(verdict.stdout + verdict.stderr)
level = any(each.get("display") == "LEVEL" and each.get("shows") == "125" for each in expected)
sys.exit(0 if seen > 200 and code == 130 and level and verdict.returncode == 0 else 1)
