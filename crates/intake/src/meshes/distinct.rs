//! Points by their place: equal coordinates are one point.

use nalgebra::Point3;
use solids::Mesh;

/// Points, each once, numbered in the order in which they first came.
///
/// An open-addressed table of numbers. Beside each number stands a piece of its point's hash, so that
/// points are looked at only where they are very likely equal; before it, the points met of late are
/// looked at, since most corners of a mesh are a neighbour's.
pub(crate) struct Distinct {
    points: Vec<Point3<f64>>,
    /// Hash above, number plus one below; zero where free. A power of two long, at most three quarters
    /// full.
    slots: Vec<u64>,
    /// Numbers of points met of late, by the upper bits of their hashes.
    recent: Vec<u32>,
}

/// A point and its hash.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Keyed {
    point: Point3<f64>,
    hash: u64,
}

impl Keyed {
    /// The coordinates must be finite.
    pub(crate) fn new(point: Point3<f64>) -> Self {
        // Adding zero turns -0.0 into 0.0 and changes nothing else.
        let point = point.map(|c| c + 0.0);
        let [x, y, z] = [point.x, point.y, point.z].map(f64::to_bits);
        let first = fold(x ^ 0x9e37_79b9_7f4a_7c15, y ^ 0xd6e8_feb8_6659_fd93);
        Self { point, hash: fold(first ^ z, 0xa076_1d64_78bd_642f) }
    }
}

/// Multiplies and folds the product's halves onto each other.
#[allow(clippy::cast_possible_truncation, reason = "a hash may lose bits")]
fn fold(a: u64, b: u64) -> u64 {
    let wide = u128::from(a) * u128::from(b);
    (wide as u64) ^ ((wide >> 64) as u64)
}

#[allow(clippy::cast_possible_truncation, reason = "a hash may lose bits")]
fn low(hash: u64) -> usize {
    hash as usize
}

const RECENT: usize = 1 << 13;

impl Distinct {
    /// Ready for about so many points.
    pub(crate) fn for_about(count: usize) -> Self {
        let slots = count.max(16).saturating_add(count / 2).next_power_of_two();
        Self {
            points: Vec::with_capacity(count),
            slots: vec![0; slots],
            recent: vec![u32::MAX; RECENT],
        }
    }

    /// The number of a point, a new one if it is new; `None` when there are more than can be numbered.
    pub(crate) fn index(&mut self, of: Keyed) -> Option<u32> {
        let at = low(of.hash >> 48) & (RECENT - 1);
        let known = self.recent.get(at).copied()?;
        if self.points.get(known as usize) == Some(&of.point) {
            return Some(known);
        }
        let index = self.look_up(of)?;
        *self.recent.get_mut(at)? = index;
        Some(index)
    }

    /// Fetches the places in the table where these points would be: asked for together, they come sooner
    /// than one after the other.
    pub(crate) fn fetch(&self, all: &[Keyed]) {
        let mask = self.slots.len() - 1;
        let sum = all
            .iter()
            .fold(0, |sum, of| sum ^ self.slots.get(low(of.hash) & mask).copied().unwrap_or(0));
        std::hint::black_box(sum);
    }

    fn look_up(&mut self, of: Keyed) -> Option<u32> {
        if 4 * self.points.len() >= 3 * self.slots.len() {
            self.grow();
        }
        let mask = self.slots.len() - 1;
        let tag = of.hash >> 32;
        let mut at = low(of.hash) & mask;
        loop {
            let slot = self.slots.get_mut(at)?;
            if *slot == 0 {
                let index = u32::try_from(self.points.len()).ok().filter(|i| *i < u32::MAX)?;
                *slot = (tag << 32) | (u64::from(index) + 1);
                self.points.push(of.point);
                return Some(index);
            }
            if *slot >> 32 == tag {
                let index = low((*slot & 0xffff_ffff) - 1);
                if self.points.get(index) == Some(&of.point) {
                    return u32::try_from(index).ok();
                }
            }
            at = (at + 1) & mask;
        }
    }

    fn grow(&mut self) {
        let length = 2 * self.slots.len();
        let mask = length - 1;
        let mut slots = vec![0; length];
        for (number, point) in (1_u64..).zip(&self.points) {
            let hash = Keyed::new(*point).hash;
            let mut at = low(hash) & mask;
            while let Some(slot) = slots.get_mut(at) {
                if *slot == 0 {
                    *slot = (hash >> 32 << 32) | number;
                    break;
                }
                at = (at + 1) & mask;
            }
        }
        self.slots = slots;
    }

    /// The points by their numbers.
    pub(crate) fn into_points(mut self) -> Vec<Point3<f64>> {
        self.points.shrink_to_fit();
        self.points
    }
}

/// Makes meshes of triangles over one pool of vertices: each mesh gets the vertices that it uses, equal
/// ones made one, in the order in which its triangles use them.
pub(crate) struct Pool<'a> {
    points: &'a [Point3<f64>],
    /// For each point the mesh that used it last, and its number there.
    used: Vec<(u32, u32)>,
    meshes: u32,
}

impl<'a> Pool<'a> {
    pub(crate) fn new(points: &'a [Point3<f64>]) -> Self {
        Self { points, used: vec![(0, 0); points.len()], meshes: 0 }
    }

    /// `None` where a corner names a point that is not in the pool.
    pub(crate) fn mesh(&mut self, triangles: &[[u32; 3]]) -> Option<Mesh> {
        self.meshes += 1;
        let about = self.points.len().min(triangles.len() / 2 + 2);
        let mut distinct = Distinct::for_about(about);
        let mut out = Vec::with_capacity(triangles.len());
        for triangle in triangles {
            let mut corners = [0; 3];
            for (corner, of) in corners.iter_mut().zip(triangle) {
                let used = self.used.get_mut(*of as usize)?;
                if used.0 != self.meshes {
                    let point = *self.points.get(*of as usize)?;
                    *used = (self.meshes, distinct.index(Keyed::new(point))?);
                }
                *corner = used.1;
            }
            out.push(corners);
        }
        Some(Mesh { vertices: distinct.into_points(), triangles: out })
    }

    /// For each vertex of the mesh made last, the first point of the pool that became it.
    pub(crate) fn firsts(&self, vertices: usize) -> Vec<usize> {
        let mut firsts = vec![usize::MAX; vertices];
        for (point, (mesh, vertex)) in self.used.iter().enumerate() {
            if *mesh == self.meshes
                && let Some(first) = firsts.get_mut(*vertex as usize)
                && *first == usize::MAX
            {
                *first = point;
            }
        }
        firsts
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use std::collections::HashMap;

    fn coordinate() -> impl Strategy<Value = f64> {
        prop_oneof![Just(0.0), Just(-0.0), (-3_i8..3).prop_map(f64::from), any::<f64>()]
            .prop_filter("finite", |c| c.is_finite())
    }

    proptest! {
        /// Beside a map of the standard library.
        #[test]
        fn points_are_one_where_their_coordinates_are_equal(
            points in prop::collection::vec(prop::array::uniform3(coordinate()), 0..300),
        ) {
            let mut distinct = Distinct::for_about(0);
            let mut seen = HashMap::new();
            for p in &points {
                let next = u32::try_from(seen.len()).unwrap();
                let expected = *seen.entry(p.map(|c| (c + 0.0).to_bits())).or_insert(next);
                prop_assert_eq!(distinct.index(Keyed::new(Point3::from(*p))), Some(expected));
            }
            prop_assert_eq!(distinct.into_points().len(), seen.len());
        }
    }

    #[test]
    fn each_mesh_of_a_pool_gets_its_own_vertices() {
        let points: Vec<_> = [0.0, 1.0, 2.0, 1.0, 7.0].map(|x| Point3::new(x, 0.0, x * x)).to_vec();
        let mut pool = Pool::new(&points);
        let first = pool.mesh(&[[0, 1, 2], [2, 3, 0]]).unwrap();
        assert_eq!(first.triangles, [[0, 1, 2], [2, 1, 0]]);
        assert_eq!(pool.firsts(3), [0, 1, 2]);
        let second = pool.mesh(&[[4, 3, 2]]).unwrap();
        assert_eq!(second.vertices, [points[4], points[3], points[2]]);
        assert_eq!(pool.mesh(&[[0, 1, 5]]), None);
    }
}
