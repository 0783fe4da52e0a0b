//! What presses in the cup: the lading's pressure, and what else the tank may come to.

use assembly::hold::{Fluid, Jacket, LadingPressure, Service};
use measure::{Bounds, Pressure, Temperature};
use sealing::{Fault, Lading, TankClass, gauge_vapour_pressure, starts_to_discharge};

/// A gauge pressure in the cup, and where it is from.
#[derive(Debug, Clone, PartialEq)]
pub struct Pressed {
    /// Gauge pressure.
    pub gauge: Bounds<Pressure>,
    /// Where it is from.
    pub source: Source,
}

/// Where a pressure is from.
#[derive(Debug, Clone, PartialEq)]
pub enum Source {
    /// The case states it; with what it rests on.
    Stated(String),
    /// Vapour pressure of a lading at a temperature, over the air around.
    Vapour(Fluid, Bounds<Temperature>),
    /// Vapour pressure at the temperature by which the relief device is set for a tank so covered
    /// (49 CFR 179.15(b)(1)).
    Reference(Fluid, Jacket),
    /// The same, where at that temperature there is no vapour pressure: the gauge pressure is without
    /// bounds.
    NoReference(Fluid, Jacket),
    /// Stamped on the relief device, within its tolerance (49 CFR 179.15(b)(5)).
    Stamped,
    /// The most at which a relief device of this class may be set (49 CFR 179.15(b)(2)), within the same
    /// tolerance.
    MostSetting(String),
    /// The class's test pressure, and the section of 49 CFR whose table has it.
    Test(String, &'static str),
    /// A class that is in no table known here: the gauge pressure is without bounds.
    NoClass(String),
}

/// The pressure on which the verdict rests: the lading's.
pub(super) fn used(service: &Service) -> Result<Pressed, Fault> {
    let missing = |what: &'static str| Err(Fault::missing(what, "give it in the case"));
    match service.lading.as_ref().map(|l| &l.pressure) {
        Some(Some(LadingPressure::Stated { gauge, basis })) => {
            Ok(Pressed { gauge: *gauge, source: Source::Stated(basis.clone()) })
        }
        Some(Some(LadingPressure::Vapour { fluid, temperature, air: Some(air) })) => {
            let gauge = gauge_vapour_pressure(lading(*fluid), *temperature, *air)?;
            Ok(Pressed { gauge, source: Source::Vapour(*fluid, *temperature) })
        }
        Some(Some(LadingPressure::Vapour { air: None, .. })) => missing("pressure of the air"),
        Some(None) => missing("pressure of the lading"),
        None => missing("lading"),
    }
}

/// No bounds: what is not known of a pressure that stands beside.
fn untold(source: Source) -> Pressed {
    let [none, any] = [0.0, f64::INFINITY].map(Pressure::from_mpa);
    Pressed { gauge: Bounds::between(none, any), source }
}

/// What else the tank may come to. That a line of it is untold is no fault of the case.
pub(super) fn beside(service: &Service) -> Vec<Pressed> {
    let Some(tank) = &service.tank else { return Vec::new() };
    let starts = |set: Pressure, source| Pressed { gauge: starts_to_discharge(set), source };
    let mut all = Vec::new();
    if let Some(LadingPressure::Vapour { fluid, air: Some(air), .. }) =
        service.lading.as_ref().and_then(|l| l.pressure.as_ref())
        && let Some(jacket) = tank.jacket
    {
        let at = Bounds::exactly(covered(jacket).reference_temperature());
        let known = gauge_vapour_pressure(lading(*fluid), at, *air).ok();
        let known = known.map(|gauge| Pressed { gauge, source: Source::Reference(*fluid, jacket) });
        // The lading's own temperature is lower.
        all.push(known.unwrap_or_else(|| untold(Source::NoReference(*fluid, jacket))));
    }
    if let Some(stamped) = tank.start_to_discharge {
        all.push(starts(stamped, Source::Stamped));
    }
    if let Some(name) = &tank.class {
        match TankClass::of_stencil(name) {
            Err(_) => all.push(untold(Source::NoClass(name.clone()))),
            Ok(class) => {
                if tank.start_to_discharge.is_none() {
                    let most = Source::MostSetting(name.clone());
                    all.push(starts(class.most_start_to_discharge(), most));
                }
                let source = Source::Test(name.clone(), class.section);
                all.push(Pressed { gauge: Bounds::exactly(class.test), source });
            }
        }
    }
    all
}

/// What is wrong with what a case says of its pressures: a temperature at which there is no vapour
/// pressure, a pressure beyond the critical one of a known lading. Each with its remedy. What is merely
/// not given is no fault.
pub fn faults(service: &Service) -> Vec<(String, String)> {
    let mut faults = Vec::new();
    let found = used(service).err().into_iter().chain(beyond_critical(service));
    for fault in found {
        if let Fault::OutOfRange { quantity, value, remedy } = fault {
            let told = (format!("{quantity} is {value}"), remedy.into_owned());
            if !faults.contains(&told) {
                faults.push(told);
            }
        }
    }
    faults
}

/// A stated pressure at which a lading of a known name is no liquid under its vapour.
fn beyond_critical(service: &Service) -> Option<Fault> {
    let named = service.lading.as_ref()?;
    let Some(LadingPressure::Stated { gauge, .. }) = &named.pressure else { return None };
    let known = Lading::ALL.into_iter().find(|l| l.word() == named.name)?;
    let critical = known.critical_pressure();
    (gauge.high() >= critical).then(|| {
        let remedy = format!("its critical pressure is {critical}: check the number and its unit");
        Fault::out_of_range(format!("gauge pressure of {}", named.name), gauge, remedy)
    })
}

/// The lading as the mechanics name it.
pub(super) const fn lading(fluid: Fluid) -> Lading {
    match fluid {
        Fluid::Ammonia => Lading::Ammonia,
        Fluid::Chlorine => Lading::Chlorine,
        Fluid::Propane => Lading::Propane,
        Fluid::Butane => Lading::Butane,
        Fluid::Isobutane => Lading::Isobutane,
        Fluid::Propylene => Lading::Propylene,
        Fluid::Butene => Lading::Butene,
        Fluid::VinylChloride => Lading::VinylChloride,
        Fluid::DimethylEther => Lading::DimethylEther,
        Fluid::EthyleneOxide => Lading::EthyleneOxide,
        Fluid::SulfurDioxide => Lading::SulfurDioxide,
        Fluid::HydrogenChloride => Lading::HydrogenChloride,
        Fluid::HydrogenSulfide => Lading::HydrogenSulfide,
        Fluid::CarbonDioxide => Lading::CarbonDioxide,
    }
}

const fn covered(jacket: Jacket) -> sealing::Jacket {
    match jacket {
        Jacket::Bare => sealing::Jacket::Bare,
        Jacket::ThermallyProtected => sealing::Jacket::ThermallyProtected,
        Jacket::Insulated => sealing::Jacket::Insulated,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use assembly::hold::{Lading as Named, Tank};

    fn service(pressure: Option<LadingPressure>) -> Service {
        Service {
            lading: Some(Named { name: "chlorine".into(), pressure }),
            tank: Some(Tank {
                class: Some("105J300W".into()),
                start_to_discharge: None,
                jacket: Some(Jacket::Insulated),
            }),
            ..Service::default()
        }
    }

    fn vapour(celsius: f64, air: Option<f64>) -> LadingPressure {
        LadingPressure::Vapour {
            fluid: Fluid::Chlorine,
            temperature: Bounds::exactly(Temperature::from_celsius(celsius)),
            air: air.map(|mpa| Bounds::exactly(Pressure::from_mpa(mpa))),
        }
    }

    #[test]
    fn every_lading_of_the_documents_is_one_of_the_mechanics_by_the_same_name() {
        let known: Vec<&str> = Fluid::ALL.iter().map(|f| f.word()).collect();
        let mechanics: Vec<&str> = Lading::ALL.iter().map(|l| l.word()).collect();
        assert_eq!(known, mechanics);
        assert!(Fluid::ALL.iter().all(|f| lading(*f).word() == f.word()));
    }

    /// 105J300W: 300 psi test, 33 % of 750 psi (49 CFR 179.101-1, 179.15(b)(2)).
    #[test]
    fn the_tanks_own_pressures_stand_beside_the_ladings() {
        let found = beside(&service(Some(vapour(20.0, Some(0.101_325)))));
        let psi: Vec<f64> = found.iter().map(|p| p.gauge.middle().psi()).collect();
        assert!(matches!(found[0].source, Source::Reference(Fluid::Chlorine, Jacket::Insulated)));
        assert!((psi[1] - 247.5).abs() < 1e-9 && (psi[2] - 300.0).abs() < 1e-9, "{psi:?}");
        assert!(faults(&service(Some(vapour(20.0, Some(0.101_325))))).is_empty());
    }

    /// Carbon dioxide's critical temperature is 31.1 degrees Celsius (VDI Heat Atlas), below that of every
    /// cover: only that line is untold.
    #[test]
    fn a_lading_that_is_no_liquid_at_the_reference_temperature_is_told_all_the_same() {
        let mut service = service(Some(vapour(20.0, Some(0.1))));
        if let Some(LadingPressure::Vapour { fluid, .. }) =
            service.lading.as_mut().and_then(|l| l.pressure.as_mut())
        {
            *fluid = Fluid::CarbonDioxide;
        }
        assert!(used(&service).is_ok() && faults(&service).is_empty(), "{:?}", faults(&service));
        let found = beside(&service);
        let untold = Source::NoReference(Fluid::CarbonDioxide, Jacket::Insulated);
        assert_eq!((&found[0].source, found.len()), (&untold, 3));
        assert!(!found[0].gauge.is_finite() && found[1].gauge.is_finite());
    }

    #[test]
    fn what_is_not_given_is_named_and_no_fault() {
        for (service, quantity) in [
            (Service::default(), "lading"),
            (service(None), "pressure of the lading"),
            (service(Some(vapour(20.0, None))), "pressure of the air"),
        ] {
            assert_eq!(used(&service).unwrap_err().quantity(), quantity);
            assert!(faults(&service).is_empty());
        }
    }

    /// Chlorine's critical temperature is 143.8 degrees Celsius (VDI Heat Atlas, as the table of
    /// `sealing` has it).
    #[test]
    fn a_temperature_beyond_the_critical_point_is_a_fault() {
        let told = faults(&service(Some(vapour(144.0, Some(0.1)))));
        assert_eq!(told.len(), 1);
        // Chlorine's critical pressure is 7.991 N/mm2 (the same table).
        let stated = |mpa: f64| LadingPressure::Stated {
            gauge: Bounds::exactly(Pressure::from_mpa(mpa)),
            basis: "invented".into(),
        };
        assert!(faults(&service(Some(stated(7.9)))).is_empty());
        let beyond = faults(&service(Some(stated(8.0))));
        assert!(beyond[0].0.contains("chlorine is 8 MPa") && beyond[0].1.contains("7.991 MPa"));
        assert!(told[0].1.contains("critical point"), "{told:?}");
    }

    /// A class of neither table leaves its own line untold, and nothing else.
    #[test]
    fn an_unknown_class_leaves_only_its_line_untold() {
        let mut odd = service(Some(vapour(20.0, Some(0.101_325))));
        let tank = odd.tank.as_mut().unwrap();
        (tank.class, tank.start_to_discharge) =
            (Some("105J301W".into()), Some(Pressure::from_psi(280.0)));
        assert!(faults(&odd).is_empty() && used(&odd).is_ok());
        let found = beside(&odd);
        assert_eq!(found[2].source, Source::NoClass("105J301W".into()));
        assert!(!found[2].gauge.is_finite() && found[0].gauge.is_finite());
        // 280 psi, give or take 3 % (49 CFR 179.15(b)(5)).
        assert!((found[1].gauge.high().psi() - 288.4).abs() < 1e-9);
    }
}
