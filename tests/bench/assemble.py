#!/usr/bin/env python3
"""Assembling 10,000 lines, process against process: `prewire assemble` and GNU as for the m68hc11.

    assemble.py --prewire PROGRAM [--runs COUNT] [--lines COUNT]

Both get the same program, each in its notation, and write a file; they take turns. What counts is the processor time of
the process, user and system, the least and the middle of all runs. GNU as is Debian's binutils-m68hc1x.
"""
import argparse
import os
import pathlib
import statistics
import subprocess
import sys
import tempfile


def source(lines, ours):
    """The program of tests/bench/asm_bench.cc: loops of ten lines, with labels, comments and all common addressing."""
    hexa, direct, colon, x = ("$", "$", "", "X") if ours else ("0x", "*0x", ":", "x")
    text = ["        ORG $1000" if ours else "        .text"]
    if ours:
        text.insert(0, "        CPU mc6800")
    loops = (lines - 2) // 10
    for i in range(loops):
        low, high, ahead = i % 200, 0x4000 + i, min(i + 1, loops - 1)
        text += [f"loop{i}{colon}  ldx #{hexa}{high:x}       ; barrel {i}", f"again{i}{colon}", f"        ldaa {low},{x}",
                 f"        adda #{hexa}{low:x}", f"        staa {direct}{low:x}", f"        ldab {hexa}{high:x}",
                 "        inx", "        decb            ; one less to go", f"        bne again{i}",
                 f"        jsr loop{ahead}"]
    text.append("        END" if ours else "        .end")
    return "\n".join(text) + "\n"


def seconds(command):
    """Processor time of one process."""
    with open(os.devnull, "w") as nowhere:
        process = subprocess.Popen(command, stdout=nowhere, stderr=nowhere)
        _, status, used = os.wait4(process.pid, 0)
        process.returncode = os.waitstatus_to_exitcode(status)
    if process.returncode != 0:
        sys.exit(f"{' '.join(command)}: exit status {process.returncode}")
    return used.ru_utime, used.ru_stime


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("--prewire", required=True)
    parser.add_argument("--runs", type=int, default=40)
    parser.add_argument("--lines", type=int, default=10_000)
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        ours, gnu = pathlib.Path(folder, "bench.asm"), pathlib.Path(folder, "bench.s")
        ours.write_text(source(options.lines, True))
        gnu.write_text(source(options.lines, False))
        commands = {
            "prewire": [options.prewire, "assemble", str(ours), "-o", str(ours.with_suffix(".s19"))],
            "GNU as": ["m68hc11-as", "-m68hc11", "-mshort", str(gnu), "-o", str(gnu.with_suffix(".o"))],
        }
        times = {name: [] for name in commands}
        for _ in range(options.runs):
            for name, command in commands.items():
                times[name].append(seconds(command))
    least = {}
    for name, runs in times.items():
        sums = [user + system for user, system in runs]
        least[name] = min(sums)
        user, system = min(runs, key=sum)
        print(f"{name:8} {1e3 * user:6.1f} + {1e3 * system:5.1f} ms user + system at best, "
              f"{1e3 * statistics.median(sums):6.1f} ms in the middle")
    print(f"ratio    {least['prewire'] / least['GNU as']:6.2f} of GNU as, least to least")


if __name__ == "__main__":
    main()
