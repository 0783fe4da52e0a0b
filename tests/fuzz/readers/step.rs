//! The fuzzer's entry: any bytes read as STEP.

#![no_main]

mod step_law;

libfuzzer_sys::fuzz_target!(|data: &[u8]| {
    if let Err(wrong) = step_law::look(data) {
        panic!("{wrong}");
    }
});
