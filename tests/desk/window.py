#!/usr/bin/env python3
"""Opens the window on a screen of its own (Xvfb), lets it run for a moment, looks at its pixels, and closes it.

Usage: window.py PREWIRE-DESK MACHINE
"""
import os
import pathlib
import signal
import subprocess
import sys
import tempfile
import time

desk, machine = map(os.path.abspath, sys.argv[1:])
read_end, write_end = os.pipe()
with tempfile.TemporaryDirectory() as folder:
    screen = subprocess.Popen(["Xvfb", "-displayfd", str(write_end), "-screen", "0", "1280x800x24", "-fbdir", folder],
                              pass_fds=[write_end], stderr=subprocess.DEVNULL)
    try:
        os.close(write_end)
        display = os.fdopen(read_end).readline().strip()
        environment = dict(os.environ, DISPLAY=f":{display}", SDL_VIDEODRIVER="x11", SDL_AUDIODRIVER="disk")
        window = subprocess.Popen([desk, machine, "--run"], env=environment, cwd=folder)
        # A dark window with bright text and red digits; what an empty screen never has is many different rows.
        rows = set()
        for _ in range(150):
            time.sleep(0.2)
            if window.poll() is not None:
                break
            data = (pathlib.Path(folder) / "Xvfb_screen0").read_bytes()
            rows = {data[i:i + 5120] for i in range(len(data) - 1280 * 800 * 4, len(data), 5120)}
            if len(rows) > 200:
                break
        window.send_signal(signal.SIGTERM)
        code = window.wait(timeout=30)
    finally:
        screen.terminate()
        screen.wait()
print(f"{len(rows)} different rows of pixels, exit code {code}")
sys.exit(0 if len(rows) > 200 and code == 0 else 1)
