//! Placements measured in the background: the newest request first.

use crate::around::{Around, around};
use crate::tried::{Setup, Tried, recheck_again};
use assembly::{CarTop, Kit};
use fitup::{Memory, Scene};
use std::any::Any;
use std::io;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};
use std::thread::{Builder, JoinHandle, scope};

/// An answer to a request.
#[derive(Debug, Clone, PartialEq)]
pub struct Answer<T> {
    /// The request's number, see [`Worker::ask`].
    pub number: u64,
    /// What was found, or why it could not be measured, in a sentence without its full stop.
    pub found: Result<T, String>,
}

/// Measures placements on threads of its own, so that whoever asks never waits.
///
/// A request that is not begun when a newer one comes is dropped without an answer. What takes longer,
/// [`Around`], is looked at after the margins, beside newer requests, and given up for them. Once
/// dropped, it ends its threads and waits for them.
pub struct Worker {
    shared: Arc<Shared>,
    thread: Option<JoinHandle<()>>,
}

/// What the threads share with whoever asks.
struct Shared {
    desk: Mutex<Desk>,
    /// Something new lies on the desk.
    changed: Condvar,
    /// Called after every answer.
    wake: Box<dyn Fn() + Send + Sync>,
}

/// What was asked and answered.
#[derive(Default)]
struct Desk {
    /// The number of the newest request.
    number: u64,
    quick: Option<Setup>,
    /// The newest request whose margins are known.
    slow: Option<(u64, Setup)>,
    tried: Option<Answer<Tried>>,
    around: Option<Answer<Around>>,
    has_ended: bool,
}

impl Shared {
    fn desk(&self) -> MutexGuard<'_, Desk> {
        self.desk.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Waits until there is something to take; `None` once it has ended.
    fn wait<T>(&self, take: impl Fn(&mut Desk) -> Option<T>) -> Option<T> {
        let mut desk = self.desk();
        while !desk.has_ended {
            if let Some(taken) = take(&mut desk) {
                return Some(taken);
            }
            desk = self.changed.wait(desk).unwrap_or_else(PoisonError::into_inner);
        }
        None
    }

    fn answer(&self, put: impl FnOnce(&mut Desk)) {
        put(&mut self.desk());
        self.changed.notify_all();
        (self.wake)();
    }

    /// Whether nobody waits for more about a request.
    fn is_stale(&self, number: u64) -> bool {
        let desk = self.desk();
        desk.has_ended || desk.number != number
    }
}

impl Worker {
    /// Starts the threads. `wake` is called on them after every answer.
    ///
    /// # Errors
    /// When the system gives no thread.
    pub fn start(
        car: Arc<CarTop>,
        kit: Arc<Kit>,
        wake: impl Fn() + Send + Sync + 'static,
    ) -> io::Result<Self> {
        let (desk, changed) = (Mutex::default(), Condvar::new());
        let shared = Arc::new(Shared { desk, changed, wake: Box::new(wake) });
        let own = Arc::clone(&shared);
        let named = Builder::new().name("tryout".into());
        let thread = named.spawn(move || run(&own, &car, &kit))?;
        Ok(Self { shared, thread: Some(thread) })
    }

    /// Asks for what is set up, and gives the request's number: each is one more than the last, from 1.
    pub fn ask(&self, setup: Setup) -> u64 {
        let mut desk = self.shared.desk();
        desk.number += 1;
        desk.quick = Some(setup);
        let number = desk.number;
        drop(desk);
        self.shared.changed.notify_all();
        number
    }

    /// The newest margins since it was last asked.
    pub fn tried(&self) -> Option<Answer<Tried>> {
        self.shared.desk().tried.take()
    }

    /// The newest look around since it was last asked.
    pub fn around(&self) -> Option<Answer<Around>> {
        self.shared.desk().around.take()
    }
}

impl Drop for Worker {
    fn drop(&mut self) {
        self.shared.desk().has_ended = true;
        self.shared.changed.notify_all();
        if let Some(thread) = self.thread.take() {
            // What it could not do was told as an answer.
            let _ = thread.join();
        }
    }
}

fn run(shared: &Shared, car: &CarTop, kit: &Kit) {
    let scene = sheltered(|| Scene::new(car, kit).map_err(|error| error.to_string()));
    let scene = scene.and_then(|scene| scene);
    scope(|threads| {
        let slow = || look_around(shared, scene.as_ref());
        let spawned = Builder::new().name("tryout around".into()).spawn_scoped(threads, slow);
        measure(shared, scene.as_ref());
        // Without that thread the margins are measured all the same.
        drop(spawned);
    });
}

/// The margins of the newest request, again and again.
fn measure(shared: &Shared, scene: Result<&Scene<'_>, &String>) {
    let memory = scene.map(Memory::new);
    let next = |desk: &mut Desk| desk.quick.take().map(|setup| (desk.number, setup));
    while let Some((number, setup)) = shared.wait(next) {
        let found = match &memory {
            Ok(memory) => sheltered(|| recheck_again(memory, &setup)),
            Err(why) => Err((*why).clone()),
        };
        let found = found.and_then(|found| found.ok_or_else(|| NO_BAR.to_owned()));
        shared.answer(|desk| {
            desk.tried = Some(Answer { number, found });
            desk.slow = Some((number, setup));
        });
    }
}

/// What is around the cup of the newest request whose margins are known, again and again.
fn look_around(shared: &Shared, scene: Result<&Scene<'_>, &String>) {
    while let Some((number, setup)) = shared.wait(|desk| desk.slow.take()) {
        let is_stale = || shared.is_stale(number);
        if is_stale() {
            continue;
        }
        let found = match scene {
            Ok(scene) => sheltered(|| around(scene, &setup, &is_stale)),
            Err(why) => Err(why.clone()),
        };
        let found = match found {
            Ok(None) if is_stale() => continue,
            Ok(None) => Err(NO_BAR.to_owned()),
            Ok(Some(around)) => Ok(around),
            Err(why) => Err(why),
        };
        shared.answer(|desk| desk.around = Some(Answer { number, found }));
    }
}

/// Why nothing can be measured.
const NO_BAR: &str = "with these ports and this cup no bar can be placed";

/// Does some work; a panic in it becomes a sentence.
fn sheltered<T>(work: impl FnOnce() -> T) -> Result<T, String> {
    catch_unwind(AssertUnwindSafe(work)).map_err(|panic| {
        let what = said(panic.as_ref());
        format!("this placement could not be measured, which is a fault of the program: {what}")
    })
}

fn said(panic: &(dyn Any + Send)) -> &str {
    let text = panic.downcast_ref::<&str>().copied();
    text.or_else(|| panic.downcast_ref::<String>().map(String::as_str)).unwrap_or("no message")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_panic_becomes_a_sentence() {
        let told = sheltered(|| -> usize { panic!("the {} is gone", "bar") }).unwrap_err();
        assert!(told.ends_with("a fault of the program: the bar is gone"), "{told}");
        assert_eq!(sheltered(|| 3), Ok(3));
    }
}
