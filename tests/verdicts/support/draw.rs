//! Placements drawn by chance against a proven bound: the placing rules by arithmetic and the poses
//! of the re-check, the gaps by the proximity engine, which is checked against other libraries where
//! it is made. Nothing of the search is used.

use super::chance::Chance;
use assembly::car_top::Port;
use assembly::rig::RigPart;
use assembly::{CarTop, Choice, Kit, Placement};
use fitup::search::witness::Sense;
use fitup::{Proof, Scene};
use gap::Solid;
use measure::Angle;
use nalgebra::{Isometry3, Rotation3, Translation3, UnitQuaternion, Vector2};
use recheck::brute::Place;
use recheck::{Piece, Setting};
use solids::Body;

struct Pair {
    a: Piece,
    b: Piece,
    need: f64,
}

pub(crate) struct Draw<'d> {
    car: &'d CarTop,
    kit: &'d Kit,
    scene: &'d Scene<'d>,
    setting: Setting<'d>,
    choice: &'d Choice,
    proof: &'d Proof,
    pairs: Vec<Pair>,
}

impl<'d> Draw<'d> {
    pub(crate) fn new(
        car: &'d CarTop,
        kit: &'d Kit,
        scene: &'d Scene<'d>,
        choice: &'d Choice,
        proof: &'d Proof,
    ) -> Self {
        let setting = Setting::new(car, kit, choice).unwrap();
        let rig: Vec<Piece> = RigPart::all(kit).into_iter().map(Piece::Rig).collect();
        let mut pairs = Vec::new();
        for (i, &a) in rig.iter().enumerate() {
            let others = rig[i + 1..].iter().copied();
            for b in others.chain(setting.present().map(Piece::Car)) {
                if setting.contact(a, b).is_none() {
                    pairs.push(Pair { a, b, need: setting.need(a, b) });
                }
            }
        }
        Self { car, kit, scene, setting, choice, proof, pairs }
    }

    /// A placement that is better than the bound, in words.
    pub(crate) fn better(
        &mut self,
        near: Option<&Placement>,
        count: usize,
        chance: &mut Chance,
    ) -> Option<String> {
        for i in 0..count {
            let placement = match near {
                Some(near) if i % 2 == 0 => self.beside(near, chance),
                _ => self.anywhere(chance),
            };
            if self.beats(&placement) {
                return Some(format!("{placement:?}"));
            }
        }
        None
    }

    /// The same with the outlet's bearing between two, radians.
    pub(crate) fn better_between(
        &mut self,
        [from, to]: [f64; 2],
        near: &Placement,
        count: usize,
        chance: &mut Chance,
    ) -> Option<String> {
        for i in 0..count {
            let mut placement =
                if i % 2 == 0 { self.beside(near, chance) } else { self.anywhere(chance) };
            placement.outlet_bearing = Angle::from_radians(chance.between(from, to));
            if self.beats(&placement) {
                return Some(format!("{placement:?}"));
            }
        }
        None
    }

    fn anywhere(&self, chance: &mut Chance) -> Placement {
        let (low, high) = (&self.proof.space.low, &self.proof.space.high);
        let mut draw = |k: usize| chance.between(low[k], high[k].max(low[k] + 1e-9));
        let numbers: [f64; 7] = std::array::from_fn(&mut draw);
        let link = &self.kit.link;
        let hole = chance.below(link.holes.len());
        let mut thick = || chance.below(link.thicknesses.len());
        let link_thickness = [[thick(), thick()], [thick(), thick()]];
        let turns = &self.kit.outlet.elbow_turns;
        let mut placement = Placement {
            cup_offset: Vector2::new(numbers[0], numbers[1]),
            outlet_bearing: Angle::from_radians(numbers[2]),
            elbow_turn: turns[chance.below(turns.len())],
            foot_shift: [numbers[3], numbers[4]],
            link_thickness,
            link_hole: [hole, hole],
            bar_slide: numbers[5],
            screw_extension: 0.0,
            lid_opening: Angle::from_radians(numbers[6]),
        };
        self.under_the_bar(&mut placement, chance);
        placement
    }

    /// Near a placement, sometimes very.
    fn beside(&self, near: &Placement, chance: &mut Chance) -> Placement {
        let size = 8.0 * chance.between(0.0, 1.0).powi(3);
        let mut by = |scale: f64| scale * chance.between(-size, size);
        let mut placement = near.clone();
        placement.cup_offset += Vector2::new(by(1.0), by(1.0));
        let turned = near.outlet_bearing.radians() + by(0.02);
        placement.outlet_bearing = Angle::from_radians(turned);
        placement.foot_shift = near.foot_shift.map(|s| s + by(1.0));
        placement.bar_slide += by(0.2);
        self.under_the_bar(&mut placement, chance);
        placement
    }

    /// Moves the cup across the bar's line to within what the rule allows, and seats the screw.
    fn under_the_bar(&self, placement: &mut Placement, chance: &mut Chance) {
        let Some(lines) = self.setting.lines(placement) else { return };
        let across = Vector2::new(-lines.level.y, lines.level.x);
        let off = recheck::poses::off_line(lines.lower, lines.axis);
        let limit = self.kit.rules.screw_offset;
        placement.cup_offset += across * (chance.between(-limit, limit) - off);
        if let Some(lines) = self.setting.lines(placement) {
            placement.screw_extension = lines.to_seat();
        }
    }

    /// Whether every margin, at the proof's end, is above its bound, and every rule kept.
    fn beats(&mut self, placement: &Placement) -> bool {
        const SAME: f64 = 1e-6;
        let bound = self.proof.claim() + SAME;
        // Where nothing fits, a placement is better only if it fits.
        let bound = if self.proof.sense == Sense::High { bound.max(0.0) } else { bound };
        let sign = if self.proof.sense == Sense::High { 1.0 } else { -1.0 };
        if !self.keeps_the_rules(placement, sign, bound) {
            return false;
        }
        let short = self.pairs.iter().position(|pair| !self.clears(pair, placement, sign, bound));
        match short {
            Some(at) => {
                let pair = self.pairs.remove(at);
                self.pairs.insert(0, pair);
                false
            }
            None => true,
        }
    }

    fn clears(&self, pair: &Pair, placement: &Placement, sign: f64, bound: f64) -> bool {
        let posed = |piece: Piece| -> Option<(&Solid, f64, Isometry3<f64>)> {
            let (solid, body): (&Solid, &Body) = match piece {
                Piece::Car(id) => (self.scene.car_solid(id), &self.car.body(id).body),
                Piece::Rig(part) => {
                    let shape = Scene::shape_of(part, self.choice, placement);
                    let shaped = self.scene.shape(shape)?;
                    (&shaped.solid, &shaped.body)
                }
            };
            let place = self.setting.place(placement, piece)?;
            Some((solid, self.setting.deviation(piece, body), isometry(&place)))
        };
        let (Some(a), Some(b)) = (posed(pair.a), posed(pair.b)) else { return true };
        let need = bound + pair.need - sign * (a.1 + b.1);
        let pose = a.2.inv_mul(&b.2);
        if need > 0.0 {
            return gap::clears(a.0, b.0, &pose, need) != Some(false);
        }
        // An overlap may count as none within the deviations.
        gap::least_depth(a.0, b.0, &pose, -need).is_none_or(|(depth, _)| depth < -need)
    }

    /// The rules that any placement drawn here may break.
    fn keeps_the_rules(&self, placement: &Placement, sign: f64, bound: f64) -> bool {
        let (kit, rules) = (self.kit, &self.kit.rules);
        let Some(lines) = self.setting.lines(placement) else { return false };
        let ports: [&Port; 2] = self.setting.ports;
        let play = self.setting.play();
        let kept = |limit: f64, figure: f64, off: f64| limit - figure + sign * off >= 0.0;
        let offset = recheck::poses::off_line(lines.lower, lines.axis).abs();
        let rise = (lines.upper[0].z - lines.upper[1].z).abs();
        let walls = 0.5 * (ports[0].wall - ports[1].wall);
        let difference = (2.0 * placement.bar_slide - walls).abs();
        if !kept(rules.screw_offset, offset, play)
            || !kept(rules.bar_level, rise, self.setting.rise_off(placement.link_hole))
            || !kept(rules.overhang_difference, difference, play)
        {
            return false;
        }
        let used = placement.screw_extension - kit.screw.retracted.nominal;
        let left = used.min(kit.screw.travel.nominal - used);
        let stack = super::figures::travel_stack(self.car, kit, self.choice);
        if left + sign * stack <= bound {
            return false;
        }
        for (i, port) in ports.iter().enumerate() {
            let outward = if i == 0 { lines.level } else { -lines.level };
            let (fs, fc) = port.facing.radians().sin_cos();
            let sin = (fc * outward.y - fs * outward.x).abs();
            let half = 0.5 * kit.foot.width.nominal;
            let limit = half * rules.foot_skew.radians().sin();
            if !kept(limit, half * sin, self.setting.askew()) {
                return false;
            }
            let cos = (1.0 - sin * sin).max(0.0).sqrt();
            let reach = half * cos + 0.5 * kit.foot.depth.nominal * sin;
            let need = rules.need(assembly::kit::PartKind::Foot, assembly::kit::PartKind::Housing);
            let beside = 0.5 * port.width - placement.foot_shift[i].abs() - reach - need;
            if beside + sign * (port.deviation + self.setting.beside()) <= bound {
                return false;
            }
            let above = port.height - kit.foot.height.nominal - need;
            if above + sign * (port.deviation + kit.foot.height.tolerance) <= bound {
                return false;
            }
            let outside = kit.link.thicknesses[placement.link_thickness[i][1]];
            let slid = if i == 0 { placement.bar_slide } else { -placement.bar_slide };
            let beyond = 0.5 * kit.bar.length.nominal + slid
                - 0.5 * (lines.span + kit.foot.depth.nominal)
                - outside.nominal
                - kit.bar.end.nominal;
            let off = play
                + 0.5 * (kit.bar.length.tolerance + kit.foot.depth.tolerance)
                + outside.tolerance
                + kit.bar.end.tolerance;
            if beyond + sign * off <= bound {
                return false;
            }
            let link = kit.link.holes[placement.link_hole[i]].nominal / lines.span;
            let off = self.setting.lean_off(placement.link_hole, i, rise);
            if !kept(rules.link_lean, rise * link, off) {
                return false;
            }
        }
        let cup = self.setting.cup;
        let need = rules.need(assembly::kit::PartKind::Cup, assembly::kit::PartKind::Fitting);
        let radius = 0.5 * cup.inside_diameter.nominal;
        let gasket = self.setting.gasket;
        let ring = 0.5 * (gasket.outside_diameter.nominal - gasket.inside_diameter.nominal);
        let off = 0.5 * (gasket.outside_diameter.tolerance + gasket.inside_diameter.tolerance);
        if ring - rules.land_seal_width + sign * off <= bound {
            return false;
        }
        let crown = self.setting.rim() + cup.inside_height.nominal;
        let stack = self.setting.plate()
            + cup.inside_height.tolerance
            + gasket.thickness.tolerance
            + gasket.groove_depth.tolerance;
        self.setting.present().filter(|id| self.setting.is_covered(*id)).all(|id| {
            let body = &self.car.body(id).body;
            let off = body.deviation.bound + 0.5 * cup.inside_diameter.tolerance;
            let out = body.mesh.vertices.iter().map(|v| (v.xy() - lines.axis).norm());
            let top = body.mesh.vertices.iter().map(|v| v.z).fold(f64::NEG_INFINITY, f64::max);
            radius - out.fold(0.0, f64::max) - need + sign * off > bound
                && crown - top - need + sign * (body.deviation.bound + stack) > bound
        })
    }
}

fn isometry(place: &Place) -> Isometry3<f64> {
    let rotation = Rotation3::from_matrix_unchecked(place.turn);
    Isometry3::from_parts(
        Translation3::from(place.shift),
        UnitQuaternion::from_rotation_matrix(&rotation),
    )
}
