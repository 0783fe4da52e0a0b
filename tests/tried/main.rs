//! Placements tried by hand on the first example: that what is shown is what `fitup` finds, that edits
//! stay within what the kit allows and can be undone, that the newest request wins, that every lesson of
//! the examples holds true, and that the example from STEP is the example from meshes.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on fails")]

mod exact;
mod hand;
mod lessons;
mod measured;
mod worker;

use assembly::{CarTop, Kit};
use fitup::Scene;
use review::{Record, Request, Review, review};
use std::path::{Path, PathBuf};
use std::sync::{Arc, OnceLock};
use tryout::{Bests, Session};

/// The first example as it is reviewed.
pub(crate) struct Example {
    pub(crate) car: Arc<CarTop>,
    pub(crate) kit: Arc<Kit>,
    pub(crate) found: Review,
    pub(crate) record: Record,
    pub(crate) bests: Arc<Bests>,
}

pub(crate) fn examples() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples")
}

/// Read and reviewed once for all tests.
pub(crate) fn example() -> &'static Example {
    static EXAMPLE: OnceLock<Example> = OnceLock::new();
    EXAMPLE.get_or_init(|| {
        let case = intake::read_case(&examples().join("pressure-car/case.toml")).unwrap();
        let kit = intake::read_kit(&examples().join("kit.toml")).unwrap();
        Example::of(case.car, kit.kit)
    })
}

impl Example {
    /// A car top as it is reviewed.
    pub(crate) fn of(car: CarTop, kit: Kit) -> Self {
        let (car, kit) = (Arc::new(car), Arc::new(kit));
        let request = Request::everything(&car, &kit);
        let found = review(&car, &kit, &request, &|_| {}).unwrap();
        let inputs = review::Inputs::default();
        let record = Record::of(&found, &car, &kit, &request, inputs);
        let bests = Arc::new(Bests::of(&found));
        Self { car, kit, found, record, bests }
    }

    pub(crate) fn scene(&self) -> Scene<'_> {
        Scene::new(&self.car, &self.kit).unwrap()
    }

    pub(crate) fn fitting(&self, name: &str) -> usize {
        self.car.fittings.iter().position(|f| f.name == name).unwrap()
    }

    pub(crate) fn port(&self, name: &str) -> usize {
        self.car.ports.iter().position(|p| p.name == name).unwrap()
    }

    /// A session that begins with the best placement of a fitting.
    pub(crate) fn session(&self, fitting: &str) -> Session {
        let ground = (Arc::clone(&self.car), Arc::clone(&self.kit));
        Session::new(ground, Arc::clone(&self.bests), self.fitting(fitting), None).unwrap()
    }
}
