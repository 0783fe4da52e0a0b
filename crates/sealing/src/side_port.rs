//! Stress where the side port's opening weakens the cup's wall.

use crate::fault::Faults;
use crate::{Cup, Fault};
use measure::{Area, Bounds, Length, Pressure, Stress};

/// The cup's side port: a bored boss square to the wall.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SidePort {
    /// Bore.
    pub bore: Bounds<Length>,
    /// Outside diameter of the boss.
    pub boss: Bounds<Length>,
    /// From the wall's outside to the boss's face.
    pub reach: Bounds<Length>,
    /// Plain wall beside the boss: to the crown's underside or to the rim, whichever is nearer.
    pub clear: Bounds<Length>,
}

impl SidePort {
    /// What is wrong with it, on this cup.
    pub fn faults(&self, cup: &Cup) -> Vec<Fault> {
        let mut faults = Faults::default();
        faults.positive("side port bore", self.bore);
        faults.positive("side port boss", self.boss);
        faults.not_negative("side port reach", self.reach);
        faults.finite("plain wall beside the side port", self.clear);
        let remedy = "the bore leaves no boss: check both";
        faults.below("side port bore", self.bore, self.boss, remedy);
        let remedy = "the port is narrower than the cup: check both";
        faults.below("side port bore", self.bore, cup.inside, remedy);
        faults.gathered()
    }

    /// How far the wall along a cylinder takes part: `sqrt((Di + t) t)`.
    fn along_wall(cup: &Cup) -> Bounds<Length> {
        ((cup.inside + cup.wall) * cup.wall).sqrt()
    }

    /// Fault: less plain wall beside the boss than `max(0.2 sqrt((Di + t) t), 3 t)`, where crown or
    /// rim disturb what the areas say. EN 13445-3, 9.7.2.1, for an opening beside a flat end (from
    /// memory).
    pub fn beside_an_end(&self, cup: &Cup) -> Result<(), Fault> {
        let fifth = Self::along_wall(cup) * Bounds::within(0.2, f64::EPSILON);
        let least = fifth.max(cup.wall * 3.0);
        if self.clear.low() >= least.high() {
            return Ok(());
        }
        let most = (least.high().mm() * 100.0).ceil() / 100.0;
        Err(Fault::out_of_range(
            "plain wall beside the side port",
            self.clear,
            format!(
                "the areas' rule wants {most:.2} mm to crown and rim: have it calculated closer"
            ),
        ))
    }

    /// Mean stress in the wall and boss next to the opening, by areas: `p (Ap / Af + 1/2)`. `Ap` is
    /// the area under pressure and `Af` the area of metal in the plane through both axes, within
    /// `sqrt((Di + t) t)` of the boss along the wall, or the plain wall where that is less, and `sqrt((d - b) b)` along the boss of
    /// thickness `b`, or the boss's reach where that is less. EN 13445-3, 9.5 (from memory).
    /// Without an opening it is a shell's `p (Di / (2 t) + 1/2)`.
    ///
    /// For one port in a cylinder, no nearer to rim and crown than [`SidePort::beside_an_end`] says;
    /// load from the piping is left out.
    pub fn stress(&self, cup: &Cup, pressure: Bounds<Pressure>) -> Bounds<Stress> {
        let radius = cup.inside / 2.0;
        let thick = (self.boss - self.bore) / 2.0;
        let none = Bounds::exactly(Length::from_mm(0.0));
        let along_wall = Self::along_wall(cup).min(self.clear.max(none));
        let along_boss = ((self.boss - thick) * thick).sqrt().min(self.reach);
        let loaded: Bounds<Area> =
            radius * (along_wall + self.boss / 2.0) + self.bore * (along_boss + cup.wall) / 2.0;
        let metal: Bounds<Area> = cup.wall * along_wall + thick * (along_boss + cup.wall);
        pressure * (loaded / metal + Bounds::exactly(0.5))
    }
}
