use super::*;
use proptest::prelude::*;

fn mm(text: &str) -> f64 {
    text.parse::<Length>().unwrap().mm()
}

fn close(a: f64, b: f64) -> bool {
    (a - b).abs() <= 4.0 * f64::EPSILON * a.abs().max(b.abs())
}

#[test]
fn lengths_are_read_and_rounded_once() {
    // 1 in = 25.4 mm, 1 ft = 304.8 mm: NIST SP 811, from memory.
    for (text, value) in [
        ("19.05 mm", 19.05_f64),
        ("3/4 in", 19.05),
        ("1 1/2 in", 38.1),
        ("1-1/2 in", 38.1),
        ("1.5in", 38.1),
        ("1.5 \"", 38.1),
        ("2 ft 1 in", 635.0),
        ("2' 1\"", 635.0),
        ("2 ft 1 1/2 in", 647.7),
        ("2 ft", 609.6),
        ("-3 mm", -3.0),
        ("- 1 1/2 in", -38.1),
        ("+3 mm", 3.0),
        (" 13 7/8 in ", 352.425),
        (".5 in", 12.7),
        ("1e2 mm", 100.0),
        ("12.7 cm", 127.0),
        ("1 / 8 in", 3.175),
    ] {
        assert_eq!(mm(text).to_bits(), value.to_bits(), "{text} gave {}", mm(text));
    }
}

#[test]
fn what_is_not_a_length_is_refused_with_place_and_remedy() {
    for (text, span, message) in [
        ("4", 0..1, "a number without a unit"),
        ("1 1/2", 0..5, "a number without a unit"),
        ("", 0..0, "no number here"),
        ("in", 0..2, "no number here"),
        ("inf mm", 0..6, "no number here"),
        ("nan mm", 0..6, "no number here"),
        ("- inf mm", 2..8, "no number here"),
        ("1/0 in", 2..3, "a fraction over zero"),
        ("1 1/0 in", 4..5, "a fraction over zero"),
        ("1 3/2 in", 2..5, "the fraction of a mixed number is one or more"),
        ("19,05 mm", 2..3, "a comma in a number"),
        ("1e999 mm", 0..5, "a number too large to hold"),
        ("1e308 m", 0..7, "a quantity too large to hold"),
        ("4 MM", 2..4, "\"MM\" is not a unit here"),
        ("4 furlong", 2..9, "\"furlong\" is not a unit here"),
        ("4 mm 3 in", 5..9, "more text than one quantity"),
        ("2 ft 3 mm", 5..9, "only inches can follow feet"),
        ("2 ft -1 in", 5..10, "no number here"),
        ("\u{bd} in", 0..5, "no number here"),
        ("3 m\u{e9}tres", 2..9, "\"m\u{e9}tres\" is not a unit here"),
    ] {
        let error = text.parse::<Length>().unwrap_err();
        assert_eq!((error.span.clone(), error.message.as_str()), (span, message), "{text:?}");
        assert!(!error.remedy.is_empty());
    }
    assert_eq!("4 MM".parse::<Length>().unwrap_err().remedy, "write \"4 mm\"");
}

#[test]
fn angles_and_clock_positions() {
    for (text, degrees) in [
        ("30 deg", 30.0),
        ("22 1/2 deg", 22.5),
        ("-90\u{b0}", -90.0),
        ("12 o'clock", 0.0),
        ("3 o'clock", -90.0),
        ("6 o'clock", 180.0),
        ("9 o'clock", 90.0),
        ("11 o'clock", 30.0),
        ("11:30 o'clock", 15.0),
        ("1 o\u{2019}clock", -30.0),
    ] {
        assert!(close(text.parse::<Angle>().unwrap().degrees(), degrees), "{text}");
    }
    assert_eq!("0.5 rad".parse::<Angle>().unwrap().radians().to_bits(), 0.5_f64.to_bits());
    assert!(close(Angle::parse_clockwise("1 o'clock").unwrap().degrees(), 30.0));
    assert!(close(Angle::parse_clockwise("11 o'clock").unwrap().degrees(), -30.0));
    assert!(close(Angle::parse_clockwise("-30 deg").unwrap().degrees(), -30.0));
    assert!(Angle::parse_plain("11 o'clock").is_err());
    for text in ["0 o'clock", "13 o'clock", "11:60 o'clock", "11:5 o'clock", "o'clock", "x o'clock"]
    {
        let error = text.parse::<Angle>().unwrap_err();
        assert!(error.remedy.contains("11:30"), "{text}");
        assert!(text.get(error.span).is_some());
    }
    assert!("30".parse::<Angle>().is_err());
}

#[test]
fn clock_positions_are_written_seen_from_above() {
    for (degrees, text) in [
        (0.0, "12 o'clock"),
        (-90.0, "3 o'clock"),
        (270.0, "3 o'clock"),
        (180.0, "6 o'clock"),
        (15.0, "11:30 o'clock"),
        (0.1, "12 o'clock"),
        (-0.5, "12:01 o'clock"),
    ] {
        assert_eq!(Angle::from_degrees(degrees).show_clock(), text);
    }
    assert_eq!(Angle::from_radians(f64::NAN).show_clock(), "no bearing");
}

#[test]
fn lengths_are_shown_for_people() {
    let l = Length::from_mm(38.1);
    assert_eq!(l.show(LengthUnit::Inch), "1.50 in");
    assert_eq!(l.show(LengthUnit::Millimetre), "38.1 mm");
    assert_eq!(l.show_to(LengthUnit::Inch, 3), "1.500 in");
    assert_eq!(Length::from_mm(-0.01).show(LengthUnit::Millimetre), "0.0 mm");
    assert_eq!(l.show_fraction(16), "1 1/2 in");
    assert_eq!(Length::from_mm(19.05).show_fraction(64), "3/4 in");
    assert_eq!(Length::from_mm(-19.05).show_fraction(64), "-3/4 in");
    assert_eq!(Length::from_mm(50.8).show_fraction(8), "2 in");
    assert_eq!(Length::from_mm(0.0).show_fraction(8), "0 in");
    assert_eq!(Length::from_mm(38.0).show_fraction(16), "1 1/2 in - 0.10 mm");
    assert_eq!(Length::from_mm(38.2).show_fraction(0), "2 in - 12.60 mm");
    assert_eq!(Length::from_mm(38.2).show_fraction(2), "1 1/2 in + 0.10 mm");
}

#[test]
fn pressure_force_and_torque_are_read() {
    // 1 psi = 6894.757 Pa, 1 lbf = 4.448 222 N, 1 lbf in = 0.112 984 8 N m, 1 lbf ft = 1.355 818
    // N m: NIST SP 811, appendix B.8, from memory; each printed to seven digits there.
    let near = |a: f64, b: f64| (a / b - 1.0).abs() < 5e-7;
    assert!(near("1 psi".parse::<Pressure>().unwrap().mpa(), 6.894_757e-3));
    assert!(near(Pressure::from_psi(1.0).mpa(), 6.894_757e-3));
    assert!(near(Pressure::from_mpa(6.894_757e-3).psi(), 1.0));
    assert!(near("36 ksi".parse::<Pressure>().unwrap().mpa(), 36.0 * 6.894_757));
    assert!(near("1 bar".parse::<Pressure>().unwrap().mpa(), 0.1));
    assert!(near("1 kPa".parse::<Pressure>().unwrap().mpa(), 1e-3));
    assert!(near("1 lbf".parse::<Force>().unwrap().newtons(), 4.448_222));
    assert!(near("2 kN".parse::<Force>().unwrap().newtons(), 2000.0));
    assert!(near("1 lb in".parse::<Torque>().unwrap().newton_mm(), 112.984_8));
    assert!(near("1 lb-ft".parse::<Torque>().unwrap().newton_mm(), 1355.818));
    assert!(near("1 N\u{b7}m".parse::<Torque>().unwrap().newton_mm(), 1000.0));
    assert!("5 psig".parse::<Pressure>().is_err());
    assert!("5".parse::<Force>().is_err());
    assert_eq!("5 nm".parse::<Torque>().unwrap_err().remedy, "write \"5 Nm\"");
}

proptest! {
    #[test]
    fn what_is_written_reads_back_to_the_bit(value in proptest::num::f64::NORMAL | proptest::num::f64::ZERO) {
        let l = Length::from_mm(value);
        prop_assert_eq!(l.to_string().parse::<Length>().unwrap().mm().to_bits(), value.to_bits());
        let a = Angle::from_radians(value);
        prop_assert_eq!(a.to_string().parse::<Angle>().unwrap().radians().to_bits(), value.to_bits());
        let p = Pressure::from_mpa(value);
        prop_assert_eq!(p.to_string().parse::<Pressure>().unwrap().mpa().to_bits(), value.to_bits());
        let t = Torque::from_newton_mm(value);
        prop_assert_eq!(t.to_string().parse::<Torque>().unwrap().newton_mm().to_bits(), value.to_bits());
        let f = Force::from_newtons(value);
        prop_assert_eq!(f.to_string().parse::<Force>().unwrap().newtons().to_bits(), value.to_bits());
    }

    #[test]
    fn fractions_read_back_as_printed(sixty_fourths in -100_000_i32..100_000) {
        let exact = f64::from(sixty_fourths) * 25.4 / 64.0;
        let shown = Length::from_mm(exact).show_fraction(64);
        prop_assert!(!shown.contains("mm"), "{}", shown);
        let read = mm(&shown);
        prop_assert!(close(read, exact) , "{} read {} for {}", shown, read, exact);
    }

    #[test]
    fn fraction_and_remainder_add_up(value in -5000.0..5000.0_f64, denominator in 1_u32..200) {
        let shown = Length::from_mm(value).show_fraction(denominator);
        let (inches, rest) = match shown.split_once(" in ") {
            Some((inches, rest)) => (format!("{inches} in"), mm(&rest.replace(' ', "").replace("mm", " mm"))),
            None => (shown.clone(), 0.0),
        };
        prop_assert!((mm(&inches) + rest - value).abs() <= 0.005 + 1e-9, "{} for {}", shown, value);
        prop_assert!(rest.abs() <= 12.7 / f64::from(denominator) + 0.005 + 1e-9);
    }

    #[test]
    fn clock_positions_read_back_to_a_quarter_degree(degrees in -720.0..720.0_f64) {
        let back: Angle = Angle::from_degrees(degrees).show_clock().parse().unwrap();
        let off = (back.degrees() - degrees).rem_euclid(360.0);
        prop_assert!(off.min(360.0 - off) <= 0.25 + 1e-9);
    }

    #[test]
    fn no_text_panics_and_places_are_in_the_text(text in any::<String>()) {
        let errors = [
            text.parse::<Length>().err(),
            text.parse::<Angle>().err(),
            Angle::parse_clockwise(&text).err(),
            text.parse::<Pressure>().err(),
            text.parse::<Torque>().err(),
        ];
        for error in errors.into_iter().flatten() {
            prop_assert!(text.get(error.span.clone()).is_some());
        }
    }

    #[test]
    fn no_near_length_panics(text in r#"[-+ 0-9/.,einmft'"°é]{0,12}"#) {
        match text.parse::<Length>() {
            Ok(l) => prop_assert!(l.mm().is_finite()),
            Err(error) => prop_assert!(text.get(error.span).is_some()),
        }
    }
}

#[test]
fn bounds_are_never_shown_less_than_they_are() {
    use LengthUnit::{Inch, Millimetre};
    for (mm, unit, shown) in [
        (0.0, Millimetre, "0.0 mm"),
        (0.04, Millimetre, "0.040 mm"),
        (0.013_51, Millimetre, "0.014 mm"),
        (0.100_01, Millimetre, "0.11 mm"),
        (1.01, Millimetre, "1.1 mm"),
        (12.34, Millimetre, "12.4 mm"),
        (9.99, Millimetre, "10.0 mm"),
        (0.0996, Millimetre, "0.100 mm"),
        (5e-13, Millimetre, "0.000001 mm"),
        (2.54, Inch, "0.10 in"),
        (25.4, Inch, "1.00 in"),
        (0.01, Inch, "0.00040 in"),
        (0.0, Inch, "0.00 in"),
    ] {
        assert_eq!(Length::from_mm(mm).show_bound(unit), shown, "{mm}");
    }
    assert_eq!(bound_above(f64::INFINITY, 1), "inf");
}

proptest! {
    #[test]
    fn a_shown_bound_holds(mm in 0.0..100.0_f64, power in 0..12) {
        let mm = mm * 0.1_f64.powi(power);
        for unit in [LengthUnit::Millimetre, LengthUnit::Inch] {
            let shown = Length::from_mm(mm).show_bound(unit);
            let read: Length = shown.parse().unwrap();
            prop_assert!(read.mm() >= mm, "{shown} {mm}");
            // And not much more: a tenth, or the last decimal.
            prop_assert!(read.mm() <= 1.15 * mm + 3e-5, "{shown} {mm}");
        }
    }
}
