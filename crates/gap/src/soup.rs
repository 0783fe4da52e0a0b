//! The triangles of a body in the order of its tree's slots.

use nalgebra::Point3;

use crate::triangle::Triangle;

/// Triangles over shared vertices, both in the order in which the tree meets them, so that
/// neighbours in space are neighbours in memory.
#[derive(Debug, Clone)]
pub(crate) struct Soup {
    vertices: Vec<Point3<f64>>,
    triangles: Vec<[u32; 3]>,
}

impl Soup {
    /// The triangles of a mesh in the order of `slots`.
    pub(crate) fn in_order(
        vertices: &[Point3<f64>],
        triangles: &[[u32; 3]],
        slots: &[u32],
    ) -> Self {
        const UNMET: u32 = u32::MAX;
        let mut place = vec![UNMET; vertices.len()];
        let mut met = Vec::with_capacity(vertices.len());
        let ordered = slots
            .iter()
            .map(|slot| {
                triangles[*slot as usize].map(|v| {
                    let place = &mut place[v as usize];
                    if *place == UNMET {
                        // A mesh has fewer than 2^32 vertices: its triangles name them so.
                        *place = u32::try_from(met.len()).unwrap_or(UNMET);
                        met.push(vertices[v as usize]);
                    }
                    *place
                })
            })
            .collect();
        met.shrink_to_fit();
        Self { vertices: met, triangles: ordered }
    }

    /// Number of triangles.
    pub(crate) fn len(&self) -> usize {
        self.triangles.len()
    }

    /// Corners of the triangle in a slot.
    #[inline(always)]
    pub(crate) fn corners(&self, slot: usize) -> Triangle {
        let [x, y, z] = self.triangles[slot];
        [self.vertices[x as usize], self.vertices[y as usize], self.vertices[z as usize]]
    }

    /// The vertices that any triangle has, each once.
    pub(crate) fn vertices(&self) -> &[Point3<f64>] {
        &self.vertices
    }

    /// Bytes it takes.
    pub(crate) fn bytes(&self) -> usize {
        self.vertices.capacity() * size_of::<Point3<f64>>()
            + self.triangles.capacity() * size_of::<[u32; 3]>()
    }
}
