//! Pressures that go with a tank's class: 49 CFR 179.101-1 and 179.15, 2015 edition (read in a
//! stored copy).

use crate::Fault;
use measure::{Pressure, Temperature};

/// A class of pressure tank car.
#[derive(Debug, Clone, PartialEq)]
pub struct TankClass {
    /// As it is stencilled: `105J300W`.
    pub name: String,
    /// Minimum burst pressure.
    pub burst: Pressure,
    /// Test pressure.
    pub test: Pressure,
}

/// What covers a tank, by which the regulation sets the temperature of its lading for the relief
/// device's setting (49 CFR 179.15(b)(1)).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Jacket {
    /// Nothing: 46 degrees Celsius.
    Bare,
    /// Thermal protection: 43 degrees Celsius.
    ThermallyProtected,
    /// Insulation: 41 degrees Celsius.
    Insulated,
}

impl Jacket {
    /// Temperature at which the lading's vapour pressure is reckoned.
    pub const fn reference_temperature(self) -> Temperature {
        Temperature::from_celsius(match self {
            Self::Bare => 46.0,
            Self::ThermallyProtected => 43.0,
            Self::Insulated => 41.0,
        })
    }
}

/// Class, test pressure and minimum burst pressure, psi.
const CLASSES: [(&str, f64, f64); 12] = [
    ("105", 100.0, 500.0),
    ("105", 200.0, 500.0),
    ("105", 300.0, 750.0),
    ("105", 400.0, 1000.0),
    ("105", 500.0, 1250.0),
    ("105", 600.0, 1500.0),
    ("112", 340.0, 850.0),
    ("112", 400.0, 1000.0),
    ("112", 500.0, 1250.0),
    ("114", 340.0, 850.0),
    ("111", 60.0, 240.0),
    ("111", 100.0, 500.0),
];

impl TankClass {
    /// The class of a stencil such as `105A300W` or `112J340W`: number, the letter A or J (the
    /// pressures are the same), test pressure in psi, W. Fault: a stencil that is not in the table;
    /// others have tables of their own.
    pub fn of_stencil(name: &str) -> Result<Self, Fault> {
        let unknown = || {
            Fault::out_of_range(
                "tank class",
                format!("{name:?}"),
                "give a class of 49 CFR 179.101-1 such as \"105J300W\", or the pressure itself",
            )
        };
        let (class, rest) = name.split_at_checked(3).ok_or_else(unknown)?;
        let rest = rest.strip_prefix(['A', 'J']).ok_or_else(unknown)?;
        let figure = rest.strip_suffix('W').ok_or_else(unknown)?;
        CLASSES
            .iter()
            .find(|(known, test, _)| *known == class && figure == test.to_string())
            .map(|&(_, test, burst)| Self {
                name: name.to_owned(),
                burst: Pressure::from_psi(burst),
                test: Pressure::from_psi(test),
            })
            .ok_or_else(unknown)
    }

    /// The most at which the pressure relief device may start to discharge: 33 % of the minimum
    /// burst pressure (179.15(b)(2)). The tank's own device may be set lower: what is stamped on it
    /// counts.
    pub fn most_start_to_discharge(&self) -> Pressure {
        self.burst * 0.33
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_table_gives_test_and_discharge_pressures_in_psi() {
        // Test pressure and 33 % of burst in psi: 49 CFR 179.101-1, 179.15(b)(2).
        for (name, test, discharge) in [
            ("105A100W", 100.0, 165.0),
            ("105J200W", 200.0, 165.0),
            ("105J300W", 300.0, 247.5),
            ("112J400W", 400.0, 330.0),
            ("105A500W", 500.0, 412.5),
            ("105J600W", 600.0, 495.0),
            ("112J340W", 340.0, 280.5),
            ("114A340W", 340.0, 280.5),
            ("111A60W", 60.0, 79.2),
            ("111A100W", 100.0, 165.0),
        ] {
            let class = TankClass::of_stencil(name).unwrap();
            assert!((class.test.psi() - test).abs() < 1e-9, "{name}");
            assert!((class.most_start_to_discharge().psi() - discharge).abs() < 1e-9, "{name}");
        }
    }

    #[test]
    fn the_reference_temperatures_are_those_of_the_regulation() {
        // 115, 110 and 105 degrees Fahrenheit, as the regulation gives them beside.
        for (jacket, fahrenheit) in
            [(Jacket::Bare, 115.0), (Jacket::ThermallyProtected, 110.0), (Jacket::Insulated, 105.0)]
        {
            let exact = Temperature::from_fahrenheit(fahrenheit).celsius();
            assert!((jacket.reference_temperature().celsius() - exact).abs() < 0.5);
        }
    }

    #[test]
    fn a_stencil_that_is_not_in_the_table_is_a_fault() {
        for name in ["", "105", "105J", "105X300W", "105J301W", "120A200W", "105J300", "é05J300W"]
        {
            let fault = TankClass::of_stencil(name).unwrap_err().to_string();
            assert!(fault.contains("tank class"), "{fault}");
        }
    }
}
