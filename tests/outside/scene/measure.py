"""Holds exported scenes against the glTF validator and against the meshes as measured."""

import json
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np
import trimesh

# One fitting that fits and one that does not, and a housing of another shape.
CASES = [("pressure-car", "LV1"), ("pressure-car", "VV2"), ("odd-housing", "V1")]
# Single precision and metres leave this much, mm.
WITHIN = 2e-3


def command(*words):
    done = subprocess.run(words, capture_output=True, text=True)
    if done.returncode > 1:
        sys.exit(f"{' '.join(words)}\n{done.stderr}")
    return done.stdout


def boxes_of_scene(path):
    """Box of each part in the plate frame, mm; parts that have no size are left out."""
    scene = trimesh.load(path)
    boxes = {}
    for node in scene.graph.nodes_geometry:
        place, geometry = scene.graph[node]
        if not isinstance(scene.geometry[geometry], trimesh.Trimesh):
            # A figure: a line.
            continue
        points = trimesh.transform_points(scene.geometry[geometry].vertices, place)
        # Metres with y up: z of the plate is y here, and its y points away.
        points = 1000.0 * np.stack([points[:, 0], -points[:, 2], points[:, 1]], axis=1)
        if np.linalg.det(place[:3, :3]) > 0.0:
            boxes[node] = np.array([points.min(axis=0), points.max(axis=0)])
    return boxes


def boxes_of_meshes(folder):
    index = json.loads((folder / "index.json").read_text())
    [fitting] = index["fittings"]
    boxes = {}
    for part in fitting["parts"]:
        lines = (folder / fitting["folder"] / part["file"]).read_text().splitlines()
        points = [line.split()[1:] for line in lines if line.startswith("v ")]
        # Only the vertices that triangles use: a mesh may hold others.
        used = {int(v) - 1 for line in lines if line.startswith("f ") for v in line.split()[1:]}
        points = np.array(points, dtype=float)[sorted(used)]
        boxes[part["name"]] = np.array([points.min(axis=0), points.max(axis=0)])
    return boxes


def check(overcup, examples, validate, case, fitting):
    about = [str(examples / case), "--kit", str(examples / "kit.toml"), "--fitting", fitting]
    with tempfile.TemporaryDirectory() as folder:
        folder = Path(folder)
        scene = folder / "scene.glb"
        command(overcup, "export", *about, "--out", str(scene))
        issues = json.loads(command("node", validate, str(scene)))["issues"]
        assert issues["numErrors"] == 0 and issues["numWarnings"] == 0, issues["messages"]
        command(overcup, "check", *about, "--json", "--meshes", str(folder / "meshes"))
        seen, measured = boxes_of_scene(scene), boxes_of_meshes(folder / "meshes")
    # Spaces that parts sweep are measured and not seen; the handle itself is seen and not measured.
    spaces = {name for name in measured if "swing" in name or "path" in name}
    assert set(measured) - spaces == set(seen) - {"outlet handle"}, set(measured) ^ set(seen)
    worst = max(np.abs(seen[name] - measured[name]).max() for name in measured if name in seen)
    assert worst < WITHIN, f"{worst} mm"
    print(f"{case} {fitting}: no errors, {len(seen)} parts, boxes within {worst:.1e} mm")


def main():
    overcup, examples, validate = sys.argv[1:]
    for case, fitting in CASES:
        check(overcup, Path(examples), validate, case, fitting)


if __name__ == "__main__":
    main()
