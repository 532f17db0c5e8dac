"""Times whole programs with public tools, each in turn, in one run.

    python3 -m venv target/speed-env && target/speed-env/bin/pip install polars numpy scipy
    cargo build --release --locked
    target/speed-env/bin/python benches/whole_programs.py             # assess against Python, and against reading and hashing
    target/speed-env/bin/python benches/whole_programs.py growth 1e8  # assess from 10^4 rows up to so many
    target/speed-env/bin/python benches/whole_programs.py start       # from start to the first frame, on a terminal of its own

Times are user and system time of the process and all its threads (getrusage), least and median: on a machine with other work they
say more than wall time, which is given beside them. Captures lie in a temporary folder and are deleted.
"""

import fcntl
import json
import os
import pty
import select
import statistics
import struct
import subprocess
import sys
import tempfile
import termios
import time
from pathlib import Path

HERE = Path(__file__).resolve().parent
PROGRAM = Path(os.environ.get("PEDALPROOF", HERE.parent / "target" / "release" / "pedalproof"))
ROUNDS = 7
# Same definition on both sides, so the same value to so many parts: figure, relative difference allowed.
SAME = {"rest_code": 1e-6, "full_code": 1e-9, "span_code": 1e-6, "rest_ratio": 1e-6, "full_ratio": 1e-9,
        "noise_rest_rms": 1e-9, "noise_full_rms": 1e-9, "noise_peak_to_peak": 1e-9, "noise_free_bits": 1e-6}
# Another method for the same quantity: agreement to be expected, in the figure's own unit.
NEAR = {"return_scatter": 0.2, "return_range": 0.1, "drift_per_min": 4.0, "release_time": 1e-3, "hum_50_rms": 0.03,
        "hum_60_rms": 0.03, "stroke_noise_rms": 0.02, "smoothness": 0.2, "worn_zones_count": 0, "dropouts_count": 0,
        "interference_share": 0.02, "track_gain": 1e-4, "track_offset": 0.1, "track_lag": 0.05,
        "track_disagreement": 0.3}


def run(command):
    """Wall, processor seconds and MiB at most of a command, and what it wrote."""
    with tempfile.TemporaryFile() as out:
        begun = time.perf_counter()
        child = subprocess.Popen([str(word) for word in command], stdout=out, stderr=subprocess.DEVNULL)
        _, status, used = os.wait4(child.pid, 0)
        wall = time.perf_counter() - begun
        out.seek(0)
        return wall, used.ru_utime + used.ru_stime, used.ru_maxrss / 1024, out.read()


def made(folder, rows, *options):
    path = Path(folder) / "capture.csv"
    subprocess.run([sys.executable, HERE / "big_capture.py", path, str(rows), *options], check=True,
                   stdout=subprocess.DEVNULL)
    return path


def compare(ours, theirs):
    """Prints every figure that both have; says which do not agree."""
    wrong = 0
    print(f"\n{'':10} {'figure':22} {'assess':>14} {'python':>14}")
    pairs = [(name, ours["channels"][name]["figures"], theirs["channels"][name]) for name in theirs["channels"]]
    pairs += [(name, ours["pairs"][name]["figures"], theirs["pairs"][name]) for name in theirs["pairs"]]
    for name, own, other in pairs:
        for figure, value in other.items():
            mine = own.get(figure) and own[figure]["value"]
            if mine is None:
                continue
            if figure in SAME:
                good, words = abs(mine - value) <= SAME[figure] * abs(value), f"same to {SAME[figure]:g}"
            else:
                good, words = abs(mine - value) <= NEAR[figure], f"another method, within {NEAR[figure]:g}"
            wrong += not good
            print(f"{name[:10]:10} {figure:22} {mine:14.7g} {value:14.7g}  {words}{'' if good else '  DIFFERS'}")
    if ours["capture"]["sha256"] != theirs["sha256"]:
        wrong += 1
        print("the hashes differ")
    return wrong


def against_python():
    with tempfile.TemporaryDirectory() as folder:
        path = made(folder, 2e6)
        hash_it = ("import hashlib,sys\n"
                   "with open(sys.argv[1],'rb') as f: print(hashlib.file_digest(f,'sha256').hexdigest())")
        ways = {
            "assess --json": [PROGRAM, "assess", path, "--json"],
            "assess": [PROGRAM, "assess", path],
            "python: polars, numpy, scipy": [sys.executable, HERE / "by_python.py", path],
            "python: nothing but its imports": [sys.executable, "-c", "import polars,numpy,scipy.signal,scipy.stats"],
            "python: polars reads the file": [sys.executable, "-c", f"import polars; polars.read_csv({str(path)!r})"],
            "sha256sum": ["sha256sum", path],
            "openssl dgst -sha256": ["openssl", "dgst", "-sha256", path],
            "python: hashlib": [sys.executable, "-c", hash_it, path],
        }
        runs = {name: [] for name in ways}
        for _ in range(ROUNDS):
            for name, command in ways.items():
                runs[name].append(run(command))
        rows = json.loads(runs["assess --json"][0][3])["capture"]["samples"]
        print(f"{rows} rows of two tracks, {path.stat().st_size / 1e6:.1f} MB, {ROUNDS} rounds in turn")
        print(f"{'':34} {'cpu s least':>11} {'median':>7} {'wall s least':>13} {'median':>7} {'MiB':>5} {'cpu ratio':>9} {'wall':>6}")
        base = None
        for name, all_of in runs.items():
            wall, cpu = [r[0] for r in all_of], [r[1] for r in all_of]
            base = base or (min(cpu), min(wall))
            print(f"{name:34} {min(cpu):11.3f} {statistics.median(cpu):7.3f} {min(wall):13.3f} "
                  f"{statistics.median(wall):7.3f} {max(r[2] for r in all_of):5.0f} {min(cpu) / base[0]:9.2f} "
                  f"{min(wall) / base[1]:6.2f}")
        return compare(json.loads(runs["assess --json"][0][3]), json.loads(runs["python: polars, numpy, scipy"][0][3]))


def growth(most):
    print(f"{'rows':>10} {'made with':>10} {'cpu s':>9} {'wall s':>9} {'ns cpu/row':>11} {'MiB':>7} {'bytes/row':>10}")
    for options in [(), ("--cards", "1"), ("--worn",)]:
        rows = 1e4
        while rows <= most:
            with tempfile.TemporaryDirectory() as folder:
                path = made(folder, rows, *options)
                times = min((run([PROGRAM, "assess", path, "--json"]) for _ in range(3 if rows < 1e7 else 1)),
                            key=lambda r: r[1])
            wall, cpu, mib, out = times
            samples = json.loads(out)["capture"]["samples"]
            print(f"{samples:10} {' '.join(options):>10} {cpu:9.3f} {wall:9.3f} {cpu / samples * 1e9:11.0f} "
                  f"{mib:7.0f} {mib * 2**20 / samples:10.0f}", flush=True)
            rows *= 10
    return 0


def first_frame():
    """Milliseconds from fork to the first byte and to the last byte of the first frame, 200 x 60."""
    begun = time.perf_counter()
    pid, terminal = pty.fork()
    if pid == 0:
        state = tempfile.mkdtemp()
        os.environ |= {"PEDALPROOF_STATE": state, "PEDALPROOF_RECORDS": state, "TERM": "xterm-256color", "LC_ALL": "C.UTF-8"}
        os.chdir(state)
        fcntl.ioctl(0, termios.TIOCSWINSZ, struct.pack("HHHH", 60, 200, 0, 0))
        os.execv(PROGRAM, [str(PROGRAM)])
    first, whole, seen = None, None, b""
    # The screen stands still after its first frame: it is whole when nothing comes any more.
    while select.select([terminal], [], [], 0.3 if b"What shall we measure?" in seen else 10)[0]:
        seen += os.read(terminal, 65536)
        whole = time.perf_counter()
        first = first or whole
    os.kill(pid, 9)
    _, _, used = os.wait4(pid, 0)
    os.close(terminal)
    return (first - begun) * 1e3, (whole - begun) * 1e3, (used.ru_utime + used.ru_stime) * 1e3, len(seen)


def start():
    frames = [first_frame() for _ in range(30)]
    for at, what in enumerate(["to the first byte", "to the whole frame", "processor time"]):
        times = sorted(frame[at] for frame in frames)
        print(f"{what:20} least {times[0]:7.2f} ms, median {statistics.median(times):7.2f} ms, most {times[-1]:7.2f} ms")
    print(f"{len(frames)} starts, {frames[0][3]} bytes")
    return 0


if __name__ == "__main__":
    what = sys.argv[1] if len(sys.argv) > 1 else "python"
    if what == "growth":
        sys.exit(growth(float(sys.argv[2]) if len(sys.argv) > 2 else 1e7))
    sys.exit(start() if what == "start" else against_python() > 0)
