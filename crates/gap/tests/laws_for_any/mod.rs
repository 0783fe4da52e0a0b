//! Laws that any two meshes must keep at any pose, broken ones included. Each is looked at by the
//! fuzzer in `tests/fuzz`, and here with the inputs it kept.
//!
//! To add a query: a method of [`Engine`], a law that asks it, and a line at the end of [`LAWS`].
#![allow(dead_code, unreachable_pub, reason = "each user takes some of it")]
#![allow(clippy::float_cmp, reason = "exact values are meant")]

use gap::motion::Motion;
use gap::{
    Course, CrossingLine, Follower, Gap, Location, NearestPoint, Overlap, Proximity, RayHit,
    SharedVolume, Solid, Sweep, Undecided, certified_blocked, certified_clear, clears, crosses,
    crossing_lines, gap, gaps, least_depth, locate, nearest_point, overlap, overlap_along,
    ray_hits, shared_volume, surface_gap, sweep, winding_number,
};
use nalgebra::{Isometry3, Point3, Translation3, Vector3};
use solids::Mesh;

use crate::common::triangle;
use crate::input::{Case, LARGEST, is_a_pose, is_usable, reach, room};
use crate::pairs;

type Pose = Isometry3<f64>;
type Law = fn(&dyn Engine, &Asked) -> Result<(), String>;

/// Every law by its name. Inputs choose one by its place: add only at the end.
pub const LAWS: [(&str, Law); 14] = [
    ("gap, surfaces and thresholds agree", thresholds),
    ("swapping the bodies changes nothing", swapped),
    ("every pair of triangles gives the same", every_pair),
    ("few triangles are judged exactly", exact),
    ("an overlap is bracketed", bracketed),
    ("an overlap along given ways is bracketed", bracketed_along),
    ("a point is located and nearest", points),
    ("rays report what they meet", rays),
    ("a body tells what it is", bodies),
    ("many poses are answered like one", many_poses),
    ("crossing lines are where surfaces cross", lines),
    ("a shared volume is bracketed", volumes),
    ("what is certified holds nearby", certified),
    ("a sweep keeps its word", swept),
];

/// The queries, so that a test can lie in the place of one.
pub trait Engine {
    fn gap(&self, a: &Solid, b: &Solid, pose: &Pose, cap: f64) -> Proximity {
        gap(a, b, pose, cap)
    }
    fn surface_gap(
        &self,
        a: &Solid,
        b: &Solid,
        pose: &Pose,
        cap: f64,
    ) -> Result<Option<Gap>, Undecided> {
        surface_gap(a, b, pose, cap)
    }
    fn clears(&self, a: &Solid, b: &Solid, pose: &Pose, need: f64) -> Option<bool> {
        clears(a, b, pose, need)
    }
    fn crosses(&self, a: &Solid, b: &Solid, pose: &Pose) -> bool {
        crosses(a, b, pose)
    }
    fn overlap(&self, a: &Solid, b: &Solid, pose: &Pose) -> Option<Overlap> {
        overlap(a, b, pose)
    }
    fn overlap_along(
        &self,
        a: &Solid,
        b: &Solid,
        pose: &Pose,
        ways: &[Vector3<f64>],
    ) -> Option<Overlap> {
        overlap_along(a, b, pose, ways)
    }
    fn least_depth(
        &self,
        a: &Solid,
        b: &Solid,
        pose: &Pose,
        enough: f64,
    ) -> Option<(f64, Point3<f64>)> {
        least_depth(a, b, pose, enough)
    }
    fn locate(&self, solid: &Solid, point: &Point3<f64>) -> Location {
        locate(solid, point)
    }
    fn winding_number(&self, solid: &Solid, point: &Point3<f64>) -> Result<f64, Undecided> {
        winding_number(solid, point)
    }
    fn nearest_point(
        &self,
        solid: &Solid,
        point: &Point3<f64>,
        cap: f64,
    ) -> Result<Option<NearestPoint>, Undecided> {
        nearest_point(solid, point, cap)
    }
    fn ray_hits(
        &self,
        solid: &Solid,
        origin: &Point3<f64>,
        way: &Vector3<f64>,
    ) -> Result<Vec<RayHit>, Undecided> {
        ray_hits(solid, origin, way)
    }
    fn bounds(&self, solid: &Solid) -> Option<gap::Bounds> {
        solid.bounds()
    }
    fn follow(&self, a: &Solid, b: &Solid, poses: &[Pose], cap: f64) -> Vec<Proximity> {
        let mut follower = Follower::new(a, b);
        poses.iter().map(|pose| follower.gap(pose, cap)).collect()
    }
    fn gaps(&self, a: &Solid, b: &Solid, poses: &[Pose], cap: f64) -> Vec<Proximity> {
        gaps(a, b, poses, cap)
    }
    fn crossing_lines(
        &self,
        a: &Solid,
        b: &Solid,
        pose: &Pose,
    ) -> Result<Vec<CrossingLine>, Undecided> {
        crossing_lines(a, b, pose)
    }
    fn shared_volume(&self, a: &Solid, b: &Solid, pose: &Pose) -> Result<SharedVolume, Undecided> {
        shared_volume(a, b, pose)
    }
    fn certified_clear(
        &self,
        a: &Solid,
        b: &Solid,
        pose: &Pose,
        need: f64,
    ) -> Result<Option<f64>, Undecided> {
        certified_clear(a, b, pose, need, f64::INFINITY)
    }
    fn certified_blocked(
        &self,
        a: &Solid,
        b: &Solid,
        pose: &Pose,
    ) -> Result<Option<f64>, Undecided> {
        certified_blocked(a, b, pose, f64::INFINITY)
    }
    fn sweep(
        &self,
        a: &Solid,
        b: &Solid,
        start: &Pose,
        motion: &Motion,
        need: f64,
        tolerance: f64,
    ) -> Sweep {
        sweep(a, b, start, motion, need, tolerance)
    }
}

/// The engine itself.
pub struct Real;

impl Engine for Real {}

/// A case with its bodies.
pub struct Asked {
    case: Case,
    a: Solid,
    b: Solid,
    /// Of a distance between the bodies, and between the first and the point.
    room: f64,
    room_at_point: f64,
}

/// Looks at the law that the input names by its first byte, or at all. Of numbers too close to zero
/// for exact predicates only an answer is asked, right or wrong.
pub fn look(engine: &dyn Engine, data: &[u8]) -> Result<(), String> {
    let case = Case::new(data);
    let (a, b) = case.solids();
    let size = reach(&case.a);
    let far = case.a_from_b.translation.vector.amax();
    let asked = Asked {
        a,
        b,
        room: room(size.max(reach(&case.b)).max(far)),
        room_at_point: room(size.max(case.point.coords.amax())),
        case,
    };
    let laws = match asked.case.law {
        u8::MAX => LAWS.as_slice(),
        // Places that no law has yet go to the first eight.
        law => {
            let place = usize::from(law % 32);
            std::slice::from_ref(LAWS.get(place).unwrap_or(&LAWS[place % 8]))
        }
    };
    for (name, law) in laws {
        let kept = law(engine, &asked);
        if asked.case.is_moderate() {
            kept.map_err(|wrong| format!("{name}: {wrong}\n{:?}", asked.case))?;
        }
    }
    Ok(())
}

fn hold(right: bool, what: impl FnOnce() -> String) -> Result<(), String> {
    if right { Ok(()) } else { Err(what()) }
}

impl Asked {
    /// Whether the engine must answer; if not, that it refuses everywhere.
    fn is_answered(&self, engine: &dyn Engine) -> Result<bool, String> {
        let (a, b, pose) = (&self.a, &self.b, &self.case.a_from_b);
        if is_usable(&self.case.a) && is_usable(&self.case.b) && is_a_pose(pose) {
            return Ok(true);
        }
        let told = engine.gap(a, b, pose, self.case.number);
        hold(matches!(told, Proximity::CannotDecide(_)), || format!("not refused: {told:?}"))?;
        let refused = engine.surface_gap(a, b, pose, self.case.number).is_err()
            && engine.clears(a, b, pose, self.case.number).is_none()
            && !engine.crosses(a, b, pose)
            && engine.overlap(a, b, pose).is_none()
            && engine.overlap_along(a, b, pose, &[self.case.way]).is_none()
            && engine.least_depth(a, b, pose, self.case.number).is_none()
            && engine.crossing_lines(a, b, pose).is_err()
            && engine.shared_volume(a, b, pose).is_err()
            && engine.certified_clear(a, b, pose, 1.0).is_err()
            && engine.certified_blocked(a, b, pose).is_err();
        hold(refused, || "one query is not refused".to_owned())?;
        Ok(false)
    }

    /// Of triangles. Some laws ask thousands of times, and where all triangles lie in a few lines
    /// every predicate takes the long way.
    fn pairs(&self) -> usize {
        self.case.a.triangles.len() * self.case.b.triangles.len()
    }

    fn surfaces(&self, engine: &dyn Engine) -> Result<Gap, String> {
        let found = engine.surface_gap(&self.a, &self.b, &self.case.a_from_b, f64::INFINITY);
        found.map_err(|why| why.to_string())?.ok_or_else(|| "no distance".to_owned())
    }

    fn told(&self, engine: &dyn Engine) -> Proximity {
        engine.gap(&self.a, &self.b, &self.case.a_from_b, f64::INFINITY)
    }

    /// Whether the surfaces are nearer than rounding can tell, yet do not meet exactly: then a gap
    /// is told as an overlap, and a need of nothing may be told as met.
    fn is_a_hair(&self, engine: &dyn Engine, pose: &Pose) -> bool {
        let found = engine.surface_gap(&self.a, &self.b, pose, f64::INFINITY).ok().flatten();
        !engine.crosses(&self.a, &self.b, pose) && found.is_some_and(|gap| gap.distance == 0.0)
    }

    /// The gap of the boxes around the bodies, below which theirs cannot be.
    fn boxes_apart(&self) -> f64 {
        let place = |v: &Point3<f64>| self.case.a_from_b * v;
        let of = |mesh: &Mesh, axis: usize, placed: bool| {
            let used = mesh.triangles.iter().flatten().map(|v| mesh.vertices[*v as usize]);
            let at = used.map(|v| if placed { place(&v)[axis] } else { v[axis] });
            at.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), c| (low.min(c), high.max(c)))
        };
        let apart = |axis: usize| {
            let (a, b) = (of(&self.case.a, axis, false), of(&self.case.b, axis, true));
            (b.0 - a.1).max(a.0 - b.1)
        };
        (0..3).map(apart).fold(f64::NEG_INFINITY, f64::max)
    }
}

fn thresholds(engine: &dyn Engine, asked: &Asked) -> Result<(), String> {
    if !asked.is_answered(engine)? {
        return Ok(());
    }
    let Asked { case, a, b, room, .. } = asked;
    let (pose, room) = (&case.a_from_b, *room);
    let crossing = engine.crosses(a, b, pose);
    let surfaces = asked.surfaces(engine)?;
    let told = asked.told(engine);
    let context = || format!("crossing {crossing}, {surfaces:?}, {told:?}");

    let apart = (surfaces.on_a - surfaces.on_b).norm();
    let [i, j] = surfaces.triangles.map(|t| t as usize);
    let sound = surfaces.distance.is_finite()
        && surfaces.distance >= 0.0
        && i < case.a.triangles.len()
        && j < case.b.triangles.len()
        && (crossing || (apart - surfaces.distance).abs() <= room);
    hold(sound, || format!("an unsound distance; {}", context()))?;
    hold(!crossing || (told == Proximity::Overlapping && surfaces.distance == 0.0), context)?;
    match told {
        Proximity::Apart(found) => {
            let same = (found.distance - surfaces.distance).abs() <= room;
            hold(found.distance > 0.0 && same, context)?;
        }
        Proximity::AtLeast(_) => return Err(context()),
        Proximity::Overlapping | Proximity::CannotDecide(_) => {}
    }
    let boxes = asked.boxes_apart();
    if boxes > room {
        // An open surface may leave it open what is inside, seen in the other frame.
        let closed = a.is_closed() && b.is_closed();
        let right = (!closed || matches!(told, Proximity::Apart(_)))
            && surfaces.distance >= boxes - room
            && !crossing;
        hold(right, || format!("boxes {boxes} apart; {}", context()))?;
    }
    hold(asked.told(engine) == told, || format!("another answer; {}", context()))?;

    let hair = asked.is_a_hair(engine, pose);
    for need in [case.number, 0.0, surfaces.distance, surfaces.distance * 0.5, boxes] {
        let clear = engine.clears(a, b, pose, need);
        let right = match (clear, told) {
            (None, _) if need.is_nan() => true,
            (None, told) => matches!(told, Proximity::CannotDecide(_)),
            (Some(true), Proximity::Apart(found)) => found.distance >= need - room,
            (Some(false), Proximity::Apart(found)) => found.distance < need + room,
            (Some(clear), Proximity::Overlapping) => !clear || (hair && need <= room),
            (Some(clear), _) => !clear && surfaces.distance < need + room,
        };
        hold(right && !(need.is_nan() && clear.is_some()), || {
            format!("clears {need:e}: {clear:?}; {}", context())
        })?;
        capped(engine, asked, need, &surfaces, told)?;
    }
    Ok(())
}

fn capped(
    engine: &dyn Engine,
    asked: &Asked,
    cap: f64,
    surfaces: &Gap,
    told: Proximity,
) -> Result<(), String> {
    let Asked { case, a, b, room, .. } = asked;
    let capped = engine.gap(a, b, &case.a_from_b, cap);
    // What rounding alone holds apart may count as apart or not.
    let hair = surfaces.distance <= *room;
    let right = match (told, capped) {
        (Proximity::Apart(found), Proximity::AtLeast(least)) => {
            least == cap.max(0.0) && found.distance >= least - room
        }
        (Proximity::Apart(x), Proximity::Apart(y)) => {
            (x.distance - y.distance).abs() <= *room && (cap.is_nan() || y.distance <= cap)
        }
        (Proximity::Overlapping, Proximity::AtLeast(least)) => hair && least <= *room,
        (x, y) => x == y,
    };
    hold(right, || format!("capped at {cap:e}: {capped:?}, not {told:?}"))?;
    let found = engine.surface_gap(a, b, &case.a_from_b, cap).map_err(|why| why.to_string())?;
    let right = match found {
        None => surfaces.distance >= cap - room,
        Some(found) => {
            let same = (found.distance - surfaces.distance).abs() <= *room;
            same && (cap.is_nan() || found.distance <= cap.max(0.0))
        }
    };
    hold(right, || format!("surfaces capped at {cap:e}: {found:?}, not {surfaces:?}"))
}

fn swapped(engine: &dyn Engine, asked: &Asked) -> Result<(), String> {
    if !asked.is_answered(engine)? {
        return Ok(());
    }
    let Asked { case, a, b, room, .. } = asked;
    let mut pose = case.a_from_b;
    pose.rotation.renormalize();
    let back = pose.inverse();
    if !is_a_pose(&back) {
        return Ok(());
    }
    let (x, y) = (engine.gap(a, b, &pose, f64::INFINITY), engine.gap(b, a, &back, f64::INFINITY));
    let right = match (x, y) {
        (Proximity::Apart(x), Proximity::Apart(y)) => (x.distance - y.distance).abs() <= *room,
        (Proximity::Apart(gap), Proximity::Overlapping)
        | (Proximity::Overlapping, Proximity::Apart(gap)) => gap.distance <= *room,
        // An open surface, or a touch that is one only one way round.
        _ => true,
    };
    hold(right, || format!("{x:?}, swapped {y:?}"))?;
    let there = engine.surface_gap(a, b, &pose, f64::INFINITY).ok().flatten();
    let back = engine.surface_gap(b, a, &back, f64::INFINITY).ok().flatten();
    let right = there.zip(back).is_some_and(|(x, y)| (x.distance - y.distance).abs() <= *room);
    hold(right, || format!("{there:?}, swapped {back:?}"))
}

fn singles(mesh: &Mesh) -> Vec<Solid> {
    (0..mesh.triangles.len()).map(|t| Solid::new(&triangle(mesh.corners(t)))).collect()
}

fn every_pair(engine: &dyn Engine, asked: &Asked) -> Result<(), String> {
    let Asked { case, a, b, room, .. } = asked;
    let few = case.a.triangles.len() * case.b.triangles.len() <= 400;
    if !few || !asked.is_answered(engine)? {
        return Ok(());
    }
    let pose = &case.a_from_b;
    let surfaces = asked.surfaces(engine)?.distance;
    let crossing = engine.crosses(a, b, pose);
    let mut least = f64::INFINITY;
    let mut any = false;
    let others = singles(&case.b);
    for p in singles(&case.a) {
        for q in &others {
            any |= engine.crosses(&p, q, pose);
            let found = engine.surface_gap(&p, q, pose, f64::INFINITY).ok().flatten();
            least = least.min(found.map_or(f64::NAN, |found| found.distance));
        }
    }
    hold(any == crossing, || format!("crossing {crossing}, but of the pairs {any}"))?;
    hold((least - surfaces).abs() <= *room, || format!("{surfaces:e}, but of the pairs {least:e}"))
}

fn exact(engine: &dyn Engine, asked: &Asked) -> Result<(), String> {
    let Asked { case, a, b, room, .. } = asked;
    let few = case.a.triangles.len() * case.b.triangles.len() <= 12;
    // Only a pose that rounds nothing leaves the corners known.
    let mut pose = case.a_from_b;
    pose.rotation = nalgebra::UnitQuaternion::identity();
    pose.translation = Translation3::identity();
    if !few || pose != case.a_from_b || !asked.is_answered(engine)? {
        return Ok(());
    }
    let corners = |mesh: &Mesh| -> Vec<[Point3<f64>; 3]> {
        (0..mesh.triangles.len()).map(|t| mesh.corners(t)).collect()
    };
    let (of_a, of_b) = (corners(&case.a), corners(&case.b));
    let (mut meets, mut least) = (false, f64::INFINITY);
    for p in &of_a {
        for q in &of_b {
            let truth = pairs::free_truth(p, q);
            meets |= truth.meets;
            least = least.min(truth.distance);
        }
    }
    let crossing = engine.crosses(a, b, &pose);
    hold(crossing == meets, || format!("crossing {crossing}, exactly {meets}"))?;
    let told = asked.surfaces(engine)?.distance;
    hold((told - least).abs() <= *room, || format!("{told:e} apart, exactly {least:e}"))?;
    // A witness is on its triangle.
    let surfaces = asked.surfaces(engine)?;
    let [i, j] = surfaces.triangles.map(|t| t as usize);
    for (point, t) in [(surfaces.on_a, &of_a[i]), (surfaces.on_b, &of_b[j])] {
        let off = pairs::free_truth(&[point; 3], t).distance;
        hold(off <= *room, || format!("a witness {off:e} off its triangle: {surfaces:?}"))?;
    }
    Ok(())
}

fn bracketed(engine: &dyn Engine, asked: &Asked) -> Result<(), String> {
    if asked.pairs() > 600 || !asked.is_answered(engine)? {
        return Ok(());
    }
    let Asked { case, a, b, .. } = asked;
    let found = engine.overlap(a, b, &case.a_from_b);
    let told = asked.told(engine);
    let overlapping = told == Proximity::Overlapping;
    let hair = overlapping && asked.is_a_hair(engine, &case.a_from_b);
    hold(found.is_some() == overlapping || hair, || format!("{told:?}, but {found:?}"))?;
    if let Some(found) = found {
        bracket(engine, asked, &found)?;
        hold(engine.overlap(a, b, &case.a_from_b) == Some(found), || "another answer".to_owned())?;
    }
    Ok(())
}

fn bracketed_along(engine: &dyn Engine, asked: &Asked) -> Result<(), String> {
    if !asked.is_answered(engine)? {
        return Ok(());
    }
    let Asked { case, a, b, .. } = asked;
    let ways = [case.way, Vector3::zeros(), Vector3::new(f64::NAN, 1.0, 0.0)];
    match engine.overlap_along(a, b, &case.a_from_b, &ways) {
        None => Ok(()),
        Some(found) => {
            let told = asked.told(engine);
            hold(told == Proximity::Overlapping, || format!("{told:?}, but {found:?}"))?;
            let right = unit(&case.way).is_some_and(|way| (found.way_out - way).norm() < 1e-9);
            hold(right, || format!("another way: {found:?}"))?;
            bracket(engine, asked, &found)
        }
    }
}

fn bracket(engine: &dyn Engine, asked: &Asked, found: &Overlap) -> Result<(), String> {
    let Asked { case, a, b, room, .. } = asked;
    let pose = &case.a_from_b;
    let Overlap { depth_low, depth_high, at, way_out } = *found;
    let sound = depth_low >= 0.0
        && depth_low <= depth_high
        && depth_high.is_finite()
        && at.iter().all(|c| c.is_finite())
        && (way_out.norm() - 1.0).abs() < 1e-9;
    hold(sound, || format!("{found:?}"))?;
    let moved = |by: Vector3<f64>| Translation3::from(by) * pose;
    let freed = moved(way_out * depth_high);
    if is_a_pose(&freed) {
        let told = engine.gap(a, b, &freed, f64::INFINITY);
        let clear = engine.clears(a, b, &freed, 0.0);
        let apart = matches!(told, Proximity::Apart(_));
        let free = clear == Some(true) && (apart || asked.is_a_hair(engine, &freed));
        hold(free, || format!("not freed, {told:?}, {clear:?}: {found:?}"))?;
    }
    let (depth, _) = engine
        .least_depth(a, b, pose, f64::INFINITY)
        .ok_or_else(|| "an overlap without a least depth".to_owned())?;
    hold(depth.min(depth_high) == depth_low, || format!("least depth {depth:e}: {found:?}"))?;
    let (some, _) = engine.least_depth(a, b, pose, case.number).unwrap_or((f64::NAN, at));
    hold(some >= 0.0 && some <= depth + room, || format!("{some:e} of {depth:e} deep"))?;
    // No way shorter than the lower bound leads out; past an open surface nothing is promised.
    let short = depth_low * 0.999 - room;
    if short > 0.0 && a.is_closed() && b.is_closed() {
        let ways = [case.way, way_out, case.point.coords];
        for way in ways.iter().filter_map(|way| way.try_normalize(1e-9)) {
            let there = moved(way * short);
            let told = engine.gap(a, b, &there, f64::INFINITY);
            let right = told == Proximity::Overlapping || !is_a_pose(&there);
            hold(right, || format!("{told:?} after {short:e} along {way:?}: {found:?}"))?;
        }
    }
    Ok(())
}

fn points(engine: &dyn Engine, asked: &Asked) -> Result<(), String> {
    let Asked { case, a: solid, room_at_point: room, .. } = asked;
    let (mesh, point) = (&case.a, &case.point);
    let place = engine.locate(solid, point);
    let near = engine.nearest_point(solid, point, f64::INFINITY);
    let winding = engine.winding_number(solid, point);
    if !is_usable(mesh) || !point.iter().all(|c| c.abs() <= LARGEST) {
        let refused = place == Location::CannotDecide && near.is_err() && winding.is_err();
        return hold(refused, || format!("not refused: {place:?}, {near:?}, {winding:?}"));
    }
    let near = near.map_err(|why| why.to_string())?.ok_or("no nearest point")?;
    let context = || format!("{place:?}, {near:?}, {winding:?}");
    let off = ((near.point - point).norm() - near.distance).abs();
    let sound = off <= *room && (near.triangle as usize) < mesh.triangles.len();
    hold(sound, context)?;
    hold(place != Location::OnSurface || near.distance <= *room, context)?;
    let single = |t: usize| Solid::new(&triangle(mesh.corners(t)));
    for t in 0..mesh.triangles.len() {
        let alone = engine.nearest_point(&single(t), point, f64::INFINITY).ok().flatten();
        let right = alone.is_some_and(|alone| alone.distance >= near.distance - room);
        hold(right, || format!("triangle {t} has {alone:?}; {}", context()))?;
    }
    let capped = engine.nearest_point(solid, point, case.number).map_err(|why| why.to_string())?;
    let right = match capped {
        None => near.distance >= case.number - room,
        Some(capped) => (capped.distance - near.distance).abs() <= *room,
    };
    hold(right, || format!("below {:e}: {capped:?}; {}", case.number, context()))?;

    if solid.is_closed() {
        let whole = winding.is_ok_and(|w| w == w.round());
        let right = match place {
            Location::Inside => winding.is_ok_and(|w| w.abs() >= 0.5),
            Location::Outside => winding == Ok(0.0),
            Location::OnSurface => true,
            Location::CannotDecide => false,
        };
        hold(whole && right, context)?;
    }
    // Well off the surface the solid angles add up in plain floating point too.
    if near.distance > 1e-3 * reach(mesh).max(point.coords.amax()) {
        let summed = summed(mesh, point);
        let right = winding.is_err() || winding.is_ok_and(|w| (w - summed).abs() < 1e-6);
        hold(right, || format!("the solid angles give {summed}; {}", context()))?;
    }
    Ok(())
}

/// Van Oosterom and Strackee's solid angle summed over every triangle.
fn summed(mesh: &Mesh, point: &Point3<f64>) -> f64 {
    let of = |i: usize| {
        let [a, b, c] = mesh.corners(i).map(|corner| (corner - point).normalize());
        let below = 1.0 + a.dot(&b) + b.dot(&c) + c.dot(&a);
        a.dot(&b.cross(&c)).atan2(below)
    };
    (0..mesh.triangles.len()).map(of).sum::<f64>() / std::f64::consts::TAU
}

/// The direction one millimetre long; `None` where it has no length or is not finite.
fn unit(way: &Vector3<f64>) -> Option<Vector3<f64>> {
    let most = way.iter().fold(0.0, |most: f64, c| most.max(c.abs()));
    (most > 0.0 && way.iter().all(|c| c.is_finite())).then(|| (way / most).normalize())
}

fn rays(engine: &dyn Engine, asked: &Asked) -> Result<(), String> {
    let Asked { case, a: solid, room_at_point: room, .. } = asked;
    let told = engine.ray_hits(solid, &case.point, &case.way);
    let along = unit(&case.way);
    let refused = !is_usable(&case.a) || !case.point.iter().all(|c| c.abs() <= LARGEST);
    let Some(along) = along.filter(|_| !refused) else {
        return hold(told.is_err(), || format!("not refused: {told:?}"));
    };
    let hits = told.map_err(|why| why.to_string())?;
    let context = || format!("{hits:?}");
    let sorted = hits.windows(2).all(|two| two[0].distance <= two[1].distance);
    let sound = |hit: &RayHit| {
        let place = case.point + along * hit.distance;
        hit.distance >= 0.0
            && (hit.triangle as usize) < case.a.triangles.len()
            && (place - hit.point).norm() <= *room
    };
    hold(sorted && hits.iter().all(sound), context)?;
    let mut met: Vec<u32> = hits.iter().map(|hit| hit.triangle).collect();
    met.sort_unstable();
    met.dedup();
    hold(met.len() == hits.len(), || format!("one triangle twice: {}", context()))?;
    let inside = engine.locate(solid, &case.point) == Location::Inside;
    hold(!inside || !solid.is_closed() || !hits.is_empty(), || "no way out".to_owned())
}

fn bodies(engine: &dyn Engine, asked: &Asked) -> Result<(), String> {
    for (mesh, solid) in [(&asked.case.a, &asked.a), (&asked.case.b, &asked.b)] {
        let bounds = engine.bounds(solid);
        if !is_usable(mesh) {
            let refused = bounds.is_none() && solid.usable().is_err() && !solid.is_closed();
            hold(refused && solid.shell_count() == 0, || "not refused".to_owned())?;
            continue;
        }
        let bounds = bounds.ok_or("a body without bounds")?;
        let corners = || mesh.triangles.iter().flatten().map(|v| mesh.vertices[*v as usize]);
        let tight = (0..3).all(|i| {
            corners().all(|c| bounds.low[i] <= c[i] && c[i] <= bounds.high[i])
                && corners().any(|c| c[i] == bounds.low[i])
                && corners().any(|c| c[i] == bounds.high[i])
        });
        hold(tight, || format!("{bounds:?}"))?;
        let shells = solid.shell_count();
        hold((1..=mesh.triangles.len()).contains(&shells), || format!("{shells} shells"))?;
    }
    Ok(())
}

/// The case's pose, some near it, and back, twice: more than are answered one by one.
fn path(case: &Case) -> Vec<Pose> {
    // As in `Case::is_moderate`: too close to zero for an exact predicate.
    let by =
        unit(&case.way).unwrap_or_else(Vector3::x).map(|c| if c.abs() < 1e-40 { 0.0 } else { c });
    let small = reach(&case.b).clamp(1e-3, 1e3) * 1e-3;
    let steps = [0.0, small, -small, 3.0 * small, 0.0, 700.0 * small, small];
    let steps = steps.iter().chain(&steps);
    let turned = Isometry3::rotation(by * 1e-3);
    let poses = steps.map(|step| Translation3::from(by * *step) * case.a_from_b);
    poses.enumerate().map(|(k, pose)| if k % 3 == 2 { pose * turned } else { pose }).collect()
}

fn many_poses(engine: &dyn Engine, asked: &Asked) -> Result<(), String> {
    let Asked { case, a, b, room, .. } = asked;
    let poses = path(case);
    for cap in [f64::INFINITY, case.number] {
        let alone: Vec<_> = poses.iter().map(|pose| engine.gap(a, b, pose, cap)).collect();
        let followed = engine.follow(a, b, &poses, cap);
        let together = engine.gaps(a, b, &poses, cap);
        for ((alone, followed), together) in alone.iter().zip(&followed).zip(&together) {
            let right = same(alone, followed, *room) && same(alone, together, *room);
            let context = || format!("{alone:?}, followed {followed:?}, together {together:?}");
            hold(right, || format!("capped at {cap:e}: {}", context()))?;
        }
        let all = followed.len() == alone.len() && together.len() == alone.len();
        hold(all, || "an answer is missing".to_owned())?;
    }
    Ok(())
}

/// The same answer, but for rounding and for which of several equally near pairs is told.
fn same(x: &Proximity, y: &Proximity, room: f64) -> bool {
    match (x, y) {
        (Proximity::Apart(x), Proximity::Apart(y)) => (x.distance - y.distance).abs() <= room,
        // Nearer than rounding can tell.
        (Proximity::Apart(x), Proximity::Overlapping)
        | (Proximity::Overlapping, Proximity::Apart(x)) => x.distance <= room,
        (x, y) => x == y,
    }
}

fn lines(engine: &dyn Engine, asked: &Asked) -> Result<(), String> {
    if !asked.is_answered(engine)? {
        return Ok(());
    }
    let Asked { case, a, b, room, .. } = asked;
    let found = engine.crossing_lines(a, b, &case.a_from_b).map_err(|why| why.to_string())?;
    let crossing = engine.crosses(a, b, &case.a_from_b);
    hold(crossing || found.is_empty(), || format!("crossing nowhere, but {found:?}"))?;
    let back = case.a_from_b.inverse();
    for point in found.iter().flat_map(|line| &line.points) {
        let on = |solid: &Solid, point: &Point3<f64>| {
            let near = engine.nearest_point(solid, point, f64::INFINITY);
            near.is_ok_and(|near| near.is_some_and(|near| near.distance <= *room))
        };
        let right = on(a, point) && (!is_a_pose(&back) || on(b, &(back * point)));
        hold(right, || format!("{point:?} is off the surfaces"))?;
    }
    let sound = found.iter().all(|line| {
        let long = line.points.len() >= if line.closed { 3 } else { 1 };
        long && line.length().is_finite()
    });
    hold(sound, || format!("{found:?}"))?;
    let again = engine.crossing_lines(a, b, &case.a_from_b);
    hold(again.is_ok_and(|again| again == found), || "another answer".to_owned())
}

fn volumes(engine: &dyn Engine, asked: &Asked) -> Result<(), String> {
    if !asked.is_answered(engine)? {
        return Ok(());
    }
    let Asked { case, a, b, room, .. } = asked;
    let told = engine.shared_volume(a, b, &case.a_from_b);
    let Ok(found) = told else {
        let twisted = told == Err(Undecided::FacesBothWays);
        let right = twisted || !(a.is_closed() && b.is_closed());
        return hold(right, || format!("{told:?} of closed bodies"));
    };
    let SharedVolume { volume, at_least, at_most } = found;
    let slack = 1e-9 * at_most;
    let sound = 0.0 <= at_least
        && at_least <= at_most
        && at_most.is_finite()
        && volume.is_none_or(|v| at_least - slack <= v && v <= at_most + slack);
    hold(a.is_closed() && b.is_closed() && sound, || format!("{found:?}"))?;
    let all = [a, b].map(|solid| {
        let sides = solid.bounds().map(|bounds| bounds.high - bounds.low);
        sides.map_or(0.0, |sides| sides.add_scalar(2.0 * room).product())
    });
    let most = all[0].min(all[1]) * (1.0 + 1e-9);
    hold(at_least <= most, || format!("{found:?}, but a box of {most:e}"))?;
    let proximity = asked.told(engine);
    let right = match proximity {
        Proximity::Apart(_) => volume.is_none_or(|v| v.abs() <= slack) && at_least == 0.0,
        _ => true,
    };
    hold(right, || format!("{found:?}, but {proximity:?}"))?;
    // The bounds found the other way round are bounds of the same.
    let mut pose = case.a_from_b;
    pose.rotation.renormalize();
    if is_a_pose(&pose.inverse()) {
        let there = engine.shared_volume(a, b, &pose).map_err(|why| why.to_string())?;
        let back = engine.shared_volume(b, a, &pose.inverse()).map_err(|why| why.to_string())?;
        // What a shift by rounding changes: a layer over the whole surface.
        let layer = room
            * (case.a.triangles.len() + case.b.triangles.len()) as f64
            * reach(&case.a).max(reach(&case.b)).powi(2)
            + 1e-6 * there.at_most;
        let right =
            there.at_least <= back.at_most + layer && back.at_least <= there.at_most + layer;
        hold(right, || format!("{there:?}, swapped {back:?}"))?;
    }
    Ok(())
}

fn certified(engine: &dyn Engine, asked: &Asked) -> Result<(), String> {
    if !asked.is_answered(engine)? {
        return Ok(());
    }
    let Asked { case, a, b, .. } = asked;
    let pose = &case.a_from_b;
    let mut ways = vec![case.way, case.point.coords, Vector3::new(-0.6, 0.0, 0.8)];
    if let Proximity::Apart(found) = asked.told(engine) {
        ways.push(found.on_a - found.on_b);
    }
    let moved = |way: &Vector3<f64>, by: f64| {
        let there = Translation3::from(way * by) * pose;
        is_a_pose(&there).then_some(there)
    };
    let need = if case.number.is_nan() { 1.0 } else { case.number };
    let closed = a.is_closed() && b.is_closed();
    match engine.certified_clear(a, b, pose, need) {
        Ok(Some(radius)) => {
            hold(radius >= 0.0 && radius.is_finite(), || format!("radius {radius}"))?;
            hold(engine.clears(a, b, pose, need) == Some(true), || "not clear here".to_owned())?;
            for way in ways.iter().filter_map(unit) {
                let Some(there) = moved(&way, radius * (1.0 - 1e-9)) else { continue };
                let told = engine.clears(a, b, &there, need);
                let right = told == Some(true) || !closed;
                hold(right, || format!("{told:?} {radius:e} along {way:?}"))?;
            }
        }
        Ok(None) => {
            let told = engine.clears(a, b, pose, need);
            let right = told == Some(false) || asked.is_a_hair(engine, pose);
            hold(right, || format!("{told:?}, but not certified clear"))?;
        }
        Err(_) => {}
    }
    if let Ok(Some(radius)) = engine.certified_blocked(a, b, pose) {
        let way = engine.overlap(a, b, pose).map_or(f64::NAN, |found| found.depth_high);
        let right = 0.0 <= radius && radius <= way + asked.room;
        hold(right, || format!("radius {radius}, but free after {way}"))?;
        for way in ways.iter().filter_map(unit) {
            let Some(there) = moved(&way, radius * (1.0 - 1e-9)) else { continue };
            let told = engine.gap(a, b, &there, f64::INFINITY);
            let right = told == Proximity::Overlapping;
            hold(right, || format!("{told:?} after {radius:e} along {way:?}"))?;
        }
    }
    Ok(())
}

fn swept(engine: &dyn Engine, asked: &Asked) -> Result<(), String> {
    let Asked { case, a, b, .. } = asked;
    // A sweep asks for ten thousand poses where bodies graze one another.
    if asked.pairs() > 150 {
        return Ok(());
    }
    // Not too far, so that the tolerance leaves a moderate number of steps.
    let size = reach(&case.b).max(1e-3);
    let way = unit(&case.way).unwrap_or_else(Vector3::x) * (2.0 * size);
    let turn = case.number.clamp(-4.0, 4.0);
    let motion = if case.number > 0.5 {
        Motion::screw(case.point, case.way, turn, size)
    } else {
        Motion::straight(way)
    };
    let Ok(motion) = motion else { return Ok(()) };
    let need = case.number.abs().min(size);
    let found = engine.sweep(a, b, &case.a_from_b, &motion, need, size * 1e-2);
    let at = |s: f64| motion.pose_at(s) * case.a_from_b;
    let clear = |s: f64| engine.clears(a, b, &at(s), need.max(0.0));
    let blocked =
        |s: f64| clear(s) == Some(false) || (need <= asked.room && asked.is_a_hair(engine, &at(s)));
    let proven = match found.course {
        Course::Clear { .. } => 1.0,
        Course::BlockedAtStart(_) => {
            return hold(blocked(0.0), || format!("clear at the start: {found:?}"));
        }
        Course::Blocked { clear_until, blocked_at, .. } => {
            let right = blocked(blocked_at) && clear_until <= blocked_at;
            hold(right, || format!("not blocked: {found:?}"))?;
            clear_until
        }
        Course::Grazing { clear_until, .. } | Course::CannotDecide { clear_until, .. } => {
            clear_until
        }
    };
    hold((0.0..=1.0).contains(&proven), || format!("{found:?}"))?;
    if proven > 0.0 && found.closed {
        for part in [0.0, 0.13, 0.5, 0.77, 0.97] {
            let told = clear(part * proven);
            let right = told == Some(true) || !is_a_pose(&at(part * proven));
            hold(right, || format!("{told:?} at {part} of it: {found:?}"))?;
        }
    }
    Ok(())
}
