//! The fuzzer's entry: any bytes read as GLB.

#![no_main]

mod law;

libfuzzer_sys::fuzz_target!(|data: &[u8]| {
    if let Err(wrong) = law::look("glb", data).and_then(|()| law::look("glb", &law::wrapped("glb", data))) {
        panic!("{wrong}");
    }
});
