//! Documents read, and reviewed in the background.

use super::Source;
use super::desk::{Found, Ground, MOST_TRIANGLES};
use super::looker::Looker;
use assembly::{CarTop, Kit};
use display::simplified;
use front::{Documents, Plain, Stopped};
use lesson::Lesson;
use review::{Request, Review, review as reviewed};
use solids::Mesh;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU64, AtomicUsize, Ordering::Relaxed};
use std::sync::mpsc::{Receiver, channel};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread::Builder;
use std::time::{Instant, SystemTime};
use tryout::{Bests, Worker};

/// How often at most a review in the background has its progress shown, ms: a frame drawn in software takes
/// the time of a pair or two. Our choice.
const PAUSE: u64 = 500;

/// Reads what the window stands on.
pub(crate) fn read(source: &Source) -> Result<(Ground, Option<Arc<Lesson>>), Stopped> {
    match source {
        Source::Case { case, kit } => Ok((ground(front::read(case, kit.as_deref())?), None)),
        Source::Lesson(path) => {
            let file = front::lesson(path)?;
            let mut ground = ground((file.case, file.kit));
            ground.files.push((path.clone(), stamp(path)));
            Ok((ground, Some(Arc::new(file.lesson))))
        }
    }
}

fn ground((case, kit): Documents) -> Ground {
    let files = case.sources.iter().chain([&kit.source]).map(|source| {
        let path = PathBuf::from(&source.path);
        let stamp = stamp(&path);
        (path, stamp)
    });
    let files = files.collect();
    let car = Arc::new(case.car);
    let (drawn, drawn_within) = drawn(&car);
    Ground { car, drawn, drawn_within, kit: Arc::new(kit.kit), files }
}

/// A file's time and length; `None` where it is gone.
fn stamp(path: &Path) -> Option<(SystemTime, u64)> {
    let meta = std::fs::metadata(path).ok()?;
    Some((meta.modified().ok()?, meta.len()))
}

/// A car top for the eye: the same, or with simpler meshes where it has very many triangles; and how far
/// these may be from the others, mm.
fn drawn(car: &Arc<CarTop>) -> (Arc<CarTop>, f64) {
    let meshes: Vec<(&Mesh, usize)> = car.bodies.iter().map(|b| (&b.body.mesh, 1)).collect();
    let simpler = simplified(&meshes, MOST_TRIANGLES);
    if simpler.iter().all(Option::is_none) {
        return (Arc::clone(car), 0.0);
    }
    let mut drawn = CarTop::clone(car);
    let mut within: f64 = 0.0;
    for (body, simpler) in drawn.bodies.iter_mut().zip(simpler) {
        if let Some((simpler, off)) = simpler {
            body.body.mesh = simpler;
            within = within.max(off);
        }
    }
    (Arc::new(drawn), within)
}

/// The fitting of this name.
pub(crate) fn fitting((car, kit): (&CarTop, &Kit), name: &str) -> Result<usize, Stopped> {
    let asked = Request::named(car, kit, &[name.to_owned()], &[]);
    let asked =
        asked.map_err(|unknown| Stopped::Asked(unknown.iter().map(Plain::unknown).collect()))?;
    Ok(asked.fittings.first().copied().unwrap_or_default())
}

/// A review under way.
pub(crate) struct Loading {
    progress: Arc<[AtomicUsize; 2]>,
    found: Mutex<Receiver<Loaded>>,
}

/// What came of it.
pub(crate) enum Loaded {
    /// It found this.
    Found(Review),
    /// Why it could not be done.
    Failed(String),
}

impl Loading {
    /// Pairs of fitting and cup that are done, and of how many.
    pub(crate) fn progress(&self) -> [usize; 2] {
        [0, 1].map(|i: usize| self.progress[i].load(Relaxed))
    }

    /// What came of it; `None` as long as it goes on.
    pub(crate) fn found(&self) -> Option<Loaded> {
        match self.found.lock().unwrap_or_else(PoisonError::into_inner).try_recv() {
            Ok(loaded) => Some(loaded),
            Err(std::sync::mpsc::TryRecvError::Empty) => None,
            Err(std::sync::mpsc::TryRecvError::Disconnected) => {
                Some(Loaded::Failed("the review ended by a fault of the program".into()))
            }
        }
    }
}

/// Reviews everything in the background. `wake` is called as it goes on.
pub(crate) fn review(ground: &Ground, wake: impl Fn() + Send + Sync + Clone + 'static) -> Loading {
    let (car, kit) = (Arc::clone(&ground.car), Arc::clone(&ground.kit));
    let progress: Arc<[AtomicUsize; 2]> = Arc::default();
    let own = Arc::clone(&progress);
    let (tells, found) = channel();
    let work = move || {
        let request = Request::everything(&car, &kit);
        let (began, due) = (Instant::now(), AtomicU64::new(0));
        let on = |progress: review::Progress| {
            own[0].fetch_max(progress.done, Relaxed);
            own[1].store(progress.total, Relaxed);
            let now = u64::try_from(began.elapsed().as_millis()).unwrap_or(u64::MAX);
            let at = due.load(Relaxed);
            let next = now.saturating_add(PAUSE);
            if now >= at && due.compare_exchange(at, next, Relaxed, Relaxed).is_ok() {
                wake();
            }
        };
        let loaded = match reviewed(&car, &kit, &request, &on) {
            Ok(review) => Loaded::Found(review),
            Err(error) => Loaded::Failed(format!(
                "a part of the kit cannot be made: {error}; correct its dimensions and read anew"
            )),
        };
        // A window that is closed hears nothing.
        let _ = tells.send(loaded);
        wake();
    };
    // Without a thread the channel is closed, and told of so.
    drop(Builder::new().name("review".into()).spawn(work));
    Loading { progress, found: Mutex::new(found) }
}

/// What a review found, with what measures beside it.
pub(crate) fn found(
    ground: &Ground,
    review: Review,
    wake: impl Fn() + Send + Sync + Clone + 'static,
) -> Result<Found, String> {
    let (car, kit) = (&ground.car, &ground.kit);
    let worker = Worker::start(Arc::clone(car), Arc::clone(kit), wake.clone())
        .map_err(|error| format!("nothing can be measured by hand: {error}"))?;
    let looker = Looker::start(Arc::clone(car), Arc::clone(kit), wake);
    let bests = Arc::new(Bests::of(&review));
    Ok(Found { review: Arc::new(review), bests, worker, looker })
}

/// Files that are not what they were when they were read, by their time and length.
pub(crate) fn changed(ground: &Ground) -> Vec<PathBuf> {
    let files = ground.files.iter().filter(|(path, before)| stamp(path) != *before);
    files.map(|(path, _)| path.clone()).collect()
}
