"""Measures this engine, parry, FCL and Coal side by side on the same bodies and poses.

    compare.py BENCH DATA [--quick] [--out FILE]     the comparison
    compare.py BENCH DATA --growth [--out FILE]      times of this engine against triangles

BENCH is the built bench target `peers` of the crate gap, DATA the folder that make.py filled. The
report is Markdown. The exit status is 1 when an answer of this engine disagrees with FCL, Coal or
parry, or with itself; how fast anything is never fails.

The poses go in blocks, and each block is put to every engine in turn, so that whatever else the
machine does hits all alike. FCL and Coal are asked through their Python packages; the report tells
how long a call through each takes when there is nothing to do. FCL, Coal and parry take meshes as
surfaces: a body wholly inside another is far from it to them. Such poses are counted, and there
they are held against the surfaces' distance. Whether there is one is decided anew by the winding
number, the sum of the triangles' solid angles (van Oosterom and Strackee, 1983), on as many poses
as the work allows and on all where this engine says so.
"""
import argparse
import importlib.metadata
import math
import os
import pathlib
import platform
import struct
import subprocess
import sys
import time
import warnings

import coal
import fcl
import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from make import GROWTH, matrix

PAIRS = [("car-10k", "cup-2k"), ("car-200k", "cup-20k"), ("car-2M", "cup-20k")]
SETS = ["random", "path"]
TURNS = ["aligned", "turned"]
BLOCK = 100
QUICK_STEP = 10  # Every so many poses in a quick run.
# Poses that parry is asked: a distance between its meshes can take many seconds.
PARRY_POSES = {"car-10k": 40, "car-200k": 10, "car-2M": 2}
CAP = 10.0  # Millimetres, as in the bench.
AGREE = 1e-6  # Millimetres by which two libraries may differ on a distance.
INSIDE_WORK = 50_000_000  # Triangles per set of poses that the inside check may look at.
SAME = 1e-9  # Millimetres by which two queries of this engine may.


# Files.

def read_mesh(path):
    """Corners and triangles of a file of make.py."""
    data = path.read_bytes()
    corners, triangles = struct.unpack_from("<II", data)
    return (np.frombuffer(data, "<f8", 3 * corners, 8).reshape(-1, 3).copy(),
            np.frombuffer(data, "<u4", 3 * triangles, 8 + 24 * corners).reshape(-1, 3)
            .astype(np.int64))


def read_poses(path):
    """Rows of a unit quaternion, scalar first, and a translation."""
    data = path.read_bytes()
    return np.frombuffer(data, "<f8", 7 * struct.unpack_from("<I", data)[0], 4).reshape(-1, 7)


def resident():
    """Bytes of this process that lie in memory (Linux)."""
    with open("/proc/self/statm", encoding="ascii") as file:
        return int(file.read().split()[1]) * os.sysconf("SC_PAGE_SIZE")


# Engines. Each answers `ask(query, indices)` with microseconds and answers: a distance, 0 where
# the surfaces meet or the bodies overlap, infinity beyond the cap, not a number where undecided;
# for a crossing, whether they do.

class Ours:
    """This engine and parry, in a process of their own."""

    WORDS = {"overlapping": 0.0, "farther": math.inf, "undecided": math.nan,
             "crossing": True, "not-crossing": False}

    def __init__(self, bench, car, cup, **environment):
        self.process = subprocess.Popen(
            [bench, car, cup], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
            env={**os.environ, **environment})
        told = self.line()
        self.triangles, self.others = int(told[0]), int(told[1])
        self.seconds, self.bytes, self.grown = float(told[2]), int(told[3]), int(told[4])

    def line(self):
        """The words of the next line it writes."""
        line = self.process.stdout.readline()
        if not line:
            raise RuntimeError(f"the bench ended with status {self.process.wait()}")
        return line.split()

    def tell(self, *words):
        """Writes it a line."""
        print(*words, file=self.process.stdin, flush=True)

    def prepare_parry(self):
        """Seconds, and bytes by which the process grew."""
        self.tell("parry")
        seconds, grown = self.line()
        return float(seconds), int(grown)

    def take(self, path):
        """Takes poses and forgets what it followed."""
        self.tell("poses", path)
        self.line()

    def ask(self, query, indices):
        """See above."""
        self.tell("ask", query, *indices)
        lines = [self.line() for _ in indices]
        return ([float(took) for took, _ in lines],
                [self.WORDS[a] if a in self.WORDS else float(a) for _, a in lines])

    def close(self):
        """Ends the process."""
        self.process.stdin.close()
        self.process.wait()


class Fcl:
    """FCL by python-fcl, whose meshes have OBBRSS trees."""

    def __init__(self, car, cup):
        self.seconds = self.copying = 0.0
        before = resident()
        first = self.model(*car)
        self.grown = resident() - before
        taken = self.seconds, self.copying
        self.car = fcl.CollisionObject(first, fcl.Transform())
        self.cup = fcl.CollisionObject(self.model(*cup), fcl.Transform())
        self.seconds, self.copying = taken
        self.poses = []

    def model(self, corners, triangles):
        """Only the last step builds the tree; the one before copies number by number."""
        start = time.perf_counter()
        model = fcl.BVHModel()
        model.beginModel(len(corners), len(triangles))
        model.addSubModel(corners, triangles)
        copied = time.perf_counter()
        model.endModel()
        self.copying, self.seconds = copied - start, time.perf_counter() - copied
        return model

    def take(self, path):
        """Takes poses."""
        self.poses = [fcl.Transform(p[:4], p[4:]) for p in read_poses(path)]

    def ask(self, query, indices):
        """See above."""
        times, answers = [], []
        for index in indices:
            self.cup.setTransform(self.poses[index])
            if query == "gap":
                request, result = fcl.DistanceRequest(), fcl.DistanceResult()
                start = time.perf_counter()
                fcl.distance(self.car, self.cup, request, result)
                times.append(time.perf_counter() - start)
                answers.append(max(result.min_distance, 0.0))
            else:
                request = fcl.CollisionRequest(num_max_contacts=1, enable_contact=False)
                result = fcl.CollisionResult()
                start = time.perf_counter()
                found = fcl.collide(self.car, self.cup, request, result)
                times.append(time.perf_counter() - start)
                answers.append(found > 0)
        return [1e6 * t for t in times], answers


class Coal:
    """Coal with OBBRSS trees."""

    def __init__(self, car, cup):
        self.grown = resident()
        start = time.perf_counter()
        self.car = self.model(*car)
        self.seconds = time.perf_counter() - start
        self.grown = resident() - self.grown
        self.bytes = coal.computeMemoryFootprint(self.car)
        self.cup = self.model(*cup)
        self.reach = np.linalg.norm(cup[0], axis=1).max()
        self.distance = coal.ComputeDistance(self.car, self.cup)
        self.collide = coal.ComputeCollision(self.car, self.cup)
        self.rows, self.poses, self.last = [], [], None

    @staticmethod
    def model(corners, triangles):
        """A mesh with its tree."""
        model = coal.BVHModelOBBRSS()
        model.beginModel(len(triangles), len(corners))
        model.addVertices(corners)
        model.addTriangles(triangles)
        model.endModel()
        return model

    def take(self, path):
        """Takes poses and forgets the last one."""
        self.rows = [(matrix(p[:4]), p[4:]) for p in read_poses(path)]
        self.poses = [coal.Transform3s(turn, shift) for turn, shift in self.rows]
        self.last = None

    def seed(self, index):
        """No less than the distance: the last one and as far as any corner has moved since."""
        if self.last is None:
            return None
        distance, before = self.last
        (turn, shift), (turned, shifted) = self.rows[index], self.rows[before]
        moved = np.linalg.norm(shift - shifted) + np.linalg.norm(turn - turned, 2) * self.reach
        return distance + moved + 1e-6

    def ask(self, query, indices):
        """See above. `seeded` starts from a bound on the distance, got from the pose before;
        `capped` from the cap."""
        here = coal.Transform3s.Identity()
        times, answers = [], []
        for index in indices:
            pose = self.poses[index]
            if query == "crosses":
                request, result = coal.CollisionRequest(), coal.CollisionResult()
                request.num_max_contacts, request.enable_contact = 1, False
                start = time.perf_counter()
                self.collide(here, pose, request, result)
                times.append(time.perf_counter() - start)
                answers.append(result.isCollision())
                continue
            request, result = coal.DistanceRequest(), coal.DistanceResult()
            request.enable_signed_distance = False
            bound = {"gap": None, "seeded": self.seed(index), "capped": CAP}[query]
            if bound is not None:
                result.min_distance = bound
            start = time.perf_counter()
            self.distance(here, pose, request, result)
            times.append(time.perf_counter() - start)
            found = max(result.min_distance, 0.0)
            if query == "seeded":
                self.last = found, index
            answers.append(math.inf if query == "capped" and found >= CAP else found)
        return [1e6 * t for t in times], answers


def call_floors():
    """Median microseconds of a call through each Python package between two lone triangles far
    apart: the share of its times that is not the library's work."""
    corners = np.array([[0.0, 0, 0], [1, 0, 0], [0, 1, 0]])
    alone = corners, np.array([[0, 1, 2]])
    floors = {}
    for name, engine in [("FCL", Fcl(alone, alone)), ("Coal", Coal(alone, alone))]:
        shift = np.array([100.0, 0, 0])
        if name == "FCL":
            engine.poses = [fcl.Transform(np.array([1.0, 0, 0, 0]), shift)]
        else:
            engine.poses = [coal.Transform3s(np.eye(3), shift)]
        floors[name] = {query: np.median(engine.ask(query, [0] * 2000)[0])
                        for query in ("gap", "crosses")}
    return floors


# Measuring.

def in_blocks(jobs, indices):
    """Puts every block of poses to every job in turn. A job is a name, an engine, a query and the
    poses it is asked. Returns name -> (indices, microseconds, answers)."""
    found = {name: ([], [], []) for name, *_ in jobs}
    for number, start in enumerate(range(0, len(indices), BLOCK)):
        block = indices[start:start + BLOCK]
        for job in range(len(jobs)):
            # Another one begins each block.
            name, engine, query, wanted = jobs[(job + number) % len(jobs)]
            mine = [index for index in block if index in wanted]
            if mine:
                times, answers = engine.ask(query, mine)
                for kept, new in zip(found[name], (mine, times, answers)):
                    kept.extend(new)
    return {name: tuple(map(np.array, kept)) for name, kept in found.items()}


class Disagreements(list):
    """What must not be; each is told once and ends the run with status 1."""

    def hold(self, where, wrong, what):
        """Notes it for those poses, of the ones asked, for which it is wrong."""
        wrong = np.asarray(wrong)
        if wrong.any():
            self.append(f"{where}: {what}: {wrong.sum()} of {len(wrong)} poses, the first is "
                        f"number {np.flatnonzero(wrong)[0]} of those asked")


def agreement(where, found, engine, bodies, rows, disagreements):
    """Holds all answers of one set of poses against one another; a row of the report. Adds to
    `found` which poses are free. `rows` are rotation matrices and translations."""
    indices, _, ours = found["ours gap"]
    crossing = found["ours crosses"][2].astype(bool)
    disagreements.hold(where, np.isnan(ours), "ours is undecided")
    held = (ours == 0.0) & ~crossing
    surfaces = ours.copy()
    if held.any():
        surfaces[held] = engine.ask("surfaces", indices[held])[1]
    free = ours > 0.0
    found["free"] = dict(zip(indices, free))
    row = {"free": free.sum(), "held": held.sum(), "poses": len(ours),
           "least": ours[free].min(), "worst": {}, "booleans": {}, "clear": {}}
    disagreements.hold(where, free & crossing, "ours is apart and crossing at once")
    row["looked"] = check_inside(where, bodies, rows, indices, held, crossing, disagreements)

    place = {index: at for at, index in enumerate(indices)}
    for name, (asked, _, theirs) in ((n, f) for n, f in found.items() if n != "free"):
        if name == "ours gap" or not len(asked):
            continue
        at = np.array([place[index] for index in asked])
        peer = name.split()[0]
        if name.endswith("crosses"):
            if name == "ours crosses":
                continue
            theirs = theirs.astype(bool)
            row["booleans"][peer] = int((theirs != crossing[at]).sum())
            disagreements.hold(where, theirs != crossing[at], f"{name} says otherwise than ours")
            row["clear"][peer] = row["clear"].get(peer, 0) + int((theirs & free[at]).sum())
            continue
        # A capped answer is infinite when the distance is no less than the cap.
        should = surfaces[at] if peer != "ours" else ours[at]
        if name.endswith("capped"):
            near = should < CAP
            disagreements.hold(where, np.isfinite(theirs) != near,
                               f"{name} is on the other side of the cap than our gap")
            theirs = np.where(np.isfinite(theirs) & near, theirs, should)
        apart = np.abs(theirs - should)
        row["worst"][name] = apart.max()
        disagreements.hold(where, ~(apart <= (SAME if peer == "ours" else AGREE)),
                           f"{name} differs from our gap by up to {apart.max():.3g} mm")
        if peer != "ours":
            # Either way: ours apart where the peer's surfaces meet, or the reverse.
            wrong = ((theirs == 0.0) & free[at]) | ((theirs > 0.0) & (surfaces[at] == 0.0))
            row["clear"][peer] = row["clear"].get(peer, 0) + int(wrong.sum())
            disagreements.hold(where, wrong, f"{name} and ours differ on whether they meet")
    return row


def measure(bench, data, car, cup, turn, quick, disagreements):
    """Everything about one pair of bodies in one turn."""
    files = [data / f"{car}-{turn}.mesh", data / f"{cup}-{turn}.mesh"]
    bodies = [read_mesh(file) for file in files]
    theirs = {"FCL": Fcl(*bodies), "Coal": Coal(*bodies)}
    ours = Ours(bench, *files)
    alone = Ours(bench, *files, RAYON_NUM_THREADS="1")
    alone.close()
    per_triangle = {name: grown / ours.triangles for name, grown in
                    [("ours", ours.grown), ("FCL", theirs["FCL"].grown),
                     ("Coal", theirs["Coal"].grown)]}
    result = {"triangles": ours.triangles, "others": ours.others,
              "build": {"ours": ours.seconds, "ours, one thread": alone.seconds,
                        "FCL": theirs["FCL"].seconds, "Coal": theirs["Coal"].seconds},
              "copying": theirs["FCL"].copying,
              "counted": {"ours": ours.bytes / ours.triangles,
                          "Coal": theirs["Coal"].bytes / ours.triangles},
              "grown": per_triangle, "sets": {}, "agreement": {}}
    result["build"]["parry"], grown = ours.prepare_parry()
    per_triangle["parry"] = grown / ours.triangles
    for name in SETS:
        path = data / f"{name}-{turn}.poses"
        engines = [ours, *theirs.values()]
        for engine in engines:
            engine.take(path)
        count = len(theirs["Coal"].rows)
        step = QUICK_STEP if quick else 1
        indices = list(range(0, count, step))
        everything = frozenset(indices)
        parry = PARRY_POSES[car] // (10 if quick else 1) or 1
        few = frozenset(indices[::len(indices) // parry][:parry])
        jobs = [("ours gap", ours, "gap", everything),
                ("FCL gap", theirs["FCL"], "gap", everything),
                ("Coal gap", theirs["Coal"], "gap", everything),
                ("ours capped", ours, "capped", everything),
                ("Coal capped", theirs["Coal"], "capped", everything),
                ("ours crosses", ours, "crosses", everything),
                ("FCL crosses", theirs["FCL"], "crosses", everything),
                ("Coal crosses", theirs["Coal"], "crosses", everything),
                ("parry gap", ours, "parry-gap", few),
                ("parry-swapped gap", ours, "parry-gap-swapped", few),
                ("parry crosses", ours, "parry-crosses", few)]
        if name == "path":
            jobs += [("ours warm", ours, "warm", everything),
                     ("Coal seeded", theirs["Coal"], "seeded", everything)]
        # First calls pay for what is not measured here.
        for _, engine, query, wanted in jobs:
            if wanted is everything:
                engine.ask(query, indices[:3])
        for engine in engines:
            engine.take(path)
        found = in_blocks(jobs, indices)
        where = f"{car}, {name}, {turn}"
        result["agreement"][name] = agreement(where, found, ours, bodies, theirs["Coal"].rows,
                                              disagreements)
        result["sets"][name] = found
        print(f"measured {where}", file=sys.stderr, flush=True)
    ours.close()
    return result


def inside(point, corners, triangles):
    """Whether a point off a closed surface is inside, by the winding number."""
    a, b, c = (corners[triangles[:, k]] - point for k in range(3))
    la, lb, lc = (np.linalg.norm(v, axis=1) for v in (a, b, c))
    dot = lambda u, v: np.einsum("ij,ij->i", u, v)
    across = dot(a, np.cross(b, c))
    along = la * lb * lc + dot(a, b) * lc + dot(b, c) * la + dot(c, a) * lb
    return abs(np.arctan2(across, along).sum() / math.tau) > 0.5


def shells(corners, triangles):
    """One corner of every connected shell."""
    ends = triangles[:, [0, 1]], triangles[:, [1, 2]]
    links = np.concatenate(ends)
    size = len(corners)
    _, shell = connected_components(
        coo_matrix((np.ones(len(links)), links.T), (size, size)), directed=False)
    return corners[np.unique(shell, return_index=True)[1]]


def check_inside(where, bodies, rows, indices, held, crossing, disagreements):
    """Holds what this engine says of one body inside the other against the winding number, where
    the surfaces are apart: then one corner of each shell tells. Returns how many poses were looked
    at."""
    car, cup = bodies
    of_car, of_cup = shells(*car), shells(*cup)
    apart = np.flatnonzero(~crossing & ~held)
    work = len(of_cup) * len(car[1]) + len(of_car) * len(cup[1])
    most = max(1, INSIDE_WORK // work)
    looked = np.concatenate([np.flatnonzero(held), apart[::max(1, math.ceil(len(apart) / most))]])
    for at in looked:
        turn, shift = rows[indices[at]]
        truth = (any(inside(turn @ corner + shift, *car) for corner in of_cup)
                 or any(inside(turn.T @ (corner - shift), *cup) for corner in of_car))
        disagreements.hold(where, [truth != held[at]],
                           f"one inside the other is {truth} on pose {indices[at]}")
    return len(looked)


# The report.

def summary(found, name, only_free):
    """Median, mean, 95th percentile and how many."""
    indices, times, _ = found[name]
    if only_free and len(indices):
        times = times[[found["free"][index] for index in indices]]
    if not len(times):
        return None
    return np.median(times), times.mean(), np.percentile(times, 95), len(times)


def figures(value):
    """Three figures, never an exponent."""
    if value >= 100:
        return f"{value:,.0f}"
    return f"{value:.1f}" if value >= 10 else f"{value:.2f}"


def table(head, rows):
    """A Markdown table."""
    lines = [head, ["---"] * len(head), *rows]
    return "\n".join("| " + " | ".join(str(cell) for cell in line) + " |" for line in lines)


QUERIES = [  # Of the report: words, job, whether over free poses only.
    ("exact gap, free poses: ours", "ours gap", True),
    ("FCL", "FCL gap", True),
    ("Coal", "Coal gap", True),
    ("parry (car, cup)", "parry gap", True),
    ("parry (cup, car)", "parry-swapped gap", True),
    ("exact gap along the path, free poses: ours, following", "ours warm", True),
    ("Coal, seeded with the pose before", "Coal seeded", True),
    ("gap capped at 10 mm, all poses: ours", "ours capped", False),
    ("Coal, seeded with 10 mm", "Coal capped", False),
    ("exact gap, all poses: FCL", "FCL gap", False),
    ("Coal", "Coal gap", False),
    ("crossing, all poses: ours", "ours crosses", False),
    ("FCL", "FCL crosses", False),
    ("Coal", "Coal crosses", False),
    ("parry", "parry crosses", False),
]
COLUMNS = [(name, turn) for name in SETS for turn in TURNS]


def times_table(of_turn):
    """Times of one pair of bodies."""
    rows = []
    for words, job, only_free in QUERIES:
        row = [words]
        for name, turn in COLUMNS:
            found = of_turn[turn]["sets"][name]
            told = summary(found, job, only_free) if job in found else None
            cell = " / ".join(map(figures, told[:3])) if told else "–"
            if told and job.startswith("parry"):
                cell += f" (n={told[3]})"
            row.append(cell)
        rows.append(row)
    return table(["median / mean / p95, us"] + [f"{n} {t}" for n, t in COLUMNS], rows)


def build_table(results):
    """Build times and memory."""
    rows = []
    for (car, turn), result in results.items():
        for name, seconds in result["build"].items():
            counted, grown = result["counted"].get(name), result["grown"].get(name)
            note = f" (and {result['copying']:.2f} copying from Python)" if name == "FCL" else ""
            rows.append([f"{car} {turn}", name, f"{seconds:.3f}{note}",
                         f"{counted:.0f}" if counted else "–", f"{grown:.0f}" if grown else "–"])
    return table(["car top", "engine", "build, s", "bytes a triangle, as it counts",
                  "bytes a triangle, growth of the process"], rows)


def agreement_table(results):
    """Agreement of all answers."""
    rows = []
    for (car, turn), result in results.items():
        for name, row in result["agreement"].items():
            worst = {}
            for job, value in row["worst"].items():
                peer = job.split()[0]
                worst[peer] = max(worst.get(peer, 0.0), value)
            rows.append([
                f"{car} {name} {turn}", row["poses"], row["free"], f"{row['least']:.3g}",
                f"{row['held']} of {row['looked']}", *(f"{worst[p]:.1e}" for p in ("FCL", "Coal")),
                f"{max(worst['parry'], worst['parry-swapped']):.1e}", f"{worst['ours']:.1e}",
                " ".join(f"{row['booleans'][p]}" for p in ("FCL", "Coal", "parry")),
                sum(row["clear"].values())])
    return table(["", "poses", "free", "least gap, mm", "one inside the other, of those looked at",
                  "greatest difference, mm: FCL", "Coal", "parry", "ours warm, capped",
                  "crossings otherwise: FCL Coal parry", "false clears, all queries"], rows)


PEERS = ["FCL", "Coal"]


def ratio_rows(car, of_turn):
    """How many times faster than the faster of FCL and Coal, median and mean."""
    targets = [("exact gap, free poses", "gap", "ours gap", True, SETS, 10),
               ("following along the path, free poses", "gap", "ours warm", True, ["path"], 40),
               ("capped at 10 mm, all poses", "gap", "ours capped", False, SETS, 150),
               ("crossing, all poses", "crosses", "ours crosses", False, SETS, 8)]
    rows = []
    for words, query, job, only_free, sets, target in targets:
        for name in sets:
            cells, reached = [], {}
            for turn in TURNS:
                found = of_turn[turn]["sets"][name]
                own = summary(found, job, only_free)
                peers = [summary(found, f"{peer} {query}", only_free) for peer in PEERS]
                median, mean = (min(p[k] for p in peers) / own[k] for k in (0, 1))
                cells.append(f"{figures(median)} / {figures(mean)}")
                reached[turn] = median >= target, mean >= target
            word = {(True, True): "yes", (True, False): "**median yes, mean no**",
                    (False, True): "**median no, mean yes**", (False, False): "**no**"}
            rows.append([words, car, name, *cells, f">= {target}", word[reached["turned"]]])
    return rows


def ratio_table(results, cars):
    """Against the targets."""
    rows = []
    for car in cars:
        rows += ratio_rows(car, {turn: results[car, turn] for turn in TURNS})
    largest = [results.get(("car-2M", turn)) for turn in TURNS]
    if all(largest):
        def build(name):
            return [r["build"]["FCL"] / r["build"][name] for r in largest]
        for words, ratios in [("build against FCL's tree alone", build("ours")),
                              ("the same, ours on one thread", build("ours, one thread"))]:
            rows.append([words, "car-2M", "", *map(figures, ratios), ">= 4",
                         "yes" if ratios[1] >= 4 else "**no**"])
        counted = [r["counted"]["ours"] for r in largest]
        rows.append(["bytes a triangle, as counted", "car-2M", "", *map(figures, counted),
                     "<= 100", "yes" if counted[1] <= 100 else "**no**"])
    return table(["times faster than the faster of FCL and Coal: median / mean", "car top",
                  "poses", "aligned", "turned", "target", "reached, turned"], rows)


def machine():
    """What it ran on."""
    with open("/proc/cpuinfo", encoding="ascii") as file:
        model = next((line.split(":")[1].strip() for line in file if "model name" in line), "?")
    rust = subprocess.run(["rustc", "--version"], capture_output=True, text=True, check=False)
    versions = ", ".join(f"{name} {importlib.metadata.version(name)}"
                         for name in ("python-fcl", "coal", "numpy", "manifold3d"))
    return (f"{model}, {os.cpu_count()} cores; {rust.stdout.strip()}, "
            f"RUSTFLAGS {os.environ.get('RUSTFLAGS') or 'none'}; "
            f"Python {platform.python_version()}, {versions}; parry3d-f64 by Cargo.lock.")


def compare(bench, data, quick):
    """The comparison; the report and what disagrees."""
    floors = call_floors()
    disagreements, results = Disagreements(), {}
    began, load = time.time(), os.getloadavg()[0]
    pairs = PAIRS[:2] if quick else PAIRS
    for car, cup in pairs:
        for turn in TURNS:
            results[car, turn] = measure(bench, data, car, cup, turn, quick, disagreements)
    parts = [
        "# The gap engine beside FCL, Coal and parry",
        f"{machine()} Load {load:.1f} at the start, {os.getloadavg()[0]:.1f} at the end, after "
        f"{time.time() - began:.0f} s.",
        f"All engines answered the same poses in one run, in turn by blocks of {BLOCK}"
        + (f"; only every {QUICK_STEP}th pose (a quick run)." if quick else ".")
        + " Every query runs on one thread. A call between two lone triangles takes "
        + "; ".join(f"{name} {f['gap']:.1f} us (gap), {f['crosses']:.1f} us (crossing)"
                    for name, f in floors.items())
        + ": that much of their times is the call through Python."]
    for car, cup in pairs:
        of_turn = {turn: results[car, turn] for turn in TURNS}
        first = of_turn["turned"]
        parts += [f"## {car} ({first['triangles']:,} triangles) and {cup} "
                  f"({first['others']:,} triangles)", times_table(of_turn)]
    parts += ["## Build and memory", build_table(results),
              "FCL's build is its tree alone; ours and parry's begin with the mesh in memory and "
              "end with the body ready. Growth of the process is noisy on small bodies and counts "
              "what was set free but not given back.",
              "## Agreement", agreement_table(results),
              "False clears: poses on which one says that the surfaces meet and the other that "
              "they do not. Where one body is inside the other, FCL, Coal and parry see only the "
              "surfaces and say apart; their distance is held against that of the surfaces.",
              "## Against the targets", ratio_table(results, [car for car, _ in pairs])]
    return parts, disagreements


def growth(bench, data):
    """Times against triangles, on turned bodies; the report and what disagrees."""
    cup, poses = data / "cup-2k-turned.mesh", data / "random-turned.poses"
    engines = {name: Ours(bench, data / f"grown-{name}-turned.mesh", cup) for name in GROWTH}
    indices = list(range(0, len(read_poses(poses)), 2))
    queries = ["gap", "capped", "crosses"]
    jobs = [(f"{name} {query}", engine, query, frozenset(indices))
            for name, engine in engines.items() for query in queries]
    for engine in engines.values():
        engine.take(poses)
    for _, engine, query, _ in jobs:
        engine.ask(query, indices[:3])
    found = in_blocks(jobs, indices)
    disagreements = Disagreements()
    base = found[f"{next(iter(GROWTH))} gap"][2]
    free = base > 0.0
    rows, means = [], {query: [] for query in queries}
    for name, engine in engines.items():
        gaps = found[f"{name} gap"][2]
        # The cuts leave the shape as it is, so the answers too.
        disagreements.hold(name, ~(np.abs(gaps - base) <= AGREE), "the gap changes with the cuts")
        row = [f"{engine.triangles:,}", f"{math.log10(engine.triangles):.2f}",
               f"{engine.seconds:.3f}", f"{engine.bytes / engine.triangles:.0f}"]
        for query in queries:
            times = found[f"{name} {query}"][1]
            times = times[free] if query == "gap" else times
            means[query].append((np.median(times), times.mean()))
            row += [f"{figures(np.median(times))} / {figures(times.mean())}",
                    f"{math.log10(np.median(times)):.2f}"]
        rows.append(row)
    logs = np.log10([engine.triangles for engine in engines.values()])
    fits = []
    for query in queries:
        for column, word in enumerate(("median", "mean")):
            values = np.log10([m[column] for m in means[query]])
            slope = np.polyfit(logs, values, 1)[0]
            fits.append([query, word, f"{slope:.2f}", f"{np.polyfit(logs[-3:], values[-3:], 1)[0]:.2f}"])
    for engine in engines.values():
        engine.close()
    head = ["triangles", "log10", "build, s", "bytes a triangle"]
    for words in ("gap, free poses", "capped at 10 mm", "crossing"):
        head += [f"{words}: median / mean, us", "log10 of the median"]
    return ["# Time against triangles",
            f"{machine()} One car top cut ever finer, so that its shape and every answer stays, "
            f"against cup-2k; both turned; {len(indices)} random poses, {free.sum()} free; all "
            "sizes in turn by blocks.",
            table(head, rows),
            "Exponent k of time = c * triangles^k, least squares on the logarithms:",
            table(["query", "", "all sizes", "last three sizes"], fits)], disagreements


def main():
    """Runs what the command line asks for."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("bench", type=pathlib.Path)
    parser.add_argument("data", type=pathlib.Path)
    parser.add_argument("--quick", action="store_true")
    parser.add_argument("--growth", action="store_true")
    parser.add_argument("--out", type=pathlib.Path, help="file that also gets the report")
    chosen = parser.parse_args()
    warnings.filterwarnings("ignore", category=DeprecationWarning)
    if chosen.growth:
        parts, disagreements = growth(chosen.bench, chosen.data)
    else:
        parts, disagreements = compare(chosen.bench, chosen.data, chosen.quick)
    parts.append("No disagreement." if not disagreements else
                 "DISAGREEMENTS:\n\n" + "\n".join(f"- {line}" for line in disagreements))
    report = "\n\n".join(parts)
    print(report)
    if chosen.out:
        chosen.out.write_text(report + "\n", encoding="utf-8")
        print(f"written to {chosen.out}", file=sys.stderr)
    return 1 if disagreements else 0


if __name__ == "__main__":
    sys.exit(main())
