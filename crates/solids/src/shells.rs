//! The shells of a mesh.

use crate::Mesh;

/// The shells of a mesh, each as the indices of its vertices in ascending order, by the first of
/// them: vertices belong to one shell that triangles join. Vertices that no triangle uses, and
/// triangles that name a vertex that does not exist, are left out.
pub fn shells(mesh: &Mesh) -> Vec<Vec<usize>> {
    let count = mesh.vertices.len();
    let mut up: Vec<usize> = (0..count).collect();
    let mut used = vec![false; count];
    for t in &mesh.triangles {
        let [a, b, c] = t.map(|v| v as usize);
        if [a, b, c].iter().any(|v| *v >= count) {
            continue;
        }
        for (i, j) in [(a, b), (b, c)] {
            let (i, j) = (root(&mut up, i), root(&mut up, j));
            up[i.max(j)] = i.min(j);
        }
        for v in [a, b, c] {
            used[v] = true;
        }
    }
    let mut shells: Vec<Vec<usize>> = Vec::new();
    let mut number = vec![usize::MAX; count];
    for v in (0..count).filter(|v| used[*v]) {
        let first = root(&mut up, v);
        if number[first] == usize::MAX {
            number[first] = shells.len();
            shells.push(Vec::new());
        }
        shells[number[first]].push(v);
    }
    shells
}

fn root(up: &mut [usize], mut i: usize) -> usize {
    while up[i] != i {
        up[i] = up[up[i]];
        i = up[i];
    }
    i
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::build::block;
    use nalgebra::Point3;

    #[test]
    fn two_blocks_are_two_shells() {
        let mut mesh = block(Point3::origin(), Point3::new(1.0, 1.0, 1.0)).unwrap();
        let other = block(Point3::new(3.0, 0.0, 0.0), Point3::new(4.0, 1.0, 1.0)).unwrap();
        let first = mesh.vertices.len();
        mesh.append(&other);
        mesh.vertices.push(Point3::new(9.0, 9.0, 9.0));
        let found = shells(&mesh);
        assert_eq!(found.len(), 2);
        assert_eq!(found[0], (0..first).collect::<Vec<_>>());
        assert_eq!(found[1], (first..first + other.vertices.len()).collect::<Vec<_>>());
    }
}
