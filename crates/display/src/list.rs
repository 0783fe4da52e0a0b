//! What is seen.

use crate::interference::Interference;
use crate::marks::Mark;
use crate::palette::Role;
use crate::timeline::{Clock, Key, LID, OFF, Stage, Track, carried, screwed, turn};
use assembly::car_top::{BodyId, LidState};
use assembly::parts::{self, PartError};
use assembly::rig::{self, RigPart, RigPose};
use assembly::{CarTop, Choice, Kit, Placement};
use fitup::path::{Way, order::put_parts, simple::Manner};
use fitup::{CupStudy, Part};
use measure::Angle;
use nalgebra::Isometry3;
use solids::Mesh;
use std::borrow::Cow;
use std::fmt::Write as _;

/// What is seen of one fitting with the rig on it, and how the rig is put on.
#[derive(Debug, Clone, PartialEq)]
pub struct DisplayList<'a> {
    /// The car top's title.
    pub title: String,
    /// The fitting's name.
    pub fitting: String,
    /// The cup's name; `None` without a rig.
    pub cup: Option<String>,
    /// The verdict's words.
    pub verdict: &'static str,
    /// Triangles, each in the frame of the items that show them.
    pub meshes: Vec<Cow<'a, Mesh>>,
    /// How far what is drawn may be from the meshes that were measured, mm; zero where none was
    /// simplified.
    pub drawn_within: f64,
    /// The bodies of the car top, in its order, and then the rig's parts.
    pub items: Vec<Item>,
    /// The steps of the installation.
    pub stages: Vec<Stage>,
    /// What was measured when all is done, where that is asked for.
    pub marks: Vec<Mark>,
    /// Where parts run into each other when all is done, where that is asked for.
    pub interferences: Vec<Interference>,
}

/// How an item is drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Shown {
    /// As it is.
    #[default]
    Solid,
    /// Faintly, so that what is behind it is seen.
    Ghost,
    /// Not at all.
    Hidden,
}

/// Which items are meant.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Which<'w> {
    /// Every item.
    Every,
    /// Those with this name; `*` in it stands for any letters, or none.
    Named(&'w str),
    /// Those that are this to the eye.
    Role(Role),
}

impl Which<'_> {
    fn means(self, item: &Item) -> bool {
        match self {
            Self::Every => true,
            Self::Named(pattern) => matches(pattern, &item.name),
            Self::Role(role) => item.role == role,
        }
    }
}

/// Whether a name is as a pattern says: its pieces between stars, one after the other.
fn matches(pattern: &str, name: &str) -> bool {
    let Some((first, others)) = pattern.split_once('*') else { return pattern == name };
    let Some(rest) = name.strip_prefix(first) else { return false };
    // What the star stands for may end anywhere.
    let ends = rest.char_indices().map(|(at, _)| at).chain([rest.len()]);
    ends.into_iter().any(|at| rest.get(at..).is_some_and(|rest| matches(others, rest)))
}

/// Something that is seen.
#[derive(Debug, Clone, PartialEq)]
pub struct Item {
    /// What it is.
    pub part: Part,
    /// Its name, as in the record.
    pub name: String,
    /// What it is to the eye.
    pub role: Role,
    /// Index into [`DisplayList::meshes`].
    pub mesh: usize,
    /// Where it is when all is done, plate frame from its own. What is taken off is gone by then.
    pub place: Isometry3<f64>,
    /// How it comes there.
    pub track: Track,
    /// How it is drawn.
    pub shown: Shown,
}

impl Item {
    /// Where it is at a time of the installation, plate frame from its own; `None` when it is not there.
    pub fn place_at(&self, at: f64) -> Option<Isometry3<f64>> {
        self.track.is_there(at).then(|| self.track.pose(at).unwrap_or(self.place))
    }
}

impl<'a> DisplayList<'a> {
    /// Lists a fitting as a study left it: at its placement, with the ways of the parts where they are
    /// known. Without a placement the car top alone. `None` for a fitting that the car top lacks.
    ///
    /// # Errors
    /// When the kit's dimensions contradict each other, so that a part cannot be built.
    pub fn of(
        car: &'a CarTop,
        kit: &Kit,
        fitting: usize,
        study: &CupStudy,
    ) -> Result<Option<Self>, PartError> {
        let Some(covered) = car.fittings.get(fitting) else { return Ok(None) };
        let posed = match (&study.choice, &study.placement) {
            (Some(choice), Some(placement)) => {
                rig::pose(kit, car, choice, placement).map(|pose| Posed { choice, placement, pose })
            }
            _ => None,
        };
        let cup = posed.as_ref().and_then(|p| kit.cups.get(p.choice.cup)).map(|c| c.name.clone());
        let mut list = Self {
            title: car.title.clone(),
            fitting: covered.name.clone(),
            cup,
            verdict: study.verdict.words(),
            meshes: Vec::new(),
            drawn_within: 0.0,
            items: Vec::new(),
            stages: Vec::new(),
            marks: Vec::new(),
            interferences: Vec::new(),
        };
        list.car_top(car, fitting);
        if let Some(posed) = posed {
            let mut clock = Clock::default();
            list.open(car, &posed, &mut clock);
            list.take_off(car, &posed, &mut clock);
            list.rig(car, kit, &posed)?;
            list.put_on(&study.ways, lead(kit), &mut clock);
            list.stages = clock.stages;
        }
        Ok(Some(list))
    }

    /// Draws items so from now on; how many they are.
    pub fn show(&mut self, which: Which<'_>, shown: Shown) -> usize {
        let meant = self.items.iter_mut().filter(|item| which.means(item));
        meant.map(|item| item.shown = shown).count()
    }

    /// Draws items as they are and every other one so; how many they are. None are changed where none
    /// are meant.
    pub fn isolate(&mut self, which: Which<'_>, others: Shown) -> usize {
        let meant = self.items.iter().filter(|item| which.means(item)).count();
        for item in self.items.iter_mut().filter(|_| meant > 0) {
            item.shown = if which.means(item) { Shown::Solid } else { others };
        }
        meant
    }

    /// Puts the rig's parts where another placement of the same choice has them, without making them
    /// anew. For a list whose parts are there all at once; the lid stays as it is. Whether there is such a
    /// place.
    pub fn put(&mut self, car: &CarTop, kit: &Kit, choice: &Choice, placement: &Placement) -> bool {
        let Some(pose) = rig::pose(kit, car, choice, placement) else { return false };
        for item in &mut self.items {
            if let Part::Rig(part) = item.part {
                item.place = *pose.plate_from(part);
            }
        }
        true
    }

    /// When the last stage ends, seconds.
    pub fn lasts(&self) -> f64 {
        self.stages.last().map_or(0.0, |stage| stage.to)
    }

    fn car_top(&mut self, car: &'a CarTop, fitting: usize) {
        let covered = car.fittings.get(fitting);
        let plate = car.bodies.get(car.plate.0).and_then(|plate| plate.body.mesh.bounds());
        for (index, body) in car.bodies.iter().enumerate() {
            // What nobody saw all around the car top would veil everything.
            let is_around = body.unseen
                && body.body.mesh.bounds().zip(plate).is_some_and(|(own, plate)| {
                    (0..2).all(|i| own.0[i] < plate.0[i] && plate.1[i] < own.1[i])
                });
            let is_covered = covered.is_some_and(|f| f.bodies.contains(&BodyId(index)));
            let role = match body.unseen {
                true => Role::Unseen,
                false if is_covered => Role::Covered,
                false => Role::of(body.kind),
            };
            self.items.push(Item {
                part: Part::Car(BodyId(index)),
                name: body.body.name.clone(),
                role,
                mesh: self.meshes.len(),
                place: Isometry3::identity(),
                track: Track::default(),
                shown: if is_around { Shown::Hidden } else { Shown::Solid },
            });
            self.meshes.push(Cow::Borrowed(&body.body.mesh));
        }
    }

    /// The lid opens, the covers of the two ports come off.
    fn open(&mut self, car: &CarTop, posed: &Posed<'_>, clock: &mut Clock) {
        if let LidState::Hinged(lid) = &car.lid {
            let opening = posed.placement.lid_opening.radians();
            let at = |share: f64| rig::plate_from_lid(car, Angle::from_radians(share * opening));
            let degrees = posed.placement.lid_opening.degrees();
            let when =
                clock.stage(format!("open the lid to {}", posed.placement.lid_opening.show()), LID);
            if let (Some(item), Some(place)) = (self.car_item(lid.body), at(1.0)) {
                item.place = place;
                item.track.keys = turn(when, degrees, at);
            }
        }
        for port in posed.choice.ports.iter().filter_map(|p| car.ports.get(*p)) {
            let Some(cover) = port.cover else { continue };
            let name = format!("open or take off {}", car.body(cover).body.name);
            self.goes(cover, clock.stage(name, OFF));
        }
    }

    fn take_off(&mut self, car: &CarTop, posed: &Posed<'_>, clock: &mut Clock) {
        for removed in &posed.choice.removed {
            let Some(fitting) = car.fittings.get(removed.fitting) else { continue };
            let Some(piece) = fitting.removables.get(removed.removable) else { continue };
            let name = format!("take off {} {}", fitting.name, piece.name);
            self.goes(piece.body, clock.stage(name, OFF));
        }
    }

    fn goes(&mut self, body: BodyId, [_, to]: [f64; 2]) {
        if let Some(item) = self.car_item(body) {
            item.role = Role::TakenOff;
            item.track.goes = Some(to);
        }
    }

    /// The rig's parts at their places. Spaces that parts sweep are nothing to see: the handle of the
    /// outlet's valve stands where the valve is open, and the cup is hollow.
    fn rig(&mut self, car: &CarTop, kit: &Kit, posed: &Posed<'_>) -> Result<(), PartError> {
        let Some(cup) = kit.cups.get(posed.choice.cup) else { return Ok(()) };
        let port = |end: usize| {
            let port = posed.choice.ports.get(end).and_then(|p| car.ports.get(*p));
            port.map_or("its port", |port| port.name.as_str())
        };
        let first = self.meshes.len();
        let mut all = put_parts(kit);
        all.push(RigPart::OutletHandle);
        for part in all {
            let (name, body) = match part {
                RigPart::OutletHandle => ("outlet handle".into(), parts::outlet_handle(kit)?),
                RigPart::Cup => (part.name(["", ""]), parts::hollow_cup(kit, cup)?),
                _ => {
                    let thickness = posed.placement.link_thickness;
                    let body = parts::body(kit, cup, thickness, part)?;
                    (part.name([port(0), port(1)]), body)
                }
            };
            let same = self.meshes.iter().skip(first).position(|mesh| **mesh == body.mesh);
            let mesh = same.map_or(self.meshes.len(), |same| first + same);
            if mesh == self.meshes.len() {
                self.meshes.push(Cow::Owned(body.mesh));
            }
            self.items.push(Item {
                part: Part::Rig(part),
                name,
                role: Role::of(part.kind()),
                mesh,
                place: *posed.pose.plate_from(part),
                track: Track::default(),
                shown: Shown::Solid,
            });
        }
        Ok(())
    }

    /// The parts come in the order of their lifts, each along its way; where ways are not known they
    /// are all there at once.
    fn put_on(&mut self, ways: &[Way], screw_lead: Option<f64>, clock: &mut Clock) {
        if ways.is_empty() {
            let [from, _] = clock.lift("the rig at the placement".into());
            for item in self.items.iter_mut().filter(|item| matches!(item.part, Part::Rig(_))) {
                item.track.comes = from;
            }
        }
        for way in ways {
            let lead = way.lift.lead().and_then(|lead| self.rig_item(lead));
            let Some(lead) = lead.map(|item| item.name.clone()) else { continue };
            let manner = match &way.found {
                Ok(clear) => clear.manner.words(),
                Err(_) => "no way found",
            };
            let when = clock.lift(format!("{lead}: {manner}"));
            for part in &way.lift.parts {
                let mut keys = carried(way, *part, when);
                if let Some(screw_lead) = screw_lead.filter(|_| is_turned_down(way)) {
                    keys = screwed(&keys, screw_lead);
                }
                self.comes(*part, when, keys.clone());
                if *part == RigPart::Outlet {
                    self.comes(RigPart::OutletHandle, when, keys);
                }
            }
        }
    }

    fn comes(&mut self, part: RigPart, [from, _]: [f64; 2], keys: Vec<Key>) {
        let Some(item) = self.rig_item(part) else { return };
        // A screw comes drawn up, and is turned down by a later lift.
        if item.track.keys.is_empty() {
            item.track.comes = from;
        }
        item.track.keys.extend(keys);
    }

    fn car_item(&mut self, body: BodyId) -> Option<&mut Item> {
        self.items.iter_mut().find(|item| item.part == Part::Car(body))
    }

    fn rig_item(&mut self, part: RigPart) -> Option<&mut Item> {
        self.items.iter_mut().find(|item| item.part == Part::Rig(part))
    }

    /// The list in words, one line an item and one a stage; each mark with how it is framed.
    pub fn text(&self) -> String {
        let mut text = format!("{}\n{} {}", self.title, self.fitting, self.verdict);
        // Writing into a string does not fail.
        if let Some(cup) = &self.cup {
            let _ = write!(text, ", cup {cup}");
        }
        text.push('\n');
        if self.drawn_within > 0.0 {
            let _ = writeln!(text, "drawn within {:.3} mm of what was measured", self.drawn_within);
        }
        for item in &self.items {
            let [x, y, z] = <[f64; 3]>::from(item.place.translation.vector).map(tenths);
            let triangles = self.meshes.get(item.mesh).map_or(0, |mesh| mesh.triangles.len());
            let _ = write!(
                text,
                "{}: {}, {triangles} triangles, at {x:.1} {y:.1} {z:.1} mm turned {:.1} deg",
                item.name,
                item.role.word(),
                tenths(item.place.rotation.angle().to_degrees()),
            );
            let track = &item.track;
            if track.comes > 0.0 {
                let _ = write!(text, ", comes at {:.1} s", track.comes);
            }
            if let Some(goes) = track.goes {
                let _ = write!(text, ", goes at {goes:.1} s");
            }
            if !track.keys.is_empty() {
                let _ = write!(text, ", {} keys", track.keys.len());
            }
            text.push_str(match item.shown {
                Shown::Solid => "",
                Shown::Ghost => ", ghost",
                Shown::Hidden => ", hidden",
            });
            text.push('\n');
        }
        for stage in &self.stages {
            let _ = writeln!(text, "{:.1} to {:.1} s: {}", stage.from, stage.to, stage.name);
        }
        for (index, mark) in self.marks.iter().enumerate() {
            let _ = writeln!(text, "{}: {}", mark.check, mark.sentence);
            let framing = self.framing_of(mark, ASPECT);
            let [eye, normal] =
                [framing.eye.coords, 100.0 * self.plane_of(mark, &framing).normal.into_inner()]
                    .map(|v| <[f64; 3]>::from(v).map(whole));
            let _ = writeln!(
                text,
                "  seen from {:.0} {:.0} {:.0} mm, {:.0} mm high, cut square to {:.0} {:.0} {:.0}",
                eye[0],
                eye[1],
                eye[2],
                whole(framing.height),
                normal[0],
                normal[1],
                normal[2],
            );
            for found in self.interferences.iter().filter(|found| found.mark == index) {
                let points: usize = found.lines.iter().map(|line| line.points.len()).sum();
                let volume = match &found.volume {
                    Some(body) => format!("{:.1} mm3", tenths(solids::volume(body))),
                    None => "no body".into(),
                };
                let lines = found.lines.len();
                let _ = writeln!(text, "  lines {lines}, points {points}, shared {volume}");
            }
        }
        text
    }
}

/// A picture's proportions for which a text tells how marks are framed.
const ASPECT: f64 = 1.6;

/// Rounded to a whole number, never to a zero below zero.
fn whole(x: f64) -> f64 {
    x.round() + 0.0
}

/// Rounded to tenths, never to a zero below zero.
fn tenths(x: f64) -> f64 {
    (10.0 * x).round() / 10.0 + 0.0
}

/// How far the kit's screw goes with one turn, mm, where its thread is known.
fn lead(kit: &Kit) -> Option<f64> {
    let screw = &kit.hold.screw;
    let lead = screw.pitch?.low().mm() * f64::from(screw.starts.unwrap_or(1));
    // No clamp screw has a finer one.
    (lead > 0.5).then_some(lead)
}

fn is_turned_down(way: &Way) -> bool {
    let turned = way.found.as_ref().is_ok_and(|clear| clear.manner == Manner::Turned);
    turned && way.lift.lead() == Some(RigPart::Screw)
}

/// A rig at its placement.
struct Posed<'p> {
    choice: &'p Choice,
    placement: &'p Placement,
    pose: RigPose,
}
