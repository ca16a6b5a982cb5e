#!/usr/bin/env python3
"""A second opinion on ten wears of the open cohorts, in plain Python.

Written from the published definitions and not from the engine. It reads the
cohorts beside the project and prints the figures that second_opinion.json
holds:

    python3 testdata/second_opinion.py > testdata/second_opinion.json

Standard library only. Values in mg/dL are divided by 18.0156.
"""
import csv
import gzip
import json
import math
import statistics
import sys
from datetime import datetime, timezone
from pathlib import Path

DATA = Path(__file__).resolve().parents[4] / "shared" / "data"
FACTOR = 18.0156
WEARS = [
    ("hall2018", "1636-69-035", "mg/dL"),
    ("hall2018", "1636-69-060", "mg/dL"),
    ("hall2018", "1636-69-123", "mg/dL"),
    ("hall2018", "2133-004", "mg/dL"),
    ("hall2018", "2133-018", "mg/dL"),
    ("hall2018", "2133-021", "mg/dL"),
    ("mss2023", "MSS03-1", "mmol/L"),
    ("mss2023", "MSS07-2", "mmol/L"),
    ("mss2023", "MSS25-1", "mmol/L"),
    ("bigideas", "002", "mg/dL"),
]
LIMITS = {  # the pairs of the consensus, each compared in the file's own unit
    "mg/dL": {"7_8": 140, "10": 180, "13_9": 250, "3_9": 70, "3_0": 54},
    "mmol/L": {"7_8": 7.8, "10": 10.0, "13_9": 13.9, "3_9": 3.9, "3_0": 3.0},
}


def read(cohort, subject):
    """The first wear of a person: up to the first gap of more than 72 h."""
    rows = []
    with gzip.open(DATA / cohort / "readings.csv.gz", "rt") as f:
        for row in csv.DictReader(f):
            if row["subject"] == subject:
                at = datetime.fromisoformat(row["timestamp"]).replace(tzinfo=timezone.utc)
                value = row.get("glucose_mgdl") or row.get("glucose_mmol")
                rows.append((int(at.timestamp()), float(value)))
    rows.sort()
    wear = rows[:1]
    for row in rows[1:]:
        if row[0] - wear[-1][0] > 72 * 3600:
            break
        if row[0] == wear[-1][0]:
            if row[1] != wear[-1][1]:
                sys.exit(f"{subject}: two values at one moment")
            continue
        wear.append(row)
    return wear


def interval(times):
    """The middle step, taken as 1, 5 or 15 minutes where within 15 %."""
    steps = sorted(b - a for a, b in zip(times, times[1:]))
    middle = steps[len(steps) // 2]
    for usual in (60, 300, 900):
        if abs(middle - usual) <= 0.15 * usual:
            return usual
    return middle


def mage(g, sd):
    """Mean of the moves larger than one SD, in the direction of the first."""
    turns = [g[0]]  # turning points of moves larger than sd, found by hindsight
    low = high = g[0]
    way = 0
    for x in g[1:]:
        if way >= 0 and x > high:
            high = x
        if way <= 0 and x < low:
            low = x
        if way == 0:
            if x - low > sd:
                way, turns, high = 1, [low], x
            elif high - x > sd:
                way, turns, low = -1, [high], x
        elif way > 0 and high - x > sd:
            turns.append(high)
            way, low = -1, x
        elif way < 0 and x - low > sd:
            turns.append(low)
            way, high = 1, x
    turns.append(high if way > 0 else low)
    moves = [b - a for a, b in zip(turns, turns[1:])]
    counted = [abs(m) for m in moves if (m > 0) == (moves[0] > 0)]
    return sum(counted) / len(counted)


def lagged(times, g, lag, step):
    """Differences from the earliest reading within half a step of lag before."""
    out = []
    for i, t in enumerate(times):
        for k in range(i):
            if abs(t - lag - times[k]) <= step / 2:
                out.append(g[i] - g[k])
                break
    return out


def risk(mg):
    return 1.509 * (math.log(mg) ** 1.084 - 5.381)


def above(a, b, dt):
    """Area above zero of a line from a to b."""
    if a >= 0 and b >= 0:
        return (a + b) / 2 * dt
    if a <= 0 and b <= 0:
        return 0.0
    top = max(a, b)
    return top / abs(a - b) * dt * top / 2


def episodes(times, past, step):
    """Runs past a limit by the 15-minute rule, gaps of more than two steps ending them."""
    need = max(2, math.ceil(900 / step))
    count, run, safe, inside, before = 0, 0, 0, False, None
    for t, p in zip(times, past):
        if before is not None and t - before > 2 * step:
            run, safe, inside = 0, 0, False
        if p:
            run += 1
            safe = 0
            if not inside and run >= need:
                inside, count = True, count + 1
        elif inside:
            safe += 1
            if safe >= need:
                run, safe, inside = 0, 0, False
        else:
            run = 0
        before = t
    return count


def figures(cohort, subject, unit):
    rows = read(cohort, subject)
    times = [t for t, _ in rows]
    raw = [v for _, v in rows]
    g = [v / FACTOR if unit == "mg/dL" else v for v in raw]
    mg = [v * FACTOR for v in g]
    n, step, limit = len(g), interval(times), LIMITS[unit]
    mean, sd = statistics.fmean(g), statistics.stdev(g)

    def share(test):
        return 100 * sum(map(test, raw)) / n

    joined = [i for i in range(1, n) if times[i] - times[i - 1] <= 2 * step]
    hours = sum(times[i] - times[i - 1] for i in joined) / 3600
    f = [risk(x) for x in mg]
    days = {}
    for t, x in zip(times, f):
        days.setdefault(t // 86400, []).append(x)
    ranges = [
        max([10 * x * x for x in d if x < 0], default=0) + max([10 * x * x for x in d if x >= 0], default=0)
        for d in days.values()
        if len(d) >= 3
    ]
    night = [x for t, x in zip(times, g) if t % 86400 < 6 * 3600]
    day = [x for t, x in zip(times, g) if t % 86400 >= 6 * 3600]
    length = sum(math.hypot((times[i] - times[i - 1]) / 60, mg[i] - mg[i - 1]) for i in joined)
    return {
        "readings": n,
        "mean_mmol": mean,
        "sd_mmol": sd,
        "cv_pct": 100 * sd / mean,
        "median_mmol": statistics.median(g),
        "min_mmol": min(g),
        "max_mmol": max(g),
        "above_7_8_pct": share(lambda v: v > limit["7_8"]),
        "above_10_pct": share(lambda v: v > limit["10"]),
        "above_13_9_pct": share(lambda v: v > limit["13_9"]),
        "below_3_9_pct": share(lambda v: v < limit["3_9"]),
        "below_3_0_pct": share(lambda v: v < limit["3_0"]),
        "night_mean_mmol": statistics.fmean(night),
        "day_mean_mmol": statistics.fmean(day),
        "mage_mmol": mage(g, sd),
        "modd_mmol": statistics.fmean(map(abs, lagged(times, g, 86400, step))),
        "conga_1_mmol": statistics.stdev(lagged(times, g, 3600, step)),
        "mag_mmol_h": sum(abs(g[i] - g[i - 1]) for i in joined) / hours,
        "lbgi": sum(10 * x * x for x in f if x < 0) / n,
        "hbgi": sum(10 * x * x for x in f if x >= 0) / n,
        "adrr": statistics.fmean(ranges),
        "j_index": 0.324 * (mean + sd) ** 2,
        "grade": statistics.median(min(50, 425 * (math.log10(math.log10(x)) + 0.16) ** 2) for x in g),
        "gvp_pct": 100 * (length / (hours * 60) - 1),
        "m_value": statistics.fmean(abs(10 * math.log10(x / 120)) ** 3 for x in mg),
        "lability": statistics.fmean(d * d for d in lagged(times, g, 3600, step)) * 168,
        "auc_above_7_8_mmol_h_day": sum(
            above(g[i - 1] - 7.8, g[i] - 7.8, (times[i] - times[i - 1]) / 3600)
            for i in joined
            if raw[i] > limit["7_8"] or raw[i - 1] > limit["7_8"]
        )
        / (hours / 24),
        "episodes": {
            "above_7_8": episodes(times, [v > limit["7_8"] for v in raw], step),
            "above_10": episodes(times, [v > limit["10"] for v in raw], step),
            "below_3_9": episodes(times, [v < limit["3_9"] for v in raw], step),
        },
    }


def main():
    out = [{"cohort": c, "subject": s, "unit": u, "figures": figures(c, s, u)} for c, s, u in WEARS]
    json.dump(out, sys.stdout, indent="\t")
    sys.stdout.write("\n")


if __name__ == "__main__":
    main()
