//! The fuzzer's entry: any bytes read as PLY.

#![no_main]

mod law;

libfuzzer_sys::fuzz_target!(|data: &[u8]| {
    if let Err(wrong) = law::look("ply", data) {
        panic!("{wrong}");
    }
});
