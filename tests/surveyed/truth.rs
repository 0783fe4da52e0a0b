//! A draft beside the car top that it was drafted from.

use assembly::CarTop;
use assembly::car_top::{BodyId, LidState};
use measure::Angle;
use nalgebra::{Isometry3, Vector3};
use solids::Body;
use std::fmt::Write as _;
use survey::{Confidence, Draft, Found, Settings, Unfound, survey};

/// What came of a draft.
#[derive(Debug, Default)]
pub(crate) struct Compared {
    /// Stated, and so.
    pub(crate) found: usize,
    /// Stated with a question, or left out with one.
    pub(crate) asked: usize,
    /// Stated without a question, and not so; or left out without a word.
    pub(crate) wrong: Vec<String>,
    /// The most that a length of a port, a centre or the hinge's axis is off, mm.
    pub(crate) off: f64,
    /// The worst of each kind of figure.
    pub(crate) worst: Vec<(String, f64)>,
}

impl Compared {
    fn state(&mut self, holds: bool, is_asked: bool, what: impl FnOnce() -> String) {
        if is_asked {
            self.asked += 1;
        } else if holds {
            self.found += 1;
        } else {
            self.wrong.push(what());
        }
    }

    /// A figure that may be off by `most`.
    fn figure(&mut self, off: f64, most: f64, is_asked: bool, what: &str) {
        let what = what.to_owned();
        match self.worst.iter_mut().find(|(w, _)| *w == what) {
            Some((_, worst)) => *worst = worst.max(off),
            None => self.worst.push((what.clone(), off)),
        }
        if !is_asked {
            self.off = self.off.max(off);
        }
        self.state(off <= most, is_asked, || format!("{what} is {off:.4} mm off"));
    }

    pub(crate) fn add(&mut self, other: Self, name: &str) {
        self.found += other.found;
        self.asked += other.asked;
        self.wrong.extend(other.wrong.into_iter().map(|w| format!("{name}: {w}")));
        self.off = self.off.max(other.off);
        for (what, off) in other.worst {
            match self.worst.iter_mut().find(|(w, _)| *w == what) {
                Some((_, worst)) => *worst = worst.max(off),
                None => self.worst.push((what, off)),
            }
        }
    }
}

/// The bodies of a car top moved by `pose`, named by `name`.
pub(crate) fn bodies(
    car: &CarTop,
    pose: &Isometry3<f64>,
    name: &dyn Fn(usize, &str) -> String,
) -> Vec<Body> {
    car.bodies
        .iter()
        .enumerate()
        .map(|(i, body)| Body {
            name: name(i, &body.body.name),
            mesh: body.body.mesh.transformed(pose),
            deviation: body.body.deviation.clone(),
        })
        .collect()
}

/// Drafts; where the draft asks for the hinge, answers with where the truth has it.
pub(crate) fn drafted(bodies: &[Body], pose: &Isometry3<f64>) -> Result<Draft, Unfound> {
    let mut settings = Settings::default();
    let draft = survey(bodies, &settings)?;
    if draft.questions.iter().all(|q| q.about != "frame, toward-hinge") {
        return Ok(draft);
    }
    let x = draft.plate_from_mesh * (pose * Vector3::x());
    settings.hinge_at = Some(Angle::from_radians(x.y.atan2(x.x)));
    survey(bodies, &settings)
}

fn ids(found: &[Found]) -> Vec<usize> {
    let mut all: Vec<usize> = found.iter().map(|f| f.body).collect();
    all.sort_unstable();
    all
}

fn doubt(found: &[Found]) -> bool {
    found.iter().any(|f| f.reason.confidence == Confidence::Doubtful)
}

fn sorted(ids: &[BodyId]) -> Vec<usize> {
    let mut all: Vec<usize> = ids.iter().map(|id| id.0).collect();
    all.sort_unstable();
    all
}

/// Holds a draft against the truth; a length may be off by `most` mm.
pub(crate) fn compare(car: &CarTop, draft: &Draft, pose: &Isometry3<f64>, most: f64) -> Compared {
    let mut out = Compared::default();
    let asked = |about: &str| draft.questions.iter().any(|q| q.about.starts_with(about));
    let plate_doubt = draft.plate.reason.confidence == Confidence::Doubtful;
    out.state(draft.plate.body == car.plate.0, plate_doubt, || "the plate".into());

    // The frame: what the draft takes a point of the true frame to.
    let off = draft.plate_from_mesh * pose;
    let frame_asked = asked("frame");
    out.figure(off.translation.vector.norm(), most, asked("frame, origin"), "origin");
    let up = off * Vector3::z();
    out.figure(300.0 * up.xy().norm(), most, false, "up, at 300 mm");
    let toward = off * Vector3::x();
    let turned = toward.y.atan2(toward.x);
    out.figure(300.0 * turned.abs(), most, frame_asked, "toward the hinge, at 300 mm");

    out.state(ids(&draft.housing) == sorted(&car.housing), doubt(&draft.housing), || {
        format!("housing {:?} for {:?}", ids(&draft.housing), sorted(&car.housing))
    });
    ports(&mut out, car, draft, most);
    lid(&mut out, car, draft, most);
    let hinge = car.hinge.clone().unwrap_or_default();
    out.state(ids(&draft.hinge) == sorted(&hinge), doubt(&draft.hinge), || {
        format!("hinge {:?} for {:?}", ids(&draft.hinge), sorted(&hinge))
    });
    let studs = car.studs.clone().unwrap_or_default();
    let is_asked = doubt(&draft.studs) || asked("studs");
    out.state(ids(&draft.studs) == sorted(&studs), is_asked, || {
        format!("studs {:?} for {:?}", ids(&draft.studs), sorted(&studs))
    });
    fittings(&mut out, car, draft, most);
    out
}

fn ports(out: &mut Compared, car: &CarTop, draft: &Draft, most: f64) {
    let asked = |about: &str| draft.questions.iter().any(|q| q.about.starts_with(about));
    for port in &car.ports {
        let near = draft.ports.iter().find(|p| (p.at - port.at).norm() < 20.0);
        let Some(found) = near else {
            out.state(false, asked("opening") || asked("ports"), || {
                format!("port {} is not found", port.name)
            });
            continue;
        };
        let is_asked = asked(&format!("port \"{}\"", found.name));
        out.figure((found.at - port.at).norm(), most, is_asked, "port, at");
        let turn = (found.facing.radians() - port.facing.radians() + std::f64::consts::PI)
            .rem_euclid(std::f64::consts::TAU)
            - std::f64::consts::PI;
        out.figure(turn.abs() * 0.5 * port.width, most, is_asked, "port, facing, at its edge");
        out.figure((found.width - port.width).abs(), most, is_asked, "port, width");
        out.figure((found.height - port.height).abs(), most, is_asked, "port, height");
        out.figure((found.sill - port.sill).abs(), most, is_asked, "port, sill");
        out.figure((found.wall - port.wall).abs(), most, is_asked, "port, wall");
        let cover = found.cover.as_ref();
        let is_asked = cover.is_some_and(|c| c.reason.confidence == Confidence::Doubtful);
        out.state(cover.map(|c| c.body) == port.cover.map(|c| c.0), is_asked, || {
            format!("port {}: cover {cover:?} for {:?}", port.name, port.cover)
        });
    }
    for port in &draft.ports {
        let real = car.ports.iter().any(|p| (p.at - port.at).norm() < 20.0);
        out.state(real, false, || format!("port {} is none", port.name));
    }
}

fn lid(out: &mut Compared, car: &CarTop, draft: &Draft, most: f64) {
    let asked = |about: &str| draft.questions.iter().any(|q| q.about.starts_with(about));
    match (&car.lid, &draft.lid) {
        (LidState::Hinged(lid), Some(found)) => {
            let is_asked = found.found.reason.confidence == Confidence::Doubtful;
            out.state(found.found.body == lid.body.0, is_asked, || "the lid".into());
            let is_asked = found.axis_reason.confidence == Confidence::Doubtful;
            let between = found.axis_point - lid.axis_point;
            let across = between - *lid.axis * lid.axis.dot(&between);
            out.figure(across.norm(), most, is_asked, "hinge's axis");
            let ends = (found.axis.into_inner() - lid.axis.into_inner()).norm() * 80.0;
            out.figure(ends, most, is_asked, "hinge's axis, at its end");
            let drawn = found.drawn_at.degrees() - lid.drawn_at.degrees();
            let is_asked = asked("lid, drawn-at");
            out.state(drawn.abs() < 0.05, is_asked, || format!("drawn-at {drawn} deg off"));
            out.state(false, asked("lid, stop"), || "the stop is not asked for".into());
        }
        (LidState::Hinged(_) | LidState::None | LidState::Unknown, None) => {
            out.state(false, asked("lid"), || "no word of the lid".into());
        }
        (LidState::None | LidState::Unknown, Some(_)) => out.wrong.push("a lid".into()),
    }
}

fn fittings(out: &mut Compared, car: &CarTop, draft: &Draft, most: f64) {
    let asked = |about: &str| draft.questions.iter().any(|q| q.about.starts_with(about));
    for fitting in &car.fittings {
        let all: Vec<BodyId> = fitting
            .bodies
            .iter()
            .copied()
            .chain(fitting.removables.iter().map(|r| r.body))
            .collect();
        let holds = |f: &&survey::Fitting| f.bodies.iter().any(|b| b.body == fitting.bodies[0].0);
        let Some(found) = draft.fittings.iter().find(holds) else {
            out.state(false, asked("fittings"), || format!("{} is not found", fitting.name));
            continue;
        };
        let is_asked = asked(&format!("fitting \"{}\", centre", found.name));
        let flange_asked = is_asked || asked(&format!("fitting \"{}\", flange", found.name));
        out.figure((found.centre - fitting.centre).norm(), most, is_asked, "fitting's centre");
        out.figure((found.flange - fitting.flange).abs(), most, flange_asked, "flange");
        let mut bodies = ids(&found.bodies);
        bodies.extend(found.removables.iter().map(|r| r.found.body));
        bodies.sort_unstable();
        let of_pieces = |f: &Found| {
            f.reason.confidence == Confidence::Doubtful
                && draft.questions.iter().any(|q| q.about.contains("body"))
        };
        let is_asked = found.bodies.iter().any(of_pieces);
        out.state(bodies == sorted(&all), is_asked, || {
            format!("{} holds {bodies:?} for {:?}", fitting.name, sorted(&all))
        });
        let off: Vec<usize> = found.removables.iter().map(|r| r.found.body).collect();
        let true_off: Vec<usize> = fitting.removables.iter().map(|r| r.body.0).collect();
        let is_asked = asked(&format!("fitting \"{}\", removables", found.name));
        out.state(off == true_off, is_asked, || {
            format!("{}: {off:?} come off for {true_off:?}", fitting.name)
        });
        let is_asked = asked(&format!("fitting \"{}\", kind", found.name));
        out.state(found.kind == fitting.kind, is_asked, || {
            format!("{} is no {}", fitting.name, found.kind.word())
        });
        let is_asked = asked(&format!("fitting \"{}\", size", found.name));
        // A car top drawn by chance has flanges of no standard.
        let drawn = fitting.size == "drawn";
        out.state(drawn || found.size == fitting.size, is_asked, || {
            format!("{} is not {}", fitting.name, found.size)
        });
    }
    let real = |f: &survey::Fitting| {
        car.fittings.iter().any(|t| f.bodies.iter().any(|b| b.body == t.bodies[0].0))
    };
    for fitting in draft.fittings.iter().filter(|f| !real(f)) {
        let is_asked = fitting.bodies.iter().any(|f| f.reason.confidence == Confidence::Doubtful);
        out.state(false, is_asked, || format!("fitting {} is none", fitting.name));
    }
}

/// What was asked and found, for a failed test's reader.
pub(crate) fn told(draft: &Draft) -> String {
    let mut text = String::new();
    for q in &draft.questions {
        writeln!(text, "? {}: {}: {}", q.about, q.guess, q.why).unwrap();
    }
    text
}
