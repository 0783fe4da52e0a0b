//! Writes down placements drawn by chance for each certificate of a record, for
//! `tests/outside/certificates/run`.
//!
//!     drawn RECORD CASE KIT FOLDER
//!
//! FOLDER/N.obj is a part's mesh in its own frame; FOLDER/drawn.json holds for each certificate the
//! pairs of parts between which a gap is asked for, the placements as the poses of the re-check, and
//! single witnesses, each at a placement of its own. Lengths are millimetres.

#![expect(clippy::unwrap_used, reason = "a program of the checks stops where its set-up fails")]

#[path = "../../verdicts/support/chance.rs"]
mod chance;
mod draw;

use assembly::rig::RigPart;
use assembly::{CarTop, Choice, Kit, Placement};
use chance::Chance;
use draw::Draw;
use recheck::{Piece, Setting};
use review::proof::{Certificate, Ground, Sense, Witness};
use review::record::{Fitting, Record};
use serde_json::{Value, json};
use solids::Mesh;
use std::collections::HashMap;
use std::fmt::Write as _;
use std::path::PathBuf;

/// Draws for a certificate at the most, and the placements that are enough.
const TRIES: usize = 400;
const ENOUGH: usize = 12;
/// Witnesses drawn of a certificate.
const WITNESSES: usize = 8;
/// Placements on which a placing rule leaves this much less than the bound need no measuring, mm.
const BELOW: f64 = 1.0;

/// A part's solid: the part, the cup, the links' thicknesses.
type Key = (Piece, usize, [[usize; 2]; 2]);

/// Meshes written, by their part and by their text.
struct Folder {
    path: PathBuf,
    known: HashMap<Key, usize>,
    written: HashMap<String, usize>,
}

impl Folder {
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
    known: HashMap<(Piece, [[usize; 2]; 2]), (usize, f64)>,
}

impl Parts<'_> {
    fn place(&mut self, placement: &Placement, piece: Piece) -> Value {
        let thickness = match piece {
            Piece::Rig(_) => placement.link_thickness,
            Piece::Car(_) => [[0; 2]; 2],
        };
        let (setting, folder) = (self.setting, &mut self.folder);
        let key = match piece {
            Piece::Rig(_) => (piece, self.cup, thickness),
            Piece::Car(_) => (piece, 0, thickness),
        };
        let (mesh, deviation) = *self.known.entry((piece, thickness)).or_insert_with(|| {
            let body = setting.body(piece, thickness).unwrap();
            (folder.write(key, &body.mesh), setting.deviation(piece, &body))
        });
        let place = setting.place(placement, piece).unwrap();
        let turn: Vec<f64> = place.turn.transpose().iter().copied().collect();
        json!({"mesh": mesh, "deviation": deviation, "turn": turn, "shift": place.shift.as_slice()})
    }

    fn witness(&mut self, draw: &Draw<'_>, witness: &Witness, chance: &mut Chance) -> Option<Value> {
        let (names, mut told) = match &witness.by {
            Ground::Gap(g) => ([&g.a, &g.b], json!({"points": [g.on_a, g.on_b], "depth": 0.0})),
            Ground::Overlap(o) => (
                [&o.a, &o.b],
                json!({"points": [o.on_a, o.on_b], "depth": o.depth, "across": o.across}),
            ),
            Ground::Rule(_) => return None,
        };
        let placement = draw.anywhere(chance, &witness.given);
        let pieces = pieces(self.setting);
        let of = |name: &String| pieces.iter().find(|(_, n)| n == name).unwrap().0;
        told["places"] = names.map(|name| self.place(&placement, of(name))).into();
        told["names"] = json!(names);
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

/// The fitting's placement, if it is one of the certificate's choice and was found for the cup.
fn found(
    car: &CarTop,
    kit: &Kit,
    fitting: &Fitting,
    cup: &str,
    choice: &Choice,
) -> Option<Placement> {
    let placed = fitting.placement.as_ref().filter(|_| fitting.cup.as_deref() == Some(cup))?;
    let mut off: Vec<_> = fitting.removed.iter().map(|r| (&r.fitting, &r.piece)).collect();
    let named = choice.removed.iter().map(|r| {
        let of = &car.fittings[r.fitting];
        (&of.name, &of.removables[r.removable].name)
    });
    let mut named: Vec<_> = named.collect();
    off.sort();
    named.sort();
    let ports = choice.ports.map(|p| &car.ports[p].name);
    (off == named && ports == [&placed.ends[0].port, &placed.ends[1].port])
        .then(|| recheck::placement_of(kit, placed))?
}

fn drawn(draw: &Draw<'_>, certificate: &Certificate, parts: &mut Parts<'_>) -> Value {
    let mut chance = Chance::new(certificate.bound_mm.to_bits());
    let setting = draw.setting;
    let pieces = pieces(setting);
    let mut pairs = Vec::new();
    for (i, (a, _)) in pieces.iter().enumerate() {
        for (j, (b, _)) in pieces.iter().enumerate().skip(i + 1) {
            let one_moves = matches!(a, Piece::Rig(_));
            if one_moves && setting.contact(*a, *b).is_none() {
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
        if least > certificate.bound_mm - BELOW {
            let places: Vec<Value> =
                pieces.iter().map(|(piece, _)| parts.place(&placement, *piece)).collect();
            placements.push(json!({"found": is_found, "rules": least, "places": places}));
        }
    }
    let count = certificate.witnesses.len();
    let witnesses: Vec<Value> = (0..WITNESSES.min(count))
        .filter_map(|_| {
            parts.witness(draw, &certificate.witnesses[chance.below(count)], &mut chance)
        })
        .collect();
    let names: Vec<&String> = pieces.iter().map(|(_, name)| name).collect();
    json!({
        "high": certificate.sense == Sense::High, "bound": certificate.bound_mm,
        "names": names, "pairs": pairs, "tried": tried, "kept": kept,
        "placements": placements, "witnesses": witnesses,
    })
}

fn main() {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let [record, case, kit, folder] = &arguments[..] else {
        panic!("usage: drawn RECORD CASE KIT FOLDER")
    };
    let record: Record = serde_json::from_str(&std::fs::read_to_string(record).unwrap()).unwrap();
    let car = intake::read_case(case.as_ref()).unwrap().car;
    let kit = intake::read_kit(kit.as_ref()).unwrap().kit;
    let path = PathBuf::from(folder);
    let mut folder = Folder { path: path.clone(), known: HashMap::new(), written: HashMap::new() };
    let mut all = Vec::new();
    for fitting in &record.fittings {
        let index = car.fittings.iter().position(|f| f.name == fitting.name).unwrap();
        for cup in &fitting.cups {
            let cup_index = kit.cups.iter().position(|c| c.name == cup.cup).unwrap();
            for certificate in &cup.certificates {
                let choice = recheck::choice(&car, index, cup_index, certificate).unwrap();
                let setting = Setting::new(&car, &kit, &choice).unwrap();
                let found = found(&car, &kit, fitting, &cup.cup, &choice);
                let draw = Draw { setting: &setting, space: &certificate.space, found };
                let (folder, known) = (&mut folder, HashMap::new());
                let mut parts = Parts { setting: &setting, cup: cup_index, folder, known };
                let mut told = drawn(&draw, certificate, &mut parts);
                told["about"] = json!([fitting.name, cup.cup, certificate.ports]);
                all.push(told);
            }
        }
    }
    std::fs::write(path.join("drawn.json"), Value::from(all).to_string()).unwrap();
}
