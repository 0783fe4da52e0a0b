//! What is drawn beside the margins, looked for in the background: where parts run into each other, how far
//! two parts are apart.

use assembly::{CarTop, Kit};
use fitup::{Meeting, Part, Scene};
use review::{Spacing, spacing};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::mpsc::{Receiver, Sender, channel};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread::{Builder, JoinHandle};
use tryout::Setup;

/// A question.
#[derive(Debug, Clone)]
pub(crate) enum Asked {
    /// Where these pairs of parts run into each other.
    Meetings {
        /// What is set up.
        setup: Setup,
        /// Which.
        pairs: Vec<[Part; 2]>,
    },
    /// How far two parts are apart.
    Spacing {
        /// What is set up.
        setup: Setup,
        /// Which.
        parts: [Part; 2],
    },
}

/// What was found.
#[derive(Debug, Clone)]
pub(crate) struct Seen {
    /// Of what was set up.
    pub(crate) setup: Setup,
    /// Where parts run into each other.
    pub(crate) meetings: Vec<Meeting>,
    /// How far the two parts are apart that were asked about.
    pub(crate) spacing: Option<([Part; 2], Spacing)>,
}

/// Looks on a thread of its own; of several questions of a kind the last is answered.
pub(crate) struct Looker {
    asks: Option<Sender<Asked>>,
    seen: Mutex<Receiver<Seen>>,
    thread: Option<JoinHandle<()>>,
}

impl Looker {
    /// Starts the thread; `wake` is called on it after every answer. Without one nothing is answered.
    pub(crate) fn start(car: Arc<CarTop>, kit: Arc<Kit>, wake: impl Fn() + Send + 'static) -> Self {
        let (asks, asked) = channel();
        let (tells, seen) = channel();
        let work = move || look(&car, &kit, &asked, &tells, &wake);
        let thread = Builder::new().name("looker".into()).spawn(work).ok();
        Self { asks: Some(asks), seen: Mutex::new(seen), thread }
    }

    /// Asks.
    pub(crate) fn ask(&self, asked: Asked) {
        // A thread that has ended answers nothing.
        if let Some(asks) = &self.asks {
            let _ = asks.send(asked);
        }
    }

    /// Every answer since it was last asked for.
    pub(crate) fn seen(&self) -> Vec<Seen> {
        self.seen.lock().unwrap_or_else(PoisonError::into_inner).try_iter().collect()
    }
}

impl Drop for Looker {
    fn drop(&mut self) {
        self.asks = None;
        if let Some(thread) = self.thread.take() {
            // What it could not do was left out.
            let _ = thread.join();
        }
    }
}

fn look(car: &CarTop, kit: &Kit, asked: &Receiver<Asked>, tells: &Sender<Seen>, wake: &dyn Fn()) {
    let Ok(scene) = Scene::new(car, kit) else { return };
    let mut last: Option<Seen> = None;
    while let Ok(first) = asked.recv() {
        // Of what was asked meanwhile only the last of a kind still matters.
        let (mut meetings, mut apart) = (None, None);
        for question in std::iter::once(first).chain(asked.try_iter()) {
            match question {
                Asked::Meetings { .. } => meetings = Some(question),
                Asked::Spacing { .. } => apart = Some(question),
            }
        }
        for question in [meetings, apart].into_iter().flatten() {
            let found = catch_unwind(AssertUnwindSafe(|| answer(&scene, &question, last.as_ref())));
            let Ok(found) = found else { continue };
            last = Some(found.clone());
            if tells.send(found).is_err() {
                return;
            }
            wake();
        }
    }
}

fn answer(scene: &Scene<'_>, question: &Asked, last: Option<&Seen>) -> Seen {
    match question {
        Asked::Meetings { setup, pairs } => {
            let one = |pair: &[Part; 2]| {
                review::interference(scene, &setup.choice, &setup.placement, *pair)
            };
            let meetings = pairs.iter().filter_map(one).collect();
            Seen { setup: setup.clone(), meetings, spacing: None }
        }
        Asked::Spacing { setup, parts } => {
            let spacing =
                spacing(scene, &setup.choice, &setup.placement, parts.map(|part| (part, None)));
            let meetings = last.filter(|seen| seen.setup == *setup);
            let meetings = meetings.map(|seen| seen.meetings.clone()).unwrap_or_default();
            let spacing = spacing.map(|spacing| (*parts, spacing));
            Seen { setup: setup.clone(), meetings, spacing }
        }
    }
}
