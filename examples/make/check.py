"""Checks the committed example cases with outside libraries only (trimesh, FCL): closed meshes,
sizes, hinge and lid, and that the demo kit can reach the fittings as the scenario says.

The rig here is a rough stand-in built from the numbers in kit.toml: boxes and cylinders. It guards
the scenario, it gives no verdict.

Run:  python examples/make/check.py
"""

import itertools
import math
import tomllib
from fractions import Fraction
from pathlib import Path

import numpy as np
import trimesh
from trimesh.collision import CollisionManager
from trimesh.transformations import rotation_matrix, translation_matrix

OUT = Path(__file__).resolve().parent.parent
MB = 1_000_000
HIGHEST = 300.0                         # handwheels' nuts, mm above the sealing face


def mm(text):
    """A length in a document, in millimetres."""
    if isinstance(text, dict):
        text = text["value"]
    *numbers, unit = text.split()
    sign = -1 if numbers[0].startswith("-") else 1
    total = sum(float(Fraction(n.lstrip("-"))) for n in numbers)
    return sign * total * {"mm": 1.0, "in": 25.4}[unit]


def degrees(text):
    return float(text.removesuffix(" deg"))


class Case:
    """A case document with its meshes."""

    def __init__(self, name):
        self.name, self.folder = name, OUT / name
        self.doc = tomllib.loads((self.folder / "case.toml").read_text())
        self.mesh = {
            m["name"]: trimesh.load_mesh(self.folder / m["file"], process=True)
            for m in self.doc["mesh"]
        }
        self.fittings = {f["name"]: f for f in self.doc["fitting"]}
        self.ports = {p["name"]: p for p in self.doc["port"]}

    def centre(self, fitting):
        return np.array([mm(v) for v in self.fittings[fitting]["centre"]])

    def fitting_meshes(self, fitting, removables=True):
        f = self.fittings[fitting]
        names = list(f["meshes"])
        if removables:
            names += [r["mesh"] for r in f.get("removable", [])]
        return {n: self.mesh[n] for n in names}

    def lid_at(self, degrees_open):
        lid = self.doc["lid"]
        point, axis = [mm(v) for v in lid["hinge-at"]], lid["hinge-axis"]
        turn = math.radians(degrees_open - degrees(lid["drawn-at"]))
        return self.mesh[lid["mesh"]].copy().apply_transform(rotation_matrix(turn, axis, point))


def manager(meshes):
    out = CollisionManager()
    for name, mesh in meshes.items():
        out.add_object(name, mesh)
    return out


def distance(a, b):
    """Least distance between two dicts of meshes with the names of the pair; 0 when they meet."""
    d, names = manager(a).min_distance_other(manager(b), return_names=True)
    return max(d, 0.0), names


# --------------------------------------------------------------------------------------------
# A rough rig
# --------------------------------------------------------------------------------------------
def tube(r, length, at, x=(0, 0, 1), sections=96):
    """Cylinder from a point along a direction."""
    mesh = trimesh.creation.cylinder(radius=r, height=length, sections=sections)
    mesh.apply_translation([0, 0, length / 2])
    return mesh.apply_transform(trimesh.geometry.align_vectors([0, 0, 1], x)).apply_translation(at)


def block(size, middle, bearing=0.0):
    mesh = trimesh.creation.box(size)
    return mesh.apply_transform(translation_matrix(middle) @ rotation_matrix(bearing, [0, 0, 1]))


def ring(r_in, r_out, z0, z1):
    return trimesh.creation.annulus(r_in, r_out, z1 - z0, sections=128).apply_translation(
        [0, 0, (z0 + z1) / 2])


class Rig:
    """The demo kit over one fitting, all links at their first hole unless it does not reach."""

    def __init__(self, kit, case, fitting, cup, ports, thin=()):
        self.kit = kit
        c = next(c for c in kit["cup"] if c["name"] == cup)
        g = next(g for g in kit["gasket"] if g["name"] == c["gasket"])
        x, y = case.centre(fitting)
        rim = mm(g["thickness"]) - mm(g["groove-depth"])
        ball = mm(kit["screw"]["ball-diameter"])
        r = mm(c["inside-diameter"]) / 2
        R, H = r + mm(c["wall"]), mm(c["inside-height"])
        top = rim + H + mm(c["crown"])
        self.ball = top + mm(c["seat-height"]) - mm(c["seat-depth"]) + ball / 2
        move = translation_matrix([x, y, 0])
        seat = mm(c["seat-diameter"]) / 2
        self.cup = {
            "cup wall": ring(r, R, rim, top), "cup crown": tube(R, mm(c["crown"]), [0, 0, rim + H]),
            "cup seat": tube(seat, mm(c["seat-height"]), [0, 0, top]),
        }
        self.gasket = {"gasket": ring(mm(g["inside-diameter"]) / 2, mm(g["outside-diameter"]) / 2, 0.05, mm(g["thickness"]))}
        for m in (*self.cup.values(), *self.gasket.values()):
            m.apply_transform(move)
        self.cup_doc, self.axis, self.rim, self.R = c, (x, y), rim, R

        at = [np.array([mm(v) for v in case.ports[p]["at"]]) for p in ports]
        u = (at[0] - at[1]) / np.linalg.norm(at[0] - at[1])
        b = math.atan2(u[1], u[0])
        foot, link, bar, saddle, pin = kit["foot"], kit["link"], kit["bar"], kit["saddle"], kit["pin"]["lower"]
        port = case.ports[ports[0]]
        z_pin = mm(port["sill"]) + mm(port["height"]) - mm(foot["seat"])
        self.links, self.feet, self.saddles = {}, {}, {}
        low = mm(kit["screw"]["retracted"])
        self.hole = None
        for k, h in enumerate(link["holes"]):
            under = z_pin + mm(h) + mm(saddle["pin-drop"])
            extension = under - self.ball
            if low <= extension <= low + mm(kit["screw"]["travel"]):
                self.hole, self.under, self.extension = k, under, extension
                break
        if self.hole is None:
            raise AssertionError(f"no hole reaches cup {cup}")
        longest = mm(link["holes"][-1])
        for name, p, sign in zip(ports, at, (1, -1)):
            for side, s in (("inside", -1), ("outside", 1)):
                t = mm(link["thicknesses"][thin.get((name, side), 0) if thin else 0])
                m = p + u * sign * s * (mm(foot["depth"]) + t) / 2
                e = mm(link["edge"])
                self.links[f"{side} link {name}"] = block(
                    [t, mm(link["width"]), longest + 2 * e], [*m, z_pin + longest / 2], b)
            self.feet[f"foot {name}"] = block(
                [mm(foot["depth"]), mm(foot["width"]), mm(foot["height"]) - 0.1],
                [*p, z_pin + mm(foot["seat"]) - mm(foot["height"]) / 2 - 0.05], b)
            v = np.array([*(u * sign), 0.0])
            # The head bears on the outside link.
            head, shank = mm(foot["depth"]) / 2 + t, mm(pin["length"])
            hand = mm(pin["head-thickness"]) + shank + mm(kit["rules"]["pin-hand-room"])
            middle = np.array([*p, z_pin])
            self.feet[f"pin {name}"] = tube(mm(pin["diameter"]) / 2, shank, middle + v * (head - shank), v)
            self.feet[f"pin path {name}"] = tube(mm(pin["head-diameter"]) / 2, hand, middle + v * head, v)
            z_low = self.under - mm(saddle["pin-drop"]) - mm(saddle["edge"])
            self.saddles[f"saddle {name}"] = block(
                [mm(saddle["length"]), mm(saddle["stem-width"]), self.under - z_low], [*p, (self.under + z_low) / 2], b)
        mid = (at[0] + at[1]) / 2
        n = np.array([-u[1], u[0]])
        off = (mm(bar["slot"]) + mm(bar["rail-width"])) / 2
        self.bar = {
            f"rail {s}": block([mm(bar["length"]), mm(bar["rail-width"]), mm(bar["rail-height"])],
                               [*(mid + n * s * off), self.under + mm(bar["rail-height"]) / 2], b)
            for s in (1, -1)
        }
        k = kit["screw"]
        z_end = self.ball + mm(k["length"])
        self.screw = {
            "screw block": block([mm(k["block-length"]), mm(k["block-width"]), mm(k["block-height"])],
                                 [x, y, self.under - mm(k["block-height"]) / 2], b),
        }
        self.screw_handle = {"screw handle": tube(
            mm(k["handle-length"]) / 2, mm(k["handle-diameter"]),
            [x, y, z_end - mm(k["handle-drop"]) - mm(k["handle-diameter"]) / 2])}

    def outlet(self, bearing, turn):
        """Outlet, and its handle's sector from along the riser clockwise seen from outside."""
        o, c = self.kit["outlet"], self.cup_doc
        a, h, valve = mm(o["elbow-centre-to-end"]), mm(o["elbow-band"]), mm(o["valve-length"])
        pipe, nipple, riser = mm(o["pipe-diameter"]), mm(o["port-nipple"]), mm(o["riser-nipple"])
        face = mm(c["port-face"])
        start = self.R - 3 - face
        parts = {
            "port boss": tube(mm(c["port-diameter"]) / 2, -start, [start, 0, 0], [1, 0, 0]),
            "port nipple": tube(pipe / 2, nipple + 10, [-5, 0, 0], [1, 0, 0]),
            "elbow band": tube(h / 2, a, [nipple, 0, 0], [1, 0, 0]),
            "elbow heel": trimesh.creation.icosphere(subdivisions=3, radius=h / 2).apply_translation([nipple + a, 0, 0]),
            "elbow riser": tube(h / 2, a, [nipple + a, 0, 0]),
            "riser nipple": tube(pipe / 2, riser + 10, [nipple + a, 0, a - 5]),
            "shutoff valve": tube(mm(o["valve-diameter"]) / 2, valve, [nipple + a, 0, a + riser]),
        }
        stem = a + riser + valve / 2
        swing, reach = math.radians(degrees(o["handle-swing"])), mm(o["handle-length"])
        angles = np.linspace(0, swing, 24)
        half = mm(o["handle-width"]) / 2
        fan = [(-half, 0.0), (-half, reach), (0.0, -half), (reach, -half)] + [
            (reach * math.sin(t), reach * math.cos(t)) for t in angles]
        thick = mm(o["handle-thickness"])
        rows = np.array([[nipple + a + mm(o["stem-height"]) + e, y, stem + z] for e in (0, thick) for y, z in fan])
        parts_handle = {"outlet handle": trimesh.convex.convex_hull(rows)}
        place = (translation_matrix([*self.axis, 0]) @ rotation_matrix(math.radians(bearing), [0, 0, 1])
                 @ translation_matrix([face, 0, self.rim + mm(c["port-height"])])
                 @ rotation_matrix(-math.radians(turn), [1, 0, 0]))
        for m in (*parts.values(), *parts_handle.values()):
            m.apply_transform(place)
        return parts, parts_handle

    def clamp(self):
        return {**self.links, **self.feet, **self.saddles, **self.bar, **self.screw}


def others(case, fitting, also_off=()):
    """Every fitting's meshes but this one's."""
    out = {}
    for f in case.fittings:
        if f != fitting:
            out.update(case.fitting_meshes(f, removables=f not in also_off))
    return out


def reach(kit, case, fitting, cup, ports, thin=None):
    """Least distances of the rough rig to the car, and the outlet bearings that are free."""
    rig = Rig(kit, case, fitting, cup, ports, thin or {})
    lid = {"lid": case.lid_at(degrees(case.doc["lid"]["stop"]))}
    hinge = {n: case.mesh[n] for n in case.doc["hinge"]["meshes"]}
    wall = {n: case.mesh[n] for n in case.doc["housing"]["meshes"]}
    covers = {p["cover"]: case.mesh[p["cover"]] for n, p in case.ports.items() if n not in ports}
    studs = {s["mesh"]: case.mesh[s["mesh"]] for s in case.doc["studs"]}
    own = case.fitting_meshes(fitting, removables=False)
    rest = others(case, fitting)
    figures = {
        "cup-own": distance(rig.cup, own), "gasket-own": distance(rig.gasket, own),
        "cup-others": distance({**rig.cup, **rig.gasket}, rest),
        "cup-housing": distance({**rig.cup, **rig.gasket}, wall),
        "cup-clamp": distance(rig.cup, {k: v for k, v in rig.clamp().items()}),
        "link-housing": distance(rig.links, wall), "link-hinge": distance(rig.links, {**hinge, **lid}),
        "saddle-bar-housing": distance({**rig.saddles, **rig.bar}, wall),
        "bar-lid": distance(rig.bar, {**lid, **hinge}),
        "clamp-others": distance(rig.clamp(), {**rest, **covers, **studs}),
        "screw-handle": distance(rig.screw_handle, {**lid, **wall, **rest, **rig.links, **rig.bar, **rig.saddles}),
    }
    around = manager({**wall, **lid, **hinge, **rest, **covers, **rig.clamp(), **rig.screw_handle})
    free = {}
    for bearing, turn in itertools.product(range(0, 360, 10), map(degrees, kit["outlet"]["elbow-turns"])):
        parts, handle = rig.outlet(bearing, turn)
        d = manager({**parts, **handle}).min_distance_other(around)
        if d >= 6.0:
            free[bearing, turn] = d
    return rig, figures, free


def check_meshes(case):
    triangles = 0
    for name, mesh in case.mesh.items():
        triangles += len(mesh.faces)
        assert mesh.is_watertight and mesh.is_winding_consistent, f"{case.name}: {name} is not closed"
        assert mesh.volume > 0, f"{case.name}: {name} is inside out"
    width = case.mesh["plate"].extents[:2].max()
    assert 300 <= width <= 1000, f"{case.name}: plate {width:.0f} mm"
    print(f"{case.name}: {len(case.mesh)} bodies, {triangles} triangles, plate {width:.1f} mm")
    return triangles


def check_chords(case):
    """The housing's and the plate's round faces stay within the stated chord error."""
    for name, radius in (("housing", 342.9), ("housing", 361.95), ("plate", 469.9)):
        m = case.mesh[name]
        r = np.hypot(m.vertices[:, 0], m.vertices[:, 1])
        on = np.abs(r - radius) < 1e-3
        wall = m.triangles[on[m.faces].all(axis=1) & (np.abs(m.face_normals[:, 2]) < 0.1)]
        mid = (wall + np.roll(wall, 1, axis=1)) / 2
        chord = (radius - np.hypot(mid[..., 0], mid[..., 1])).max()
        assert 0.0 < chord <= 0.05, f"{name}: chord error {chord:.3f} mm"


def check_envelopes(case):
    for name, radius, height in (("LV1", 82.5, 250), ("LV2", 82.5, 250), ("VV1", 82.5, 250),
                                 ("VV2", 82.5, 250), ("PRD", 82.5, 240), ("SV", 62.5, 120),
                                 ("GD", 62.5, 232), ("TW", 55.0, 82)):
        for n, m in case.fitting_meshes(name, removables=False).items():
            r = np.hypot(*(m.vertices[:, :2] - case.centre(name)).T).max()
            assert r <= radius + 1e-3 and m.bounds[1, 2] <= height, f"{n}: r {r:.2f}, top {m.bounds[1, 2]:.1f}"
            assert abs(m.bounds[0, 2]) < 1e-4, f"{n} does not stand on the plate"
        for n, m in case.fitting_meshes(name).items():
            assert m.bounds[1, 2] <= HIGHEST, n


def check_bodies_apart(case):
    """Nothing on the car runs into anything else; pieces that touch by design are left out."""
    allowed = ({"housing", "lid"}, {"housing", "hinge-lugs"}, {"housing", "housing-studs"})
    names = sorted(case.mesh)
    for a, b in itertools.combinations(names, 2):
        # Most bodies are far apart: look closely only where the boxes come near.
        if np.any(case.mesh[a].bounds[0] > case.mesh[b].bounds[1] + 1) or np.any(
                case.mesh[b].bounds[0] > case.mesh[a].bounds[1] + 1):
            continue
        if "plate" in (a, b) or {a, b} in allowed:
            continue
        d = distance({a: case.mesh[a]}, {b: case.mesh[b]})[0]
        assert d > 0.0, f"{a} runs into {b}"


def check_lid(case, kit):
    stop = degrees(case.doc["lid"]["stop"])
    wall = {n: case.mesh[n] for n in ("housing", "hinge-lugs", "cover-0")}
    pin = {"hinge-pin": case.mesh["hinge-pin"]}
    for opening in np.arange(1.0, stop + 0.1, 2.0):
        lid = {"lid": case.lid_at(opening)}
        assert distance(lid, pin)[0] > 0.2, f"lid meets its pin at {opening}"
        d, names = distance(lid, wall)
        assert d > 0.2, f"lid meets {names} at {opening} deg"
    at_stop, names = distance({"lid": case.lid_at(stop)}, wall)
    beyond, _ = distance({"lid": case.lid_at(stop + 3)}, wall)
    assert 0.2 < at_stop < 1.5 and beyond == 0.0, f"the stop does not stop: {at_stop}, {beyond}"
    print(f"  lid at its stop: {at_stop:.2f} mm to {sorted(names)}; 3 deg further it meets them")
    hinge = {n: case.mesh[n] for n in case.doc["hinge"]["meshes"]}
    hinge["lid"] = case.lid_at(stop)
    for k, t in enumerate(kit["link"]["thicknesses"]):
        rig = Rig(kit, case, "LV1", "C", ("P0", "P180"), {("P0", "outside"): k})
        d = distance({"link": rig.links["outside link P0"]}, hinge)[0]
        print(f"  outside link {t} at the hinge: {d:.2f} mm")
        assert (d == 0.0) == (k == 0), "the hinge's window"
        assert k == 0 or d > 1.5


def check_survey(car, odd):
    """The rough valve stays within its stated deviation of the same valve's fine mesh."""
    stated = next(mm(m["deviation"]) for m in odd.doc["mesh"] if m["name"] == "v1-body")
    shift = [*(odd.centre("V1") - car.centre("LV1")), 0.0]
    fine, coarse = car.mesh["lv1-body"].copy().apply_translation(shift), odd.mesh["v1-body"]
    queries = ((coarse, fine.vertices), (fine, coarse.vertices))
    worst = max(trimesh.proximity.closest_point(m, p)[1].max() for m, p in queries)
    assert 0.5 < worst <= stated, f"survey: {worst:.2f} mm off"
    print(f"  surveyed valve: {worst:.2f} mm off at most, {stated} mm stated")


def show(title, figures, free, rig):
    print(f"  {title}: hole {rig.hole + 1}, screw out {rig.extension:.1f} mm, bar {rig.under:.1f} mm up")
    for k, (d, names) in figures.items():
        print(f"      {k:18} {d:6.2f}  {' / '.join(sorted(names))}")
    if free:
        listed = ", ".join(f"{b}/{t:+.0f}" for b, t in sorted(free))
        (bearing, turn), best = max(free.items(), key=lambda kv: kv[1])
        print(f"      outlet (bearing/turn) free at {listed}; best {bearing}/{turn:+.0f} with {best:.1f} mm")


NEEDS = {"cup-own": 2, "gasket-own": 1, "cup-others": 3, "cup-housing": 3, "cup-clamp": 3, "link-housing": 0.8,
         "link-hinge": 0.8, "saddle-bar-housing": 3, "bar-lid": 3, "clamp-others": 3, "screw-handle": 12}
THIN = {("P0", "outside"): 1}


def main():
    kit = tomllib.loads((OUT / "kit.toml").read_text())
    car, moved, odd = (Case(n) for n in ("pressure-car", "pressure-car-vv2-moved", "odd-housing"))
    for case in (car, moved, odd):
        check_meshes(case)
    check_chords(car)
    for case in (car, moved):
        check_envelopes(case)
        check_bodies_apart(case)
    check_lid(car, kit)                 # the other car has the same lid
    check_survey(car, odd)
    jobs = [(car, "LV1", "C", ("P0", "P180"), THIN), (car, "LV2", "C", ("P0", "P180"), THIN),
            (car, "VV1", "C", ("P90", "P270"), {}), (car, "PRD", "C", ("P90", "P270"), {}),
            (moved, "VV2", "C", ("P90", "P270"), {})]
    for case, fitting, cup, ports, thin in jobs:
        rig, figures, free = reach(kit, case, fitting, cup, ports, thin)
        show(f"{case.name} {fitting} cup {cup}", figures, free, rig)
        for k, need in NEEDS.items():
            assert figures[k][0] >= need, f"{fitting}: {k} {figures[k][0]:.2f} mm"
        assert free, f"{fitting}: no room for the outlet"
    for k in range(3):
        thin = {(p, s): k for p in ("P90", "P270") for s in ("inside", "outside")}
        rig, figures, _ = reach(kit, car, "VV2", "C", ("P90", "P270"), thin)
        assert figures["cup-clamp"][0] == 0.0, "VV2 should be too near the wall"
        if k == 0:
            show("pressure-car VV2 cup C", figures, {}, rig)
    total = sum(p.stat().st_size for p in OUT.rglob("*") if p.is_file() and "__pycache__" not in p.parts)
    print(f"all examples: {total / MB:.2f} MB")
    assert total < 20 * MB


if __name__ == "__main__":
    main()
