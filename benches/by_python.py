"""The figures of `assess` for a capture of two tracks without a reference, as a practitioner would write them with polars, numpy
and scipy: whole columns at a time, loops over passages and strokes only. Prints JSON.

    python benches/by_python.py CAPTURE.csv

The plain definitions without intervals, methods in words, missing samples or advice: less than `assess` does, never more.
"""

import hashlib
import json
import sys
import time

BEGUN = time.perf_counter()

import numpy as np
import polars as pl
from scipy import signal, stats

IMPORTED = time.perf_counter()


def passages(table):
    """(step, from, to) of every run of one step."""
    runs = table.select(pl.col("step").rle()).unnest("step")
    ends = runs["len"].cum_sum().to_numpy()
    return list(zip(runs["value"].to_list(), ends - runs["len"].to_numpy(), ends))


def hold(t, codes):
    """Mean, noise about a straight line, degrees of freedom, peak to peak and slope of one hold."""
    x = t - t.mean()
    mean = codes.mean()
    slope = (x * (codes - mean)).sum() / (x * x).sum()
    left = codes - mean - slope * x
    return mean, np.sqrt((left**2).sum() / (len(codes) - 2)), len(codes) - 2, np.ptp(left), slope


def pooled(holds):
    noise, dof = np.array([h[1] for h in holds]), np.array([h[2] for h in holds])
    return np.sqrt((noise**2 * dof).sum() / dof.sum())


def hum(t, pieces, mains):
    """Power of a line, fitted with an offset and a slope to pieces of half a second, less the noise beside it."""
    def power(frequency):
        w = 2 * np.pi * frequency * t
        basis = np.stack([np.cos(w), np.sin(w), np.ones_like(t), t - t.mean()], axis=1)
        found = np.linalg.lstsq(basis, pieces.T, rcond=None)[0]
        return (found[0] ** 2 + found[1] ** 2).sum() / 2
    beside = np.mean([power(mains + 2 * k) for k in (-3, -2, -1, 1, 2, 3)])
    return np.sqrt(max(0.0, power(mains) - beside) / len(pieces))


def release_time(t, travel):
    """Seconds from 90 % to 10 % of the first fall, between samples by straight lines."""
    low = np.argmax(travel < 0.1)
    high = low - np.argmax(travel[low::-1] > 0.9)
    at = lambda level, i: t[i] + (travel[i] - level) / (travel[i] - travel[i + 1]) * (t[i + 1] - t[i])
    return at(0.1, low - 1) - at(0.9, high)


def strokes_of(travel, height=0.15):
    """Pieces between turning points: where the smoothed travel crosses the middle, out to its next extremes."""
    crossings = np.flatnonzero(np.diff(travel > 0.5))
    crossings = crossings[np.diff(crossings, prepend=-1000) > 100]
    borders = np.concatenate([[0], (crossings[1:] + crossings[:-1]) // 2, [len(travel)]])
    found = []
    for start, end in zip(borders[:-1], borders[1:]):
        piece = travel[start:end]
        moving = np.flatnonzero((piece > 0.02) & (piece < 0.98))
        if len(moving) and np.ptp(piece) > height:
            found.append((start + moving[0], start + moving[-1] + 1, piece[-1] > piece[0]))
    return found


def channel(t, codes, parts):
    figures = {}
    of = lambda step: [(a, b) for s, a, b in parts if s == step]
    rest = [hold(t[a:b], codes[a:b]) for a, b in of("rest")]
    full = [hold(t[a:b], codes[a:b]) for a, b in of("full")]
    low, high = np.mean([h[0] for h in rest]), np.mean([h[0] for h in full])
    span = high - low
    travel = (codes - low) / span
    # Returns: the settled half second and more at the end of each release count as rest, too.
    tails = [hold(t[b - 2500:b], codes[b - 2500:b]) for _, b in of("release")]
    low = np.mean([h[0] for h in rest + tails])
    span = high - low
    figures |= {"rest_code": low, "full_code": high, "span_code": span, "rest_ratio": low / 4096, "full_ratio": high / 4096}
    figures["noise_rest_rms"], figures["noise_full_rms"] = pooled(rest), pooled(full)
    figures["noise_peak_to_peak"] = max(h[3] for h in rest + full)
    figures["noise_free_bits"] = np.log2(abs(span) / (6.6 * max(pooled(rest), pooled(full))))
    returned = np.array([h[0] for h in rest[1:] + tails])
    figures["return_scatter"], figures["return_range"] = returned.std(ddof=1), np.ptp(returned)
    longest = max(of("rest") + of("full"), key=lambda p: p[1] - p[0])
    figures["drift_per_min"] = 60 * stats.linregress(t[slice(*longest)], codes[slice(*longest)]).slope
    figures["release_time"] = max(release_time(t[a:b], travel[a:b]) for a, b in of("release"))
    pieces = np.concatenate([codes[a:b][: (b - a) // 500 * 500].reshape(-1, 500) for a, b in of("rest") + of("full")])
    for mains in (50, 60):
        figures[f"hum_{mains}_rms"] = hum(np.arange(500) / 1000, pieces, mains)
    figures |= moving(t, codes, travel, low, span, of)
    return figures


def moving(t, codes, travel, low, span, of):
    """Noise, roughness and wear over the travel, bursts and dropouts."""
    energy, roughness, block_powers = [], [], []
    dropouts = 0
    for a, b in of("strokes"):
        smooth = signal.savgol_filter(codes[a:b], 27, 2)
        left = (codes[a:b] - smooth) / np.sqrt(1 - signal.savgol_coeffs(27, 2)[13])
        wide = signal.savgol_filter(codes[a:b], 51, 2)
        place = (smooth - low) / span
        for start, end, _ in strokes_of(place):
            inside = slice(start, end)
            bins = np.clip((100 * place[inside]).astype(int), 0, 99)
            count = np.bincount(bins, minlength=100)
            with np.errstate(invalid="ignore"):
                energy.append(np.bincount(bins, left[inside] ** 2, minlength=100) / count)
                cells = np.clip((1000 * place[inside]).astype(int), 0, 999)
                off = (codes[a:b] - wide)[inside]
                roughness.append(np.bincount(cells, off, minlength=1000) / np.bincount(cells, minlength=1000))
            power = left[inside][: (end - start) // 16 * 16].reshape(-1, 16) ** 2
            block_powers.append(power.mean(axis=1))
    powers = np.concatenate(block_powers)
    variance = np.median(powers)
    with np.errstate(invalid="ignore"):
        loud = np.array(energy) > 4 * variance
        noise_of_bins = np.nanmedian(np.array(energy), axis=0)
        mean = np.nanmean(np.array(roughness), axis=0)
    for a, b in of("strokes") + of("shake") + of("rest") + of("full"):
        # A dropout: a few samples far from the running median.
        off = np.abs(codes[a:b] - signal.medfilt(codes[a:b], 11)) > max(0.02 * abs(span), 16 * np.sqrt(variance))
        dropouts += np.count_nonzero(np.diff(off.astype(np.int8)) == 1)
    windows = np.lib.stride_tricks.sliding_window_view(mean, 10)
    return {
        "stroke_noise_rms": np.sqrt(variance / (1 - 2 / (9 * 16)) ** 3),
        "smoothness": 100 / abs(span) * np.nanmax(np.nanmax(windows, axis=1) - np.nanmin(windows, axis=1)),
        "worn_zones_count": int(np.count_nonzero(np.diff((loud.mean(axis=0) > 0.5).astype(np.int8)) == 1)),
        "dropouts_count": int(dropouts),
        "interference_share": 100 * np.mean(powers > 4 * variance),
        "noise_map": [None if np.isnan(x) else x for x in np.sqrt(noise_of_bins)],
    }


def pair(t, a, b, parts):
    """Lag by the phase of the cross spectrum's slope, line with errors in both, largest departure."""
    strokes = [(x, y) for s, x, y in parts if s == "strokes"]
    smooth = lambda codes: np.concatenate([signal.savgol_filter(codes[x:y], 25, 2) for x, y in strokes])
    smooth_a, smooth_b = smooth(a), smooth(b)
    slope_a = np.gradient(smooth_a)
    direction = np.sign(slope_a)
    terms = np.stack([np.ones_like(smooth_a), smooth_a, slope_a, direction], axis=1)
    found = np.linalg.lstsq(terms, smooth_b, rcond=None)[0]
    lag = -found[2] / found[1]
    raw_a, raw_b = (np.concatenate([codes[x:y] for x, y in strokes]) for codes in (a, b))
    sxx, syy = raw_a.var(), raw_b.var()
    sxy = ((raw_a - raw_a.mean()) * (raw_b - raw_b.mean())).mean()
    gain = (syy - sxx + np.sqrt((syy - sxx) ** 2 + 4 * sxy**2)) / (2 * sxy)
    offset = raw_b.mean() - gain * raw_a.mean()
    bins = np.clip(((smooth_a - smooth_a.min()) / np.ptp(smooth_a) * 100).astype(int), 0, 99)
    turn = np.cumsum(np.diff(bins, prepend=bins[0]) != 0)
    departure = raw_b - gain * raw_a - offset
    means, counts = np.bincount(turn, departure), np.bincount(turn)
    blocks = (means / counts)[counts >= 10]
    return {"track_gain": gain, "track_offset": offset, "track_lag": lag,
            "track_disagreement": 100 * np.abs(blocks).max() / np.ptp(smooth_b)}


def main(path):
    with open(path, "rb") as file:
        sha = hashlib.file_digest(file, "sha256").hexdigest()
    table = pl.read_csv(path)
    read = time.perf_counter()
    parts = passages(table)
    t = table["t_us"].to_numpy() * 1e-6
    a, b = (table[name].to_numpy().astype(np.float64) for name in ("pedal_a", "pedal_b"))
    answer = {"sha256": sha, "samples": len(t),
              "channels": {"pedal_a": channel(t, a, parts), "pedal_b": channel(t, b, parts)},
              "pairs": {"pedal_a/pedal_b": pair(t, a, b, parts)}}
    done = time.perf_counter()
    answer["seconds"] = {"imports": IMPORTED - BEGUN, "reading": read - IMPORTED, "figures": done - read}
    print(json.dumps(answer, default=float))


if __name__ == "__main__":
    main(sys.argv[1])
