//! The fuzzer's entry: any bytes read as GLTF.

#![no_main]

mod law;

libfuzzer_sys::fuzz_target!(|data: &[u8]| {
    if let Err(wrong) = law::look("gltf", data) {
        panic!("{wrong}");
    }
});
