//! The steps of the sample kits.

use assembly::kit::{Motion, PartKind, Step};

/// Cup and outlet go down together, and so does the clamp, made up beforehand.
pub(crate) fn steps() -> Vec<Step> {
    use PartKind as K;
    let clamp = [K::Saddle, K::Link, K::Pin, K::ScrewBlock, K::Screw];
    let step = |part, with: &[K], motion| Step {
        part,
        with: with.to_vec(),
        motion,
        text: "made for the test".into(),
    };
    vec![
        step(K::Gasket, &[], Motion::Lower),
        step(K::Cup, &[K::Outlet], Motion::Lower),
        step(K::Foot, &[], Motion::Seat),
        step(K::Bar, &clamp, Motion::Lower),
        step(K::Pin, &[], Motion::Push),
        step(K::Screw, &[], Motion::Turn),
    ]
}
