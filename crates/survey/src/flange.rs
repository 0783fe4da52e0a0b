//! Nominal sizes by the outside diameter of a flange.

/// Outside diameters of ASME B16.5 flanges in mm, from memory: nominal size, class 150, and classes
/// 300 to 600 where these share one.
const FLANGES: [(&str, f64, f64); 10] = [
    ("1/2 in", 90.0, 95.0),
    ("3/4 in", 100.0, 115.0),
    ("1 in", 110.0, 125.0),
    ("1 1/4 in", 115.0, 135.0),
    ("1 1/2 in", 125.0, 155.0),
    ("2 in", 150.0, 165.0),
    ("2 1/2 in", 180.0, 190.0),
    ("3 in", 190.0, 210.0),
    ("4 in", 230.0, 255.0),
    ("6 in", 280.0, 320.0),
];
/// Inch tables differ from these by up to this much, mm.
const ROUNDED: f64 = 2.0;

/// Nominal sizes, each with its class, whose flange has this diameter within `deviation`, mm.
pub(crate) fn sizes(diameter: f64, deviation: f64) -> Vec<(&'static str, &'static str)> {
    let near = |d: f64| (d - diameter).abs() <= ROUNDED + 2.0 * deviation;
    FLANGES
        .iter()
        .flat_map(|(size, low, high)| {
            let light = near(*low).then_some((*size, "class 150"));
            light.into_iter().chain(near(*high).then_some((*size, "class 300")))
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_diameter_may_stand_for_two_sizes() {
        assert_eq!(sizes(165.0, 0.05), [("2 in", "class 300")]);
        assert_eq!(sizes(109.9, 0.05), [("1 in", "class 150")]);
        assert_eq!(sizes(125.0, 0.05), [("1 in", "class 300"), ("1 1/2 in", "class 150")]);
        assert_eq!(sizes(142.0, 0.05), []);
    }
}
