//! Vapour pressure of ladings.
//!
//! The correlation is the Wagner equation
//! `ln(p / pc) = (A x + B x^1.5 + C x^2.5 + D x^5) / (T / Tc)` with `x = 1 - T / Tc` and the
//! coefficients of the VDI Heat Atlas, 2nd edition, table D3.1 "PPDS", as the `chemicals` library
//! 1.5.2 of the Python index carries them (read there). How far each is to be trusted is the spread
//! that two other sources show about it every 5 degrees from -40 to 70 degrees Celsius, rounded up:
//! `CoolProp` 8.0.0 and the correlations of Perry's Handbook (`tests/outside/vapour_pressure`).

use crate::Fault;
use measure::{Bounds, Pressure, Temperature};

/// A lading of pressure tank cars, pure.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Lading {
    /// Anhydrous ammonia, `NH3`.
    Ammonia,
    /// Chlorine, `Cl2`.
    Chlorine,
    /// Propane, `C3H8`.
    Propane,
    /// Normal butane, `C4H10`.
    Butane,
    /// Isobutane, `C4H10`.
    Isobutane,
    /// Propylene, `C3H6`.
    Propylene,
    /// 1-Butene, `C4H8`.
    Butene,
    /// Vinyl chloride, `C2H3Cl`.
    VinylChloride,
    /// Dimethyl ether, `C2H6O`.
    DimethylEther,
    /// Ethylene oxide, `C2H4O`, without the nitrogen that pads it.
    EthyleneOxide,
    /// Sulfur dioxide, `SO2`.
    SulfurDioxide,
    /// Anhydrous hydrogen chloride, `HCl`.
    HydrogenChloride,
    /// Hydrogen sulfide, `H2S`.
    HydrogenSulfide,
    /// Carbon dioxide, `CO2`.
    CarbonDioxide,
}

/// One line of the table.
struct Fluid {
    word: &'static str,
    /// Melting temperature at the triple point, `K`.
    triple: f64,
    /// Critical temperature, `K`.
    critical: f64,
    /// Critical pressure, `MPa`.
    critical_pressure: f64,
    /// A, `B`, C, D.
    coefficients: [f64; 4],
    /// How far the other sources stray, as a share.
    spread: f64,
}

const fn fluid(
    word: &'static str,
    [triple, critical, critical_pressure]: [f64; 3],
    coefficients: [f64; 4],
    spread: f64,
) -> Fluid {
    Fluid { word, triple, critical, critical_pressure, coefficients, spread }
}

impl Lading {
    /// Every lading, in the order of declaration.
    pub const ALL: [Self; 14] = [
        Self::Ammonia,
        Self::Chlorine,
        Self::Propane,
        Self::Butane,
        Self::Isobutane,
        Self::Propylene,
        Self::Butene,
        Self::VinylChloride,
        Self::DimethylEther,
        Self::EthyleneOxide,
        Self::SulfurDioxide,
        Self::HydrogenChloride,
        Self::HydrogenSulfide,
        Self::CarbonDioxide,
    ];

    const fn fluid(self) -> Fluid {
        match self {
            Self::Ammonia => fluid(
                "anhydrous ammonia",
                [195.35, 405.5, 11.359],
                [-7.30274, 1.64638, -2.01606, -1.96884],
                0.006,
            ),
            Self::Chlorine => fluid(
                "chlorine",
                [172.15, 416.96, 7.991],
                [-6.43911, 1.48278, -1.21184, -2.02926],
                0.01,
            ),
            Self::Propane => fluid(
                "propane",
                [85.45, 369.82, 4.248],
                [-6.7148, 1.38388, -1.30695, -2.56827],
                0.003,
            ),
            Self::Butane => fluid(
                "butane",
                [134.75, 425.13, 3.796],
                [-7.08562, 1.79335, -2.00003, -2.31975],
                0.003,
            ),
            Self::Isobutane => fluid(
                "isobutane",
                [113.55, 407.81, 3.629],
                [-6.90675, 1.5774, -1.8016, -2.42893],
                0.008,
            ),
            Self::Propylene => fluid(
                "propylene",
                [87.95, 365.57, 4.665],
                [-6.66599, 1.4343, -1.39324, -2.46883],
                0.013,
            ),
            Self::Butene => fluid(
                "1-butene",
                [87.75, 419.29, 4.006],
                [-7.07897, 1.87819, -2.02256, -2.64845],
                0.045,
            ),
            Self::VinylChloride => fluid(
                "vinyl chloride",
                [119.25, 432.05, 5.670],
                [-6.32153, 1.11198, -1.35813, -3.25332],
                0.035,
            ),
            Self::DimethylEther => fluid(
                "dimethyl ether",
                [131.65, 400.3, 5.341],
                [-7.33288, 2.677, -3.4025, -0.11957],
                0.004,
            ),
            Self::EthyleneOxide => fluid(
                "ethylene oxide",
                [160.65, 469.15, 7.190],
                [-6.39656, -0.13545, 0.30047, -4.54866],
                0.012,
            ),
            Self::SulfurDioxide => fluid(
                "sulfur dioxide",
                [199.95, 430.64, 7.876],
                [-7.27858, 1.72871, -2.37473, -2.70464],
                0.04,
            ),
            Self::HydrogenChloride => fluid(
                "hydrogen chloride",
                [158.85, 324.65, 8.310],
                [-6.63222, 1.06066, 0.05415, -4.45907],
                0.008,
            ),
            Self::HydrogenSulfide => fluid(
                "hydrogen sulfide",
                [187.65, 373.1, 8.999],
                [-6.50342, 1.52011, -1.36969, -1.96704],
                0.001,
            ),
            Self::CarbonDioxide => fluid(
                "carbon dioxide",
                [216.55, 304.13, 7.377],
                [-7.02916, 1.53937, -2.2833, -2.34853],
                0.003,
            ),
        }
    }

    /// The word used in documents and output.
    pub const fn word(self) -> &'static str {
        self.fluid().word
    }

    /// The lading of a word, exactly as [`Lading::word`] writes it.
    pub fn of_word(word: &str) -> Result<Self, Fault> {
        Self::ALL.into_iter().find(|l| l.word() == word).ok_or_else(|| {
            let known: Vec<&str> = Self::ALL.iter().map(|l| l.word()).collect();
            Fault::out_of_range(
                "lading",
                format!("{word:?}"),
                format!("give its gauge pressure instead, or one of: {}", known.join(", ")),
            )
        })
    }

    /// Critical temperature: above it there is no vapour pressure.
    pub const fn critical_temperature(self) -> Temperature {
        Temperature::from_kelvins(self.fluid().critical)
    }

    /// Critical pressure, absolute: no liquid has a vapour pressure above it.
    pub const fn critical_pressure(self) -> Pressure {
        Pressure::from_mpa(self.fluid().critical_pressure)
    }

    /// How far the correlation is to be trusted, as a share of the pressure.
    pub const fn spread(self) -> f64 {
        self.fluid().spread
    }

    /// Absolute vapour pressure over a range of temperatures, widened by [`Lading::spread`].
    ///
    /// Faults: a temperature that is no finite number, below the triple point (solid), at or above
    /// the critical point (no liquid), or outside -40 to 70 degrees Celsius, where nothing was
    /// compared.
    pub fn vapour_pressure(self, at: Bounds<Temperature>) -> Result<Bounds<Pressure>, Fault> {
        let fluid = self.fluid();
        let name = || format!("temperature of {}", fluid.word);
        let refuse = |remedy: String| Err(Fault::out_of_range(name(), at, remedy));
        if !at.is_finite() {
            return refuse("give a finite temperature".into());
        }
        if at.high().kelvins() >= fluid.critical {
            return refuse(format!(
                "from its critical point at {} K on there is no vapour pressure: give the gauge \
                 pressure",
                fluid.critical
            ));
        }
        if at.low().kelvins() <= fluid.triple {
            return refuse(format!("up to its triple point at {} K it is solid", fluid.triple));
        }
        if at.low() < LOWEST || at.high() > HIGHEST {
            return refuse(
                "the correlation was compared from -40 to 70 degrees Celsius only: give the gauge \
                 pressure"
                    .into(),
            );
        }
        let [low, high] = [at.low(), at.high()].map(|t| fluid.wagner(t.kelvins()));
        Ok(Bounds::between(Pressure::from_mpa(low), Pressure::from_mpa(high))
            * Bounds::about(1.0, fluid.spread))
    }
}

/// The least temperature at which the correlations were compared: -40 degrees Celsius.
const LOWEST: Temperature = Temperature::from_celsius(-40.0);
/// The greatest: 70 degrees Celsius.
const HIGHEST: Temperature = Temperature::from_celsius(70.0);

impl Fluid {
    /// Vapour pressure, `MPa`, at a temperature below the critical, K.
    fn wagner(&self, kelvins: f64) -> f64 {
        let reduced = kelvins / self.critical;
        let x = 1.0 - reduced;
        let [a, b, c, d] = self.coefficients;
        let sum = a * x + b * x.powf(1.5) + c * x.powf(2.5) + d * x.powi(5);
        self.critical_pressure * (sum / reduced).exp()
    }
}

/// The standard atmosphere, exact (SI brochure, from memory).
pub const ATMOSPHERE: Pressure = Pressure::from_mpa(0.101_325);

/// Gauge pressure of an absolute pressure, over the air pressure around. Below that of the air
/// nothing leaks out: such a part is zero.
pub fn gauge(absolute: Bounds<Pressure>, around: Bounds<Pressure>) -> Bounds<Pressure> {
    (absolute - around).max(Bounds::exactly(Pressure::from_mpa(0.0)))
}

/// The least and the greatest pressure of the open air: less than at 5000 m above the sea (54 kPa in the
/// standard atmosphere, ISO 2533) and more than was ever measured (108.5 kPa, reduced to the sea; both
/// from memory). Beyond them a number has been given another's unit.
pub const OPEN_AIR: [Pressure; 2] = [Pressure::from_mpa(0.05), Pressure::from_mpa(0.11)];

/// Gauge pressure of a lading's vapour at a temperature, over the air pressure around.
///
/// In a tank that is padded with another gas, or filled so that liquid stands over the fitting, the
/// pressure is more: give the gauge pressure there. Faults: beyond the critical point or the range of
/// the lading's formula; a pressure around that no open air has ([`OPEN_AIR`]).
pub fn gauge_vapour_pressure(
    lading: Lading,
    at: Bounds<Temperature>,
    around: Bounds<Pressure>,
) -> Result<Bounds<Pressure>, Fault> {
    let [least, most] = OPEN_AIR;
    if !(around.low() >= least && around.high() <= most) {
        let remedy = "no open air presses less than 50 kPa or more than 110 kPa: check the unit";
        return Err(Fault::out_of_range("pressure of the air", around, remedy));
    }
    Ok(gauge(lading.vapour_pressure(at)?, around))
}
