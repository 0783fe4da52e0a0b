//! Power screws: from torque to load.
//!
//! Equations: Shigley, Mechanical Engineering Design, chapter 8 (8-1 to 8-6, from memory; the thread
//! stresses 8-10 to 8-12 as numbered in the ninth edition, read in a public copy in part); they
//! reproduce the published examples in `tests/worked/screws.rs`. A
//! thread with slanted flanks is a square one with its friction over the cosine of the flank's
//! angle; that the flank's angle is measured in the axial plane, not square to the helix, is
//! neglected as there.

use crate::fault::Faults;
use crate::numbers::{cos, hypot};
use crate::{Fault, Friction};
use measure::{Angle, Area, Bounds, Force, Length, SectionModulus, Stress, Torque};

/// The shape of a thread.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Profile {
    /// Flanks square to the axis.
    Square,
    /// Flanks with 30 degrees between them (ISO 2901).
    Trapezoidal,
    /// Flanks with 29 degrees between them (ASME B1.5).
    Acme,
}

impl Profile {
    /// The angle between a flank and the plane square to the axis.
    pub const fn flank(self) -> Angle {
        Angle::from_degrees(match self {
            Self::Square => 0.0,
            Self::Trapezoidal => 15.0,
            Self::Acme => 14.5,
        })
    }
}

/// How near to its basic form a thread is cut.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Cut {
    /// Mean diameter half a pitch below the outside diameter, root a whole pitch: the basic form,
    /// without clearance, as handbooks reckon.
    Basic,
    /// With the clearance and the tolerances of its standard, at their widest: general purpose Acme
    /// threads of class 2G (ASME B1.5); metric trapezoidal threads (ISO 2904, whose tolerances in classes up to
    /// 9 lie within the Acme ones); square threads, which no standard has, as Acme ones. All from memory.
    Made,
}

/// A power screw's thread.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Thread {
    /// Its shape.
    pub profile: Profile,
    /// Outside diameter.
    pub diameter: Bounds<Length>,
    /// Distance from one ridge to the next along the axis.
    pub pitch: Bounds<Length>,
    /// How many helices run side by side, at least 1.
    pub starts: u8,
    /// How near to its basic form it is cut.
    pub cut: Cut,
}

impl Thread {
    /// What is wrong with it: sizes not above zero, a pitch that leaves no root, no start.
    pub fn faults(&self) -> Vec<Fault> {
        let mut faults = Faults::default();
        faults.positive("thread diameter", self.diameter);
        faults.positive("thread pitch", self.pitch);
        faults.below(
            "thread pitch",
            self.pitch,
            self.diameter,
            "the pitch leaves no root: check both",
        );
        if self.starts == 0 {
            faults.push(Fault::out_of_range("thread starts", 0, "a thread has one start or more"));
        }
        let root = self.root_diameter();
        if self.pitch.high() < self.diameter.low() {
            faults.positive("root diameter of the thread", root);
        }
        faults.gathered()
    }

    /// The tolerance of a 2G thread's mean diameter, `0.030 sqrt(p) + 0.006 sqrt(d)` inches, and the allowance
    /// above it, `0.008 sqrt(d)`: with pitch and outside diameter in inches (ASME B1.5, from memory).
    fn tolerance_and_allowance(&self) -> [Bounds<Length>; 2] {
        let inch = Bounds::exactly(Length::from_mm(25.4));
        let [of_pitch, of_diameter] = [self.pitch, self.diameter].map(|l| (l * inch).sqrt());
        [of_pitch * 0.030 + of_diameter * 0.006, of_diameter * 0.008]
    }

    /// What may be missing of the mean diameter, and of the root's, below the basic form.
    fn short(&self) -> [Bounds<Length>; 2] {
        let none = Length::from_mm(0.0);
        if self.cut == Cut::Basic {
            return [Bounds::exactly(none); 2];
        }
        let clearance = match self.profile {
            // 0.020 in for 10 threads to the inch and coarser, half of that for finer ones.
            Profile::Square | Profile::Acme => 0.508,
            // Twice 0.25, 0.5 and 1 mm for pitches up to 5, up to 12 and beyond.
            Profile::Trapezoidal if self.pitch.high() <= Length::from_mm(5.0) => 0.5,
            Profile::Trapezoidal if self.pitch.high() <= Length::from_mm(12.0) => 1.0,
            Profile::Trapezoidal => 2.0,
        };
        let [tolerance, allowance] = self.tolerance_and_allowance();
        let root = Bounds::exactly(Length::from_mm(clearance)) + tolerance * 1.5;
        [allowance + tolerance, root].map(|most| Bounds::between(none, most.high()))
    }

    /// How far a turn carries.
    pub fn lead(&self) -> Bounds<Length> {
        self.pitch * f64::from(self.starts)
    }

    /// Mean diameter.
    pub fn mean_diameter(&self) -> Bounds<Length> {
        let [short, _] = self.short();
        self.diameter - self.pitch * 0.5 - short
    }

    /// Diameter at the root.
    pub fn root_diameter(&self) -> Bounds<Length> {
        let [_, short] = self.short();
        self.diameter - self.pitch - short
    }

    /// Cross-section at the root.
    pub fn root_area(&self) -> Bounds<Area> {
        let root = self.root_diameter();
        Bounds::PI * (root * root) / 4.0
    }

    /// Torsional section modulus at the root: the shear stress is the torque over it.
    pub fn root_torsion(&self) -> Bounds<SectionModulus> {
        let root = self.root_diameter();
        Bounds::PI * (root * (root * root)) / 16.0
    }

    /// Rise over run on the mean diameter.
    fn slope(&self) -> Bounds<f64> {
        self.lead() / (Bounds::PI * self.mean_diameter())
    }

    /// Friction as it acts on the slanted flanks.
    fn flank_friction(&self, friction: Friction) -> Bounds<f64> {
        friction.range() / cos(self.profile.flank().radians())
    }

    /// Torque for each unit of load while the load is raised, the thread's share alone: a length.
    ///
    /// `T / W = (l / pi + dm f') / 2 / (1 - s f')`, which is `dm / 2 * (s + f') / (1 - s f')`, with the slope `s = l / (pi dm)` and the flank
    /// friction `f' = f / cos a` (Shigley 8-5). Fault: friction so great that the thread jams,
    /// `s f' >= 1`.
    pub fn raising_arm(&self, friction: Friction) -> Result<Bounds<Length>, Fault> {
        let (slope, friction) = (self.slope(), self.flank_friction(friction));
        let left = Bounds::exactly(1.0) - slope * friction;
        if left.low() <= 0.0 {
            return Err(Fault::out_of_range(
                "thread friction",
                friction,
                "a thread this steep jams at this friction: check lead and friction",
            ));
        }
        // Both slope and friction raise the numerator and lower the denominator: no width is lost.
        Ok((self.lead() / Bounds::PI + self.mean_diameter() * friction) / left / 2.0)
    }

    /// Torque for each unit of load while the load is let down, the thread's share alone: a length,
    /// negative where the load drives the screw by itself.
    ///
    /// `T / W = dm / 2 * (f' - s) / (1 + s f')` (Shigley 8-2 with 8-5's flank).
    pub fn lowering_arm(&self, friction: Friction) -> Bounds<Length> {
        let (slope, friction) = (self.slope(), self.flank_friction(friction));
        let at = |s: Bounds<f64>, f: Bounds<f64>| (f - s) / (Bounds::exactly(1.0) + s * f);
        let ([flat, steep], [slick, rough]) = (slope.ends(), friction.ends());
        self.mean_diameter() * at(steep, slick).hull(at(flat, rough)) / 2.0
    }

    /// Flank friction over slope: above 1 the thread holds its load by itself (Shigley 8-3).
    pub fn self_locking(&self, friction: Friction) -> Bounds<f64> {
        self.flank_friction(friction) / self.slope()
    }

    /// Share of the work that reaches the load: `l / (2 pi T / W)`, of the whole arm of torque over
    /// load, thread and pivot together (Shigley 8-4).
    pub fn efficiency(&self, arm: Bounds<Length>) -> Bounds<f64> {
        self.lead() / (Bounds::PI * arm * 2.0)
    }

    /// Number of ridges that a nut of length `engaged` holds.
    fn ridges(&self, engaged: Bounds<Length>) -> Bounds<f64> {
        engaged / self.pitch
    }

    /// What the ridge that carries most has to bear over an even share of the load, in a nut of length
    /// `engaged`: the first carries 0.38 of all by experiments (Shigley 8-2, read in a public copy),
    /// and no less than its even share, so `max(1, 0.38 n)`.
    pub fn crowding(&self, engaged: Bounds<Length>) -> Bounds<f64> {
        let first = Bounds::within(0.38, f64::EPSILON);
        Bounds::exactly(1.0).max(self.ridges(engaged) * first)
    }

    /// Bending stress at the root of the screw's ridges when all `n` in a nut of length `engaged`
    /// carry alike: `6 W / (pi dr n p)`, a cantilever half a pitch deep pressed in its middle
    /// (Shigley 8-11). Times [`Thread::crowding`] it is the first ridge's.
    pub fn ridge_bending(&self, load: Bounds<Force>, engaged: Bounds<Length>) -> Bounds<Stress> {
        load * 3.0 / self.strip_area(engaged)
    }

    /// The same at the root of the nut's ridges, on the screw's outside diameter.
    pub fn nut_ridge_bending(
        &self,
        load: Bounds<Force>,
        engaged: Bounds<Length>,
    ) -> Bounds<Stress> {
        load * 3.0 / self.nut_strip_area(engaged)
    }

    /// Greatest difference of two principal stresses at the root of a ridge next to the nut (Tresca):
    /// the ridge's bending `x` across the screw, and in its body the axial stress `a` with the shear
    /// `t` of twisting, `x + a / 2 + sqrt(a^2 / 4 + t^2)` (Shigley, the state of stress after 8-12).
    pub fn root_stress(
        &self,
        bending: Bounds<Stress>,
        load: Bounds<Force>,
        torque: Bounds<Torque>,
    ) -> Bounds<Stress> {
        let half = load / self.root_area() / 2.0;
        bending + half + hypot(half, torque / self.root_torsion())
    }

    /// Area on which the flanks bear in a nut of length `engaged`: `pi dm (p / 2) n`, as Shigley
    /// 8-10 takes it, all ridges bearing alike.
    pub fn bearing_area(&self, engaged: Bounds<Length>) -> Bounds<Area> {
        Bounds::PI * (self.mean_diameter() * self.pitch) * self.ridges(engaged) / 2.0
    }

    /// Area at the root of the screw's ridges, which is sheared when they strip in a nut of length
    /// `engaged`: `pi dr (p / 2) n` (Shigley 8-12; the greatest shear is 3/2 of the even one).
    pub fn strip_area(&self, engaged: Bounds<Length>) -> Bounds<Area> {
        Bounds::PI * (self.root_diameter() * self.pitch) * self.ridges(engaged) / 2.0
    }

    /// The same at the outside of the screw, which is sheared when the nut's ridges strip:
    /// `pi d (p / 2) n`.
    pub fn nut_strip_area(&self, engaged: Bounds<Length>) -> Bounds<Area> {
        Bounds::PI * (self.diameter * self.pitch) * self.ridges(engaged) / 2.0
    }
}
