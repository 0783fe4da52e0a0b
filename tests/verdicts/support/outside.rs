//! Looks for a way out of a proven "does not fit": cup offsets and bearings drawn by chance, with
//! cup and gasket against what cannot be taken off, and the bar's line and the screw's travel by
//! arithmetic.

use super::brute::{Found, Heap, Place, compare};
use super::chance::Chance;
use super::confirm::{Piece, car_pieces, covered};
use super::figures::{travel_left, travel_stack};
use super::poses;
use super::sample_car::Sample;
use assembly::car_top::{BodyId, LidState};
use assembly::kit::PartKind;
use assembly::placement::Removed;
use assembly::rig::RigPart;
use assembly::{Choice, Kit, Placement, parts};
use fitup::Part;
use measure::Angle;
use nalgebra::{Point2, Vector2, Vector3};
use recheck::Setting;

struct Hunt<'h> {
    sample: &'h Sample,
    kit: &'h Kit,
    fitting: usize,
    cup: usize,
    pieces: Vec<Piece>,
    /// The parts that have lately been in the way, last first.
    blockers: Vec<(usize, usize)>,
}

/// A cup offset and bearing at which nothing stands against the cup.
pub(crate) struct Free {
    pub(crate) offset: Vector2<f64>,
    pub(crate) bearing: f64,
    pub(crate) ports: [usize; 2],
}

/// Draws `count` offsets and bearings; half of them near `near`.
pub(crate) fn way_out(
    sample: &Sample,
    kit: &Kit,
    (fitting, cup): (usize, usize),
    near: Vector2<f64>,
    count: usize,
    chance: &mut Chance,
) -> Option<Free> {
    let car = &sample.car;
    let pairs = opposite(sample);
    let removed: Vec<Removed> = (0..car.fittings.len())
        .flat_map(|f| {
            (0..car.fittings[f].removables.len()).map(move |r| Removed { fitting: f, removable: r })
        })
        .collect();
    let opening = match &car.lid {
        LidState::Hinged(lid) => lid.stop.radians(),
        _ => 0.0,
    };
    let off = |id: BodyId| {
        removed.iter().any(|r| car.fittings[r.fitting].removables[r.removable].body == id)
            || car.ports.iter().any(|p| p.cover == Some(id))
    };
    let bodies: Vec<BodyId> = (0..car.bodies.len()).map(BodyId).filter(|id| !off(*id)).collect();
    let pieces = car_pieces(car, &bodies, opening);
    let mut hunt = Hunt { sample, kit, fitting, cup, pieces, blockers: Vec::new() };
    let reach = 0.5 * kit.cups[cup].inside_diameter.nominal;
    for i in 0..count {
        let (centre, reach) =
            if i % 2 == 0 { (Vector2::zeros(), reach) } else { (near, 0.1 * reach) };
        let offset =
            centre + Vector2::new(chance.between(-reach, reach), chance.between(-reach, reach));
        let bearing = chance.between(0.0, std::f64::consts::TAU);
        if !hunt.in_cavity(offset) {
            continue;
        }
        let Some(&ports) = pairs.iter().find(|ports| hunt.clamp_reaches(**ports, offset)) else {
            continue;
        };
        if !hunt.blocked(offset, bearing) {
            return Some(Free { offset, bearing, ports });
        }
    }
    None
}

/// Pairs of ports that face more than a right angle and a third away from each other.
fn opposite(sample: &Sample) -> Vec<[usize; 2]> {
    let ports = &sample.car.ports;
    let mut pairs = Vec::new();
    for a in 0..ports.len() {
        for b in a + 1..ports.len() {
            let apart = (ports[a].facing.radians() - ports[b].facing.radians()).cos();
            if apart < -0.5 {
                pairs.push([a, b]);
            }
        }
    }
    pairs
}

impl Hunt<'_> {
    fn choice(&self, ports: [usize; 2]) -> Choice {
        Choice { fitting: self.fitting, cup: self.cup, ports, removed: Vec::new() }
    }

    fn axis(&self, offset: Vector2<f64>) -> Point2<f64> {
        self.sample.car.fittings[self.fitting].centre + offset
    }

    /// Whether the fitting may lie within the cavity, deviations taken in its favour.
    fn in_cavity(&self, offset: Vector2<f64>) -> bool {
        let cup = &self.kit.cups[self.cup];
        let gasket = poses::gasket_under(self.kit, cup);
        let axis = self.axis(offset);
        let need = self.kit.rules.need(PartKind::Cup, PartKind::Fitting);
        let choice = self.choice([0, 0]);
        self.pieces.iter().all(|piece| {
            let Part::Car(id) = piece.part else { return true };
            if !covered(&self.sample.car, &choice, id) {
                return true;
            }
            let radius = 0.5 * (cup.inside_diameter.nominal + cup.inside_diameter.tolerance);
            let height = poses::rim(gasket)
                + gasket.thickness.tolerance
                + gasket.groove_depth.tolerance
                + cup.inside_height.nominal
                + cup.inside_height.tolerance;
            piece.heap.points().all(|p| {
                (p.x - axis.x).hypot(p.y - axis.y) + need <= radius + piece.deviation
                    && p.z + need <= height + piece.deviation
            })
        })
    }

    /// Whether some foot shifts and holes bring the bar's line to the cup's axis with travel left,
    /// deviations taken in their favour.
    fn clamp_reaches(&self, ports: [usize; 2], offset: Vector2<f64>) -> bool {
        let (car, kit) = (&self.sample.car, self.kit);
        let axis = self.axis(offset);
        let play = ports.map(|p| car.ports[p].deviation).into_iter().fold(0.0, f64::max);
        let need = kit.rules.need(PartKind::Foot, PartKind::Housing);
        let limit = ports.map(|p| {
            let port = &car.ports[p];
            0.5 * (port.width - kit.foot.width.nominal) - need
                + port.deviation
                + super::figures::beside_off(kit, ports.map(|p| &car.ports[p]))
        });
        (-8..=8).any(|i| {
            let a = limit[0] * f64::from(i) / 8.0;
            let foot_a = poses::lower_pin(kit, car, ports[0], a);
            let b =
                opposite_shift(kit, self.sample, ports[1], foot_a, axis).clamp(-limit[1], limit[1]);
            let feet = [foot_a, poses::lower_pin(kit, car, ports[1], b)];
            // The foot turns in its port with the bar's line and takes up more of its width.
            let beside = |i: usize, shift: f64| {
                let flat = Vector2::new(feet[0].x - feet[1].x, feet[0].y - feet[1].y).normalize();
                let facing = car.ports[ports[i]].facing.radians();
                let sin = (flat.y * facing.cos() - flat.x * facing.sin()).abs();
                let cos = (1.0 - sin * sin).sqrt();
                let (w, d) = (0.5 * kit.foot.width.nominal, 0.5 * kit.foot.depth.nominal);
                shift.abs() + w * cos + d * sin <= limit[i] + w
            };
            limit.iter().all(|l| *l >= 0.0)
                && beside(0, a)
                && beside(1, b)
                && poses::off_line(feet, axis).abs() <= kit.rules.screw_offset + play
                && self.travels(ports, offset, [a, b], play)
        })
    }

    fn travels(&self, ports: [usize; 2], offset: Vector2<f64>, shift: [f64; 2], play: f64) -> bool {
        let (car, kit) = (&self.sample.car, self.kit);
        let choice = self.choice(ports);
        let setting = Setting::new(car, kit, &choice).unwrap();
        let count = kit.link.holes.len();
        (0..count * count).any(|hole| {
            let mut placement = Placement {
                cup_offset: offset,
                outlet_bearing: Angle::ZERO,
                elbow_turn: Angle::ZERO,
                foot_shift: shift,
                link_thickness: [[0; 2]; 2],
                link_hole: [hole / count, hole % count],
                bar_slide: 0.0,
                screw_extension: 0.0,
                lid_opening: Angle::ZERO,
            };
            let lines = setting.lines(&placement).unwrap();
            placement.screw_extension = lines.to_seat();
            let rise = (lines.upper[0].z - lines.upper[1].z).abs();
            rise <= kit.rules.bar_level + 2.0 * play
                && travel_left(kit, &placement) + travel_stack(&self.sample.car, kit, &choice)
                    >= 0.0
        })
    }

    fn blocked(&mut self, offset: Vector2<f64>, bearing: f64) -> bool {
        let axis = self.axis(offset);
        let (sin, cos) = bearing.sin_cos();
        let turn = nalgebra::Matrix3::new(cos, -sin, 0.0, sin, cos, 0.0, 0.0, 0.0, 1.0);
        let at = Vector3::new(axis.x, axis.y, 0.0);
        let (still, turned) = (Place::new(nalgebra::Matrix3::identity(), at), Place::new(turn, at));
        let cup = &self.kit.cups[self.cup];
        let plate = self.sample.car.body(self.sample.car.plate).body.deviation.bound;
        let rig = [RigPart::Gasket, RigPart::Cup, RigPart::SidePort].map(|part| {
            let place = if part == RigPart::SidePort { &turned } else { &still };
            let body = parts::body(self.kit, cup, [[0; 2]; 2], part).unwrap();
            (part, Heap::new(&body.mesh, place), body.deviation.bound + plate)
        });
        let against = |(r, c): (usize, usize)| {
            let ((part, heap, deviation), piece) = (&rig[r], &self.pieces[c]);
            if *part == RigPart::Gasket && piece.kind == PartKind::Plate {
                return false;
            }
            let need = self.kit.rules.need(part.kind(), piece.kind);
            let found = compare(heap, &piece.heap, need);
            found == Found::Overlap || found.distance() + deviation + piece.deviation < need
        };
        // An overlap less than the deviations may be none.
        let surely = |pair: (usize, usize)| {
            if !against(pair) {
                return false;
            }
            let ((part, heap, deviation), piece) = (&rig[pair.0], &self.pieces[pair.1]);
            let need = self.kit.rules.need(part.kind(), piece.kind);
            need > deviation + piece.deviation
                || super::brute::sunk(heap, &piece.heap) + need > deviation + piece.deviation
        };
        if let Some(at) = self.blockers.iter().position(|pair| surely(*pair)) {
            let pair = self.blockers.remove(at);
            self.blockers.insert(0, pair);
            return true;
        }
        let all = (0..3).flat_map(|r| (0..self.pieces.len()).map(move |c| (r, c)));
        let fresh: Vec<_> = all.filter(|pair| !self.blockers.contains(pair)).collect();
        match fresh.into_iter().find(|pair| surely(*pair)) {
            Some(pair) => {
                self.blockers.insert(0, pair);
                true
            }
            None => false,
        }
    }
}

/// The shift of the second foot that brings the line from the first foot through a point.
fn opposite_shift(
    kit: &Kit,
    sample: &Sample,
    port: usize,
    foot: Vector3<f64>,
    through: Point2<f64>,
) -> f64 {
    let middle = poses::lower_pin(kit, &sample.car, port, 0.0);
    let facing = sample.car.ports[port].facing.radians();
    let tangent = Vector2::new(-facing.sin(), facing.cos());
    let way = Vector2::new(through.x - foot.x, through.y - foot.y);
    let from = Vector2::new(foot.x - middle.x, foot.y - middle.y);
    let denominator = tangent.perp(&way);
    if denominator.abs() < 1e-9 { 0.0 } else { from.perp(&way) / denominator }
}

/// The rig at a way out, for the fault's message.
pub(crate) fn describe(free: &Free) -> String {
    format!("free at {:?}, bearing {:.3}, ports {:?}", free.offset, free.bearing, free.ports)
}
