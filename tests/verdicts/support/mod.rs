//! What the tests of the verdicts share: chance, sample car tops and a sample kit, and the slow
//! checks that share nothing with the program but the parts' triangles.

pub(crate) mod chance;
pub(crate) mod confirm;
pub(crate) mod draw;
pub(crate) mod falsify;
pub(crate) mod figures;
pub(crate) mod outside;
pub(crate) mod poses;
pub(crate) mod sample_car;
pub(crate) mod sample_kit;

pub(crate) use recheck::brute;
