#!/usr/bin/env python3
"""Makes handouts, reads them as XML, and prints them with a headless browser.

Usage: render.py --prewire PROGRAM --browser PROGRAM MACHINE...
"""
import argparse
import html.parser
import os
import pathlib
import re
import shutil
import signal
import struct
import subprocess
import sys
import tempfile
import xml.etree.ElementTree as ElementTree
import zlib

SVG = "{http://www.w3.org/2000/svg}"
BROWSER_SECONDS = 90
faults = []


def fault(text):
    faults.append(text)
    print(text)


class Nesting(html.parser.HTMLParser):
    """Every element is closed in its turn."""

    def __init__(self, name):
        super().__init__()
        self.name = name
        self.open = []

    def handle_starttag(self, tag, attributes):
        self.open.append(tag)
        for key, _ in attributes:
            if key in ("src", "href", "data", "action"):
                fault(f"{self.name}: {tag} has {key}: a handout needs no other file")

    def handle_startendtag(self, tag, attributes):
        pass

    def handle_endtag(self, tag):
        if not self.open or self.open.pop() != tag:
            fault(f"{self.name}: </{tag}> closes something else")


def check_text(name, text):
    """Well-formed twice over, with drawings; returns how many."""
    nesting = Nesting(name)
    nesting.feed(text)
    if nesting.open:
        fault(f"{name}: never closed: {nesting.open}")
    try:
        root = ElementTree.fromstring(text)
    except ElementTree.ParseError as error:
        fault(f"{name}: no XML: {error}")
        return 0
    for outside in ("url(", "@import", "<script", "<link"):
        if outside in text:
            fault(f"{name}: holds {outside}")
    if "@media print" not in text or "@page" not in text:
        fault(f"{name}: no rules for print")
    drawings = root.findall(f".//{SVG}svg")
    for drawing in drawings:
        left, top, width, height = (float(part) for part in drawing.get("viewBox").split())
        for line in drawing.iter(f"{SVG}line"):
            for x, y in (("x1", "y1"), ("x2", "y2")):
                if not (left <= float(line.get(x)) <= width and top <= float(line.get(y)) <= height):
                    fault(f"{name}: a line leaves the drawing: {line.attrib}")
        for words in drawing.iter(f"{SVG}text"):
            if not (left <= float(words.get("x")) <= width and top <= float(words.get("y")) <= height):
                fault(f"{name}: a text leaves the drawing: {words.text}")
    return len(drawings)


def pixels(data):
    """Width, height and the rows of an 8-bit RGB or RGBA PNG without interlace (RFC 2083, sections 3 to 6)."""
    if data[:8] != b"\x89PNG\r\n\x1a\n":
        raise ValueError("no PNG")
    at, packed = 8, b""
    while at < len(data):
        (length,) = struct.unpack(">I", data[at:at + 4])
        kind, chunk = data[at + 4:at + 8], data[at + 8:at + 8 + length]
        if kind == b"IHDR":
            width, height, depth, colour, _, _, interlace = struct.unpack(">IIBBBBB", chunk)
        if kind == b"IDAT":
            packed += chunk
        at += length + 12
    if depth != 8 or colour not in (2, 6) or interlace:
        raise ValueError(f"depth {depth}, colour type {colour}, interlace {interlace}")
    step = 3 if colour == 2 else 4
    raw, rows, before = zlib.decompress(packed), [], bytearray(width * step)
    for row in range(height):
        start = row * (width * step + 1)
        kind, line = raw[start], bytearray(raw[start + 1:start + 1 + width * step])
        for i in range(len(line)):
            left = line[i - step] if i >= step else 0
            up, corner = before[i], before[i - step] if i >= step else 0
            if kind == 1:
                line[i] = (line[i] + left) & 255
            elif kind == 2:
                line[i] = (line[i] + up) & 255
            elif kind == 3:
                line[i] = (line[i] + (left + up) // 2) & 255
            elif kind == 4:
                guess = left + up - corner
                near = min((abs(guess - left), 0, left), (abs(guess - up), 1, up), (abs(guess - corner), 2, corner))[2]
                line[i] = (line[i] + near) & 255
        rows.append([tuple(line[i:i + 3]) for i in range(0, len(line), step)])
        before = line
    return width, height, rows


def render(browser, page, *options):
    command = [browser, "--headless", "--no-sandbox", "--disable-gpu", f"--user-data-dir={page.parent}/profile", *options,
               page.as_uri()]
    # The browser has children that outlive it if only it is ended, so it gets a process group of its own.
    with open(page.parent / "browser.log", "w+") as log:
        try:
            child = subprocess.Popen(command, stdin=subprocess.DEVNULL, stdout=log, stderr=log, start_new_session=True)
        except FileNotFoundError:
            raise SystemExit(f"{browser} is missing: run `sh .ci/deps`")
        try:
            status = child.wait(timeout=BROWSER_SECONDS)
        except subprocess.TimeoutExpired:
            os.killpg(child.pid, signal.SIGKILL)
            child.wait()
            status = f"{BROWSER_SECONDS} s without an end"
        log.seek(0)
        if status != 0:
            fault(f"{page.name}: the browser: {status}: {log.read()[-400:]}")


def check_print(browser, page):
    pdf, picture = page.with_suffix(".pdf"), page.with_suffix(".png")
    render(browser, page, f"--print-to-pdf={pdf}", "--no-pdf-header-footer")
    if not pdf.exists():
        fault(f"{page.name}: no PDF")
    else:
        pages = len(re.findall(rb"/Type\s*/Page\b(?!s)", pdf.read_bytes()))
        print(f"{page.name}: {pages} pages")
        if not 2 <= pages <= 30:
            fault(f"{page.name}: {pages} pages")
    render(browser, page, "--window-size=720,1000", "--hide-scrollbars", f"--screenshot={picture}")
    if not picture.exists():
        fault(f"{page.name}: no picture")
        return
    width, height, rows = pixels(picture.read_bytes())
    dark = sum(1 for row in rows for pixel in row if sum(pixel) < 300)
    if (width, height) != (720, 1000) or not 0.005 < dark / (width * height) < 0.5:
        fault(f"{page.name}: {dark} dark pixels of {width} x {height}")


def check_encoding(prewire, folder):
    """A source in another encoding, and characters that XML does not know: the page is XML all the same."""
    data = pathlib.Path(__file__).resolve().parent.parent / "cli/data"
    shutil.copy(data / "basin.json", folder)
    source = (data / "basin.asm").read_text().splitlines()
    comments = ["Fl\u00fcsse".encode("latin-1"), b"\x01", "\uffff".encode(), b"\xed\xa0\x80"]
    lines = [line.encode() + b" ; " + comments[i % len(comments)] for i, line in enumerate(source)]
    (folder / "basin.asm").write_bytes(b"\n".join(lines) + b"\n")
    page = folder / "basin.html"
    subprocess.run([prewire, "handout", folder / "basin.json", "-o", page], check=True)
    text = page.read_text(encoding="utf-8")
    check_text(page.name, text)
    if "Fl\\xFCsse" not in text:
        fault(f"{page.name}: the comments are lost")


def main():
    parser = argparse.ArgumentParser(description="Makes handouts and prints them.")
    parser.add_argument("--prewire", required=True)
    parser.add_argument("--browser", required=True)
    parser.add_argument("machines", nargs="+", type=pathlib.Path)
    options = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="prewire-print-") as folder:
        for number, machine in enumerate(options.machines):
            page = pathlib.Path(folder) / f"{machine.stem}.html"
            subprocess.run([options.prewire, "handout", machine, "-o", page], check=True)
            if check_text(page.name, page.read_text()) < 2:
                fault(f"{page.name}: fewer than two drawings")
            if number == 0:
                check_print(options.browser, page)
        check_encoding(options.prewire, pathlib.Path(folder))
    print(f"{len(faults)} faults")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
