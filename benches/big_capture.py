"""Makes a capture of any length: a pedal with two tracks, taken through its card again and again. Seeded.

    python benches/big_capture.py OUT.csv ROWS [--cards N] [--worn]

At 1 kHz and 12 bits, `pedal_b` at half the slope of `pedal_a`; a card of sixty seconds has a rest and a full hold of five
seconds, thirty strokes, three releases and a shake. `--cards 1` makes one card with long passages instead; `--worn` wears `pedal_a` out: a zone
of ten times the noise from 40 to 46 % of the travel, and a dropout of 3 ms every other second of the strokes.
Needs numpy and polars.
"""

import argparse
import json
from pathlib import Path

import numpy as np
import polars as pl

RATE_HZ = 1000
CARD_S = 60
REST, FULL = 655.0, 3440.0
NOISE, HUM = 2.0, 0.5
# Seconds of a card of sixty seconds: step, how long.
CARD = [
    ("idle", 0.5), ("rest", 5.0), ("idle", 0.5), ("full", 5.0), ("idle", 0.5), ("strokes", 30.0), ("idle", 0.5),
    ("release", 4.0), ("idle", 0.2), ("release", 4.0), ("idle", 0.2), ("release", 4.0), ("idle", 0.6), ("shake", 5.0),
]


def travel_of(step, seconds, random):
    """Travel 0 .. 1 of one passage."""
    count = round(seconds * RATE_HZ)
    t = np.arange(count) / RATE_HZ
    if step == "full":
        return np.ones(count)
    if step == "strokes":
        # A minimum-jerk movement of 0.8 s, a dwell of 0.2 s, and back.
        stroke = np.floor(t).astype(np.int64)
        part = np.clip((t - stroke) / 0.8, 0.0, 1.0)
        up = part**3 * (10 - 15 * part + 6 * part**2)
        travel = np.where(stroke % 2 == 0, up, 1 - up)
        return np.where(stroke < seconds // 2 * 2, travel, 0.0)  # no control jumps back at the end
    if step == "release":
        # Held at full for a second, let go, back within a tenth of a second to where it rests this time.
        rests_at = random.normal(0.0, 0.0003)
        return np.where(t < 1.0, 1.0, rests_at + (1 - rests_at) * np.exp(-np.maximum(t - 1.0, 0.0) / 0.05))
    return np.zeros(count)


def card(first, scale, worn, random):
    """One card as a table, its first sample at `first`; its passages are `scale` times as long."""
    steps, travels = [], []
    for step, seconds in CARD:
        travel = travel_of(step, seconds * scale, random)
        steps.append((step, len(travel)))
        travels.append(travel)
    travel = np.concatenate(travels)
    sample = np.arange(first, first + len(travel))
    hum = HUM * np.sqrt(2) * np.sin(2 * np.pi * 50.0 / RATE_HZ * sample + 0.3)
    bits = lambda code: np.clip(np.rint(code), 0, 4095).astype(np.int32)
    track = lambda share: bits(
        share * (REST + (FULL - REST) * travel) + hum + random.normal(0.0, NOISE, len(travel)))
    word = pl.concat([pl.select(pl.repeat(step, n)).to_series() for step, n in steps])
    a = track(1.0)
    if worn:
        zone = (travel > 0.40) & (travel < 0.46)
        a = bits(a + np.where(zone, random.normal(0.0, 10 * NOISE, len(travel)), 0.0))
        moving = np.repeat([step == "strokes" for step, _ in steps], [n for _, n in steps])
        a = np.where(moving & (sample % 2000 >= 1200) & (sample % 2000 < 1203), 0, a).astype(np.int32)
    return pl.DataFrame({"t_us": sample * (1_000_000 // RATE_HZ), "step": word, "pedal_a": a, "pedal_b": track(0.5)})


def metadata(name, rows):
    column = lambda name, kind: {"name": name, "titles": name, "datatype": kind}
    whole = "nonNegativeInteger"
    return {
        "@context": "http://www.w3.org/ns/csvw",
        "url": name,
        "tableSchema": {"columns": [column("t_us", whole), column("step", "string"), column("pedal_a", whole),
                                    column("pedal_b", whole)]},
        "pedalproof": {
            "format": "capture/1",
            "board": {"name": "simulated", "bits": 12, "vref_mv": 5000.0, "rate_hz": float(RATE_HZ)},
            "unit": {"tag": "speed", "profile": "pedal-hall-two-track"},
            "channels": {"pedal_a": {"role": "signal", "track": 1}, "pedal_b": {"role": "signal", "track": 2}},
            "stream": {"lines": rows, "samples": rows, "rejected": {}, "missing": 0},
        },
    }


def make(out, rows, cards=None, worn=False, seed=8):
    """Writes the capture and its metadata; about `rows` rows, whole cards. Gives the rows written."""
    random = np.random.default_rng(seed)
    cards = cards or max(1, round(rows / RATE_HZ / CARD_S))
    scale = rows / RATE_HZ / CARD_S / cards
    first = 0
    with open(out, "wb") as file:
        for at in range(cards):
            table = card(first, scale, worn, random)
            table.write_csv(file, include_header=at == 0, line_terminator="\r\n")
            first += len(table)
    Path(f"{out}-metadata.json").write_text(json.dumps(metadata(Path(out).name, first), indent=2))
    return first


if __name__ == "__main__":
    arguments = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    arguments.add_argument("out")
    arguments.add_argument("rows", type=float)
    arguments.add_argument("--cards", type=int)
    arguments.add_argument("--worn", action="store_true")
    told = arguments.parse_args()
    print(make(told.out, int(told.rows), told.cards, told.worn), "rows")
