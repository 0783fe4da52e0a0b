//! The order in which things are found.

use crate::draft::{Confidence, Draft, Found, Lid, Port, Question, Reason, SealingFace, Unfound};
use crate::face::{Face, faces};
use crate::fitting::fittings;
use crate::hinge::{self, Pin, pins};
use crate::plate::{Candidate, Flat, Seen, candidates};
use crate::port::{self, Measured, Opening};
use crate::scene::Scene;
use crate::stud::studs;
use crate::wall::{self, Surround, Wall};
use crate::words::{Meaning, Said, Words};
use gap::{Solid, ray_hits};
use measure::{Angle, LengthUnit};
use nalgebra::{
    Isometry3, Matrix3, Point2, Point3, Rotation3, Translation3, Unit, UnitQuaternion, Vector2,
    Vector3,
};
use solids::{Body, Mesh};

/// What a survey goes by.
#[derive(Debug, Clone)]
pub struct Settings {
    /// By which names are understood.
    pub words: Words,
    /// The bearing at which the hinge stands in the frame that is taken without this; `None` leaves +x as
    /// it is found, and asks where that is in doubt.
    pub hinge_at: Option<Angle>,
    /// In which reasons tell lengths.
    pub unit: LengthUnit,
}

impl Default for Settings {
    fn default() -> Self {
        Self { words: Words::usual(), hinge_at: None, unit: LengthUnit::Millimetre }
    }
}

/// A manway's cover plate is as wide as this, mm; common practice, no source.
const PLATE_SIZE: std::ops::RangeInclusive<f64> = 300.0..=1000.0;
/// A pin stands at the bearing that was given if it is within 15 degrees of it.
const SAME_SIDE: f64 = 0.966;
/// A port's numbers are better taken with a tape where the mesh tells them no better than this, mm.
const TAPE: f64 = 1.0;
/// What carries the hinge is this near its pin, beyond the deviations, mm.
const AT_PIN: f64 = 5.0;

/// Finds what is what among the bodies of a car top; coordinates in mm, in any one frame.
pub fn survey(bodies: &[Body], settings: &Settings) -> Result<Draft, Unfound> {
    for body in bodies {
        let mesh = &body.mesh;
        let corner = |v: &u32| mesh.vertices.get(*v as usize);
        let good = |v: &u32| corner(v).is_some_and(|p| p.iter().all(|c| c.is_finite()));
        let corners = || mesh.triangles.iter().flatten();
        if mesh.triangles.is_empty() || !corners().all(good) {
            return Err(Unfound::Unusable(body.name.clone()));
        }
        let far = corners().filter_map(corner).map(|p| p.coords.amax()).fold(0.0, f64::max);
        if far > solids::build::LARGEST {
            return Err(Unfound::TooFar { body: body.name.clone(), far: far / 1000.0 });
        }
    }
    let said: Vec<Said> = bodies.iter().map(|b| settings.words.read(&b.name)).collect();
    let mut ground = Ground::of(bodies, &said)?;
    let framed = match Framed::of(bodies, &said, &ground, settings) {
        // More may stand on the plate's underside, pipes and a nozzle; the housing tells which is up.
        Err(Unfound::NoHousing(name)) if ground.turn_over() => {
            Framed::of(bodies, &said, &ground, settings).map_err(|_| Unfound::NoHousing(name))?
        }
        framed => framed?,
    };
    Ok(framed.draft(bodies, said, &ground, settings))
}

/// The plate and its plane.
struct Ground {
    flat: Flat,
    standing: Vec<usize>,
    /// Whether another body could be the plate as well, by name or shape.
    doubt: Option<String>,
    /// The plate's other side with what stands on it.
    underside: Option<(Flat, Vec<usize>)>,
    volume: Vec<Vec<Face>>,
}

impl Ground {
    fn of(bodies: &[Body], said: &[Said]) -> Result<Self, Unfound> {
        let all: Vec<Vec<Face>> = bodies.iter().map(|b| faces(&b.mesh)).collect();
        let seen: Vec<Seen<'_>> = bodies
            .iter()
            .zip(&all)
            .map(|(b, faces)| Seen {
                faces,
                vertices: &b.mesh.vertices,
                deviation: b.deviation.bound,
            })
            .collect();
        let found = candidates(&seen);
        let best = found.first().filter(|c| !c.standing.is_empty()).ok_or(Unfound::NoPlate)?;
        let named = |c: &&Candidate| said[c.flat.body].says(&[Meaning::Plate]);
        let enough = best.standing.len().div_ceil(2).max(1);
        let by_name = found.iter().find(|c| named(c) && c.standing.len() >= enough);
        // A rival by shape: another body on which about as many stand.
        let rival = found
            .iter()
            .find(|c| c.flat.body != best.flat.body && 2 * c.standing.len() > best.standing.len());
        let chosen = by_name.unwrap_or(best);
        let other = |c: &Candidate| bodies[c.flat.body].name.clone();
        let doubt = if chosen.flat.body == best.flat.body {
            rival
                .filter(|_| by_name.is_none())
                .map(|r| format!("nearly as many bodies stand on \"{}\"", other(r)))
        } else {
            Some(format!("more bodies stand on \"{}\"", other(best)))
        };
        let doubt = doubt.or_else(|| own_rival(&found, chosen));
        let body = &bodies[chosen.flat.body];
        if solids::is_inside_out(&body.mesh) {
            return Err(Unfound::InsideOut(body.name.clone()));
        }
        Ok(Self {
            flat: chosen.flat.clone(),
            standing: chosen.standing.clone(),
            doubt,
            underside: found
                .iter()
                .find(|c| c.flat.body == chosen.flat.body && c.flat.up.dot(&chosen.flat.up) < -0.9)
                .map(|c| (c.flat.clone(), c.standing.clone())),
            volume: all,
        })
    }

    /// Takes the plate's other side for the sealing face, where bodies stand on it.
    fn turn_over(&mut self) -> bool {
        let Some((flat, standing)) = self.underside.take().filter(|(_, s)| !s.is_empty()) else {
            return false;
        };
        let count = self.standing.len();
        self.doubt = Some(format!("{count} others stand on its other side: is the right side up?"));
        (self.flat, self.standing) = (flat, standing);
        true
    }

    /// A frame on the sealing face: the middle of its area, z out of it, x as near to the mesh's own x
    /// as it goes.
    fn frame(&self) -> Isometry3<f64> {
        let x = Vector3::x();
        let along = if self.flat.up.dot(&x).abs() < 0.9 { x } else { Vector3::y() };
        frame(&self.flat.on, &self.flat.up, &along)
    }
}

/// Another face of the plate on which bodies stand that do not stand on the one taken: its underside,
/// or another level.
fn own_rival(all: &[Candidate], chosen: &Candidate) -> Option<String> {
    let of_plate = |c: &&Candidate| c.flat.body == chosen.flat.body;
    let beside = |c: &Candidate| c.standing.iter().filter(|i| !chosen.standing.contains(i)).count();
    all.iter().filter(of_plate).find_map(|c| {
        let toward = c.flat.up.dot(&chosen.flat.up);
        let level = chosen.flat.up.dot(&(c.flat.on - chosen.flat.on)).abs();
        let count = beside(c);
        if toward < -0.9 && 2 * count > chosen.standing.len() {
            Some(format!("{count} others stand on its other side: is the right side up?"))
        } else if toward > 0.9 && level > 1.0 && count > 0 {
            Some(format!("{count} others stand on another level of it: which is the sealing face?"))
        } else {
            None
        }
    })
}

/// Takes a frame's origin to zero, `up` to z and the part of `toward` that is square to it to x.
fn frame(origin: &Point3<f64>, up: &Vector3<f64>, toward: &Vector3<f64>) -> Isometry3<f64> {
    let z = up.normalize();
    let x = (toward - z * z.dot(toward)).normalize();
    let rows = Matrix3::from_rows(&[x.transpose(), z.cross(&x).transpose(), z.transpose()]);
    let turn = UnitQuaternion::from_rotation_matrix(&Rotation3::from_matrix_unchecked(rows));
    Isometry3::from_parts(Translation3::from(-(turn * origin.coords)), turn)
}

fn moved(faces: &[Face], to_from_here: &Isometry3<f64>) -> Vec<Face> {
    faces
        .iter()
        .map(|f| Face {
            corners: f.corners.map(|p| to_from_here * p),
            normal: to_from_here * f.normal,
            area: f.area,
        })
        .collect()
}

/// The lid as it is found before the frame is.
struct LidFound {
    body: usize,
    drawn_at: hinge::Opening,
}

/// The plate frame with what fixes it.
struct Framed {
    plate_from_mesh: Isometry3<f64>,
    reasons: [Reason; 2],
    surround: Surround,
    pin: Option<Pin>,
    /// Bodies with a cylinder on the same axis.
    coaxial: Vec<usize>,
    /// Why it may be another that carries the lid.
    pin_doubt: Option<String>,
    lid: Option<LidFound>,
}

impl Framed {
    fn of(
        bodies: &[Body],
        said: &[Said],
        ground: &Ground,
        settings: &Settings,
    ) -> Result<Self, Unfound> {
        let plate = ground.flat.body;
        let first = ground.frame();
        let all: Vec<Vec<Face>> = ground.volume.iter().map(|f| moved(f, &first)).collect();
        check_size(&all[plate], &bodies[plate].name)?;
        let others: Vec<(usize, &[Face])> = all
            .iter()
            .enumerate()
            .filter(|(i, _)| *i != plate)
            .map(|(i, f)| (i, f.as_slice()))
            .collect();
        let surround = wall::surround(&others, &Point2::origin());
        if surround.walls.is_empty() {
            return Err(Unfound::NoHousing(bodies[plate].name.clone()));
        }
        let deviation =
            surround.walls.iter().map(|i| bodies[*i].deviation.bound).fold(0.0, f64::max);
        let walls: Vec<&Face> = surround.walls.iter().flat_map(|i| &all[*i]).collect();
        let mut wall = wall::inner(&walls, &Point2::origin(), deviation);
        // Once more from its own middle: what looks inward is told from there.
        wall = wall::inner(&walls, &wall.centre(), deviation);

        let rest: Vec<usize> = (0..bodies.len())
            .filter(|i| *i != plate && !surround.walls.contains(i) && !surround.rings.contains(i))
            .collect();
        let mut found: Vec<Pin> = rest
            .iter()
            .filter_map(|i| pins(*i, &all[*i], bodies[*i].deviation.bound, &wall, surround.rim))
            .collect();
        let named = |i: usize| said[i].says(&[Meaning::HingePin, Meaning::Hinge]);
        let rank = |p: &Pin| (named(p.body), p.solid);
        found.sort_by(|a, b| rank(b).cmp(&rank(a)).then(b.area.total_cmp(&a.area)));
        let mut pin = found.first().cloned();
        let mut pin_doubt =
            pin.as_ref().and_then(|pin| doubt_of(pin, &found, &rest, bodies, &named));
        let mut x = pin.as_ref().map_or_else(|| square_to_a_side(&wall), Pin::toward);
        if let Some(turn) = settings.hinge_at {
            x = Rotation3::from_axis_angle(&Vector3::z_axis(), turn.radians()) * x;
            pin_doubt = None;
            pin = found.iter().find(|p| p.toward().dot(&x) > SAME_SIDE).cloned();
            x = pin.as_ref().map_or(x, Pin::toward);
        }
        let coaxial = pin.as_ref().map_or_else(Vec::new, |pin| {
            let same = found.iter().filter(|o| o.body != pin.body && o.is_coaxial(pin));
            same.map(|o| o.body).collect()
        });
        let lid = find_lid(bodies, &all, &rest, pin.as_ref(), &wall, surround.rim);
        let toward = toward(pin.is_some(), pin_doubt.as_deref(), settings);
        let plate_from_first =
            frame(&Point3::new(wall.centre().x, wall.centre().y, 0.0), &Vector3::z(), &x);
        Ok(Self {
            plate_from_mesh: plate_from_first * first,
            reasons: [origin(&wall, settings), toward],
            surround,
            pin: pin.map(|p| Pin {
                point: plate_from_first * p.point,
                axis: plate_from_first * p.axis,
                ..p
            }),
            coaxial,
            pin_doubt,
            lid,
        })
    }
}

/// Why a pin may not be the hinge's: another is as good, a body named so is elsewhere, or nothing but
/// its own shape speaks for it.
fn doubt_of(
    pin: &Pin,
    found: &[Pin],
    rest: &[usize],
    bodies: &[Body],
    named: &dyn Fn(usize) -> bool,
) -> Option<String> {
    let name = |i: usize| &bodies[i].name;
    let is_named = named(pin.body);
    let good = |o: &&Pin| o.area > 0.15 * pin.area && !pin.is_coaxial(o);
    let other = found.iter().filter(good).find(|o| !is_named || named(o.body));
    if let Some(other) = other {
        return Some(format!(
            "\"{}\" and \"{}\" both have a level round bar or hole beside the rim: which carries the lid?",
            name(pin.body),
            name(other.body)
        ));
    }
    let on_axis = |i: usize| found.iter().any(|o| o.body == i && pin.is_coaxial(o));
    let solid = Solid::new(&bodies[pin.body].mesh);
    let is_near = |i: usize| {
        let cap = AT_PIN + bodies[i].deviation.bound + bodies[pin.body].deviation.bound;
        let there = Solid::new(&bodies[i].mesh);
        let gap = gap::surface_gap(&solid, &there, &Isometry3::identity(), cap);
        gap.ok().flatten().is_some()
    };
    let elsewhere =
        rest.iter().copied().find(|i| *i != pin.body && named(*i) && !on_axis(*i) && !is_near(*i));
    if let Some(other) = elsewhere {
        return Some(format!(
            "\"{}\" is named for the hinge, but the level round bar found beside the rim is \"{}\", \
             away from it",
            name(other),
            name(pin.body)
        ));
    }
    let carried = rest.iter().any(|i| *i != pin.body && on_axis(*i));
    (!is_named && !carried).then(|| {
        format!(
            "\"{}\" is a level round bar beside the rim, but neither its name nor lugs around it tell \
             that it carries the lid: it may be a handrail or a latch as well",
            name(pin.body)
        )
    })
}

fn check_size(plate: &[Face], name: &str) -> Result<(), Unfound> {
    let points = || plate.iter().flat_map(|f| f.corners);
    let spread = |along: fn(&Point3<f64>) -> f64| {
        let all = points().map(|p| along(&p));
        let (low, high) =
            all.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| (l.min(v), h.max(v)));
        high - low
    };
    let size = spread(|p| p.x).max(spread(|p| p.y));
    if PLATE_SIZE.contains(&size) {
        Ok(())
    } else {
        Err(Unfound::PlateSize { body: name.to_owned(), size })
    }
}

fn find_lid(
    bodies: &[Body],
    all: &[Vec<Face>],
    rest: &[usize],
    pin: Option<&Pin>,
    wall: &Wall,
    rim: f64,
) -> Option<LidFound> {
    let carries = |i: &usize| pin.is_some_and(|pin| pin.body == *i);
    rest.iter().copied().filter(|i| !carries(i)).find_map(|body| {
        let drawn_at = hinge::opening(&all[body], bodies[body].deviation.bound, pin, wall, rim)?;
        Some(LidFound { body, drawn_at })
    })
}

/// Why the origin lies where it does.
fn origin(wall: &Wall, settings: &Settings) -> Reason {
    match wall {
        Wall::Round(circle) => likely(format!(
            "the housing's inner face is a circle, {} across",
            measure::Length::from_mm(2.0 * circle.radius).show(settings.unit)
        )),
        Wall::Straight { sides, .. } => likely(format!(
            "the housing's inner face has {} straight sides; their middle is taken",
            sides.len()
        )),
        Wall::Unclear { .. } => doubtful(
            "the housing's inner face is neither round nor of opposite straight sides; the middle of \
             its area is taken"
                .to_owned(),
        ),
    }
}

/// Why +x points where it does.
fn toward(has_pin: bool, doubt: Option<&str>, settings: &Settings) -> Reason {
    match (settings.hinge_at, has_pin) {
        (Some(_), true) => likely("the hinge's bearing was given, and its pin lies there".to_owned()),
        (Some(_), false) => likely("the hinge's bearing was given".to_owned()),
        (None, true) => match doubt {
            Some(doubt) => doubtful(doubt.to_owned()),
            None => {
                likely("the hinge's pin lies there, a level round bar beside the rim".to_owned())
            }
        },
        (None, false) => doubtful(
            "no hinge is found, and bearings count from it; +x is as near to the files' own x as the \
             housing's sides allow"
                .to_owned(),
        ),
    }
}

fn likely(because: String) -> Reason {
    Reason { confidence: Confidence::Likely, because }
}

fn doubtful(because: String) -> Reason {
    Reason { confidence: Confidence::Doubtful, because }
}

/// The normal of the side that is nearest to +x, or +x itself.
fn square_to_a_side(wall: &Wall) -> Vector3<f64> {
    let nearest = match wall {
        Wall::Straight { sides, .. } => {
            sides.iter().map(|s| s.normal).max_by(|a, b| a.x.total_cmp(&b.x))
        }
        _ => None,
    };
    nearest.map_or_else(Vector3::x, |n| Vector3::new(n.x, n.y, 0.0))
}

impl Framed {
    fn draft(
        self,
        bodies: &[Body],
        said: Vec<Said>,
        ground: &Ground,
        settings: &Settings,
    ) -> Draft {
        let walls: Vec<Face> = self
            .surround
            .walls
            .iter()
            .flat_map(|i| moved(&ground.volume[*i], &self.plate_from_mesh))
            .collect();
        let deviation =
            self.surround.walls.iter().map(|i| bodies[*i].deviation.bound).fold(0.0, f64::max);
        let inner = wall::inner(&walls.iter().collect::<Vec<_>>(), &Point2::origin(), deviation);
        let mut scene =
            Scene::new(bodies, said, &self.plate_from_mesh, inner, &ground.standing, settings.unit);
        scene.ask(
            "measured".to_owned(),
            "not told".to_owned(),
            "who measured or designed this, when and how, is in no mesh".to_owned(),
            None,
        );
        self.ask_frame(&mut scene);
        for (i, body) in bodies.iter().enumerate() {
            if solids::is_inside_out(&body.mesh) {
                let why = "its triangles face inward: it is inside out, and what is said of it may be \
                           wrong; export it again";
                scene.ask_of(i, "as if they faced outward", why);
            }
        }
        let plate = take_plate(&mut scene, ground);
        let mut housing = self.take_housing(&mut scene);
        let lid = self.take_lid(&mut scene);
        let mut mesh = Mesh::default();
        for found in &housing {
            mesh.append(scene.solids[found.body].mesh());
        }
        let solid = Solid::new(&mesh);
        let inner_outline = outline(&scene.wall, &solid, self.surround.rim);
        let (ports, mut questions) =
            find_ports(&mut scene, (&housing, &solid), self.surround.rim, deviation);
        scene.questions.append(&mut questions);
        let mut hinge = self.take_hinge(&mut scene);
        let mut studs = studs(&mut scene);
        let fittings = fittings(&mut scene, &settings.words);
        leftovers(&mut scene, &mut housing, &mut hinge, &mut studs);
        if studs.is_empty() {
            scene.ask(
                "studs".to_owned(),
                "not known".to_owned(),
                "no equal small bodies stand on a circle: are there none, or were they not given?"
                    .to_owned(),
                None,
            );
        }
        if fittings.is_empty() {
            scene.ask(
                "fittings".to_owned(),
                "none".to_owned(),
                "nothing stands on the plate inside the housing".to_owned(),
                None,
            );
        }
        Draft {
            plate_from_mesh: self.plate_from_mesh,
            frame: self.reasons,
            plate,
            sealing_face: SealingFace {
                rms: ground.flat.rms,
                most: ground.flat.most,
                area: ground.flat.area,
                standing: ground.standing.len(),
            },
            housing,
            inner_outline,
            ports,
            lid,
            hinge,
            studs,
            fittings,
            questions: scene.questions,
        }
    }

    fn ask_frame(&self, scene: &mut Scene) {
        const MEASURED_IN_IT: &str = "Ports, hinge and fittings were measured in this frame, so that \
                                      correcting it alone makes all of them wrong";
        let [origin, toward] = &self.reasons;
        if origin.confidence == Confidence::Doubtful {
            let guess = "the middle of the inner face's area".to_owned();
            let why = format!(
                "{}. {MEASURED_IN_IT}: where it is wrong, draft again from a housing whose wall is whole \
                 and a body of its own, or write the document by hand",
                origin.because
            );
            scene.ask("frame, origin".to_owned(), guess, why, None);
        }
        if toward.confidence == Confidence::Doubtful {
            let guess = self.pin.as_ref().map_or_else(
                || "toward the top of the plan".to_owned(),
                |pin| format!("toward \"{}\"", scene.names[pin.body]),
            );
            let why = format!(
                "{}. {MEASURED_IN_IT}: where it is wrong, draft again with the hinge's bearing in this \
                 plan, as in --hinge-at \"90 deg\"",
                toward.because
            );
            scene.ask("frame, toward-hinge".to_owned(), guess, why, None);
        }
    }

    fn take_housing(&self, scene: &mut Scene) -> Vec<Found> {
        let mut found = Vec::new();
        let walls = self.surround.walls.clone();
        for body in walls {
            let shape = if self.surround.in_pieces {
                "it is part of the tall wall around the middle of the plate".to_owned()
            } else {
                "it surrounds the middle of the plate and is tall".to_owned()
            };
            found.push(scene.take(body, &[Meaning::Housing], "housing", shape));
        }
        for body in self.surround.rings.clone() {
            let shape = "it surrounds the middle of the plate, low or high up".to_owned();
            let mut ring = scene.take(body, &[Meaning::Housing], "housing: fixed to it", shape);
            // By its shape alone it may be anything that goes around.
            if ring.reason.confidence == Confidence::Likely {
                let because = format!("{}, and its name does not tell", ring.reason.because);
                scene.ask_of(body, "housing: fixed to it", &because);
                ring.reason = doubtful(because);
            }
            found.push(ring);
        }
        found
    }

    fn take_lid(&self, scene: &mut Scene) -> Option<Lid> {
        let Some(lid) = &self.lid else {
            let named = scene.free().into_iter().find(|i| scene.said[*i].parts == [Meaning::Lid]);
            let why = match named {
                Some(i) => format!(
                    "\"{}\" is named so, but it neither covers the housing nor does once it is turned \
                     about a pin beside the rim; it is listed with the housing meanwhile",
                    scene.names[i]
                ),
                None => "no body covers the housing or would once it is closed: is there none, is it \
                         taken off, or was it not given? Until [lid] and [hinge] say so their checks \
                         cannot be told"
                    .to_owned(),
            };
            scene.ask("lid".to_owned(), "not known".to_owned(), why, None);
            return None;
        };
        let drawn_at = match lid.drawn_at {
            hinge::Opening::By(angle) => Some(angle),
            hinge::Opening::Unclear => None,
        };
        let closed = drawn_at.is_none_or(|angle| angle <= 0.0);
        let shape = if closed {
            "it lies over the whole housing".to_owned()
        } else {
            "closed about the hinge's pin it lies over the whole housing".to_owned()
        };
        let found = scene.take(lid.body, &[Meaning::Lid], "lid", shape);
        let (axis_point, axis, axis_reason) = if let Some(pin) = &self.pin {
            let told = scene.told(2.0 * pin.radius);
            let what = if pin.solid { "pin" } else { "pin's hole" };
            let because = format!("the axis of the {what} is that of a cylinder {told} across");
            let sure = self.pin_doubt.is_none();
            let reason = if sure { likely(because) } else { doubtful(because) };
            (pin.point, pin.axis, reason)
        } else {
            let reach = scene.wall.reach(&Vector2::x()).unwrap_or(0.0);
            let at = Point3::new(reach, 0.0, self.surround.rim);
            let because = "no pin is found, which is a level round bar beside the rim".to_owned();
            let about = "lid, hinge-at and hinge-axis".to_owned();
            let guess = "at the rim's inner edge in +x".to_owned();
            scene.ask(about, guess, because.clone(), Some(at.xy()));
            (at, Vector3::y(), doubtful(because))
        };
        let drawn_reason = match drawn_at {
            Some(angle) if angle > 0.0 => {
                likely("turned back by this about the pin it lies on the housing".to_owned())
            }
            Some(_) => likely("it lies level on the housing as a closed lid does".to_owned()),
            None => {
                let because =
                    "it lies over the housing, but no large face of it is level or would be \
                               once it is closed about the pin"
                        .to_owned();
                let (about, guess) = ("lid, drawn-at".to_owned(), "0 deg, closed".to_owned());
                scene.ask(about, guess, because.clone(), Some(axis_point.xy()));
                doubtful(because)
            }
        };
        scene.ask(
            "lid, stop".to_owned(),
            if closed { "90 deg" } else { "as it is drawn" }.to_owned(),
            "how far the lid opens is in no mesh: measure it or take it from the drawing"
                .to_owned(),
            Some(axis_point.xy()),
        );
        Some(Lid {
            found,
            axis_point,
            axis: Unit::new_normalize(axis),
            axis_reason,
            drawn_at: Angle::from_radians(drawn_at.unwrap_or(0.0)),
            drawn_reason,
        })
    }

    fn take_hinge(&self, scene: &mut Scene) -> Vec<Found> {
        let Some(pin) = &self.pin else { return Vec::new() };
        let mut found = Vec::new();
        if !scene.taken[pin.body] {
            let shape = format!(
                "it is a level round bar {} across beside the rim",
                scene.told(2.0 * pin.radius)
            );
            let meanings = [Meaning::HingePin, Meaning::Hinge];
            let mut taken = scene.take(pin.body, &meanings, "hinge", shape);
            // The question about the frame asks for it already.
            if let Some(doubt) = &self.pin_doubt {
                taken.reason = doubtful(format!("{}; {doubt}", taken.reason.because));
            }
            found.push(taken);
        }
        for body in scene.free() {
            let cap = AT_PIN + scene.deviations[body] + scene.deviations[pin.body];
            let inside = scene.wall.holds(&scene.middle(body));
            let on_axis = self.coaxial.contains(&body);
            if inside || !(on_axis || scene.distance(body, pin.body, cap).is_some()) {
                continue;
            }
            let shape = if on_axis {
                "it has a round hole or bar in line with the hinge's pin"
            } else {
                "it carries the hinge's pin, beside the rim"
            }
            .to_owned();
            let meanings = [Meaning::Hinge, Meaning::HingePin];
            found.push(scene.take(body, &meanings, "hinge", shape));
        }
        found
    }
}

fn take_plate(scene: &mut Scene, ground: &Ground) -> Found {
    let stand = match ground.standing.len() {
        1 => "one body stands".to_owned(),
        n => format!("{n} bodies stand"),
    };
    let shape = format!(
        "{stand} on its large flat face, which is flat within {}",
        scene.fine(ground.flat.most)
    );
    let mut plate = scene.take(ground.flat.body, &[Meaning::Plate], "plate", shape);
    if let Some(doubt) = &ground.doubt {
        plate.reason.because = format!("{}; {doubt}", plate.reason.because);
        if plate.reason.confidence != Confidence::Doubtful {
            scene.ask_of(ground.flat.body, "plate", &plate.reason.because);
            plate.reason.confidence = Confidence::Doubtful;
        }
    }
    plate
}

/// What is taken for nothing else is listed with the housing, and asked about: left out, it would be
/// taken for free space.
fn leftovers(
    scene: &mut Scene,
    housing: &mut Vec<Found>,
    hinge: &mut Vec<Found>,
    studs: &mut Vec<Found>,
) {
    for body in scene.free() {
        let said = &scene.said[body];
        let (list, what) = if said.says(&[Meaning::Hinge, Meaning::HingePin]) {
            (&mut *hinge, "hinge")
        } else if said.says(&[Meaning::Stud]) {
            (&mut *studs, "studs")
        } else {
            (&mut *housing, "housing: fixed to it")
        };
        let says = if said.is_mute() {
            "its name does not tell either".to_owned()
        } else {
            format!("its name says {}", said.words())
        };
        let because = format!("its shape and place do not tell what it is; {says}");
        scene.ask_of(body, what, &because);
        scene.taken[body] = true;
        list.push(Found { body, reason: doubtful(because) });
    }
}

/// The ports with their covers, and what is asked about other openings.
fn find_ports(
    scene: &mut Scene,
    (housing, solid): (&[Found], &Solid),
    rim: f64,
    deviation: f64,
) -> (Vec<Port>, Vec<Question>) {
    let all: Vec<Face> = housing.iter().flat_map(|f| scene.faces[f.body].clone()).collect();
    let openings: Vec<Opening> = port::openings(&all, rim)
        .into_iter()
        .filter(|o| !o.is_speck(&scene.wall) && o.span < 6.2)
        .collect();
    let (large, small): (Vec<Opening>, Vec<Opening>) =
        openings.into_iter().partition(|o| o.is_large(&scene.wall));
    let mut questions = Vec::new();
    let mut ports: Vec<Port> = Vec::new();
    for opening in large {
        let way = Vector2::new(opening.bearing.cos(), opening.bearing.sin());
        let at = Point2::from(way * scene.wall.roughly(&way));
        let mut ask = |why: String| {
            questions.push(Question {
                about: format!("opening at bearing {}", bearing_words(&at)),
                guess: "no port".to_owned(),
                why,
                at: Some(at),
            });
        };
        if opening.open_above || opening.open_below {
            let side = if opening.open_above { "above" } else { "below" };
            ask(format!("it is open {side}, so that it is no port as the checks know it"));
            continue;
        }
        match port::measure(solid, &opening, &scene.wall, deviation) {
            Some(found) if found.straight => {
                let port = take_port(scene, &found, deviation, &ports, &mut questions);
                ports.push(port);
            }
            Some(_) => ask("its edges are not straight: round or oval, it seems".to_owned()),
            None if scene.wall.reach(&way).is_none() => ask(
                "the wall about it is neither round nor of straight sides, so that it cannot be measured"
                    .to_owned(),
            ),
            None => ask("its edges cannot be measured: something stands in it".to_owned()),
        }
    }
    if !small.is_empty() {
        let all: Vec<String> = small
            .iter()
            .map(|o| Point2::new(o.bearing.cos(), o.bearing.sin()))
            .map(|p| bearing_words(&p))
            .collect();
        questions.push(Question {
            about: format!("small openings at bearing {}", all.join(", ")),
            guess: "no ports".to_owned(),
            why: format!("they are less than {} wide or high", scene.told(port::LEAST)),
            at: None,
        });
    }
    if ports.len() < 2 {
        questions.push(Question {
            about: "ports".to_owned(),
            guess: format!("{} found", ports.len()),
            why: "a rig hangs on two: are covers part of the housing's body, or ports left out?"
                .to_owned(),
            at: None,
        });
    }
    (ports, questions)
}

/// The bearing of a point in whole degrees.
fn whole_degrees(p: &Point2<f64>) -> f64 {
    p.y.atan2(p.x).to_degrees().rem_euclid(360.0).round() % 360.0
}

fn bearing_words(p: &Point2<f64>) -> String {
    format!("{} deg", whole_degrees(p))
}

fn take_port(
    scene: &mut Scene,
    found: &Measured,
    deviation: f64,
    before: &[Port],
    questions: &mut Vec<Question>,
) -> Port {
    let degrees = whole_degrees(&found.at);
    let mut name = format!("P{degrees}");
    while before.iter().any(|p| p.name == name) {
        name.push('\'');
    }
    // Each edge may be off by the mesh's own deviation, so that a width may be by twice that.
    let deviation = 2.0 * deviation + found.wander;
    let wander = scene.fine(found.wander);
    let mut reason = likely(format!(
        "it is an opening in the wall, closed all around; its edges are straight within {wander}"
    ));
    if !found.square {
        reason = doubtful(format!("{}, but its corners are not open", reason.because));
        questions.push(Question {
            about: format!("port \"{name}\", corners"),
            guess: "as a rectangle".to_owned(),
            why: "its corners are rounded or filled: will a foot seat in it?".to_owned(),
            at: Some(found.at),
        });
    }
    if found.uneven {
        questions.push(Question {
            about: format!("port \"{name}\", wall"),
            guess: scene.told(found.wall),
            why: "the wall beside it has more than one thickness: what does a foot bear on?"
                .to_owned(),
            at: Some(found.at),
        });
    }
    if deviation > TAPE {
        questions.push(Question {
            about: format!("port \"{name}\", width, height, sill and wall"),
            guess: format!(
                "{} by {}, sill {}, wall {}",
                scene.told(found.width),
                scene.told(found.height),
                scene.told(found.sill),
                scene.told(found.wall)
            ),
            why: format!(
                "the mesh tells them no better than {}; a tape may",
                scene.told(deviation)
            ),
            at: Some(found.at),
        });
    }
    let cover = take_cover(scene, found);
    Port {
        name,
        at: found.at,
        facing: Angle::from_radians(found.facing.y.atan2(found.facing.x)),
        width: found.width,
        height: found.height,
        sill: found.sill,
        wall: found.wall,
        deviation,
        cover,
        reason,
    }
}

/// The body that stands before a port.
fn take_cover(scene: &mut Scene, port: &Measured) -> Option<Found> {
    let most = 1.5 * port.width.max(port.height) + 60.0;
    let shares = scene
        .free()
        .into_iter()
        .filter(|i| 2.0 * scene.half(*i) <= most)
        .map(|i| (i, port::covers(&scene.solids[i], port)));
    let (body, share) = shares.max_by(|a, b| a.1.total_cmp(&b.1))?;
    if share < 0.5 {
        return None;
    }
    let shape = format!("it stands before the opening and covers {:.0} % of it", 100.0 * share);
    Some(scene.take(body, &[Meaning::PortCover], "port cover", shape))
}

/// The wall's inner face seen from above: what level rays from the axis meet first at three heights.
fn outline(wall: &Wall, housing: &Solid, rim: f64) -> Vec<Point2<f64>> {
    (0..360)
        .filter_map(|i| {
            let bearing = (f64::from(i) + 0.5).to_radians();
            let way = Vector2::new(bearing.cos(), bearing.sin());
            let first = |share: f64| {
                let from = Point3::new(0.0, 0.0, share * rim);
                let hits = ray_hits(housing, &from, &Vector3::new(way.x, way.y, 0.0)).ok()?;
                hits.first().map(|hit| hit.distance)
            };
            let nearest = [0.15, 0.5, 0.9].into_iter().filter_map(first).reduce(f64::min);
            nearest.or_else(|| wall.reach(&way)).map(|reach| Point2::from(way * reach))
        })
        .collect()
}
