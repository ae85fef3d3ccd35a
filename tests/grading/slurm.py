#!/usr/bin/env python3
"""Runs the Slurm array of docs/grading.md for real, with a cluster of one computer that it makes and ends.

Usage: slurm.py ROOT PREWIRE, where ROOT is the source tree and PREWIRE the built command. It needs Debian's packages
slurm-wlm and munge and must be run as root; it is no part of the tests. What it starts it ends again, by the number of
the process, and everything of it lies in a temporary folder.
"""
import csv
import os
import pathlib
import re
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import time

root = pathlib.Path(sys.argv[1]).resolve()
prewire = pathlib.Path(sys.argv[2]).resolve()
lab_source = root / "scenarios/rain_barrel"
STUDENTS = 48
SECONDS = 120


def need(program):
    for folder in ("", "/usr/sbin/"):
        found = shutil.which(folder + program)
        if found:
            return found
    raise SystemExit(f"{program} is missing: apt-get install slurm-wlm munge")


def free_port():
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        return one.getsockname()[1]


class Cluster:
    """munged, slurmctld and slurmd with a configuration of their own."""

    def __init__(self, folder):
        self.folder, self.started = folder, []
        self.host = socket.gethostname().split(".")[0]
        for name in ("state", "spool", "munge"):
            (folder / name).mkdir(mode=0o700)
        key = folder / "munge/key"
        key.write_bytes(os.urandom(1024))
        key.chmod(0o400)
        self.munge = folder / "munge/socket"
        count = os.cpu_count() or 1
        self.conf = folder / "slurm.conf"
        self.conf.write_text(f"""ClusterName=tidewater
SlurmctldHost={self.host}(127.0.0.1)
SlurmctldPort={free_port()}
SlurmdPort={free_port()}
SlurmUser=root
AuthType=auth/munge
AuthInfo=socket={self.munge}
CredType=cred/munge
StateSaveLocation={folder}/state
SlurmdSpoolDir={folder}/spool
SlurmctldPidFile={folder}/slurmctld.pid
SlurmdPidFile={folder}/slurmd.pid
SlurmctldLogFile={folder}/slurmctld.log
SlurmdLogFile={folder}/slurmd.log
ProctrackType=proctrack/linuxproc
TaskPlugin=task/none
JobAcctGatherType=jobacct_gather/none
AccountingStorageType=accounting_storage/none
SelectType=select/cons_tres
SelectTypeParameters=CR_CPU
MpiDefault=none
SwitchType=switch/none
ReturnToService=2
NodeName={self.host} NodeAddr=127.0.0.1 CPUs={count} State=UNKNOWN
PartitionName=evening Nodes=ALL Default=YES MaxTime=INFINITE State=UP OverSubscribe=YES
""")
        self.environment = {**os.environ, "SLURM_CONF": str(self.conf), "PATH": f"{prewire.parent}:{os.environ['PATH']}"}

    def start(self, name, *command):
        log = open(self.folder / f"{name}.out", "w")
        self.started.append((name, subprocess.Popen([str(part) for part in command], stdout=log, stderr=log,
                                                    env=self.environment, stdin=subprocess.DEVNULL)))

    def begin(self):
        self.start("munged", need("munged"), "--foreground", "--force", f"--key-file={self.folder}/munge/key",
                   f"--socket={self.munge}", f"--pid-file={self.folder}/munge/pid", f"--seed-file={self.folder}/munge/seed",
                   f"--log-file={self.folder}/munge/log")
        self.wait(self.munge.exists, "munged")
        self.start("slurmctld", need("slurmctld"), "-D", "-f", self.conf)
        self.start("slurmd", need("slurmd"), "-D", "-f", self.conf, "-N", self.host)
        self.wait(lambda: "idle" in self.run("sinfo", "-h", "-o", "%T").stdout, "the node")

    def run(self, *command, **more):
        return subprocess.run([need(command[0]), *map(str, command[1:])], env=self.environment, capture_output=True,
                              text=True, timeout=SECONDS, **more)

    def wait(self, ready, what):
        begun = time.monotonic()
        while not ready():
            for name, process in self.started:
                if process.poll() is not None:
                    raise SystemExit(f"{name} has ended:\n{self.logs()}")
            if time.monotonic() - begun > SECONDS:
                raise SystemExit(f"{what} is not ready after {SECONDS} s:\n{self.logs()}")
            time.sleep(0.2)

    def logs(self):
        return "\n".join(f"{path.name}: {path.read_text()[-1500:]}" for path in sorted(self.folder.glob("*.*")) if
                         path.suffix in (".log", ".out"))

    def end(self):
        for _, process in reversed(self.started):
            if process.poll() is None:
                process.send_signal(signal.SIGTERM)
                try:
                    process.wait(20)
                except subprocess.TimeoutExpired:
                    process.kill()
                    process.wait()


def table(path):
    with open(path, newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))[:-1]


def main():
    page = (root / "docs/grading.md").read_text()
    (script,) = [block for block in re.findall(r"```sh\n(.*?)```", page, re.S) if "#SBATCH" in block]
    shares = int(re.search(r"--array=1-(\d+)", script).group(1))
    right = (lab_source / "gauge.asm").read_text()
    wrong = right.replace("bcs     below", "bcc     below")
    with tempfile.TemporaryDirectory(prefix="prewire-slurm-") as name:
        folder = pathlib.Path(name)
        (folder / "lab").mkdir()
        for path in lab_source.glob("*.json"):
            shutil.copy(path, folder / "lab")
        for number in range(STUDENTS):
            place = folder / f"submissions/s{number:02}"
            place.mkdir(parents=True)
            (place / "gauge.asm").write_text(wrong if number % 5 == 0 else right)
        subprocess.run([prewire, "grade", "lab", "submissions", "--quiet", "--csv", "all.csv"], cwd=folder,
                       stdout=subprocess.DEVNULL)
        whole = table(folder / "all.csv")
        (folder / "grade.sbatch").write_text(script)
        (folder / "cluster").mkdir(mode=0o700)
        cluster = Cluster(folder / "cluster")
        try:
            cluster.begin()
            sent = cluster.run("sbatch", "--parsable", "grade.sbatch", cwd=folder)
            if sent.returncode != 0:
                raise SystemExit(f"sbatch: {sent.stderr}\n{cluster.logs()}")
            job = sent.stdout.strip()
            cluster.wait(lambda: not cluster.run("squeue", "-h").stdout.strip(), "the array")
            missing = [share for share in range(1, shares + 1) if not (folder / f"marks-{share}.csv").exists()]
            if missing:
                outputs = "\n".join(path.read_text()[-500:] for path in folder.glob("slurm-*.out"))
                raise SystemExit(f"no marks of the shares {missing}:\n{outputs}\n{cluster.logs()}")
            states = cluster.run("scontrol", "show", "job", job).stdout
        finally:
            cluster.end()
        parts = [table(folder / f"marks-{share}.csv") for share in range(1, shares + 1)]
        together = [parts[i % shares][i // shares] for i in range(STUDENTS)]
        if together != whole:
            raise SystemExit("the shares together are not the whole")
        exits = re.findall(r"ArrayTaskId=(\d+).*?ExitCode=(\d+):", states, re.S)
        if len(exits) != shares or {status for _, status in exits} != {"5"}:
            raise SystemExit(f"Slurm does not show each share's own status: {exits}")
    print(f"job {job}: {shares} shares of {STUDENTS} students in Slurm are the whole; each has its status")


main()
