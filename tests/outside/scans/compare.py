"""Scans the odd-housing example from three places, has `overcup intake` draft a case of each scan, answers it,
has it reviewed, and holds plane, axis, ports, fittings and verdicts against the exact geometry.

    compare.py OVERCUP EXAMPLES FOLDER SEEDS [FIRST]
"""

import json
import pathlib
import re
import subprocess
import sys
import time
import tomllib

import numpy

import answer
import scanner

#: Gaussian noise in each direction, mm, and points seen in all.
SIGMA = 0.3
POINTS = 2_000_000
#: Where a planner stands who wants to know it more closely: steeply above, and low before the ports of both sides,
#: from where their edges are seen all around.
CLOSE = numpy.array(
    [
        *scanner.EYES,
        *([1.0, 2.0, 1500.0], [330.0, 330.0, 650.0], [-330.0, -330.0, 650.0]),
        *([x, y, 30.0] for y in (640.0, -640.0) for x in (150.0, -150.0)),
    ]
)
CLOSE_POINTS = 8_000_000
#: Noise of what is carried so near, mm.
CLOSE_SIGMA = 0.1
#: What a calliper tells of a port, and a straightedge with feeler gauges of the plate, mm.
BY_HAND = "0.3 mm"
#: What is asked of the draft, mm.
PLANE, AXIS, FITTING, PORT = 0.1, 0.5, 8.0, 12.0
#: Half the plate, mm: where its plane is compared.
RIM = 280.0


def run(command, **more):
    return subprocess.run([str(c) for c in command], capture_output=True, text=True, **more)


def exact_verdicts(overcup, examples, folder):
    """The verdicts on the exact geometry: the example without any deviation of its meshes and ports, in
    what a scan shows of it: nothing that comes off is known, so that verdict counts which has all it needs
    taken off."""
    case = examples / "odd-housing" / "case.toml"
    text = re.sub(r'deviation = "[^"]*"', 'deviation = "0 mm"', case.read_text())
    text = text.replace('file = "mesh/', f'file = "{case.parent}/mesh/')
    exact = folder / "exact.toml"
    exact.write_text(text)
    return verdicts(overcup, examples, exact)


def verdicts(overcup, examples, case):
    found = run([overcup, "check", case, "--kit", examples / "kit.toml", "--json"])
    if found.returncode == 2:
        raise SystemExit(f"{case}: not reviewed\n{found.stderr}")
    record = json.loads(found.stdout)
    return {f["name"]: f for f in record["fittings"]}


def frame_of(document):
    """The matrix that takes plate coordinates of a draft to those of its meshes."""
    frame = document["frame"]
    origin = numpy.array([scanner.inches(v) for v in frame["origin"]])
    z = numpy.array(frame["up"], float)
    z /= numpy.linalg.norm(z)
    x = numpy.array(frame["toward-hinge"], float)
    x -= z * (x @ z)
    x /= numpy.linalg.norm(x)
    pose = numpy.eye(4)
    pose[:3, :3] = numpy.column_stack([x, numpy.cross(z, x), z])
    pose[:3, 3] = origin
    return pose


def measured_by_hand(text):
    """An answered draft whose plate and ports were measured by hand as well."""
    plate = text.index('name = "plate"')
    ports = text.index("[[port]]")
    stated = re.compile(r'deviation = "[^"]*"')
    by_hand = f'deviation = "{BY_HAND}"'
    return (
        text[:plate]
        + stated.sub(by_hand, text[plate:ports], count=1)
        + stated.sub(by_hand, text[ports:])
    )


def compare(overcup, examples, folder, truth, shots, exact, seed, close=False):
    """Faults found with one seed's noise, and figures; `exact` are the verdicts on the exact geometry. Of a `close`
    scan something must be told to fit: else nothing false could be told."""
    fitting = {n for n, f in exact.items() if f["verdict"].startswith("fits")}
    denied = set(exact) - fitting
    folder.mkdir()
    document, pose = scanner.write_scans(folder, shots, CLOSE_SIGMA if close else SIGMA, seed)
    case = folder / "case.toml"
    began = time.monotonic()
    drafted = run([overcup, "intake", document, "--out", case, "--picture", folder / "plan.svg"])
    took = time.monotonic() - began
    faults, figures = [], {"intake_s": round(took, 1)}
    if not case.exists():
        return [f"no draft: {drafted.stdout}{drafted.stderr}"], figures
    text = case.read_text()
    drafted = tomllib.loads(text)
    # Plate coordinates of the draft into the exact ones.
    exact_from_draft = numpy.linalg.inv(pose) @ frame_of(drafted)
    bearings = numpy.linspace(0.0, 2.0 * numpy.pi, 36, endpoint=False)
    rim = numpy.stack(
        [RIM * numpy.cos(bearings), RIM * numpy.sin(bearings), 0.0 * bearings], axis=1
    )
    off = numpy.abs(scanner.moved(exact_from_draft, rim)[:, 2]).max()
    figures["plane_mm"] = round(float(off), 4)
    if off > PLANE:
        faults.append(f"the plate's plane is {off:.3f} mm off")
    axis = numpy.linalg.norm(exact_from_draft[:2, 3])
    figures["axis_mm"] = round(float(axis), 4)
    questions = [q["about"] + " " + q["guess"] + " " + q["why"] for q in drafted.get("question", [])]
    figures["questions"] = len(questions)
    if axis > AXIS:
        faults.append(f"the axis is {axis:.3f} mm off")

    def lengths(values):
        # A key left empty has its guess beside it.
        return numpy.array([scanner.inches(v) for v in values])

    filled = tomllib.loads(answer.answered(text, truth, exact_from_draft))
    centres = {
        f["name"]: scanner.moved(exact_from_draft, numpy.array([[*lengths(f["centre"]), 0.0]]))[0, :2]
        for f in filled.get("fitting", [])
    }
    figures["fittings"] = f"{len(centres)}"
    names = {}
    for name, centre, _ in truth.fittings():
        near = {n: float(numpy.linalg.norm(c - centre)) for n, c in centres.items()}
        nearest = min(near, key=near.get, default=None)
        if nearest is None or near[nearest] > FITTING:
            faults.append(f"fitting {name} at {centre} is not found: nearest {nearest} {near.get(nearest)}")
        else:
            names[name] = nearest
            figures[f"{name}_mm"] = round(near[nearest], 2)
    ports = [
        (
            p,
            scanner.moved(exact_from_draft, numpy.array([[*lengths(p["at"]), 0.0]]))[0, :2],
            *(scanner.inches(p[k]) for k in ("width", "height", "sill")),
        )
        for p in filled.get("port", [])
    ]
    for name, at, width, height, sill in truth.ports():
        found = min(ports, key=lambda p: numpy.linalg.norm(p[1] - at), default=None)
        if found is None or numpy.linalg.norm(found[1] - at) > PORT:
            if not any("port" in q or "opening" in q for q in questions):
                faults.append(f"port {name} is neither found nor asked about")
            figures.setdefault("ports_asked", []).append(name)
            continue
        sizes = numpy.abs(numpy.array(found[2:]) - [width, height, sill]).max()
        within = scanner.inches(found[0]["deviation"])
        at_off = float(numpy.linalg.norm(found[1] - at))
        figures.setdefault("ports_mm", []).append((name, round(at_off, 2), round(float(sizes), 2)))
        asked = any(found[0]["name"] in q for q in questions)
        if max(sizes, at_off) > within + 0.05 and not asked:
            faults.append(f"port {name}: {at_off:.2f}, {sizes:.2f} mm off, {within} stated, not asked")
    whole = folder / "answered.toml"
    answered = answer.answered(text, truth, exact_from_draft)
    whole.write_text(measured_by_hand(answered) if close else answered)
    reviewed = run([overcup, "check", whole, "--kit", examples / "kit.toml", "--json"])
    if reviewed.returncode == 2:
        faults.append(f"the answered draft is refused: {reviewed.stderr[:3000]}")
        return faults, figures
    told = {f["name"]: f for f in json.loads(reviewed.stdout)["fittings"]}
    figures["verdicts"] = {}
    for name, drafted_name in names.items():
        verdict = told[drafted_name]["verdict"]
        figures["verdicts"][name] = verdict
        if verdict.startswith("fits") and name in denied:
            faults.append(f"{name} {verdict}, which the exact geometry denies")
        if verdict == "does not fit" and name in fitting:
            faults.append(f"{name} {verdict}, and fits in the exact geometry")
    if close and not any(v.startswith("fits") for v in figures["verdicts"].values()):
        reasons = {n: told[names[n]]["reasons"] for n in sorted(fitting & set(names))}
        faults.append(f"nothing fits, and {sorted(fitting)} do in the exact geometry: {reasons}")
    for name in sorted(set(told) - set(names.values())):
        if told[name]["verdict"].startswith("fits"):
            faults.append(f"{name}, which there is not, {told[name]['verdict']}")
    return faults, figures


def main():
    overcup, examples, folder = (pathlib.Path(a).resolve() for a in sys.argv[1:4])
    seeds = int(sys.argv[4])
    first = int(sys.argv[5]) if len(sys.argv) > 5 else 0
    truth = scanner.CarTop(examples / "odd-housing" / "case.toml")
    scene = truth.scene()
    shots = [(eye, scanner.seen(scene, eye, POINTS // len(scanner.EYES))) for eye in scanner.EYES]
    print(f"{sum(len(p) for _, p in shots)} points from {len(shots)} places")
    exact = exact_verdicts(overcup, examples, folder)
    print("exact:", {n: f["verdict"] for n, f in exact.items()})
    wrong = 0
    for seed in range(first, first + seeds):
        faults, figures = compare(
            overcup, examples, folder / f"seed-{seed}", truth, shots, exact, seed
        )
        print(f"seed {seed}: {json.dumps(figures)}", flush=True)
        for fault in faults:
            print(f"  WRONG {fault}")
        wrong += len(faults)
    shots = [(eye, scanner.seen(scene, eye, CLOSE_POINTS // len(CLOSE))) for eye in CLOSE]
    print(f"{sum(len(p) for _, p in shots)} points from {len(shots)} places")
    faults, figures = compare(
        overcup, examples, folder / "close", truth, shots, exact, first, close=True
    )
    print(f"close, seed {first}: {json.dumps(figures)}", flush=True)
    for fault in faults:
        print(f"  WRONG {fault}")
    wrong += len(faults)
    print(f"{seeds} seeds and a close scan, {wrong} faults")
    sys.exit(1 if wrong else 0)


if __name__ == "__main__":
    main()
