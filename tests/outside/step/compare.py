"""Reads every STEP file of a folder and holds what was found against that folder's reference.json.

    compare.py TABLE FOLDER

TABLE is the built example of crates/step. The reference says what OCCT measured: solids, exact volume and
area, box, and leaves with their names and places. Its boxes are those of surfaces before they are
trimmed, for some files far too wide: where a box differs, it is held against that of OCCT's own triangles.
Its volumes were integrated by OCCT with a fixed number of places a face, which for thin bodies of large
splines errs by a percent: where a volume differs, it is held against OCCT's integral with a bound on its
error. Each file is read in a process of its own, so that a panic or a hang is one file's. Prints a row a
file, then totals; ends with 1 where

- a file ends in a panic or takes more than 5 s,
- fewer than 95 % of bodies are sound with the file's volume and area within 0.1 % and its box within the
  stated deviation,
- a name or a place differs.
"""

import json
import os
import resource
import subprocess
import sys

LIMIT = 5.0  # seconds a file
WITHIN = 1e-3  # of volume and area
SHARE = 0.95  # of the bodies
DEFLECTION = 0.02  # mm, of OCCT's triangles where they are asked


def read(table, path):
    """What the reader tells of a file, or why it told nothing. Seconds are those of the processor, so that
    they say the same on a busy machine: the reader has one thread."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    try:
        done = subprocess.run([table, path], capture_output=True, text=True, timeout=120)
    except subprocess.TimeoutExpired:
        return None, "hangs"
    if done.returncode != 0:
        return None, "panics: " + (done.stderr.strip().splitlines() or ["?"])[0]
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    told = json.loads(done.stdout)
    told["seconds"] = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return told, None


def static(of, name):
    return getattr(of, name + "_s", None) or getattr(of, name)


def shape_of(path):
    """OCCT's shape of a file."""
    from OCP.STEPControl import STEPControl_Reader

    reader = STEPControl_Reader()
    reader.ReadFile(path)
    reader.TransferRoots()
    return reader.OneShape()


def integrated_volume(path):
    """The volume by OCCT to a hundred thousandth, mm3."""
    from OCP.BRepGProp import BRepGProp
    from OCP.GProp import GProp_GProps

    found = GProp_GProps()
    static(BRepGProp, "VolumeProperties")(shape_of(path), found, 1e-5, False, False)
    return found.Mass()


def triangulated_box(path):
    """The box of OCCT's own triangles, mm."""
    from OCP.BRep import BRep_Tool
    from OCP.BRepMesh import BRepMesh_IncrementalMesh
    from OCP.TopAbs import TopAbs_FACE
    from OCP.TopExp import TopExp_Explorer
    from OCP.TopLoc import TopLoc_Location
    from OCP.TopoDS import TopoDS

    shape = shape_of(path)
    BRepMesh_IncrementalMesh(shape, DEFLECTION, False, 0.2, False)
    low, high = [float("inf")] * 3, [float("-inf")] * 3
    faces = TopExp_Explorer(shape, TopAbs_FACE)
    while faces.More():
        place = TopLoc_Location()
        face = static(TopoDS, "Face")(faces.Current())
        mesh = static(BRep_Tool, "Triangulation")(face, place)
        for i in range(1, mesh.NbNodes() + 1 if mesh else 1):
            p = mesh.Node(i).Transformed(place.Transformation())
            at = (p.X(), p.Y(), p.Z())
            low = [min(a, b) for a, b in zip(low, at)]
            high = [max(a, b) for a, b in zip(high, at)]
        faces.Next()
    return low + high


def near(a, b, share):
    return abs(a - b) <= share * max(abs(a), abs(b))


def invented(leaf):
    """Names that OCCT gives to what the file does not name."""
    return leaf["inst"].startswith("=>[")


def leaves_agree(ours, theirs):
    """Whether leaves have the same names and places; what differs first."""
    # Where OCCT takes the shapes within a product apart, the product is their leaf here.
    theirs = [leaf for leaf in theirs if not invented(leaf)]
    rest = list(ours)
    for leaf in theirs:
        scale = 1e-6 * max(1.0, *(abs(x) for x in leaf["t"]))
        for candidate in rest:
            same_name = candidate["product"].split() == leaf["name"].split()
            same_use = candidate["instance"].split() == leaf["inst"].split()
            place = all(abs(a - b) <= scale for a, b in zip(candidate["at"], leaf["t"]))
            if same_name and same_use and place:
                rest.remove(candidate)
                break
        else:
            return False, "%r as %r at %s" % (leaf["name"], leaf["inst"], leaf["t"])
    return True, ""


def main():
    table, folder = sys.argv[1:3]
    reference = json.load(open(os.path.join(folder, "reference.json")))
    print(
        "%-14s %6s %6s %6s  %-9s %-9s %-9s %-6s %8s  %s"
        % ("file", "s", "bodies", "sound", "volume", "area", "box", "names", "dev mm", "notes")
    )
    total = dict(files=0, bodies=0, sound=0, good=0, volume=0, area=0, box=0, names=0, with_solids=0, seconds=0.0)
    faults = []
    for name in sorted(reference):
        theirs = reference[name]
        found, failure = read(table, os.path.join(folder, name))
        total["files"] += 1
        if failure:
            print("%-14s %s" % (name, failure))
            faults.append("%s %s" % (name, failure))
            total["bodies"] += theirs["solids"]
            continue
        seconds = found["seconds"]
        total["seconds"] += seconds
        if seconds > LIMIT:
            faults.append("%s takes %.1f s" % (name, seconds))
        ours = found["read"]
        if "error" in ours:
            row = "%-14s %6.2f %s" % (name, seconds, ours["error"])
            print(row)
            if theirs["solids"]:
                faults.append(row)
                total["bodies"] += theirs["solids"]
            continue
        notes = []
        sound = sum(p["sound"] for p in ours["placed"])
        solids = theirs["solids"]
        columns = {"volume": "-", "area": "-", "box": "-", "names": "-"}
        if solids:
            total["with_solids"] += 1
            total["bodies"] += solids
            total["sound"] += min(sound, solids)
            by_id = {b["id"]: b for b in ours["bodies"]}
            volume = sum(by_id[p["body"]]["volume"] for p in ours["placed"])
            area = sum(by_id[p["body"]]["area"] for p in ours["placed"])
            deviation = max((b["deviation"] or 0.0 for b in ours["bodies"]), default=0.0)
            good = {
                "volume": near(volume, theirs["vol"], WITHIN),
                "area": near(area, theirs["area"], WITHIN),
            }
            against = theirs["vol"]
            if not good["volume"]:
                against = integrated_volume(os.path.join(folder, name))
                good["volume"] = near(volume, against, WITHIN)
                if good["volume"]:
                    notes.append("the reference's volume is coarse, OCCT's own integral agrees")
            columns["volume"] = "%+.4f%%" % (100 * (volume / against - 1))
            columns["area"] = "%+.4f%%" % (100 * (area / theirs["area"] - 1))
            box = theirs["bbox"]
            if box and ours["low"][0] is not None:
                # OCCT's boxes are wider by its tolerances.
                slack = deviation + 1e-6
                apart = max(
                    abs(a - b) for a, b in zip(ours["low"] + ours["high"], box)
                )
                good["box"] = apart <= slack + 2e-7 * max(map(abs, box)) + 2e-6
                if not good["box"]:
                    box = triangulated_box(os.path.join(folder, name))
                    apart = max(abs(a - b) for a, b in zip(ours["low"] + ours["high"], box))
                    good["box"] = apart <= slack + DEFLECTION
                    if good["box"]:
                        notes.append("the reference's box is too wide, OCCT's triangles end here")
                columns["box"] = "%.1e" % apart
            else:
                good["box"] = False
            for key, value in good.items():
                total[key] += value
                if not value:
                    notes.append(key)
                    columns[key] += "!"
            if all(good.values()):
                total["good"] += min(sound, solids)
        agree, differs = leaves_agree(ours["leaves"], theirs["leaves"])
        columns["names"] = "same" if agree else "differ"
        total["names"] += agree
        if not agree:
            notes.append("no leaf " + differs)
            faults.append("%s: no leaf %s" % (name, differs))
        lost = sum(len(b["lost"]) for b in ours["bodies"])
        if lost:
            notes.append("%d faces lost" % lost)
        notes += [f for f in ours["findings"] if "no solid" not in f]
        deviation = max((b["deviation"] or 0.0 for b in ours["bodies"]), default=0.0)
        print(
            "%-14s %6.2f %6d %6d  %-9s %-9s %-9s %-6s %8.1e  %s"
            % (name, seconds, solids, sound, columns["volume"], columns["area"], columns["box"], columns["names"], deviation, "; ".join(notes)[:150])
        )
    n = max(total["bodies"], 1)
    print(
        "%(files)d files, %(with_solids)d with solids; of %(bodies)d bodies %(sound)d sound, %(good)d sound with volume, area "
        "and box right; files: volume %(volume)d, area %(area)d, box %(box)d of %(with_solids)d, names and places %(names)d" % total
    )
    print("%.1f s in all" % total["seconds"])
    if total["good"] < SHARE * n:
        faults.append("only %.1f %% of the bodies are right" % (100 * total["good"] / n))
    for fault in faults:
        print("FAULT", fault)
    sys.exit(bool(faults))


main()
