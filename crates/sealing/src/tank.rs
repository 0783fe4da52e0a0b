//! Pressures that go with a tank's class: 49 CFR 179.101-1 (pressure tanks), 179.201-1 (class 111) and
//! 179.15, 2015 edition (read in a stored copy; the whole table of 179.101-1 in one of a later date, the
//! same where both have a class).

use crate::Fault;
use measure::{Bounds, Pressure, Temperature};

/// A class of tank car.
#[derive(Debug, Clone, PartialEq)]
pub struct TankClass {
    /// As it is stencilled: `105J300W`.
    pub name: String,
    /// Minimum burst pressure.
    pub burst: Pressure,
    /// Test pressure.
    pub test: Pressure,
    /// Section of 49 CFR whose table has it.
    pub section: &'static str,
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

/// A table's section, and of each class number, whether of aluminium alloy, test pressure and minimum
/// burst pressure in psi.
type Table = (&'static str, &'static [(&'static str, bool, f64, f64)]);

const TABLES: [Table; 2] = [
    (
        "179.101-1",
        &[
            ("105", true, 100.0, 500.0),
            ("105", true, 200.0, 500.0),
            ("105", true, 300.0, 750.0),
            ("105", false, 100.0, 500.0),
            ("105", false, 200.0, 500.0),
            ("105", false, 300.0, 750.0),
            ("105", false, 400.0, 1000.0),
            ("105", false, 500.0, 1250.0),
            ("105", false, 600.0, 1500.0),
            ("109", true, 100.0, 500.0),
            ("109", true, 200.0, 500.0),
            ("109", true, 300.0, 750.0),
            ("109", false, 300.0, 500.0),
            ("112", false, 200.0, 500.0),
            ("112", false, 340.0, 850.0),
            ("112", false, 400.0, 1000.0),
            ("112", false, 500.0, 1250.0),
            ("114", false, 340.0, 850.0),
            ("114", false, 400.0, 1000.0),
            ("120", true, 200.0, 500.0),
            ("120", false, 100.0, 500.0),
            ("120", false, 200.0, 500.0),
            ("120", false, 300.0, 750.0),
            ("120", false, 400.0, 1000.0),
            ("120", false, 500.0, 1250.0),
        ],
    ),
    ("179.201-1", &[("111", false, 60.0, 240.0), ("111", false, 100.0, 500.0)]),
];

impl TankClass {
    /// The class of a stencil such as `105A300W`, `112J340W` or `111A100W1`: number, a letter that does not
    /// enter the pressures (A or J; S and T by 179.22, from memory), test pressure in psi, W, or ALW for
    /// aluminium alloy, and with 111 a digit that does not enter either. Fault: a stencil that is in
    /// neither table; others have tables of their own.
    pub fn of_stencil(name: &str) -> Result<Self, Fault> {
        let unknown = || {
            Fault::out_of_range(
                "tank class",
                format!("{name:?}"),
                "known are those of 49 CFR 179.101-1 and 179.201-1, such as \"105J300W\"",
            )
        };
        let (class, rest) = name.split_at_checked(3).ok_or_else(unknown)?;
        let rest = rest.strip_prefix(['A', 'J', 'S', 'T']).ok_or_else(unknown)?;
        let rest = match class {
            "111" => rest.strip_suffix(|c: char| c.is_ascii_digit()).unwrap_or(rest),
            _ => rest,
        };
        let figure = rest.strip_suffix('W').ok_or_else(unknown)?;
        let (figure, alloy) = figure.strip_suffix("AL").map_or((figure, false), |f| (f, true));
        let rows =
            TABLES.iter().flat_map(|(section, rows)| rows.iter().map(move |row| (section, row)));
        rows.into_iter()
            .find(|(_, row)| row.0 == class && row.1 == alloy && figure == row.2.to_string())
            .map(|(section, &(_, _, test, burst))| Self {
                name: name.to_owned(),
                burst: Pressure::from_psi(burst),
                test: Pressure::from_psi(test),
                section,
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

/// Where a pressure relief device may start to discharge that is set to, and stamped with, a gauge
/// pressure: give or take 3 psi up to 100 psi, 3 % above (179.15(b)(5)).
pub fn starts_to_discharge(set: Pressure) -> Bounds<Pressure> {
    let narrow = set <= Pressure::from_psi(100.0);
    Bounds::about(set, if narrow { Pressure::from_psi(3.0) } else { set * 0.03 })
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
            ("111A100W1", 100.0, 165.0),
            ("114J400W", 400.0, 330.0),
            ("120J300W", 300.0, 247.5),
            ("120A200ALW", 200.0, 165.0),
            ("112T340W", 340.0, 280.5),
            ("112S400W", 400.0, 330.0),
            // The same test pressure, with another burst pressure in aluminium.
            ("109A300W", 300.0, 165.0),
            ("109A300ALW", 300.0, 247.5),
        ] {
            let class = TankClass::of_stencil(name).unwrap();
            assert!((class.test.psi() - test).abs() < 1e-9, "{name}");
            assert!((class.most_start_to_discharge().psi() - discharge).abs() < 1e-9, "{name}");
            let section = if name.starts_with("111") { "179.201-1" } else { "179.101-1" };
            assert_eq!(class.section, section, "{name}");
        }
    }

    /// 3 psi up to 100 psi, 3 % above (179.15(b)(5)).
    #[test]
    fn a_relief_device_starts_within_its_tolerance() {
        for (set, low, high) in [(75.0, 72.0, 78.0), (100.0, 97.0, 103.0), (280.0, 271.6, 288.4)] {
            let starts = starts_to_discharge(Pressure::from_psi(set));
            assert!((starts.low().psi() - low).abs() < 1e-9, "{set}");
            assert!((starts.high().psi() - high).abs() < 1e-9, "{set}");
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
        for name in [
            "",
            "105",
            "105J",
            "105X300W",
            "105J301W",
            "120A600W",
            "105J300",
            "é05J300W",
            "105A300W1",
            "114A340ALW",
        ] {
            let fault = TankClass::of_stencil(name).unwrap_err().to_string();
            assert!(fault.contains("tank class"), "{fault}");
        }
    }
}
