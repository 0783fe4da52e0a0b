//! Fittings: what stands on the plate inside the housing, with the pieces that hang on it.

use crate::draft::{Confidence, Fitting, Found, Reason, Removable};
use crate::face::Face;
use crate::fit::{self, Circle};
use crate::flange;
use crate::scene::Scene;
use crate::words::{Meaning, Words};
use assembly::car_top::FittingKind;
use nalgebra::{Point2, Point3};

/// A piece hangs on a body that is this near, beyond the deviations, mm.
const NEAR: f64 = 6.0;
/// What stands on the plate and is smaller than this is no fitting, mm from its middle.
pub(crate) const LEAST: f64 = 18.0;
/// A flange is looked for up to this height, mm.
const FLANGE: f64 = 12.0;

/// A plug or cap is no more than this many times as long as it is thick.
const SLENDER: f64 = 4.0;

/// A flange is less thick than this, mm; what goes higher is a neck or a body.
const NECK: f64 = 50.0;

/// A fitting being gathered.
struct Cluster {
    /// Bodies that stand on the plate, the widest first.
    bases: Vec<usize>,
    /// Pieces that hang on them, each with how it was found.
    pieces: Vec<(usize, Reason)>,
    foot: Option<Circle>,
    /// How high the foot's round face goes, mm.
    tall: f64,
    middle: Point2<f64>,
    stem: String,
    /// Bases whose names begin otherwise than that of the widest.
    strangers: Vec<usize>,
}

impl Cluster {
    fn bodies(&self) -> impl Iterator<Item = usize> {
        self.bases.iter().copied().chain(self.pieces.iter().map(|(body, _)| *body))
    }
}

/// The circle of a body's upright faces near the plate, and how high they go.
fn foot(faces: &[Face], deviation: f64) -> Option<(Circle, f64)> {
    let from = (0.2 + deviation).min(4.0);
    let upright: Vec<&Face> = faces
        .iter()
        .filter(|f| f.is_upright(0.35))
        .filter(|f| {
            let (low, high) = f.heights();
            low < FLANGE && high > from
        })
        .collect();
    let corners: Vec<(Point2<f64>, f64)> = upright
        .iter()
        .flat_map(|f| f.corners.map(|p: Point3<f64>| (p.xy(), f.area / 3.0)))
        .collect();
    let hull = hull(corners.iter().map(|(p, _)| *p).collect());
    let even: Vec<(Point2<f64>, f64)> = hull.into_iter().map(|p| (p, 1.0)).collect();
    let first = fit::circle(&even, 0.1)?;
    let within = (1.2 * deviation).max(0.3);
    let near: Vec<(Point2<f64>, f64)> = corners
        .iter()
        .filter(|(p, _)| ((p - first.centre).norm() - first.radius).abs() <= within)
        .copied()
        .collect();
    let found = fit::circle(&near, 0.02)?;
    // The outline itself must be the circle, not only what lies near one.
    let off = even.iter().map(|(p, w)| (((p - found.centre).norm() - found.radius).abs(), *w));
    let usual = fit::weighted_median(off);
    let on_it = |p: &Point3<f64>| ((p.xy() - found.centre).norm() - found.radius).abs() <= within;
    let tall = upright
        .iter()
        .filter(|f| f.corners.iter().all(on_it))
        .map(|f| f.heights().1)
        .fold(0.0, f64::max);
    (usual <= within && found.radius >= LEAST).then_some((Circle { usual, ..found }, tall))
}

/// The convex hull, counter-clockwise.
pub(crate) fn hull(mut points: Vec<Point2<f64>>) -> Vec<Point2<f64>> {
    points.sort_by(|a, b| a.x.total_cmp(&b.x).then(a.y.total_cmp(&b.y)));
    points.dedup();
    if points.len() < 3 {
        return points;
    }
    let half = |points: &mut dyn Iterator<Item = Point2<f64>>| {
        let mut chain: Vec<Point2<f64>> = Vec::new();
        for p in points {
            while let [.., a, b] = chain[..] {
                if (b - a).perp(&(p - b)) > 0.0 {
                    break;
                }
                chain.pop();
            }
            chain.push(p);
        }
        chain.pop();
        chain
    };
    let mut lower = half(&mut points.iter().copied());
    lower.extend(half(&mut points.iter().rev().copied()));
    lower
}

/// Finds the fittings among the bodies that are taken for nothing yet.
pub(crate) fn fittings(scene: &mut Scene, words: &Words) -> Vec<Fitting> {
    let mut clusters = bases(scene, words);
    hang(scene, &mut clusters, words);
    clusters.sort_by(|a, b| order(&a.middle).total_cmp(&order(&b.middle)));
    let mut names: Vec<String> = Vec::new();
    let mut found = Vec::new();
    for (number, cluster) in clusters.into_iter().enumerate() {
        let mut name = cluster.stem.to_uppercase();
        if name.is_empty() || names.contains(&name) {
            name = format!("F{}", number + 1);
        }
        while names.contains(&name) {
            name.push('\'');
        }
        names.push(name.clone());
        found.push(fitting(scene, &cluster, name));
    }
    found
}

/// The middle first, then around from +x.
fn order(p: &Point2<f64>) -> f64 {
    if p.coords.norm() < 20.0 {
        -1.0
    } else {
        // A hair below +x still begins the round.
        (p.y.atan2(p.x) + 0.01).rem_euclid(std::f64::consts::TAU)
    }
}

/// The bodies that stand on the plate inside the housing; those on the same spot are one fitting.
fn bases(scene: &Scene, words: &Words) -> Vec<Cluster> {
    let mut found: Vec<(f64, Cluster)> = scene
        .free()
        .into_iter()
        .filter(|i| scene.standing[*i] && scene.wall.holds(&scene.middle(*i)))
        .filter(|i| scene.half(*i) >= LEAST)
        .map(|i| {
            let (foot, tall) = foot(&scene.faces[i], scene.deviations[i]).unzip();
            let (middle, half) =
                foot.map_or((scene.middle(i), scene.half(i)), |c| (c.centre, c.radius));
            let (tall, stem) = (tall.unwrap_or(0.0), words.stem(&scene.names[i]));
            let (bases, pieces) = (vec![i], Vec::new());
            let strangers = Vec::new();
            (half, Cluster { bases, pieces, foot, tall, middle, stem, strangers })
        })
        .collect();
    found.sort_by(|a, b| b.0.total_cmp(&a.0));
    let mut clusters: Vec<(f64, Cluster)> = Vec::new();
    for (half, base) in found {
        let near = |(r, c): &&mut (f64, Cluster)| (c.middle - base.middle).norm() < 0.8 * *r;
        match clusters.iter_mut().find(near) {
            Some((_, cluster)) => {
                let named = !base.stem.is_empty() && !cluster.stem.is_empty();
                if named && base.stem != cluster.stem {
                    cluster.strangers.extend(&base.bases);
                }
                cluster.bases.extend(base.bases);
            }
            None => clusters.push((half, base)),
        }
    }
    clusters.into_iter().map(|(_, cluster)| cluster).collect()
}

/// Gives each free body to the fitting that it touches or is nearest to.
fn hang(scene: &mut Scene, clusters: &mut [Cluster], words: &Words) {
    for cluster in clusters.iter() {
        for body in &cluster.bases {
            scene.taken[*body] = true;
        }
    }
    loop {
        let mut grown = false;
        for body in scene.free() {
            let Some(at) = nearest(scene, clusters, body, words) else { continue };
            clusters[at.0].pieces.push((body, at.1));
            scene.taken[body] = true;
            grown = true;
        }
        if !grown {
            break;
        }
    }
    // What touches nothing may still say by its name where it belongs.
    for body in scene.free() {
        let stem = words.stem(&scene.names[body]);
        let Some(cluster) = clusters.iter_mut().find(|c| !stem.is_empty() && c.stem == stem) else {
            continue;
        };
        let because = "its name begins like the fitting's, but it touches none of it".to_owned();
        scene.ask_of(body, &format!("a piece of fitting \"{}\"", stem.to_uppercase()), &because);
        cluster.pieces.push((body, Reason { confidence: Confidence::Doubtful, because }));
        scene.taken[body] = true;
    }
}

/// The cluster that a body hangs on.
fn nearest(
    scene: &mut Scene,
    clusters: &[Cluster],
    body: usize,
    words: &Words,
) -> Option<(usize, Reason)> {
    let own = scene.deviations[body];
    let mut near: Vec<(usize, f64)> = clusters
        .iter()
        .enumerate()
        .filter_map(|(i, cluster)| {
            let distances = cluster.bodies().filter_map(|other| {
                let cap = NEAR + own + scene.deviations[other];
                scene.distance(body, other, cap)
            });
            distances.reduce(f64::min).map(|d| (i, d))
        })
        .collect();
    near.sort_by(|a, b| a.1.total_cmp(&b.1));
    let (first, distance) = *near.first()?;
    let stem = words.stem(&scene.names[body]);
    let named = |i: &usize| !stem.is_empty() && clusters[*i].stem == stem;
    let even: Vec<usize> =
        near.iter().filter(|(_, d)| *d <= distance + 0.5 + own).map(|(i, _)| *i).collect();
    let close = if distance < 0.05 {
        "it touches the fitting".to_owned()
    } else {
        format!("it is {} from the fitting", scene.told(distance))
    };
    if let Some(i) = even.iter().copied().find(|i| named(i)) {
        let because = format!("its name begins like the fitting's, and {close}");
        return Some((i, Reason { confidence: Confidence::Sure, because }));
    }
    let other = clusters.iter().any(|c| !stem.is_empty() && c.stem == stem);
    let strange = !stem.is_empty() && !clusters[first].stem.is_empty();
    if even.len() > 1 || other || strange {
        let because = if other {
            format!("its name begins like another fitting's, but {close}")
        } else if strange {
            format!("its name does not begin like the fitting's, but {close}")
        } else {
            format!("{close}, and no farther from another")
        };
        let name = clusters[first].stem.to_uppercase();
        let guess = if name.is_empty() {
            "a piece of the fitting nearest to it".to_owned()
        } else {
            format!("a piece of fitting \"{name}\"")
        };
        scene.ask_of(body, &guess, &because);
        return Some((first, Reason { confidence: Confidence::Doubtful, because }));
    }
    Some((first, Reason { confidence: Confidence::Likely, because: close }))
}

/// A gathered fitting with its kind, size, pieces and what is to be asked about them.
fn fitting(scene: &mut Scene, cluster: &Cluster, name: String) -> Fitting {
    let (centre, flange, place_reason) = place(scene, cluster, &name);
    let mut bodies = Vec::new();
    for body in &cluster.bases {
        let shape = "it stands on the plate inside the housing".to_owned();
        let what = format!("fitting \"{name}\"");
        let mut found = scene.take(*body, &[Meaning::Body], &what, shape.clone());
        let said = &scene.said[*body];
        if said.parts.is_empty() && !said.kinds.is_empty() {
            let because = format!("its name says {}, and {shape}", said.words());
            found.reason = Reason { confidence: Confidence::Sure, because };
        }
        if cluster.strangers.contains(body) && found.reason.confidence != Confidence::Doubtful {
            let because = format!("its name does not begin like the fitting's, but {shape}");
            scene.ask_of(*body, &what, &because);
            found.reason = Reason { confidence: Confidence::Doubtful, because };
        }
        bodies.push(found);
    }
    ask_of_misnamed(scene, cluster, &name);
    ask_of_staying(scene, cluster, &centre);
    let (stay, mut off, doubts) = pieces(scene, cluster, &centre);
    bodies.extend(stay);
    if !doubts.is_empty() {
        let list: Vec<String> =
            off.iter().map(|r| format!("{} (\"{}\")", r.name, scene.names[r.found.body])).collect();
        scene.ask(
            format!("fitting \"{name}\", removables"),
            format!("these come off: {}", list.join(", then ")),
            format!(
                "{}; what is wrongly taken off leaves room that is not there",
                doubts.join("; ")
            ),
            Some(centre),
        );
        if off.iter().all(|r| r.found.reason.confidence != Confidence::Doubtful) {
            for piece in &mut off {
                piece.found.reason.confidence = Confidence::Doubtful;
            }
        }
    }
    let all: Vec<usize> = cluster.bodies().collect();
    let (kind, kind_reason) = kind(scene, &all, &off);
    if kind_reason.confidence == Confidence::Doubtful {
        let about = format!("fitting \"{name}\", kind");
        scene.ask(about, kind.word().to_owned(), kind_reason.because.clone(), Some(centre));
    }
    let (size, size_reason) = size(scene, flange, cluster);
    if size_reason.confidence == Confidence::Doubtful {
        let about = format!("fitting \"{name}\", size");
        scene.ask(about, size.clone(), size_reason.because.clone(), Some(centre));
    }
    Fitting {
        name,
        kind,
        kind_reason,
        size,
        size_reason,
        centre,
        flange,
        place_reason,
        bodies,
        removables: off,
    }
}

/// Asks about pieces whose names say that they are no piece of a fitting.
fn ask_of_misnamed(scene: &mut Scene, cluster: &Cluster, name: &str) {
    for (body, reason) in &cluster.pieces {
        let said = &scene.said[*body];
        let doubted = reason.confidence == Confidence::Doubtful;
        if !doubted && !said.parts.is_empty() && !said.parts.iter().any(|m| m.of_fitting()) {
            let because = format!("its name says {}, but {}", said.words(), reason.because);
            scene.ask_of(*body, &format!("a piece of fitting \"{name}\""), &because);
        }
    }
}

/// Asks about pieces that stay by their names and look like what comes off.
fn ask_of_staying(scene: &mut Scene, cluster: &Cluster, centre: &Point2<f64>) {
    for (body, _) in &cluster.pieces {
        let (looks, shape) = piece(scene, *body, None, centre);
        let by_shape = matches!(looks.as_str(), "handwheel" | "outlet plug");
        if by_shape && scene.said[*body].parts == [Meaning::Body] {
            let because =
                format!("by its name it stays, but {shape}, as what comes off does ({looks})");
            scene.ask_of(*body, "stays", &because);
        }
    }
}

/// Centreline and flange.
fn place(scene: &mut Scene, cluster: &Cluster, name: &str) -> (Point2<f64>, f64, Reason) {
    if let Some(circle) = cluster.foot {
        if cluster.tall > NECK {
            let because = format!(
                "the circle on the plate goes up to {}, as a neck does: its flange may be above",
                scene.told(cluster.tall)
            );
            let about = format!("fitting \"{name}\", flange");
            let guess = format!("{} across", scene.told(2.0 * circle.radius));
            scene.ask(about, guess, because.clone(), Some(circle.centre));
            let reason = Reason { confidence: Confidence::Doubtful, because };
            return (circle.centre, 2.0 * circle.radius, reason);
        }
        let told = scene.fine(circle.usual);
        let because = format!(
            "its flange is a circle on the plate, met within {told} by half of its corners"
        );
        let reason = Reason { confidence: Confidence::Likely, because };
        return (circle.centre, 2.0 * circle.radius, reason);
    }
    let because = "what stands on the plate is not round: the middle of its outline and its \
                   greatest width are taken"
        .to_owned();
    let half = cluster.bases.iter().map(|b| scene.half(*b)).fold(0.0, f64::max);
    let guess = format!(
        "at {}, {} across",
        [cluster.middle.x, cluster.middle.y].map(|v| scene.told(v)).join(", "),
        scene.told(2.0 * half)
    );
    let about = format!("fitting \"{name}\", centre and flange");
    scene.ask(about, guess, because.clone(), Some(cluster.middle));
    (cluster.middle, 2.0 * half, Reason { confidence: Confidence::Doubtful, because })
}

/// The pieces that stay, those that come off in their order, and why that is in doubt.
fn pieces(
    scene: &Scene,
    cluster: &Cluster,
    centre: &Point2<f64>,
) -> (Vec<Found>, Vec<Removable>, Vec<String>) {
    let mut stay = Vec::new();
    let mut off: Vec<(f64, Removable)> = Vec::new();
    let mut doubts: Vec<String> = Vec::new();
    for (body, reason) in &cluster.pieces {
        let said = &scene.said[*body];
        let goes = said.parts.iter().any(|m| m.comes_off());
        // Bolts stay where the shape agrees: several pieces in one body.
        let bolts = || solids::shells(scene.solids[*body].mesh()).len() > 1;
        let stays =
            said.parts.contains(&Meaning::Body) || (said.parts == [Meaning::Stud] && bolts());
        let by_name = goes != stays;
        if by_name && stays {
            stay.push(Found { body: *body, reason: reason.clone() });
            continue;
        }
        let word = said.parts.iter().copied().find(|m| by_name && m.comes_off());
        let (name, shape) = piece(scene, *body, word, centre);
        let own = &scene.names[*body];
        let doubt = match word {
            None => Some(format!("the name of \"{own}\" does not tell whether it comes off")),
            Some(word) => unlike(scene, *body, word, centre)
                .map(|why| format!("\"{own}\" is named {}, but {why}", word.word())),
        };
        let confidence = if doubt.is_some() { Confidence::Doubtful } else { reason.confidence };
        doubts.extend(doubt);
        let because = format!("{shape}; {}", reason.because);
        let found = Found { body: *body, reason: Reason { confidence, because } };
        off.push((scene.bounds[*body].1.z, Removable { name, found }));
    }
    let kinds: Vec<FittingKind> =
        cluster.bodies().flat_map(|b| scene.said[b].kinds.iter().copied()).collect();
    if !off.is_empty() && !kinds.is_empty() && kinds.iter().all(|k| *k == FittingKind::ReliefDevice)
    {
        doubts.push(
            "what hangs on a pressure relief device holds it shut as a rule, and stays".to_owned(),
        );
    }
    // What is on top comes off first.
    off.sort_by(|a, b| b.0.total_cmp(&a.0));
    let mut names: Vec<String> = Vec::new();
    let mut pieces = Vec::new();
    for (_, mut piece) in off {
        let same = names.iter().filter(|n| **n == piece.name).count();
        names.push(piece.name.clone());
        if same > 0 {
            piece.name = format!("{} {}", piece.name, same + 1);
        }
        pieces.push(piece);
    }
    (stay, pieces, doubts)
}

/// Why a piece does not look like what its name says comes off; `None` where it does.
fn unlike(scene: &Scene, body: usize, word: Meaning, centre: &Point2<f64>) -> Option<String> {
    let pieces = solids::shells(scene.solids[body].mesh()).len();
    let (low, high) = scene.bounds[body];
    let size = high - low;
    let (looks, shape) = piece(scene, body, None, centre);
    let compact = size.max() <= SLENDER * size.min();
    let level = size.xy().max() >= 1.5 * size.z;
    let like = match word {
        Meaning::Handwheel => looks == "handwheel",
        Meaning::Handle => level && !compact || looks == "handwheel",
        _ => compact && looks != "handwheel",
    };
    if pieces > 1 && word != Meaning::Handwheel {
        Some(format!("it is {pieces} pieces that do not hang together"))
    } else if like {
        None
    } else if compact || word == Meaning::Handwheel {
        Some(shape)
    } else {
        Some("it is long and slender".to_owned())
    }
}

/// What a piece that comes off is called, and why.
fn piece(
    scene: &Scene,
    body: usize,
    word: Option<Meaning>,
    centre: &Point2<f64>,
) -> (String, String) {
    let (low, high) = scene.bounds[body];
    let half = scene.half(body);
    let tall = high.z - low.z;
    let aside = (scene.middle(body) - centre).norm() > (0.3 * half).max(8.0);
    let plug = if aside { "outlet plug" } else { "screw plug" };
    match word {
        Some(Meaning::Plug) => (plug.to_owned(), "its name says plug".to_owned()),
        Some(other) => (other.word().to_owned(), format!("its name says {}", other.word())),
        None if aside => (plug.to_owned(), "it sits at the fitting's side".to_owned()),
        None if half >= tall && half >= 35.0 => {
            ("handwheel".to_owned(), "it lies flat about the centreline".to_owned())
        }
        None if tall >= half && half >= 18.0 => {
            ("cap".to_owned(), "it stands upright about the centreline".to_owned())
        }
        None => (plug.to_owned(), "it is a small piece about the centreline".to_owned()),
    }
}

/// What a fitting is, by its names; its shape only tells what to ask.
fn kind(scene: &Scene, bodies: &[usize], off: &[Removable]) -> (FittingKind, Reason) {
    let mut said: Vec<FittingKind> = Vec::new();
    for kinds in bodies.iter().map(|b| &scene.said[*b].kinds) {
        for kind in kinds {
            if !said.contains(kind) {
                said.push(*kind);
            }
        }
    }
    let doubt = |because: String| Reason { confidence: Confidence::Doubtful, because };
    match said[..] {
        [only] => {
            let because = format!("its name says {}", only.word());
            (only, Reason { confidence: Confidence::Likely, because })
        }
        [first, ..] => {
            let words: Vec<&str> = said.iter().map(|k| k.word()).collect();
            (first, doubt(format!("its names say {}", words.join(" or "))))
        }
        [] => {
            let has = |name: &str| off.iter().any(|r| r.name.starts_with(name));
            let (kind, because) = if has("handwheel") || has("operating handle") {
                let because = "it has a handwheel, so that it is a valve; only its name or mark tells \
                               of which kind";
                (FittingKind::LiquidValve, because)
            } else if has("cap") {
                (FittingKind::GaugingDevice, "it has a cap; only its name or mark tells what it is")
            } else if off.is_empty() {
                let because =
                    "no body of its own hangs on it; only its name or mark tells what it is";
                (FittingKind::ReliefDevice, because)
            } else {
                (FittingKind::ThermometerWell, "only its name or mark tells what it is")
            };
            (kind, doubt(because.to_owned()))
        }
    }
}

fn size(scene: &Scene, flange: f64, cluster: &Cluster) -> (String, Reason) {
    let deviation = cluster.bases.iter().map(|b| scene.deviations[*b]).fold(0.0, f64::max);
    let doubt = |because: String| Reason { confidence: Confidence::Doubtful, because };
    let sizes = flange::sizes(flange, deviation);
    match sizes[..] {
        [(size, class)] => {
            let because = format!("its flange has the diameter of a {size} {class} flange");
            (size.to_owned(), Reason { confidence: Confidence::Likely, because })
        }
        [(size, _), ..] => {
            let all: Vec<String> = sizes.iter().map(|(s, c)| format!("{s} {c}")).collect();
            let because = format!("its flange may be a {} flange", all.join(" or a "));
            (size.to_owned(), doubt(because))
        }
        [] => {
            let because = "no flange of the usual tables has this diameter".to_owned();
            ("not known".to_owned(), doubt(because))
        }
    }
}
