//! Examples from ISO 10303-21 as remembered, and what is wrong with each falsified file.

use super::{SyntaxError, Value, decoded, parse};
use std::fmt::Write as _;

fn file(data: &str) -> String {
    format!(
        "ISO-10303-21;\nHEADER;\nFILE_DESCRIPTION((''),'2;1');\nFILE_SCHEMA(('CONFIG_CONTROL_DESIGN','B'));\n\
         ENDSEC;\nDATA;\n{data}\nENDSEC;\nEND-ISO-10303-21;\n"
    )
}

fn parameters(text: &str) -> Vec<Value<'static>> {
    let text: &'static str = Box::leak(file(&format!("#1=X({text});")).into_boxed_str());
    parse(text.as_bytes()).unwrap().instances[0].records[0].parameters.clone()
}

#[test]
fn every_kind_of_parameter() {
    let found = parameters("$,*,-1.5E-3,7,+2.,'it''s',.T.,\"0FF\",#12,(1,(2)),LENGTH_MEASURE(3.)");
    let expected = [
        Value::Omitted,
        Value::Derived,
        Value::Number(-0.0015),
        Value::Number(7.0),
        Value::Number(2.0),
        Value::Text(b"it''s"),
        Value::Enumeration("T".into()),
        Value::Binary,
        Value::Reference(12),
        Value::List(vec![Value::Number(1.0), Value::List(vec![Value::Number(2.0)])]),
        Value::Typed("LENGTH_MEASURE".into(), vec![Value::Number(3.0)]),
    ];
    assert_eq!(found, expected);
}

#[test]
fn strings_mean_what_the_standard_says() {
    let cases: [(&[u8], &str); 12] = [
        (b"it''s", "it's"),
        (b"\\X\\E4", "\u{e4}"),
        (b"\\X2\\03B103B2\\X0\\ x", "\u{3b1}\u{3b2} x"),
        (b"\\X4\\0001F600\\X0\\", "\u{1f600}"),
        (b"\\X2\\D83DDE00\\X0\\", "\u{1f600}"),
        (b"\\S\\d", "\u{e4}"),
        (b"\\PE\\\\S\\P", "\u{430}"),
        (b"a\\\\b", "a\\b"),
        (b"\xC3\xA4", "\u{e4}"),
        (b"\xE4", "\u{e4}"),
        (b"C:\\temp", "C:\\temp"),
        (b"\\X2\\03B", "\\X2\\03B"),
    ];
    for (raw, expected) in cases {
        assert_eq!(decoded(raw), expected, "{}", String::from_utf8_lossy(raw));
    }
}

#[test]
fn header_comments_complex_instances_and_several_sections() {
    let text = "/* first */ ISO-10303-21;HEADER;FILE_SCHEMA(('AP242'));ENDSEC;\
                ANCHOR;<ENDSEC;>=#1;ENDSEC;\
                DATA('one',('AP242'));#1=(A(1)/* ; ' */B()c(#2));ENDSEC;\
                DATA;#2=!MINE();ENDSEC;END-ISO-10303-21;";
    let exchange = parse(text.as_bytes()).unwrap();
    assert_eq!(exchange.schemas, ["AP242"]);
    let kinds: Vec<_> = exchange.get(1).unwrap().records.iter().map(|r| r.kind.as_ref()).collect();
    assert_eq!(kinds, ["A", "B", "C"]);
    assert_eq!(exchange.get(2).unwrap().records[0].kind, "!MINE");
    assert!(exchange.get(3).is_none());
}

#[test]
fn what_is_wrong_is_told_with_its_place() {
    let cases = [
        ("", "line 1, column 1: ISO-10303-21; expected, found the end of the file"),
        ("solid x", "line 1, column 1: ISO-10303-21; expected, found SOLID"),
        (
            "ISO-10303-21;\nDATA;\n#1=X(1,\n\n  ;",
            "line 5, column 3: a parameter expected, found \";\"",
        ),
        (
            "ISO-10303-21;DATA;#1=X('a",
            "line 1, column 24: a string begins here and is never closed",
        ),
        ("ISO-10303-21;/* ", "line 1, column 14: a comment begins here and is never closed"),
        (
            "ISO-10303-21;DATA;#1=X(1e999);",
            "line 1, column 24: \"1e999\" is no number that can be held",
        ),
        (
            "ISO-10303-21;DATA;#1=X(1-2);",
            "line 1, column 24: \"1-2\" is no number that can be held",
        ),
        (
            "ISO-10303-21;DATA;#99999999999999999999=X();",
            "line 1, column 19: \"#99999999999999999999\" is no number that can be held",
        ),
        (
            "ISO-10303-21;DATA;\n#1=X();\n#1=Y();",
            "line 3: instance #1 is given again, first on line 2",
        ),
        (
            "ISO-10303-21;DATA;#1=X(.T);",
            "line 1, column 26: \".\" at the end of an enumeration expected, found \")\"",
        ),
        (
            "ISO-10303-21;DATA;#1=X();",
            "line 1, column 26: an instance or ENDSEC; expected, found the end of the file",
        ),
        ("ISO-10303-21;DATA;#1 X();", "line 1, column 22: \"=\" expected, found X"),
        (
            "ISO-10303-21;HEADER;ENDSEC;\x01",
            "line 1, column 28: HEADER; or DATA; expected, found byte 0x01",
        ),
    ];
    for (text, expected) in cases {
        assert_eq!(parse(text.as_bytes()).unwrap_err().to_string(), expected, "{text}");
    }
}

#[test]
fn deep_nesting_is_refused_and_never_overflows() {
    let deep = format!("ISO-10303-21;DATA;#1=X({}", "(".repeat(1_000_000));
    assert!(matches!(parse(deep.as_bytes()), Err(SyntaxError::TooDeep { line: 1, column: 87 })));
    let typed = format!("ISO-10303-21;DATA;#1=X({}", "T(".repeat(1_000_000));
    assert!(matches!(parse(typed.as_bytes()), Err(SyntaxError::TooDeep { .. })));
}

#[test]
fn time_grows_with_the_length_alone() {
    // A quadratic reader would need minutes for a line of a million instances or unclosed comments.
    let mut text = String::from("ISO-10303-21;DATA;");
    for id in 0..300_000 {
        write!(text, "#{id}=X();/**/").unwrap();
    }
    text.push_str("ENDSEC;END-ISO-10303-21;");
    let began = std::time::Instant::now();
    assert_eq!(parse(text.as_bytes()).unwrap().instances.len(), 300_000);
    assert!(began.elapsed().as_secs() < 20, "{:?}", began.elapsed());
}

proptest::proptest! {
    #[test]
    fn any_bytes_end_in_a_file_or_an_error(bytes in proptest::collection::vec(proptest::num::u8::ANY, 0..200)) {
        drop(parse(&bytes));
        decoded(&bytes);
    }

    #[test]
    fn a_file_with_changed_bytes_ends_too(at in 0_usize..200, byte: u8) {
        let mut bytes = file("#1=(A(1,$,*)B('x\\X\\E4',.T.,\"0F\"));").into_bytes();
        let at = at % bytes.len();
        bytes[at] = byte;
        drop(parse(&bytes));
    }
}
