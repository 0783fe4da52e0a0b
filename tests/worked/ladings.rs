//! Vapour pressures against sources that share nothing with the correlation.

use measure::{Bounds, Pressure, Temperature};
use sealing::{ATMOSPHERE, Lading, gauge, gauge_vapour_pressure};

fn celsius(degrees: f64) -> Bounds<Temperature> {
    Bounds::exactly(Temperature::from_celsius(degrees))
}

/// Every 5 degrees from -40 to 70: `CoolProp` 8.0.0 and Perry's correlations, as recorded by
/// `tests/outside/vapour_pressure`. Each lies within the stated spread.
#[test]
fn every_lading_agrees_with_two_other_sources_within_its_spread() {
    let mut rows = 0;
    let mut seen = Vec::new();
    for line in include_str!("../outside/vapour_pressure/recorded.csv").lines() {
        let [word, degrees, by_state, by_perry] =
            line.split(',').collect::<Vec<_>>().try_into().unwrap();
        let lading = Lading::of_word(word).unwrap();
        let at: f64 = degrees.parse().unwrap();
        // Perry and CoolProp put the critical point of some a little higher.
        if celsius(at).low() >= lading.critical_temperature() {
            continue;
        }
        let within = lading.vapour_pressure(celsius(at)).unwrap();
        for recorded in [by_state, by_perry] {
            let kilopascals: f64 = recorded.parse().unwrap();
            let other = Pressure::from_mpa(kilopascals / 1000.0);
            // The sources lie within the spread of the value: allow its second order.
            let slack = 1.0 + lading.spread() * lading.spread();
            assert!(
                within.low() <= other * slack && other <= within.high() * slack,
                "{word} at {at}: {within} against {other}"
            );
        }
        rows += 1;
        seen.push(lading);
    }
    assert!(rows >= 300, "{rows} rows only");
    assert!(Lading::ALL.iter().all(|l| seen.contains(l)));
}

/// Chlorine: 86.767 psig at 70 degrees Fahrenheit and 53.5 psia at 32 (read in public copies).
#[test]
fn chlorine_has_the_published_pressures() {
    let at = |fahrenheit: f64| {
        let t = Bounds::exactly(Temperature::from_fahrenheit(fahrenheit));
        Lading::Chlorine.vapour_pressure(t).unwrap()
    };
    let air = Bounds::exactly(ATMOSPHERE);
    assert!((gauge(at(70.0), air).middle().psi() / 86.767 - 1.0).abs() < 0.005);
    assert!((at(32.0).middle().psi() / 53.5 - 1.0).abs() < 0.005);
}

/// NIST's Antoine equations `log10(bar) = A - B / (T + C)`, read on its pages, from 6 to 54 degrees
/// Celsius, where both hold: ammonia 4.86886, 1113.928, -10.409; propane 4.53678, 1149.36, 24.906.
/// They lie within 1.1 %, as they do of `CoolProp`.
#[test]
fn ammonia_and_propane_agree_with_the_antoine_equations() {
    for (lading, [a, b, c]) in [
        (Lading::Ammonia, [4.868_86, 1113.928, -10.409]),
        (Lading::Propane, [4.536_78, 1149.36, 24.906]),
    ] {
        for degrees in [6.0, 21.1, 40.6, 46.1, 54.0] {
            let bar = 10.0_f64.powf(a - b / (degrees + 273.15 + c));
            let ours = lading.vapour_pressure(celsius(degrees)).unwrap().middle().mpa() * 10.0;
            assert!((bar / ours - 1.0).abs() < 0.011, "{lading:?} at {degrees}: {bar} and {ours}");
        }
    }
}

#[test]
fn a_range_of_temperatures_holds_the_pressures_of_its_ends() {
    let range = Bounds::between(Temperature::from_celsius(0.0), Temperature::from_celsius(46.0));
    let all = Lading::Propane.vapour_pressure(range).unwrap();
    for degrees in [0.0, 20.0, 46.0] {
        let one = Lading::Propane.vapour_pressure(celsius(degrees)).unwrap();
        assert!(all.low() <= one.low() && one.high() <= all.high());
    }
}

#[test]
fn a_temperature_without_vapour_pressure_is_a_fault_with_name_value_and_remedy() {
    for (lading, at, remedy) in [
        (Lading::CarbonDioxide, celsius(31.0), "critical point"),
        (Lading::HydrogenChloride, celsius(60.0), "critical point"),
        (Lading::CarbonDioxide, celsius(-57.0), "triple point"),
        (Lading::Chlorine, celsius(-60.0), "compared"),
        (Lading::Butane, celsius(80.0), "compared"),
        (Lading::Ammonia, celsius(f64::NAN), "finite"),
    ] {
        let fault = lading.vapour_pressure(at).unwrap_err().to_string();
        assert!(fault.contains(&format!("temperature of {} is", lading.word())), "{fault}");
        assert!(fault.contains(remedy), "{fault}");
    }
    let across = Bounds::between(Temperature::from_celsius(20.0), Temperature::from_celsius(35.0));
    let fault = Lading::CarbonDioxide.vapour_pressure(across).unwrap_err().to_string();
    assert!(fault.contains("critical point"), "{fault}");
    for (low, high) in [(-60.0, 20.0), (20.0, 80.0)] {
        let across =
            Bounds::between(Temperature::from_celsius(low), Temperature::from_celsius(high));
        let fault = Lading::Butane.vapour_pressure(across).unwrap_err().to_string();
        assert!(fault.contains("compared"), "{fault}");
    }
    let across =
        Bounds::between(Temperature::from_celsius(-57.0), Temperature::from_celsius(-30.0));
    let fault = Lading::CarbonDioxide.vapour_pressure(across).unwrap_err().to_string();
    assert!(fault.contains("triple point"), "{fault}");
    let unknown = Lading::of_word("phlogiston").unwrap_err().to_string();
    assert!(unknown.contains("\"phlogiston\"") && unknown.contains("vinyl chloride"), "{unknown}");
}

#[test]
fn below_the_pressure_of_the_air_nothing_leaks_out() {
    let cold = Lading::Butane.vapour_pressure(celsius(-10.0)).unwrap();
    let over = gauge(cold, Bounds::exactly(ATMOSPHERE));
    assert!(over.low().mpa().abs() < 1e-300 && over.high().mpa().abs() < 1e-300);
}

/// 101.325 psi where kilopascals were meant, and what lies beyond any weather on any mountain: 54.0 kPa at
/// 5000 m (standard atmosphere, ISO 2533), 108.5 kPa the most ever measured (both from memory).
#[test]
fn no_vapour_pressure_is_told_over_air_that_is_not_open() {
    let over = |air: Bounds<Pressure>| gauge_vapour_pressure(Lading::Chlorine, celsius(20.0), air);
    let kpa = |low: f64, high: f64| {
        Bounds::between(Pressure::from_mpa(low / 1000.0), Pressure::from_mpa(high / 1000.0))
    };
    assert!(over(kpa(54.0, 108.5)).is_ok());
    let psi = Bounds::exactly(Pressure::from_psi(101.325));
    for air in [psi, kpa(0.0, 101.0), kpa(101.0, 111.0), kpa(1000.0, 1000.0), kpa(f64::NAN, 100.0)]
    {
        let fault = over(air).unwrap_err().to_string();
        assert!(fault.starts_with("pressure of the air is") && fault.contains("unit"), "{fault}");
    }
}
