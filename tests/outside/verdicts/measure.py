"""Measures placed rigs again with FCL and compares with what overcup reported.

    measure.py OVERCUP EXAMPLES [CASE [FITTING...]]

How FCL measures is in ../shared/bodies.py. Which gap is asked for between which kinds of parts is
read from the kit document itself, because pairs that are far apart are not reported.

Lengths are millimetres.
"""
import collections
import fractions
import json
import pathlib
import subprocess
import sys
import tempfile
import tomllib

import numpy as np

sys.path.insert(0, str(pathlib.Path(__file__).parents[1] / "shared"))
from bodies import Body, distance  # noqa: E402

SAME = 1e-4  # Distances are exact over the triangles in both programs.
TOUCH = 1e-9  # Surfaces nearer than this touch.
RIG_KINDS = (  # names begin with
    ("gasket", "gasket"), ("cup", "cup"), ("side port", "cup"), ("outlet handle", "outlet-handle"), ("outlet", "outlet"),
    ("clamp bar", "bar"), ("saddle", "saddle"), ("upper pin's path", "pin-path"),
    ("lower pin's path", "pin-path"), ("upper pin", "pin"), ("lower pin", "pin"),
    ("inside link", "link"), ("outside link", "link"), ("foot", "foot"),
    ("screw block", "screw-block"), ("screw handle", "screw-handle"), ("screw", "screw"),
)


class Part(Body):
    """A mesh in the plate frame."""

    def __init__(self, name, kind, path, deviation, shift=0.0):
        super().__init__(path)
        self.put(np.eye(3), [shift, 0, 0])
        self.name, self.kind, self.deviation = name, kind, deviation


def length(text):
    """Millimetres of a length as the documents write it: "1 1/2 in", "3 mm"."""
    *numbers, unit = (text["value"] if isinstance(text, dict) else text).split()
    number = float(sum(fractions.Fraction(n) for n in numbers))
    return number * {"mm": 1.0, "in": 25.4, "ft": 304.8}[unit]


def needs(kit):
    """The gap asked for between two kinds."""
    table = {frozenset(n["between"]): length(n["gap"]) for n in kit.get("need", [])}
    otherwise = length(kit["rules"]["need-otherwise"])
    return lambda a, b: table.get(frozenset((a, b)), otherwise)


def car_kinds(case):
    """The kind of each mesh of a case."""
    kinds = {case["plate"]["mesh"]: "plate"}
    kinds |= {mesh: "housing" for mesh in case["housing"]["meshes"]}
    kinds |= {port["cover"]: "port-cover" for port in case["port"] if "cover" in port}
    kinds |= {mesh: "hinge" for mesh in case.get("hinge", {}).get("meshes", [])}
    kinds |= {studs["mesh"]: "stud" for studs in case.get("studs", [])}
    if "mesh" in case.get("lid", {}):
        kinds[case["lid"]["mesh"]] = "lid"
    for fitting in case["fitting"]:
        pieces = [piece["mesh"] for piece in fitting.get("removable", [])]
        kinds |= {mesh: "fitting" for mesh in fitting["meshes"] + pieces}
    return kinds


def check(entry, folder, case, need, shift=0.0):
    """Faults of one fitting, with counts of what was measured. The rig is moved by `shift`."""
    kinds = car_kinds(case)
    rig, car = [], []
    for part in entry["parts"]:
        path = folder / entry["folder"] / part["file"]
        if part["file"].startswith("rig-"):
            kind = next(k for start, k in RIG_KINDS if part["name"].startswith(start))
            rig.append(Part(part["name"], kind, path, part["deviation_mm"], shift))
        else:
            car.append(Part(part["name"], kinds[part["name"]], path, part["deviation_mm"]))
    parts = {part.name: part for part in rig + car}
    faults, count = [], collections.Counter()
    if len(parts) != len(rig) + len(car) or not rig or not car:
        faults.append("parts are missing or share a name")

    figures = entry["figures"]
    # A tolerance that is kept is no room to spare.
    counting = [f for f in figures if not f["need_is_most"] or f["margin_mm"]["low"] <= 0]
    limit = min(counting, key=lambda f: f["margin_mm"]["low"])
    least = limit["margin_mm"]["low"]
    if entry["verdict"] in ("fits", "fits after removal") and not least > 0:
        faults.append(f"{entry['verdict']}, but the least margin is {least}")

    gaps = {}
    for figure in (f for f in figures if f["rule"] == "gap"):
        a, b = parts[figure["a"]], parts[figure["b"]]
        key = frozenset((a.name, b.name))
        if key in gaps:
            faults.append(f"{a.name} and {b.name} reported twice")
        found, said = distance(a, b), figure["mesh_distance_mm"]
        gaps[key] = found
        count["reported gaps"] += 1
        if figure is limit:
            count["limits that are gaps"] += 1
        if said is None:
            count["of these overlapping"] += 1
            if found > TOUCH:
                faults.append(f"{a.name} and {b.name}: said to overlap, {found} mm apart")
            continue
        if abs(found - said) > SAME:
            faults.append(f"{a.name} and {b.name}: {said} mm reported, {found} mm by FCL")
        asked, spread = need(a.kind, b.kind), a.deviation + b.deviation
        if abs(asked - figure["need_mm"]) > 1e-9:
            faults.append(f"{a.name} and {b.name}: {figure['need_mm']} mm asked, kit {asked} mm")
        left = found - spread - asked
        if abs(left - figure["margin_mm"]["low"]) > SAME:
            faults.append(f"{a.name} and {b.name}: {figure['margin_mm']} reported, {left} mm left")

    fitting = next(f for f in case["fitting"] if f["name"] == entry["name"])
    covered = fitting["meshes"] + [piece["mesh"] for piece in fitting.get("removable", [])]
    for a in rig:
        for b in car:
            # The gasket lies on the plate and the feet bear on the sidewall by design; the cup is the
            # space that it takes up, in which the fitting stands.
            first = case["housing"]["meshes"][0]
            by_design = (a.kind, b.kind) == ("gasket", "plate") or (a.kind, b.name) == ("foot", first)
            if by_design or (a.name == "cup" and b.name in covered):
                count["contacts"] += 1
                continue
            key = frozenset((a.name, b.name))
            found = gaps[key] if key in gaps else distance(a, b)
            count["pairs of rig and car"] += 1
            left = found - a.deviation - b.deviation - need(a.kind, b.kind)
            if left < least - SAME:
                faults.append(f"{a.name} and {b.name}: {left} mm left, below the least reported")
            if found == 0.0 and key not in gaps:
                faults.append(f"{a.name} and {b.name} overlap and are not reported")
    return faults, count


def main(overcup, examples, case=None, *fittings):
    examples = pathlib.Path(examples)
    cases = [pathlib.Path(case)] if case else sorted(p.parent for p in examples.glob("*/case.toml"))
    kit_path = examples / "kit.toml"
    need = needs(tomllib.loads(kit_path.read_text()))
    total, failed = collections.Counter(), 0
    for path in cases:
        document = tomllib.loads((path / "case.toml" if path.is_dir() else path).read_text())
        with tempfile.TemporaryDirectory() as scratch:
            folder = pathlib.Path(scratch) / "meshes"
            wanted = [word for name in fittings for word in ("--fitting", name)]
            done = subprocess.run([overcup, "check", path, "--kit", kit_path, *wanted,
                                   "--meshes", folder], stdout=subprocess.DEVNULL)
            if done.returncode not in (0, 1):
                sys.exit(f"{path}: overcup ended with {done.returncode}")
            index = json.loads((folder / "index.json").read_text())
            asked = set(fittings) or {f["name"] for f in document["fitting"]}
            if {f["name"] for f in index["fittings"]} != asked:
                print(f"{path.name}: fittings without meshes:",
                      *sorted(asked - {f["name"] for f in index["fittings"]}))
                failed += 1
            for entry in index["fittings"]:
                faults, count = check(entry, folder, document, need)
                total += count
                total["fittings"] += 1
                total[entry["verdict"]] += 1
                failed += len(faults)
                counts = ", ".join(f"{n} {what}" for what, n in count.items())
                print(f"{path.name} {entry['name']} ({entry['verdict']}, cup {entry['cup']}):",
                      f"{counts}; {len(faults)} faults")
                for fault in faults[:10]:
                    print("   ", fault)
                if total["fittings"] == 1 and not check(entry, folder, document, need, 0.01)[0]:
                    print("    a rig moved by 0.01 mm was not noticed")
                    failed += 1
    print("all:", ", ".join(f"{n} {what}" for what, n in total.items()), f"; {failed} faults")
    if not total["fits"] + total["fits after removal"] or not total["limits that are gaps"]:
        sys.exit("nothing fits, or no limit is a gap: the comparison shows too little")
    sys.exit(1 if failed else 0)


main(*sys.argv[1:])
