//! The fuzzer's entry: any bytes read as 3MF.

#![no_main]

mod law;

libfuzzer_sys::fuzz_target!(|data: &[u8]| {
    if let Err(wrong) = law::look("3mf", data).and_then(|()| law::look("3mf", &law::wrapped("3mf", data))) {
        panic!("{wrong}");
    }
});
