//! Balls inscribed in a body, and the depth of an overlap by them.
//!
//! A ball is made to touch the surface from inside and shrunk until it holds no part of it (the
//! "shrinking ball" of Ma, Bae, Choi, "3D medial axis point approximation using nearest neighbors
//! and the normal field", The Visual Computer 28(1), 2012; from memory). A few dozen of them stand
//! for the thick parts of a body: an overlap that two of them see needs no look at the triangles.

use nalgebra::{Isometry3, Point3};
use solids::Mesh;

use crate::pose::unit;
use crate::query::Pair;
use crate::solid::{Bounds, Ready, Solid};
use crate::triangle::{Triangle, nearest_to_point};

/// Points of the surface from which balls are made.
const STARTS: usize = 160;
/// Balls kept at most.
const MOST: usize = 64;
/// A ball whose centre is nearer to that of a greater one than this part of the greater radius adds
/// little.
const CLOSE: f64 = 0.4;
/// Steps in which a ball is shrunk at most.
const STEPS: usize = 12;
/// A step that shrinks the ball by less than this part is the last.
const SETTLED: f64 = 1e-3;
/// Balls of each body, the greatest, that are compared with the other's surface.
const LOOKS: usize = 8;

/// A ball inside a body.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Ball {
    pub(crate) centre: Point3<f64>,
    /// No point of the surface is nearer to the centre, mm.
    pub(crate) radius: f64,
}

/// A point of each of two bodies, of which one lies deep in its own. Wherever the bodies move, they
/// overlap at least `depth` less the distance of the points, or, where that is below zero, their gap
/// is at most what is missing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sunk {
    /// A point in or on `a`, frame of `a`.
    pub on_a: Point3<f64>,
    /// A point in or on `b`, frame of `a`.
    pub on_b: Point3<f64>,
    /// Millimetres of one of the points from the surface of its body.
    pub depth: f64,
}

impl Sunk {
    /// How deep the bodies overlap at the least where they are; millimetres.
    pub fn overlap(&self) -> f64 {
        self.depth - (self.on_a - self.on_b).norm()
    }
}

/// Two points that show an overlap of `a` and `b`, found by balls inscribed in both; the search ends
/// with one of `enough` millimetres. `None` where they see none: the bodies may still overlap, by
/// parts that are thin or between the balls, or a body is open. Far cheaper than
/// [`least_depth`](crate::least_depth), and mostly a little shallower.
pub fn sunk(a: &Solid, b: &Solid, a_from_b: &Isometry3<f64>, enough: f64) -> Option<Sunk> {
    deep_in([a, b], &Pair::new(a, b, a_from_b).ok()?, enough).map(|deep| deep.sunk)
}

/// Two points that show an overlap.
pub(crate) struct Deep {
    pub(crate) sunk: Sunk,
    /// Whether the deep one is that of `a`. The other one lies in both bodies.
    pub(crate) in_a: bool,
}

/// As [`sunk`]; `pair` is that of the solids.
pub(crate) fn deep_in([a, b]: [&Solid; 2], pair: &Pair<'_>, enough: f64) -> Option<Deep> {
    // What lies inside an open surface is anyone's guess.
    if !pair.are_whole() {
        return None;
    }
    let slack = pair.slack();
    let of_a: Vec<Ball> =
        near(a.balls(), &pair.b.bounds, |p| pair.b_from_a.apply(p)).map(|(ball, _)| ball).collect();
    let of_b: Vec<Ball> = near(b.balls(), &pair.a.bounds, |p| pair.a_from_b.apply(p))
        .map(|(ball, centre)| Ball { centre, ..ball })
        .collect();
    let mut best = by_balls(&of_a, &of_b, slack);
    let mut least = best.as_ref().map_or(slack, |deep| deep.sunk.overlap());
    for (in_a, balls) in [(true, &of_a), (false, &of_b)] {
        for ball in balls.iter().take(LOOKS) {
            if least >= enough || ball.radius - slack <= least {
                break;
            }
            let touched = if in_a {
                let local = pair.b_from_a.apply(&ball.centre);
                touched(pair.b, &local, ball.radius - least).map(|at| pair.a_from_b.apply(&at))
            } else {
                touched(pair.a, &ball.centre, ball.radius - least)
            };
            let Some(at) = touched else { continue };
            let (on_a, on_b) = if in_a { (ball.centre, at) } else { (at, ball.centre) };
            let sunk = Sunk { on_a, on_b, depth: ball.radius - slack };
            if sunk.overlap() > least {
                least = sunk.overlap();
                best = Some(Deep { sunk, in_a });
            }
        }
    }
    best
}

/// The balls that may reach into a box, each with its centre seen in the box's frame.
fn near<'b>(
    balls: &'b [Ball],
    bounds: &'b Bounds,
    seen: impl Fn(&Point3<f64>) -> Point3<f64> + 'b,
) -> impl Iterator<Item = (Ball, Point3<f64>)> + 'b {
    balls.iter().map(move |ball| (*ball, seen(&ball.centre))).filter(|(ball, at)| {
        let reaches =
            |i: usize| bounds.low[i] - ball.radius < at[i] && at[i] < bounds.high[i] + ball.radius;
        (0..3).all(reaches)
    })
}

/// The deepest overlap of two balls: of the greater one's centre and the point of the other that is
/// nearest to it.
fn by_balls(of_a: &[Ball], of_b: &[Ball], slack: f64) -> Option<Deep> {
    let mut least = 2.0 * slack;
    let mut best = None;
    for p in of_a {
        for q in of_b {
            let greater = p.radius.max(q.radius);
            let apart = (p.centre - q.centre).norm_squared();
            if greater > least && apart < (p.radius + q.radius - least).powi(2) {
                least = greater.min(p.radius + q.radius - apart.sqrt());
                best = Some((p, q));
            }
        }
    }
    let (p, q) = best?;
    let toward = |from: &Ball, to: &Ball| {
        let way = to.centre - from.centre;
        let far = way.norm();
        if far <= from.radius { to.centre } else { from.centre + way * (from.radius / far) }
    };
    let in_a = p.radius >= q.radius;
    let (on_a, on_b) = if in_a { (p.centre, toward(q, p)) } else { (toward(p, q), q.centre) };
    let depth = p.radius.max(q.radius) - slack;
    Some(Deep { sunk: Sunk { on_a, on_b, depth }, in_a })
}

/// A point of a body within `reach` of `point`, or `point` itself where it lies inside.
fn touched(body: &Ready, point: &Point3<f64>, reach: f64) -> Option<Point3<f64>> {
    if body.is_inside(point) == Ok(true) {
        return Some(*point);
    }
    body.nearest_point(point, reach).map(|near| near.point)
}

impl Solid {
    /// Balls inscribed in it, the greatest first; none in a body that is open.
    pub(crate) fn balls(&self) -> &[Ball] {
        self.balls
            .get_or_init(|| self.ready().map_or_else(|_| Vec::new(), |b| inscribed(b, self.mesh())))
    }
}

fn inscribed(body: &Ready, mesh: &Mesh) -> Vec<Ball> {
    if !body.is_whole() {
        return Vec::new();
    }
    let slack = 256.0 * f64::EPSILON * body.reach;
    let mut balls: Vec<Ball> =
        starts(mesh).filter_map(|(at, corners)| shrunk(body, &at, &corners, slack)).collect();
    balls.sort_by(|a, b| b.radius.total_cmp(&a.radius));
    let mut kept: Vec<Ball> = Vec::with_capacity(MOST);
    for ball in balls {
        let adds = |other: &Ball| (ball.centre - other.centre).norm() > CLOSE * other.radius;
        if kept.iter().all(adds) {
            kept.push(ball);
            if kept.len() == MOST {
                break;
            }
        }
    }
    kept
}

/// Points of the surface, spread by area, with their triangles.
fn starts(mesh: &Mesh) -> impl Iterator<Item = (Point3<f64>, Triangle)> {
    let area = |t: &Triangle| 0.5 * (t[1] - t[0]).cross(&(t[2] - t[0])).norm();
    let count = mesh.triangles.len();
    let whole: f64 = (0..count).map(|t| area(&mesh.corners(t))).sum();
    let step = whole / STARTS as f64;
    let mut passed = 0.0;
    let mut taken = 0_usize;
    (0..count).flat_map(move |t| {
        let corners = mesh.corners(t);
        passed += area(&corners);
        let from = taken;
        while taken < STARTS && (taken as f64 + 0.5) * step <= passed {
            taken += 1;
        }
        (from..taken).map(move |i| (spread(i, &corners), corners))
    })
}

/// The `i`-th of points spread evenly over a triangle (the golden ratio's sequence in the plane,
/// folded).
fn spread(i: usize, t: &Triangle) -> Point3<f64> {
    const STEP: [f64; 2] = [0.754_877_666_246_692_8, 0.569_840_290_998_053_3];
    let [mut u, mut v] = STEP.map(|step| (0.5 + i as f64 * step).fract());
    if u + v > 1.0 {
        (u, v) = (1.0 - u, 1.0 - v);
    }
    t[0] + (t[1] - t[0]) * u + (t[2] - t[0]) * v
}

/// The greatest ball found that touches the surface at `at` from inside.
fn shrunk(body: &Ready, at: &Point3<f64>, corners: &Triangle, slack: f64) -> Option<Ball> {
    let inward = -unit(&(corners[1] - corners[0]).cross(&(corners[2] - corners[0])))?;
    let mut radius = 0.5 * (body.bounds.high - body.bounds.low).norm();
    for _ in 0..STEPS {
        let centre = at + inward * radius;
        let Some((slot, _)) = body.nearest_slot(&centre, radius * (1.0 - SETTLED)) else { break };
        let way = nearest_to_point(&centre, &body.soup.corners(slot)) - at;
        let next = way.norm_squared() / (2.0 * way.dot(&inward));
        if !(next > 0.0 && next < radius * (1.0 - 0.1 * SETTLED)) {
            break;
        }
        radius = next;
    }
    let centre = at + inward * radius;
    let radius = body.nearest_slot(&centre, f64::INFINITY)?.1 - slack;
    (radius > 0.0 && body.is_inside(&centre) == Ok(true)).then_some(Ball { centre, radius })
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::Vector3;
    use solids::build::block;

    fn plate() -> Solid {
        Solid::new(&block(Point3::origin(), Point3::new(60.0, 40.0, 8.0)).unwrap())
    }

    #[test]
    fn the_greatest_ball_in_a_plate_is_as_wide_as_the_plate_is_thick() {
        let solid = plate();
        let balls = solid.balls();
        assert!(balls.len() > 10 && balls.len() <= MOST);
        assert!((balls[0].radius - 4.0).abs() < 0.01, "{:?}", balls[0]);
        assert!(balls.is_sorted_by(|a, b| a.radius >= b.radius));
    }

    #[test]
    fn balls_lie_inside() {
        let solid = plate();
        for ball in solid.balls() {
            let c = ball.centre;
            let room = [c.x, 60.0 - c.x, c.y, 40.0 - c.y, c.z, 8.0 - c.z];
            let least = room.into_iter().fold(f64::INFINITY, f64::min);
            assert!(ball.radius > 0.0 && ball.radius <= least, "{ball:?}");
        }
    }

    #[test]
    fn an_open_body_has_none() {
        let mut mesh = block(Point3::origin(), Point3::new(1.0, 1.0, 1.0)).unwrap();
        mesh.triangles.pop();
        assert!(Solid::new(&mesh).balls().is_empty());
    }

    /// Two plates in line that overlap by `by`: no less frees them, since they are as thick.
    #[test]
    fn the_overlap_told_is_never_deeper_than_it_is() {
        let (a, b) = (plate(), plate());
        for by in [0.5, 2.0, 5.0, 7.9] {
            let pose = Isometry3::translation(60.0 - by, 0.3, 0.2);
            if let Some(sunk) = sunk(&a, &b, &pose, f64::INFINITY) {
                assert!(sunk.overlap() > 0.0 && sunk.overlap() <= by, "{by} {sunk:?}");
                let in_b = pose.inverse_transform_point(&sunk.on_b);
                let inside = |p: &Point3<f64>| {
                    let high = Vector3::new(60.0, 40.0, 8.0).add_scalar(1e-9);
                    p.coords.iter().zip(high.iter()).all(|(c, h)| (-1e-9..=*h).contains(c))
                };
                assert!(inside(&sunk.on_a) && inside(&in_b), "{sunk:?}");
            } else {
                assert!(by < 2.0, "{by}");
            }
        }
    }

    /// A bell without a bottom: where its inside ends is anyone's guess.
    #[test]
    fn an_open_body_shows_no_overlap() {
        let mut bell = block(Point3::origin(), Point3::new(400.0, 400.0, 200.0)).unwrap();
        bell.triangles.retain(|t| t.iter().any(|v| bell.vertices[*v as usize].z > 1.0));
        let (bell, inner) = (
            Solid::new(&bell),
            Solid::new(&block(Point3::origin(), Point3::new(80.0, 80.0, 80.0)).unwrap()),
        );
        for up in [100.0, 150.0, 170.0] {
            let pose = Isometry3::translation(160.0, 160.0, up - 40.0);
            assert_eq!(sunk(&bell, &inner, &pose, f64::INFINITY), None);
            assert_eq!(sunk(&inner, &bell, &pose.inverse(), f64::INFINITY), None);
        }
    }

    #[test]
    fn deep_enough_is_deep_enough() {
        let (a, b) = (plate(), plate());
        let pose = Isometry3::translation(20.0, 5.0, 1.0);
        let some = sunk(&a, &b, &pose, 1.0).unwrap().overlap();
        let most = sunk(&a, &b, &pose, f64::INFINITY).unwrap().overlap();
        assert!(some >= 1.0 && most >= some, "{some} {most}");
        assert!(most > 3.0, "{most}");
    }
}
