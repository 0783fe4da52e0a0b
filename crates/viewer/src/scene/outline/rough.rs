//! The edges of a body whose surface is rough, as scans are.
//!
//! Noise gives such a surface creases everywhere, and outlines wherever a bump turns away. Its faces are
//! given the normals of a calm surface first, which is flat and round where the noise is and still has the
//! body's own edges; then long creases of that surface are drawn, and its outline.

use super::{Edge, Face, distance, dot, length, narrow};
use std::collections::HashMap;

/// An edge by the names of its ends.
type Key = (u32, u32);

/// A body with fewer creases is drawn as it is. Our choice.
const FEWEST: usize = 100;
/// Of all edges of a rough surface, so many are creases between faces that are no slivers. Our choice: on
/// scans 0.33 to 0.6, on bodies drawn by hand or coarsely tessellated up to 0.26.
const CREASED: f64 = 0.28;
/// Of the points where its creases end, so many are no corner and on no line: one crease ends there alone,
/// or more than three do. Our choice: on scans 0.31 to 0.5, on drawn bodies mostly below 0.05.
const TANGLED: f64 = 0.25;
/// How many times a face takes the normal of the most even star about one of its corners.
const STARS: usize = 2;
/// How far faces lean at most from a face that is calmed by them, as a cosine, pass by pass: 72 degrees,
/// then 44, so that the noise goes first and the body's own edges stay. Our choice.
const NEAR: [f64; 12] = [0.3, 0.3, 0.3, 0.3, 0.3, 0.3, 0.72, 0.72, 0.72, 0.72, 0.72, 0.72];
/// Faces of the calm surface that meet at more than this meet in a crease, degrees. Our choice.
const CREASE: f64 = 45.0;
/// At more than this an edge off every line is noise, and not the outline of what is round, degrees. Our
/// choice.
const STEEP: f64 = 70.0;
/// Faces of the calm surface that meet at less than this are one, degrees. Our choice.
const FLAT: f64 = 0.5;
/// A twig on a line has up to so many edges. Our choice.
const TWIG: usize = 8;
/// A line is longer than so many edges are on the mean. Our choice.
const LONG: f64 = 12.0;
/// How many times a line is evened out.
const EVEN: usize = 6;
/// How far an outline is drawn out of the surface, so that bumps do not hide it, in lengths of an edge.
const LIFT: f64 = 0.15;

/// Whether these creases, of so many edges, are those of a rough surface.
pub(super) fn is_rough(creases: &[Key], edges: usize) -> bool {
    if creases.len() < FEWEST || (creases.len() as f64) < CREASED * edges as f64 {
        return false;
    }
    let mut ending: HashMap<u32, usize> = HashMap::new();
    for end in creases.iter().flat_map(|(a, b)| [a, b]) {
        *ending.entry(*end).or_default() += 1;
    }
    let tangled = ending.values().filter(|count| **count == 1 || **count > 3).count();
    tangled as f64 > TANGLED * ending.len() as f64
}

/// The edges that are drawn from somewhere, of faces, points by their names, and the faces that meet in
/// each edge.
pub(super) fn edges<'m>(
    faces: &[Face],
    points: &[[f32; 3]],
    meeting: impl Iterator<Item = (Key, &'m [usize])>,
) -> Vec<Edge> {
    let [crease, steep, flat] = [CREASE, STEEP, FLAT].map(|degrees| degrees.to_radians().cos());
    let calm = calmed(faces, points.len());
    // Where more than two faces meet two bodies touch, which is no edge of either.
    let (mut creases, mut smooth) = (Vec::new(), Vec::new());
    let (mut sum, mut count) = (0.0, 0_u32);
    for (key, meeting) in meeting {
        sum += distance(points[key.0 as usize], points[key.1 as usize]);
        count += 1;
        match meeting {
            [left, right] => {
                let normals = [calm[*left], calm[*right]];
                let along = dot(&normals[0], &normals[1]);
                if along < crease {
                    creases.push(key);
                }
                if along > steep && along < flat {
                    smooth.push((key, normals));
                }
            }
            [_] => creases.push(key),
            _ => {}
        }
    }
    let long = sum / f64::from(count.max(1));
    let lines = long_ones(without_twigs(creases, points.len()), points, LONG * long);
    let points = evened(&lines, points);
    let lifted = lifted(&points, (faces, &calm), LIFT * long);
    let drawn = |points: &[[f32; 3]], (a, b): Key| [points[a as usize], points[b as usize]];
    let outline = smooth.into_iter().filter(|(key, _)| lines.binary_search(key).is_err());
    let outline = outline.map(|(key, faces)| Edge { ends: drawn(&lifted, key), faces });
    let always = lines.iter().map(|key| Edge { ends: drawn(&points, *key), faces: [[0.0; 3]; 2] });
    outline.chain(always).collect()
}

/// The unit normal of each face on the calm surface.
fn calmed(faces: &[Face], points: usize) -> Vec<[f32; 3]> {
    let stars = Stars::new(faces, points);
    let mut normals: Vec<[f64; 3]> = faces.iter().map(|face| face.own.map(f64::from)).collect();
    // A face beside an edge has a corner away from it, whose star lies on one side of the edge.
    for _ in 0..STARS {
        let means: Vec<[f64; 3]> = (0..points)
            .map(|point| {
                let all: f64 = stars.about(point).iter().map(|index| faces[*index].weight).sum();
                mean(stars.about(point).iter().map(|index| (faces[*index].weight, normals[*index])))
                    .map(|x| if all > 0.0 { x / all } else { 0.0 })
            })
            .collect();
        let even = |corner: &u32| length(means[*corner as usize]);
        for (normal, face) in normals.iter_mut().zip(faces) {
            let best = face.corners.iter().max_by(|a, b| even(a).total_cmp(&even(b)));
            *normal = best.and_then(|best| unit(means[*best as usize])).unwrap_or(*normal);
        }
    }
    for near in NEAR {
        let calmer = |(face, own): (&Face, &[f64; 3])| {
            let about = face.corners.iter().flat_map(|corner| stars.about(*corner as usize));
            let alike = about.filter_map(|index| {
                let along: f64 = own.iter().zip(&normals[*index]).map(|(a, b)| a * b).sum();
                let share = (along - near) / (1.0 - near);
                (share > 0.0).then(|| (faces[*index].weight * share * share, normals[*index]))
            });
            unit(mean(alike)).unwrap_or(*own)
        };
        normals = faces.iter().zip(&normals).map(calmer).collect();
    }
    normals.into_iter().map(|normal| normal.map(narrow)).collect()
}

/// The faces about each point.
struct Stars {
    /// Of each point, where its faces begin; and the end of the last.
    starts: Vec<usize>,
    faces: Vec<usize>,
}

impl Stars {
    fn new(faces: &[Face], points: usize) -> Self {
        let mut starts = vec![0; points + 1];
        for corner in faces.iter().flat_map(|face| face.corners) {
            starts[corner as usize + 1] += 1;
        }
        for point in 0..points {
            starts[point + 1] += starts[point];
        }
        let mut free = starts.clone();
        let mut about = vec![0; 3 * faces.len()];
        for (index, face) in faces.iter().enumerate() {
            for corner in face.corners {
                let free = &mut free[corner as usize];
                about[*free] = index;
                *free += 1;
            }
        }
        Self { starts, faces: about }
    }

    fn about(&self, point: usize) -> &[usize] {
        &self.faces[self.starts[point]..self.starts[point + 1]]
    }
}

/// The sum of normals, each by its weight.
fn mean(normals: impl Iterator<Item = (f64, [f64; 3])>) -> [f64; 3] {
    normals.fold([0.0; 3], |mut sum, (weight, normal)| {
        for (sum, x) in sum.iter_mut().zip(normal) {
            *sum += weight * x;
        }
        sum
    })
}

fn unit(v: [f64; 3]) -> Option<[f64; 3]> {
    let long = length(v);
    (long > 0.0).then(|| v.map(|x| x / long))
}

/// Lines without the short twigs on them. Loose ends are taken off; then every line that is left grows
/// back from its own ends.
fn without_twigs(mut lines: Vec<Key>, points: usize) -> Vec<Key> {
    let ending = |lines: &[Key]| {
        let mut ending = vec![0_u32; points];
        for end in lines.iter().flat_map(|(a, b)| [a, b]) {
            ending[*end as usize] += 1;
        }
        ending
    };
    let is_loose =
        |ending: &[u32], (a, b): &Key| ending[*a as usize] == 1 || ending[*b as usize] == 1;
    let mut off = Vec::new();
    for _ in 0..TWIG {
        let ending = ending(&lines);
        let (loose, left) = lines.into_iter().partition(|key| is_loose(&ending, key));
        lines = left;
        off.push(loose);
    }
    for loose in off.into_iter().rev() {
        let ending = ending(&lines);
        lines.extend(loose.into_iter().filter(|key: &Key| is_loose(&ending, key)));
    }
    lines
}

/// Those that hang together over more than a length, in order.
fn long_ones(mut lines: Vec<Key>, points: &[[f32; 3]], least: f64) -> Vec<Key> {
    let mut first: Vec<u32> = points.iter().zip(0..).map(|(_, name)| name).collect();
    let found = |first: &mut [u32], mut name: u32| {
        while first[name as usize] != name {
            first[name as usize] = first[first[name as usize] as usize];
            name = first[name as usize];
        }
        name
    };
    for key in &lines {
        let [a, b] = [key.0, key.1].map(|end| found(&mut first, end));
        first[a.max(b) as usize] = a.min(b);
    }
    let mut boxes: HashMap<u32, [[f32; 3]; 2]> = HashMap::new();
    for end in lines.iter().flat_map(|(a, b)| [*a, *b]) {
        let point = points[end as usize];
        let [low, high] = boxes.entry(found(&mut first, end)).or_insert([point, point]);
        for (i, x) in point.into_iter().enumerate() {
            low[i] = low[i].min(x);
            high[i] = high[i].max(x);
        }
    }
    lines.retain(|key| {
        let spans = boxes.get(&found(&mut first, key.0));
        spans.is_some_and(|[low, high]| distance(*low, *high) > least)
    });
    lines.sort_unstable();
    lines
}

/// Points with those on lines moved toward their neighbours; where lines meet or end they stay.
fn evened(lines: &[Key], points: &[[f32; 3]]) -> Vec<[f32; 3]> {
    let mut beside: HashMap<u32, Vec<u32>> = HashMap::new();
    for (a, b) in lines {
        beside.entry(*a).or_default().push(*b);
        beside.entry(*b).or_default().push(*a);
    }
    let mut points = points.to_vec();
    for _ in 0..EVEN {
        let moved = beside.iter().filter_map(|(name, beside)| {
            let [a, b] = beside.as_slice() else { return None };
            let [a, b, own] = [*a, *b, *name].map(|name| points[name as usize]);
            Some((*name, [0, 1, 2].map(|i: usize| 0.5 * own[i] + 0.25 * (a[i] + b[i]))))
        });
        for (name, point) in moved.collect::<Vec<_>>() {
            points[name as usize] = point;
        }
    }
    points
}

/// Points moved out of the surface.
fn lifted(points: &[[f32; 3]], (faces, calm): (&[Face], &[[f32; 3]]), by: f64) -> Vec<[f32; 3]> {
    let mut sums = vec![[0.0; 3]; points.len()];
    for (face, normal) in faces.iter().zip(calm) {
        for corner in face.corners {
            for (sum, x) in sums[corner as usize].iter_mut().zip(normal) {
                *sum += face.weight * f64::from(*x);
            }
        }
    }
    let lifted = |(point, sum): (&[f32; 3], [f64; 3])| {
        let off = unit(sum).unwrap_or_default();
        [0, 1, 2].map(|i: usize| point[i] + narrow(by * off[i]))
    };
    points.iter().zip(sums).map(lifted).collect()
}

#[cfg(test)]
mod tests {
    use super::super::{edges, tests::outline};
    use super::*;
    use nalgebra::Point3;
    use solids::Mesh;

    const RADIUS: f64 = 50.0;
    const HIGH: f64 = 150.0;

    /// A closed cylinder, its side of faces about 3 mm wide, whose points are up to so much off, mm.
    fn cylinder(noise: f64) -> Mesh {
        const SIDES: u32 = 104;
        const ROWS: u32 = 50;
        // A sequence without a pattern, from -1 to 1.
        let off = |i: u32| {
            let mixed = i.wrapping_mul(0x9e37_79b1);
            let mixed = (mixed ^ (mixed >> 15)).wrapping_mul(0x85eb_ca77);
            f64::from(mixed ^ (mixed >> 13)) / f64::from(u32::MAX) * 2.0 - 1.0
        };
        let mut mesh = Mesh::default();
        for row in 0..=ROWS {
            for side in 0..SIDES {
                let radius = RADIUS + noise * off(row * SIDES + side + 1);
                let angle = std::f64::consts::TAU * f64::from(side) / f64::from(SIDES);
                let z = HIGH * f64::from(row) / f64::from(ROWS);
                mesh.vertices.push(Point3::new(radius * angle.cos(), radius * angle.sin(), z));
            }
        }
        let last = ROWS * SIDES;
        mesh.vertices.extend([0.0, HIGH].map(|z| Point3::new(0.0, 0.0, z)));
        for side in 0..SIDES {
            let next = (side + 1) % SIDES;
            for row in (0..last).step_by(SIDES as usize) {
                let [a, b] = [row + side, row + next];
                mesh.triangles.extend([[a, b, a + SIDES], [b, b + SIDES, a + SIDES]]);
            }
            let middle = last + SIDES;
            mesh.triangles.extend([[next, side, middle], [last + side, last + next, middle + 1]]);
        }
        mesh
    }

    fn middle(edge: &Edge) -> [f64; 3] {
        [0, 1, 2].map(|i: usize| 0.5 * f64::from(edge.ends[0][i] + edge.ends[1][i]))
    }

    /// Into which of so many parts of a turn it falls.
    fn bearing([x, y, _]: [f64; 3], parts: f64) -> i64 {
        #[expect(clippy::cast_possible_truncation, reason = "few parts")]
        let part =
            (y.atan2(x).rem_euclid(std::f64::consts::TAU) / std::f64::consts::TAU * parts) as i64;
        part
    }

    #[test]
    fn noise_on_a_cylinder_makes_no_strokes_and_its_rims_stay() {
        let surface = display::surface(&cylinder(1.5));
        let edges = edges(&surface, true);
        let (always, smooth): (Vec<&Edge>, Vec<&Edge>) =
            edges.iter().partition(|edge| edge.faces == [[0.0; 3]; 2]);
        for rim in [0.0, HIGH] {
            let of_rim =
                always.iter().map(|edge| middle(edge)).filter(|m| (m[2] - rim).abs() < 5.0);
            let mut bearings: Vec<i64> = of_rim.map(|m| bearing(m, 36.0)).collect();
            bearings.sort_unstable();
            bearings.dedup();
            assert!(bearings.len() >= 34, "of the rim at {rim} there is {bearings:?}");
        }
        for edge in &always {
            let m = middle(edge);
            let off = (m[0].hypot(m[1]) - RADIUS).hypot(m[2].min(HIGH - m[2]));
            assert!(off < 5.0, "a stroke {off} mm from the rims");
        }
        // Seen from the side, two lines up the cylinder and nothing between them.
        let smooth: Vec<Edge> = smooth.into_iter().copied().collect();
        for eye in [[1.0, 0.03, 0.0], [0.3, -0.8, 0.4], [0.5, 0.5, -0.6_f32]] {
            let level = f64::from(eye[0]).hypot(f64::from(eye[1]));
            let mut heights = [0_u32; 2];
            for edge in outline(&smooth, eye) {
                let [x, y, z] = middle(edge);
                if !(5.0..HIGH - 5.0).contains(&z) {
                    continue;
                }
                let [along, across] = [
                    (x * f64::from(eye[0]) + y * f64::from(eye[1])) / level / RADIUS,
                    (y * f64::from(eye[0]) - x * f64::from(eye[1])) / level / RADIUS,
                ];
                assert!(along.abs() < 0.3, "a stroke {along} off the outline");
                #[expect(
                    clippy::cast_possible_truncation,
                    clippy::cast_sign_loss,
                    reason = "0 to 14"
                )]
                let height = (z / 10.0) as u32;
                heights[usize::from(across > 0.0)] |= 1 << height;
            }
            for seen in heights {
                assert!(seen.count_ones() >= 13, "from {eye:?} the outline has gaps: {seen:b}");
            }
        }
    }

    #[test]
    fn of_a_rough_body_that_nobody_saw_nothing_is_drawn() {
        let [calm, rough] = [0.0, 1.5].map(|noise| display::surface(&cylinder(noise)));
        assert!(edges(&rough, false).is_empty() && !edges(&rough, true).is_empty());
        assert!(edges(&calm, false) == edges(&calm, true) && !edges(&calm, true).is_empty());
    }
}
