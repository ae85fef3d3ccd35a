#!/usr/bin/env python3
"""Runs the fuzz targets, two at a time, and says how many inputs each has tried.

    run.py BUILD --seconds N [--keep] [TARGET]...

BUILD is the folder of the preset `fuzz`; N is the time of each target. They begin with the inputs in tests/fuzz/corpus and
add what is new in BUILD/corpus. `--keep` then puts the smallest of them that reach new code into tests/fuzz/corpus, a few
KiB for each target, beside its files `seed-...`, which somebody wrote. An input that makes a target fail lies in BUILD,
and the exit status is 1: make it a test.
"""
import argparse
import concurrent.futures
import os
import pathlib
import re
import shutil
import subprocess
import sys

HERE = pathlib.Path(__file__).resolve().parent
TARGETS = ("asm", "check", "disassembler", "image", "machine", "snapshot")
# Sanitizers and libFuzzer as they come take half of the time: for stacks of allocations, freed memory that is kept for
# long, and the books of entropic scheduling.
ENVIRONMENT = {**os.environ, "ASAN_OPTIONS": "malloc_context_size=2:quarantine_size_mb=16"}
MOST_BYTES = 12_000  # of what is kept of a target
FLAGS = ("-entropic=0", "-timeout=10", "-rss_limit_mb=1000", "-print_final_stats=1")


def program(build, target):
    return build / "tests" / f"prewire_fuzz_{target}"


def run(build, target, seconds):
    """Inputs tried, and the status of the target."""
    found = build / "corpus" / target
    found.mkdir(parents=True, exist_ok=True)
    kept = HERE / "corpus" / target
    folders = [found, kept] if kept.is_dir() else [found]
    done = subprocess.run([program(build, target), *FLAGS, f"-max_total_time={seconds}",
                           f"-artifact_prefix={build}/{target}-", *folders], env=ENVIRONMENT, capture_output=True,
                          text=True, errors="replace")
    (build / f"{target}.log").write_text(done.stderr)
    tried = re.search(r"number_of_executed_units: (\d+)", done.stderr)
    return int(tried.group(1)) if tried else 0, done.returncode


def keep(build, target):
    kept = HERE / "corpus" / target
    fewest = build / "corpus" / f"{target}.fewest"
    shutil.rmtree(fewest, ignore_errors=True)
    fewest.mkdir()
    kept.mkdir(parents=True, exist_ok=True)
    subprocess.run([program(build, target), "-merge=1", "-use_counters=0", fewest, kept, build / "corpus" / target],
                   env=ENVIRONMENT, capture_output=True, check=True)
    seeds = list(kept.glob("seed-*"))
    known = {seed.read_bytes() for seed in seeds}
    for old in set(kept.iterdir()) - set(seeds):
        old.unlink()
    size = 0
    for path in sorted(fewest.iterdir(), key=lambda path: (path.stat().st_size, path.name)):
        size += path.stat().st_size
        if size > MOST_BYTES:
            break
        if path.read_bytes() not in known:
            shutil.copy(path, kept)


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("build", type=pathlib.Path)
    parser.add_argument("--seconds", type=int, required=True)
    parser.add_argument("--keep", action="store_true")
    parser.add_argument("targets", nargs="*", default=TARGETS, choices=[*TARGETS, TARGETS], metavar="TARGET")
    options = parser.parse_intermixed_args()
    build = options.build.resolve()
    with concurrent.futures.ThreadPoolExecutor(2) as pool:
        results = list(pool.map(lambda target: run(build, target, options.seconds), options.targets))
    for target, (tried, status) in zip(options.targets, results):
        print(f"{target:<13} {tried:>10} inputs {tried // options.seconds:>7} a second{', FAILED' if status else ''}")
    print(f"{'all':<13} {sum(tried for tried, _ in results):>10} inputs")
    if any(status for _, status in results):
        return 1
    if options.keep:
        for target in options.targets:
            keep(build, target)
    return 0


if __name__ == "__main__":
    sys.exit(main())
