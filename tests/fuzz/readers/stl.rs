//! The fuzzer's entry: any bytes read as STL.

#![no_main]

mod law;

libfuzzer_sys::fuzz_target!(|data: &[u8]| {
    if let Err(wrong) = law::look("stl", data) {
        panic!("{wrong}");
    }
});
