//! Placements drawn by chance in the space of a certificate.

use crate::cells::options;
use crate::chance::Chance;
use assembly::Placement;
use measure::Angle;
use nalgebra::Vector2;
use recheck::Setting;
use review::proof::Space;

pub(crate) struct Draw<'d> {
    pub(crate) setting: &'d Setting<'d>,
    pub(crate) space: &'d Space,
    /// A placement that the program found, near which half of them are drawn.
    pub(crate) found: Option<Placement>,
}

impl Draw<'_> {
    /// One that may keep the tolerances: the bar level, its line over the cup. `None` where its line
    /// goes over the cup nowhere in the space, or the space leaves no room.
    pub(crate) fn likely(&self, chance: &mut Chance) -> Option<Placement> {
        let near = self.found.as_ref().filter(|_| chance.happens(0.5));
        let mut placement = match near {
            Some(near) => Self::beside(near, chance),
            None => self.anywhere(self.space, chance, &[]),
        };
        if near.is_none() {
            placement.link_hole[1] = placement.link_hole[0];
            placement.cup_offset *= chance.between(0.0, 1.0);
        }
        let lines = self.setting.lines(&placement)?;
        let across = Vector2::new(-lines.level.y, lines.level.x);
        let off = recheck::poses::off_line(lines.lower, lines.axis);
        let limit = self.setting.kit.rules.screw_offset;
        placement.cup_offset += across * (chance.between(-limit, limit) - off);
        let placement = self.seated(placement);
        self.holds(&placement).then_some(placement)
    }

    /// One anywhere in a space, with these options of these discrete variables.
    pub(crate) fn anywhere(
        &self,
        Space { low, high }: &Space,
        chance: &mut Chance,
        given: &[(usize, usize)],
    ) -> Placement {
        let kit = self.setting.kit;
        let v: [f64; 7] = std::array::from_fn(|k| chance.between(low[k], high[k]));
        let mut o = options(kit).map(|count| chance.below(count));
        for &(variable, option) in given {
            o[variable] = option;
        }
        self.seated(Placement {
            cup_offset: Vector2::new(v[0], v[1]),
            outlet_bearing: Angle::from_radians(v[2]),
            elbow_turn: kit.outlet.elbow_turns[o[0]],
            foot_shift: [v[3], v[4]],
            link_thickness: [[o[3], o[4]], [o[5], o[6]]],
            link_hole: [o[1], o[2]],
            bar_slide: v[5],
            screw_extension: 0.0,
            lid_opening: Angle::from_radians(v[6]),
        })
    }

    /// Near a placement, sometimes very: lengths by up to 4 mm.
    fn beside(near: &Placement, chance: &mut Chance) -> Placement {
        let size = 4.0 * chance.between(0.0, 1.0).powi(3);
        let mut by = |scale: f64| scale * chance.between(-size, size);
        let mut placement = near.clone();
        placement.cup_offset += Vector2::new(by(1.0), by(1.0));
        let turned = near.outlet_bearing.radians() + by(0.02);
        placement.outlet_bearing = Angle::from_radians(turned);
        placement.foot_shift = near.foot_shift.map(|s| s + by(1.0));
        placement.bar_slide += by(0.2);
        placement
    }

    /// The same with the screw's ball in the cup's seat.
    fn seated(&self, mut placement: Placement) -> Placement {
        if let Some(lines) = self.setting.lines(&placement) {
            placement.screw_extension = lines.to_seat();
        }
        placement
    }

    /// Whether a placement lies in the space, for any bearing: the space goes all round.
    fn holds(&self, p: &Placement) -> bool {
        let v = [p.cup_offset.x, p.cup_offset.y, p.foot_shift[0], p.foot_shift[1], p.bar_slide];
        let in_it = |(k, v): (usize, f64)| self.space.low[k] <= v && v <= self.space.high[k];
        [0, 1, 3, 4, 5].into_iter().zip(v).all(in_it)
    }
}
