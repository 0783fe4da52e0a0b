//! Writes down placements drawn by chance for each certificate of a record, for
//! `tests/outside/certificates/run`.
//!
//!     drawn RECORD CASE KIT FOLDER
//!     drawn COUNT FOLDER             those of the first random car tops of `tests/verdicts`
//!
//! FOLDER/N.obj is a part's mesh in its own frame; FOLDER/drawn.json holds for each certificate the
//! pairs of parts between which a gap is asked for, the placements as the poses of the re-check, and
//! single witnesses, each at a placement of its own. Lengths are millimetres.

#![expect(clippy::unwrap_used, reason = "a program of the checks stops where its set-up fails")]

mod cells;
#[path = "../../verdicts/support/chance.rs"]
mod chance;
mod draw;
#[path = "../../verdicts/support/sample_car.rs"]
#[expect(dead_code, reason = "the tests of the verdicts use more of it")]
mod sample_car;
#[path = "../../verdicts/support/sample_kit.rs"]
#[expect(dead_code, reason = "the tests of the verdicts use more of it")]
mod sample_kit;

use assembly::placement::Removed;
use assembly::rig::RigPart;
use assembly::{CarTop, Choice, Kit, Placement};
use chance::Chance;
use draw::Draw;
use fitup::{Effort, Scene, study_cup};
use recheck::{Piece, Setting};
use review::proof::{Certificate, Ground, Sense, Space, Witness};
use review::record::{Fitting, Record};
use serde_json::{Value, json};
use solids::Mesh;
use std::collections::HashMap;
use std::fmt::Write as _;
use std::path::PathBuf;

/// Draws for a certificate at the most, and the placements that are enough.
const TRIES: usize = 400;
const ENOUGH: usize = 24;
/// Witnesses drawn of a certificate.
const WITNESSES: usize = 16;
/// As in the tests of the verdicts.
const EFFORT: Effort = Effort { tolerance: 0.1, most_cells: 600, searches_ways: true };

/// A part's solid: the part, the cup, the links' thicknesses.
type Key = (Piece, usize, [[usize; 2]; 2]);

/// Meshes written, by their part and by their text.
struct Folder {
    path: PathBuf,
    known: HashMap<Key, usize>,
    written: HashMap<String, usize>,
}

impl Folder {
    /// The number of the file of a part's mesh.
    fn write(&mut self, key: Key, mesh: &Mesh) -> usize {
        if let Some(known) = self.known.get(&key) {
            return *known;
        }
        let mut text = String::new();
        for p in &mesh.vertices {
            writeln!(text, "v {} {} {}", p.x, p.y, p.z).unwrap();
        }
        for [a, b, c] in mesh.triangles.iter().map(|t| t.map(|v| v + 1)) {
            writeln!(text, "f {a} {b} {c}").unwrap();
        }
        let number = self.written.len();
        let number = *self.written.entry(text).or_insert_with_key(|text| {
            std::fs::write(self.path.join(format!("{number}.obj")), text).unwrap();
            number
        });
        self.known.insert(key, number);
        number
    }
}

/// The parts of one choice: each solid's file and deviation.
struct Parts<'p> {
    setting: &'p Setting<'p>,
    cup: usize,
    folder: &'p mut Folder,
    known: HashMap<Key, (usize, f64)>,
}

impl Parts<'_> {
    /// Where a piece lies at a placement, with its mesh and deviation.
    fn place(&mut self, placement: &Placement, piece: Piece) -> Value {
        let (cup, thickness) = match piece {
            Piece::Rig(_) => (self.cup, placement.link_thickness),
            Piece::Car(_) => (0, [[0; 2]; 2]),
        };
        let (setting, folder, key) = (self.setting, &mut self.folder, (piece, cup, thickness));
        let (mesh, deviation) = *self.known.entry(key).or_insert_with(|| {
            let body = setting.body(piece, thickness).unwrap();
            (folder.write(key, &body.mesh), setting.deviation(piece, &body))
        });
        let place = setting.place(placement, piece).unwrap();
        let turn: Vec<f64> = place.turn.transpose().iter().copied().collect();
        json!({"mesh": mesh, "deviation": deviation, "turn": turn, "shift": place.shift.as_slice()})
    }

    /// A witness at a placement in this part of the space.
    fn witness(
        &mut self,
        draw: &Draw<'_>,
        space: &Space,
        witness: &Witness,
        chance: &mut Chance,
    ) -> Option<Value> {
        let (names, mut told) = match &witness.by {
            Ground::Gap(g) => ([&g.a, &g.b], json!({"points": [g.on_a, g.on_b], "depth": 0.0})),
            Ground::Overlap(o) => (
                [&o.a, &o.b],
                json!({"points": [o.on_a, o.on_b], "depth": o.depth, "across": o.across}),
            ),
            Ground::Rule(_) => return None,
        };
        let placement = draw.anywhere(space, chance, &witness.given);
        let pieces = pieces(self.setting);
        let of = |name: &String| pieces.iter().find(|(_, n)| n == name).unwrap().0;
        told["places"] = names.map(|name| self.place(&placement, of(name))).into();
        told["names"] = json!(names);
        told["on surfaces"] = matches!(witness.by, Ground::Gap(_)).into();
        Some(told)
    }
}

/// Every part that is there, with its name in certificates.
fn pieces(setting: &Setting<'_>) -> Vec<(Piece, String)> {
    let rig = RigPart::all(setting.kit).into_iter();
    let rig = rig.map(|part| (Piece::Rig(part), part.name(["A", "B"])));
    let name = |id| format!("car:{}", setting.car.body(id).body.name);
    rig.chain(setting.present().map(|id| (Piece::Car(id), name(id)))).collect()
}

/// The placement written down for the fitting.
fn placed(car: &CarTop, kit: &Kit, fitting: &Fitting) -> Option<(Choice, Placement)> {
    let placed = fitting.placement.as_ref()?;
    let port = |name: &String| car.ports.iter().position(|p| p.name == *name);
    let removed = fitting.removed.iter().map(|r| {
        let of = car.fittings.iter().position(|f| f.name == r.fitting)?;
        let mut pieces = car.fittings[of].removables.iter();
        Some(Removed { fitting: of, removable: pieces.position(|p| p.name == r.piece)? })
    });
    let choice = Choice {
        fitting: car.fittings.iter().position(|f| f.name == fitting.name)?,
        cup: kit.cups.iter().position(|c| Some(&c.name) == fitting.cup.as_ref())?,
        ports: [port(&placed.ends[0].port)?, port(&placed.ends[1].port)?],
        removed: removed.collect::<Option<_>>()?,
    };
    Some((choice, recheck::placement_of(kit, placed)?))
}

/// A certificate with placements and witnesses drawn.
fn drawn(draw: &Draw<'_>, certificate: &Certificate, parts: &mut Parts<'_>) -> Value {
    let mut chance = Chance::new(certificate.bound_mm.to_bits());
    let setting = draw.setting;
    let pieces = pieces(setting);
    let mut pairs = Vec::new();
    // The rig's parts come first: none of the car's is measured against another of the car's.
    let of_rig = RigPart::all(setting.kit).len();
    for (i, (a, _)) in pieces.iter().enumerate().take(of_rig) {
        for (j, (b, _)) in pieces.iter().enumerate().skip(i + 1) {
            if setting.contact(*a, *b).is_none() {
                pairs.push(json!([i, j, setting.need(*a, *b)]));
            }
        }
    }
    let (mut tried, mut kept, mut placements) = (0, 0, Vec::new());
    while tried < TRIES && placements.len() < ENOUGH {
        let is_found = tried == 0 && draw.found.is_some();
        tried += 1;
        let one = if is_found { draw.found.clone() } else { draw.likely(&mut chance) };
        let Some(placement) = one else { continue };
        let rules = recheck::rules(setting, &placement, certificate.sense).unwrap();
        if rules.iter().any(|r| r.tolerance && r.end_mm < 0.0) {
            continue;
        }
        kept += 1;
        let ends = rules.iter().filter(|r| !r.tolerance).map(|r| r.end_mm);
        let least = ends.fold(f64::INFINITY, f64::min);
        // Where a rule leaves no more than the bound, nothing is to be measured.
        if is_found || least > certificate.bound_mm {
            let places: Vec<Value> =
                pieces.iter().map(|(piece, _)| parts.place(&placement, *piece)).collect();
            placements.push(json!({"found": is_found, "rules": least, "places": places}));
        }
    }
    // Half of them where they are used, half anywhere.
    let cells = cells::cells(certificate, setting.kit);
    let mut witnesses: Vec<Value> = (0..WITNESSES)
        .filter_map(|i| {
            let cell = &cells[chance.below(cells.len())];
            let space = if i % 2 == 0 { &cell.space } else { draw.space };
            let witness = cell.witnesses[chance.below(cell.witnesses.len())];
            parts.witness(draw, space, &certificate.witnesses[witness], &mut chance)
        })
        .collect();
    // Points on two surfaces are rare.
    let on_surfaces = certificate.witnesses.iter().filter(|w| matches!(w.by, Ground::Gap(_)));
    let anywhere = |w| parts.witness(draw, draw.space, w, &mut chance);
    witnesses.extend(on_surfaces.take(WITNESSES).filter_map(anywhere));
    json!({
        "high": certificate.sense == Sense::High, "bound": certificate.bound_mm,
        "pairs": pairs, "tried": tried, "kept": kept,
        "placements": placements, "witnesses": witnesses,
    })
}

/// All certificates of one car top and kit, with the placements found.
struct Told<'t> {
    car: &'t CarTop,
    kit: &'t Kit,
    folder: &'t mut Folder,
    all: &'t mut Vec<Value>,
}

impl Told<'_> {
    fn add(
        &mut self,
        choice: &Choice,
        found: Option<&(Choice, Placement)>,
        certificate: &Certificate,
        about: &str,
    ) {
        let setting = Setting::new(self.car, self.kit, choice).unwrap();
        let found = found.filter(|(of, _)| of == choice).map(|(_, placement)| placement.clone());
        let draw = Draw { setting: &setting, space: &certificate.space, found };
        let (folder, known) = (&mut *self.folder, HashMap::new());
        let mut parts = Parts { setting: &setting, cup: choice.cup, folder, known };
        let mut told = drawn(&draw, certificate, &mut parts);
        told["about"] = json!(format!("{about} through {}", certificate.ports.join(" and ")));
        self.all.push(told);
    }
}

/// Those of a record.
fn of_record(told: &mut Told<'_>, record: &Record) {
    let (car, kit) = (told.car, told.kit);
    for fitting in &record.fittings {
        let index = car.fittings.iter().position(|f| f.name == fitting.name).unwrap();
        let found = placed(car, kit, fitting);
        for cup in &fitting.cups {
            let cup_index = kit.cups.iter().position(|c| c.name == cup.cup).unwrap();
            for certificate in &cup.certificates {
                let choice = recheck::choice(car, index, cup_index, certificate).unwrap();
                let about = format!("{} with cup {}", fitting.name, cup.cup);
                told.add(&choice, found.as_ref(), certificate, &about);
            }
        }
    }
}

/// Those of one random car top.
fn of_random(number: u64, folder: &mut Folder, all: &mut Vec<Value>) {
    let sample = sample_car::sample(number);
    let kit = sample_kit::kit(sample.across + 130.0, false);
    let study = {
        let scene = Scene::new(&sample.car, &kit).unwrap();
        study_cup(&scene, &EFFORT, sample.fitting, 1)
    };
    let found = study.choice.clone().zip(study.placement.clone());
    let mut told = Told { car: &sample.car, kit: &kit, folder, all };
    for (choice, proof) in &study.proofs {
        let certificate = Certificate::of(proof, choice, &sample.car).unwrap();
        told.add(choice, found.as_ref(), &certificate, &format!("sample {number}"));
    }
    folder.known.clear();
}

fn main() {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let path = PathBuf::from(arguments.last().unwrap());
    let mut folder = Folder { path: path.clone(), known: HashMap::new(), written: HashMap::new() };
    let mut all = Vec::new();
    match &arguments[..] {
        [record, case, kit, _] => {
            let record = std::fs::read_to_string(record).unwrap();
            let record: Record = serde_json::from_str(&record).unwrap();
            let car = intake::read_case(case.as_ref()).unwrap().car;
            let kit = intake::read_kit(kit.as_ref()).unwrap().kit;
            let mut told = Told { car: &car, kit: &kit, folder: &mut folder, all: &mut all };
            of_record(&mut told, &record);
        }
        [count, _] => {
            for number in 0..count.parse().unwrap() {
                of_random(number, &mut folder, &mut all);
            }
        }
        _ => panic!("usage: drawn RECORD CASE KIT FOLDER, or drawn COUNT FOLDER"),
    }
    std::fs::write(path.join("drawn.json"), Value::from(all).to_string()).unwrap();
}
