//! The example car's sealing, for tests from outside.

use assembly::hold::{KitFigures, Service};
use intake::{CaseFile, KitFile, read_case, read_kit};
use review::hold::{Holding, hold};
use review::sealing::Sealing;
use review::{Inputs, Record, Request, Review, review};
use std::path::Path;
use std::sync::LazyLock;

/// The example with its kit, and the review of its relief device with cup C.
pub(crate) struct Example {
    pub(crate) case: CaseFile,
    pub(crate) kit: KitFile,
    request: Request,
    pub(crate) found: Review,
}

pub(crate) static EXAMPLE: LazyLock<Example> = LazyLock::new(|| {
    let examples = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples");
    let case = read_case(&examples.join("pressure-car/case.toml")).unwrap();
    let kit = read_kit(&examples.join("kit.toml")).unwrap();
    let names = ["PRD".to_owned(), "SV".to_owned()];
    let request = Request::named(&case.car, &kit.kit, &names, &["C".to_owned()]).unwrap();
    let found = review(&case.car, &kit.kit, &request, &|_| ()).unwrap();
    Example { case, kit, request, found }
});

impl Example {
    /// What the mechanics say with these figures, which must be of the relief device alone: the
    /// sampling valve does not fit.
    pub(crate) fn holding(&self, figures: KitFigures, service: &Service) -> Holding {
        let mut kit = self.kit.kit.clone();
        kit.hold = figures;
        let mut all = hold(&self.case.car, &kit, service, &self.found);
        assert_eq!(all.len(), 1);
        all.remove(0)
    }

    pub(crate) fn given(&self) -> (KitFigures, Service) {
        (self.kit.kit.hold.clone(), self.case.service.clone())
    }

    pub(crate) fn written(&self, holding: Holding) -> Sealing {
        let (car, kit) = (&self.case.car, &self.kit.kit);
        let mut record = Record::of(&self.found, car, kit, &self.request, Inputs::default());
        let before = record.clone();
        record.hold(&[holding], &self.found, car);
        // Nothing else is touched: the fit never hangs on the sealing.
        let sealing = record.fittings[0].sealing.take().unwrap();
        assert!(record.cautions.remove(0).contains("a licensed engineer must confirm"));
        assert_eq!(record, before);
        sealing
    }
}
