"""Triangle bodies measured with FCL, for the checks.

FCL (python-fcl) measures surfaces only. Whether one body holds a shell of another is decided here
by the winding number, summed over all triangles with numpy (solid angle of van Oosterom and
Strackee, 1983; formula from memory).
"""
import fcl
import numpy as np
import scipy.sparse
import trimesh


class Body:
    """A mesh that may be put in a place: a turn and then a shift."""

    def __init__(self, path):
        mesh = trimesh.load(path, process=False, force="mesh")
        self.points, self.faces = np.asarray(mesh.vertices, float), np.asarray(mesh.faces)
        self.corners = self.points[self.faces]
        self.low, self.high = self.corners.min((0, 1)), self.corners.max((0, 1))
        # One corner of each shell; corners at one place are one.
        where = np.unique(self.points, axis=0, return_inverse=True)[1].reshape(-1)[self.faces]
        ends = np.concatenate([where[:, [0, 1]], where[:, [1, 2]]])
        graph = scipy.sparse.coo_array(
            (np.ones(len(ends)), ends.T), shape=(len(self.points), len(self.points)))
        label = scipy.sparse.csgraph.connected_components(graph, directed=False)[1][where[:, 0]]
        first = np.unique(label, return_index=True)[1]
        self.shells = self.corners[first, 0]
        model = fcl.BVHModel()
        model.beginModel(len(self.points), len(self.faces))
        model.addSubModel(self.points, self.faces)
        model.endModel()
        self.object = fcl.CollisionObject(model, fcl.Transform())
        self.turn, self.shift = np.eye(3), np.zeros(3)

    def put(self, turn, shift):
        """Puts it in a place."""
        self.turn, self.shift = np.asarray(turn, float).reshape(3, 3), np.asarray(shift, float)
        self.object.setTransform(fcl.Transform(self.turn, self.shift))

    def holds(self, point):
        """Whether a point lies inside, by the winding number."""
        point = self.turn.T @ (point - self.shift)
        if (point < self.low).any() or (point > self.high).any():
            return False
        a, b, c = np.moveaxis(self.corners - point, 1, 0)
        la, lb, lc = (np.linalg.norm(v, axis=1) for v in (a, b, c))
        volume = np.einsum("ij,ij->i", a, np.cross(b, c))
        cosine = (la * lb * lc + np.einsum("ij,ij->i", a, b) * lc
                  + np.einsum("ij,ij->i", b, c) * la + np.einsum("ij,ij->i", c, a) * lb)
        return abs(np.arctan2(volume, cosine).sum() / (2 * np.pi)) >= 0.5


def overlap(a, b):
    """Whether two bodies cross or one holds a shell of the other."""
    if fcl.collide(a.object, b.object, fcl.CollisionRequest(), fcl.CollisionResult()):
        return True
    inside = lambda outer, inner: any(outer.holds(inner.turn @ p + inner.shift) for p in inner.shells)
    return inside(a, b) or inside(b, a)


def distance(a, b):
    """The gap between two bodies, 0 where they cross or one holds a shell of the other."""
    if overlap(a, b):
        return 0.0
    found = fcl.DistanceResult()
    fcl.distance(a.object, b.object, fcl.DistanceRequest(), found)
    return max(found.min_distance, 0.0)
