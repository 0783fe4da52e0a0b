//! The ways in which a rig may fail to hold, each with its formula and source.

use crate::{End, Fault};
use measure::Bounds;
use std::fmt;

/// One way in which a rig may fail.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum ModeKind {
    /// One side of the gasket lifts because the screw is off the cup's axis.
    Lift,
    /// The gasket is pressed harder than it bears.
    Crushing,
    /// The cup's wall yields.
    CupWall,
    /// The cup's crown yields.
    CupCrown,
    /// The cup yields next to its side port.
    CupPort,
    /// The screw's tip is pressed into the cup's seat.
    Seat,
    /// The hand cannot give the torque.
    Hand,
    /// The handle's rod yields.
    HandleRod,
    /// The screw turns back by itself.
    TurnsBack,
    /// The thread's flanks are pressed too hard.
    ThreadBearing,
    /// The thread strips.
    ThreadStrip,
    /// A ridge of the thread yields at its root.
    ThreadBending,
    /// The screw yields under load and torque together.
    ScrewBody,
    /// The screw bows out.
    ScrewColumn,
    /// The block bends.
    BlockBending,
    /// The block is pressed into the rails.
    BlockBearing,
    /// A rail yields in bending.
    RailBending,
    /// A rail yields in shear.
    RailShear,
    /// A rail yields in twisting, pressed beside its middle.
    RailTwist,
    /// The bar rolls aside over the ball: told of only where the saddles are not known to hold the links.
    Roll,
    /// The saddle is pressed into the rails.
    SaddleBearing,
    /// The saddle's top bends.
    SaddleTopBending,
    /// The saddle's top is sheared.
    SaddleTopShear,
    /// The saddle's stem yields.
    StemYield,
    /// The saddle's stem breaks beside the pin.
    StemRupture,
    /// The pin tears out of the saddle's stem.
    StemTearOut,
    /// The pin is pressed into the saddle's stem.
    StemBearing,
    /// An upper pin is sheared.
    UpperPinShear,
    /// An upper pin bends.
    UpperPinBending,
    /// A link yields.
    LinkYield,
    /// A link breaks beside the pin.
    LinkRupture,
    /// A pin tears out of a link.
    LinkTearOut,
    /// A pin is pressed into a link.
    LinkBearing,
    /// A link yields beside the pin, which bears beside its middle.
    LinkBending,
    /// A lower pin is sheared.
    LowerPinShear,
    /// A lower pin bends.
    LowerPinBending,
    /// The lower pin is pressed into the foot.
    FootBearing,
    /// The foot bends over the sidewall.
    FootBending,
    /// The foot is pressed into the port's edge.
    PortEdge,
}

/// Name, formula (what may not exceed what), source.
type Words = (&'static str, &'static str, &'static str);

const STATICS: &str = "statics and beam theory, any handbook";
const AISC: &str = "AISC 360 D5, J7";

impl ModeKind {
    /// Every mode, in the order in which the load runs.
    pub const ALL: [Self; 39] = [
        Self::Lift,
        Self::Crushing,
        Self::CupWall,
        Self::CupCrown,
        Self::CupPort,
        Self::Seat,
        Self::Hand,
        Self::HandleRod,
        Self::TurnsBack,
        Self::ThreadBearing,
        Self::ThreadStrip,
        Self::ThreadBending,
        Self::ScrewBody,
        Self::ScrewColumn,
        Self::BlockBending,
        Self::BlockBearing,
        Self::RailBending,
        Self::RailShear,
        Self::RailTwist,
        Self::Roll,
        Self::SaddleBearing,
        Self::SaddleTopBending,
        Self::SaddleTopShear,
        Self::StemYield,
        Self::StemRupture,
        Self::StemTearOut,
        Self::StemBearing,
        Self::UpperPinShear,
        Self::UpperPinBending,
        Self::LinkYield,
        Self::LinkRupture,
        Self::LinkTearOut,
        Self::LinkBearing,
        Self::LinkBending,
        Self::LowerPinShear,
        Self::LowerPinBending,
        Self::FootBearing,
        Self::FootBending,
        Self::PortEdge,
    ];

    /// Whether each end of the bar has it for itself.
    pub fn is_of_an_end(self) -> bool {
        self >= Self::SaddleBearing
    }

    /// Whether its factor hangs on the pressure in the cup.
    pub const fn is_of_pressure(self) -> bool {
        !matches!(self, Self::TurnsBack | Self::Roll)
    }

    #[expect(clippy::too_many_lines, reason = "a table")]
    const fn words(self) -> Words {
        match self {
            Self::Lift => (
                "gasket lifts on one side",
                "e <= (Ro^2 + Ri^2) / (4 Ro)",
                "kern of an annulus, any handbook",
            ),
            Self::Crushing => (
                "gasket is crushed",
                "(W - H) / A + (W e + M) / (A k) <= supplier's maximum",
                "section under load and moment, any handbook",
            ),
            Self::CupWall => (
                "cup wall yields",
                "max(p (ro^2 + ri^2) / (ro^2 - ri^2) + max(p, (W - p Ai) / Aw), W / Aw) <= Sy, Ai the bore's \
                 section, Aw the wall's",
                "Lame with Tresca, any handbook",
            ),
            Self::CupCrown => (
                "cup crown yields",
                "6 M / t^2 <= Sy, M the greater of W / (4 pi) ((1 + v) ln(a / c) + 1 - (1 - v) c^2 / (4 a^2)) and \
                 W / (4 pi) (2 (1 + (1 + v) ln(a / c)) / (1 + v + (1 - v) c^2 / a^2) - 1)",
                "Timoshenko, plates and shells, from memory",
            ),
            Self::CupPort => (
                "cup yields next to its side port",
                "p (Ap / Af + 1/2) <= Sy",
                "EN 13445-3 9.5, from memory",
            ),
            Self::Seat => (
                "screw's tip is pressed into the seat",
                "4 W / (pi d^2) <= weaker Sy, mean over the seat's mouth",
                STATICS,
            ),
            Self::Hand => ("hand gives too little", "T / r <= hand", STATICS),
            Self::HandleRod => ("handle rod yields", "32 T / (pi d^3) <= Sy", "Bhandari 6.9"),
            Self::TurnsBack => (
                "screw turns back by itself",
                "l / (pi dm) <= f / cos a",
                "Shigley 8-3, from memory",
            ),
            Self::ThreadBearing => (
                "thread flanks yield",
                "2 k W / (pi dm p n) <= weaker Sy, k = max(1, 0.38 n)",
                "Shigley 8-10; 0.38 of the load on the first ridge",
            ),
            Self::ThreadStrip => (
                "thread strips",
                "3 k W / (pi d p n) <= Sy / 2, root for the screw, outside for the block",
                "Shigley 8-12, from memory",
            ),
            Self::ThreadBending => (
                "thread ridges yield at their root",
                "x + a / 2 + sqrt(a^2 / 4 + s^2) <= Sy with x = 6 k W / (pi d p n), a = W / A, s = \
                 16 T / (pi dr^3); x alone for the block",
                "Shigley 8-11 and after 8-12, with Tresca",
            ),
            Self::ScrewBody => (
                "screw yields",
                "sqrt((W / A (1 + 8 e / dr sec(K L / 2 sqrt(W / (E I)))))^2 + 4 (16 T / (pi dr^3))^2) <= Sy",
                "secant formula and Tresca, any handbook",
            ),
            Self::ScrewColumn => (
                "screw bows out",
                "W <= Euler or Johnson at the root",
                "Euler; Johnson; any handbook",
            ),
            Self::BlockBending => ("screw block yields", "6 W s / (4 (b - d) h^2) <= Sy", STATICS),
            Self::BlockBearing => {
                ("block is pressed into the rails", "W (1/2 + y / s) / (b c) <= weaker Sy", STATICS)
            }
            Self::RailBending => (
                "rail yields in bending",
                "6 W (L / 4 - e^2 / L) (1/2 + y / s) / (w h^2) <= Sy",
                STATICS,
            ),
            Self::RailShear => (
                "rail yields in shear",
                "3/2 W (1/2 + e / L) (1/2 + y / s) / (w h) <= Sy / 2",
                STATICS,
            ),
            Self::RailTwist => (
                "rail yields in twisting",
                "W (1/2 + e / L) (1/2 + y / s) c k / (h w^2) <= Sy / 2, c half of what the strip leaves of w, k \
                 torsion's factor, 3 to 5 by w / h, w the lesser",
                "Roark, torsion of a rectangle, from memory",
            ),
            Self::Roll => (
                "clamp rolls sideways",
                "links do not turn about the upper pins",
                "two bodies on the line through pins and ball, statics, any handbook",
            ),
            Self::SaddleBearing => (
                "saddle is pressed into the rails",
                "R (1/2 + y / s) / (b c) <= weaker Sy",
                STATICS,
            ),
            Self::SaddleTopBending => {
                ("saddle top yields in bending", "6 R (1/2 + y / s) x / (b h^2) <= Sy", STATICS)
            }
            Self::SaddleTopShear => {
                ("saddle top yields in shear", "R (1/2 + y / s) / (b h) <= Sy / 2", STATICS)
            }
            Self::StemYield => ("saddle stem yields", "R <= Sy w t", AISC),
            Self::StemRupture => ("saddle stem breaks beside the pin", "R <= Su 2 t be", AISC),
            Self::StemTearOut => {
                ("pin tears out of the saddle stem", "R <= 0.6 Su 2 t (a + d / 2)", AISC)
            }
            Self::StemBearing => ("pin is pressed into the saddle stem", "R <= 1.8 Sy d t", AISC),
            Self::UpperPinShear => {
                ("upper pin is sheared", "4 R s / (pi d^2) <= Sy / 2", "Bhandari 4.17")
            }
            Self::UpperPinBending => (
                "upper pin yields in bending",
                "32 R (a / 4 - e^2 / a) (1 - t / (2 a)) / (pi d^3) <= Sy",
                STATICS,
            ),
            Self::LinkYield => ("link yields", "R s <= Sy w t", AISC),
            Self::LinkRupture => ("link breaks beside the pin", "R s <= Su 2 t be", AISC),
            Self::LinkTearOut => (
                "pin tears out of the link",
                "R s <= 0.6 Su 2 t (a + d / 2 - r), r = (w - sqrt(w^2 - d^2)) / 2 off a round end",
                AISC,
            ),
            Self::LinkBearing => ("pin is pressed into the link", "R s <= 1.8 Sy d t", AISC),
            Self::LinkBending => (
                "link yields, pulled off its middle",
                "R s (1 + 6 e / t) / ((w - d) t) <= Sy, e up to t / 2",
                "bar pulled off its axis, any handbook",
            ),
            Self::LowerPinShear => {
                ("lower pin is sheared", "4 R s / (pi d^2) <= Sy / 2", "Bhandari 4.17")
            }
            Self::LowerPinBending => (
                "lower pin yields in bending",
                "32 R (a / 4 - e^2 / a) (1 - t / (2 a)) / (pi d^3) <= Sy",
                STATICS,
            ),
            Self::FootBearing => (
                "lower pin is pressed into the foot",
                "R / (d c) <= weaker Sy, c where foot and wall meet",
                STATICS,
            ),
            Self::FootBending => (
                "foot yields in bending",
                "6 R max(t / 8, (t - c)^2 / (2 t)) / (b h^2) <= Sy, c where foot and wall meet",
                STATICS,
            ),
            Self::PortEdge => (
                "foot is pressed into the port's edge",
                "R / (c b) <= weaker Sy, c where foot and wall meet",
                STATICS,
            ),
        }
    }

    /// What happens, in a few words.
    pub const fn word(self) -> &'static str {
        self.words().0
    }

    /// What may not exceed what. `W` is the screw's load, `T` its torque, `R` an end's pull; the
    /// rest is told where the formula is computed.
    pub const fn formula(self) -> &'static str {
        self.words().1
    }

    /// The factor that the mode must keep where the owner asks for `required`: 1 where it is no
    /// matter of strength, since what goes into it is a range already.
    pub const fn required(self, required: f64) -> f64 {
        match self {
            Self::Lift | Self::Hand | Self::TurnsBack | Self::Roll => 1.0,
            _ => required,
        }
    }

    /// Where the formula stands.
    pub const fn source(self) -> &'static str {
        self.words().2
    }
}

/// Whether something holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Verdict {
    /// It holds, whatever the true values are within their bounds.
    Holds,
    /// The data do not tell.
    CannotTell,
    /// It does not hold, whatever the true values are.
    DoesNotHold,
}

/// One way in which the rig may fail, looked at.
#[derive(Debug, Clone, PartialEq)]
pub struct Mode {
    /// Which.
    pub kind: ModeKind,
    /// At which end, where each has its own.
    pub end: Option<End>,
    /// Safety factor: capacity over demand. `None` where too little is given for any bound.
    pub factor: Option<Bounds<f64>>,
    /// What is missing or out of range; where this is not empty it is at best "cannot tell".
    pub lacking: Vec<Fault>,
}

impl Mode {
    /// Every mode of a rig with a side port and links that are held, none of them told, because of what is
    /// `lacking`.
    pub fn untold(lacking: &[Fault]) -> Vec<Self> {
        let mode = |kind, end| Self { kind, end, factor: None, lacking: lacking.to_vec() };
        let is_whole = |k: &ModeKind| !k.is_of_an_end() && *k != ModeKind::Roll;
        let whole = ModeKind::ALL.into_iter().filter(is_whole).map(|k| mode(k, None));
        let ends = End::BOTH.into_iter().flat_map(|end| {
            let of_end = ModeKind::ALL.into_iter().filter(|k| k.is_of_an_end());
            of_end.map(move |kind| (kind, end))
        });
        whole.chain(ends.map(|(kind, end)| mode(kind, Some(end)))).collect()
    }

    /// Whether it keeps the factor that the owner asks for, or 1 where that does not enter.
    pub fn verdict(&self, required: f64) -> Verdict {
        let required = self.kind.required(required);
        match self.factor {
            Some(factor) if factor.high() < required => Verdict::DoesNotHold,
            Some(factor) if self.lacking.is_empty() && factor.low() >= required => Verdict::Holds,
            _ => Verdict::CannotTell,
        }
    }
}

impl fmt::Display for Mode {
    /// What happens, and where.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.kind.word())?;
        self.end.map_or(Ok(()), |end| write!(f, " at end {end}"))
    }
}
