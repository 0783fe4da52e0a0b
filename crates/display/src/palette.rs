//! The colours: the car top in quiet greys, the rig in blues.

use assembly::kit::PartKind;

/// A colour as screens take it (sRGB), and how much of what lies behind shows through.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Colour {
    /// Red, green, blue.
    pub rgb: [u8; 3],
    /// 255 hides what lies behind.
    pub opacity: u8,
}

impl Colour {
    const fn solid(rgb: [u8; 3]) -> Self {
        Self { rgb, opacity: 255 }
    }

    /// Red, green, blue and opacity from 0 to 1, the colours in proportion to the light (linear), by
    /// the transfer function of IEC 61966-2-1.
    pub fn linear(self) -> [f64; 4] {
        let light = |c: u8| {
            let c = f64::from(c) / 255.0;
            if c <= 0.040_45 { c / 12.92 } else { ((c + 0.055) / 1.055).powf(2.4) }
        };
        let [r, g, b] = self.rgb.map(light);
        [r, g, b, f64::from(self.opacity) / 255.0]
    }
}

/// What limits or runs into something, and nothing else: Okabe and Ito's vermillion.
pub const STRONG: Colour = Colour::solid([213, 94, 0]);
/// Lines and letters.
pub const INK: Colour = Colour::solid([30, 33, 38]);

/// What an item is to the eye.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Role {
    /// The cover plate.
    Plate,
    /// The sidewall and what is fixed to it, which lets what it holds be seen.
    Housing,
    /// The lid.
    Lid,
    /// Hinge, studs, covers of the ports.
    Hardware,
    /// A fitting that stays as it is.
    Fitting,
    /// The fitting that is covered.
    Covered,
    /// A piece that is taken off.
    TakenOff,
    /// Space into which nobody saw.
    Unseen,
    /// The gasket.
    Gasket,
    /// The cup with its side port.
    Cup,
    /// The outlet.
    Outlet,
    /// The bar with what rides on it.
    Bar,
    /// Links and feet.
    Links,
    /// Pins.
    Pins,
    /// The screw.
    Screw,
}

impl Role {
    /// Its word.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Plate => "plate",
            Self::Housing => "housing",
            Self::Lid => "lid",
            Self::Hardware => "hardware",
            Self::Fitting => "fitting",
            Self::Covered => "covered fitting",
            Self::TakenOff => "taken off",
            Self::Unseen => "not seen",
            Self::Gasket => "gasket",
            Self::Cup => "cup",
            Self::Outlet => "outlet",
            Self::Bar => "bar",
            Self::Links => "links and feet",
            Self::Pins => "pins",
            Self::Screw => "screw",
        }
    }

    /// Its colour. Our choice; the two blues between which the rig's shades lie are those of Okabe and
    /// Ito's set, which people with any colour vision tell apart.
    pub const fn colour(self) -> Colour {
        match self {
            Self::Plate => Colour::solid([176, 180, 184]),
            Self::Housing => Colour { rgb: [150, 155, 160], opacity: 90 },
            Self::Lid => Colour { rgb: [158, 163, 168], opacity: 150 },
            Self::Hardware => Colour::solid([112, 117, 122]),
            Self::Fitting => Colour::solid([140, 145, 150]),
            Self::Covered => Colour::solid([214, 217, 220]),
            Self::TakenOff => Colour::solid([190, 186, 178]),
            Self::Unseen => Colour { rgb: [190, 186, 178], opacity: 60 },
            Self::Gasket => Colour::solid([24, 42, 66]),
            Self::Cup => Colour { rgb: [0, 114, 178], opacity: 170 },
            Self::Outlet => Colour::solid([86, 180, 233]),
            Self::Bar => Colour::solid([30, 98, 150]),
            Self::Links => Colour::solid([58, 140, 196]),
            Self::Pins => Colour::solid([150, 206, 240]),
            Self::Screw => Colour::solid([16, 72, 120]),
        }
    }

    /// The role of a part that is neither a piece taken off nor the covered fitting.
    pub const fn of(kind: PartKind) -> Self {
        match kind {
            PartKind::Plate => Self::Plate,
            PartKind::Housing => Self::Housing,
            PartKind::Lid => Self::Lid,
            PartKind::Hinge | PartKind::Stud | PartKind::PortCover => Self::Hardware,
            PartKind::Fitting => Self::Fitting,
            PartKind::Gasket => Self::Gasket,
            PartKind::Cup => Self::Cup,
            PartKind::Outlet | PartKind::OutletHandle => Self::Outlet,
            PartKind::Bar | PartKind::Saddle | PartKind::ScrewBlock => Self::Bar,
            PartKind::Link | PartKind::Foot => Self::Links,
            PartKind::Pin | PartKind::PinPath => Self::Pins,
            PartKind::Screw | PartKind::ScrewHandle => Self::Screw,
        }
    }
}
