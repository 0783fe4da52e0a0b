//! The fuzzer's entry: any bytes as two meshes, a pose and a query, against the laws of
//! `crates/gap/tests`.

#![no_main]
#![allow(clippy::unwrap_used, clippy::expect_used, reason = "modules of the tests")]

#[path = "../../crates/gap/tests/common/mod.rs"]
mod common;
#[path = "../../crates/gap/tests/input/mod.rs"]
mod input;
#[path = "../../crates/gap/tests/laws_for_any/mod.rs"]
mod laws_for_any;
#[path = "../../crates/gap/tests/oracle/mod.rs"]
mod oracle;
#[path = "../../crates/gap/tests/pairs/mod.rs"]
mod pairs;

/// The mesh boolean's panics are caught by the engine; every other one ends the run.
fn let_the_boolean_panic() {
    let before = std::panic::take_hook();
    std::panic::set_hook(Box::new(move |panic| {
        if !panic.location().is_some_and(|at| at.file().contains("boolmesh")) {
            before(panic);
            std::process::abort();
        }
    }));
}

static HOOK: std::sync::Once = std::sync::Once::new();

libfuzzer_sys::fuzz_target!(|data: &[u8]| {
    HOOK.call_once(let_the_boolean_panic);
    if let Err(wrong) = laws_for_any::look(&laws_for_any::Real, data) {
        panic!("{wrong}");
    }
});
