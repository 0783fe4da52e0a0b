//! What was measured in a scene before, so that little is measured again when little has moved.

use crate::checks::Task;
use crate::contacts::Found;
use crate::land::{Asking, Land};
use crate::margin::{Check, Part};
use crate::scene::{Scene, Shape};
use assembly::car_top::BodyId;
use assembly::rig::RigPart;
use nalgebra::Isometry3;
use std::cmp::Reverse;
use std::collections::HashMap;
use std::hash::Hash;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

/// One of two solids that were measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(crate) enum Who {
    Kit(Shape),
    Car(BodyId),
}

/// All that a measurement depends on, to the bit: the two solids, the pose between them, how far is
/// looked, and whether they touch by design.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(crate) struct Key {
    who: [Who; 2],
    pose: [u64; 7],
    cap: u64,
    is_contact: bool,
}

impl Key {
    pub(crate) fn new(
        who: [Who; 2],
        a_from_b: &Isometry3<f64>,
        cap: f64,
        is_contact: bool,
    ) -> Self {
        let [x, y, z] = a_from_b.translation.vector.into();
        let [i, j, k, w]: [f64; 4] = a_from_b.rotation.coords.into();
        let pose = [x, y, z, i, j, k, w].map(f64::to_bits);
        Self { who, pose, cap: cap.to_bits(), is_contact }
    }
}

/// What was measured in a scene before. A [`Situation`](crate::Situation) that is placed with it finds
/// just what one without finds, to the bit: every measurement is a function of what it is kept by. It is
/// also measured on all threads of the current rayon pool.
///
/// What was not asked for in the last few situations is forgotten.
pub struct Memory<'s> {
    pub(crate) scene: &'s Scene<'s>,
    found: Mutex<Kept<Key, Found>>,
    land: Mutex<Kept<[u64; 6], Land>>,
    /// How long each task took the last time.
    took: Mutex<HashMap<Task, Duration>>,
    /// The pair with the least margin of each check that had none near, the last time.
    least_far: Mutex<HashMap<Check, (RigPart, Part)>>,
}

impl<'s> Memory<'s> {
    /// Nothing was measured so far.
    pub fn new(scene: &'s Scene<'s>) -> Self {
        let (found, land) = Default::default();
        let (took, least_far) = Default::default();
        Self { scene, found, land, took, least_far }
    }

    /// Another situation begins.
    pub(crate) fn turn(&self) {
        held(&self.found).turn();
        held(&self.land).turn();
    }

    /// Runs tasks on all threads, each of which takes the next one when it is done with one. Those that
    /// took longest the last time come first, and those of which that is not known before them.
    pub(crate) fn longest_first(&self, mut tasks: Vec<Task>, run: impl Fn(&Task) + Sync) {
        let took = |task: &Task| held(&self.took).get(task).copied();
        tasks.sort_by_cached_key(|task| Reverse(took(task).unwrap_or(Duration::MAX)));
        let next = AtomicUsize::new(0);
        let work = || {
            let mut took = Vec::new();
            while let Some(task) = tasks.get(next.fetch_add(1, Ordering::Relaxed)) {
                let begun = Instant::now();
                run(task);
                took.push((*task, begun.elapsed()));
            }
            held(&self.took).extend(took);
        };
        rayon::scope(|threads| {
            for _ in 0..rayon::current_num_threads() {
                threads.spawn(|_| work());
            }
        });
    }

    pub(crate) fn least_far(&self, check: Check) -> Option<(RigPart, Part)> {
        held(&self.least_far).get(&check).copied()
    }

    pub(crate) fn keep_least_far(&self, check: Check, pair: (RigPart, Part)) {
        held(&self.least_far).insert(check, pair);
    }

    pub(crate) fn found(&self, key: Key, find: impl FnOnce() -> Found) -> Found {
        recalled(&self.found, key, find)
    }

    pub(crate) fn land(&self, asking: &Asking, find: impl FnOnce() -> Land) -> Land {
        let Asking { axis, radii: [inner, outer], tolerance, deviation } = *asking;
        let key = [axis.x, axis.y, inner, outer, tolerance, deviation].map(f64::to_bits);
        recalled(&self.land, key, find)
    }
}

impl Part {
    /// The solid that is measured for it.
    pub(crate) fn who(self, shape: impl FnOnce(assembly::rig::RigPart) -> Shape) -> Who {
        match self {
            Self::Rig(part) => Who::Kit(shape(part)),
            Self::Car(id) => Who::Car(id),
        }
    }
}

fn held<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

/// What is kept under a key; found, and kept, where nothing is. Two threads may find the same at once.
fn recalled<K: Eq + Hash + Copy, V: Copy>(
    kept: &Mutex<Kept<K, V>>,
    key: K,
    find: impl FnOnce() -> V,
) -> V {
    if let Some(known) = held(kept).get(key) {
        return known;
    }
    let found = find();
    held(kept).put(key, found);
    found
}

/// Values with the turn in which each was last asked for.
struct Kept<K, V> {
    turn: u64,
    values: HashMap<K, (u64, V)>,
}

impl<K, V> Default for Kept<K, V> {
    fn default() -> Self {
        Self { turn: 0, values: HashMap::new() }
    }
}

impl<K: Eq + Hash + Copy, V: Copy> Kept<K, V> {
    /// What was not asked for in so many turns is forgotten.
    const TURNS: u64 = 8;

    fn turn(&mut self) {
        self.turn += 1;
        if self.turn.is_multiple_of(Self::TURNS) {
            let turn = self.turn;
            self.values.retain(|_, (last, _)| turn - *last <= Self::TURNS);
        }
    }

    fn get(&mut self, key: K) -> Option<V> {
        let turn = self.turn;
        self.values.get_mut(&key).map(|(last, value)| {
            *last = turn;
            *value
        })
    }

    fn put(&mut self, key: K, value: V) {
        self.values.insert(key, (self.turn, value));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_asked_for_is_kept_and_what_is_not_is_forgotten() {
        let mut kept: Kept<u8, u8> = Kept::default();
        kept.put(1, 10);
        kept.put(2, 20);
        for _ in 0..3 * Kept::<u8, u8>::TURNS {
            kept.turn();
            assert_eq!(kept.get(1), Some(10));
        }
        assert_eq!((kept.get(2), kept.values.len()), (None, 1));
    }

    #[test]
    fn a_key_tells_poses_apart_that_differ_by_one_bit() {
        let who = [Who::Car(BodyId(0)), Who::Kit(Shape::Bar)];
        let pose = Isometry3::translation(1.0, 0.0, 0.0);
        let next = Isometry3::translation(f64::from_bits(1.0_f64.to_bits() + 1), 0.0, 0.0);
        let key = |pose: &Isometry3<f64>, contact| Key::new(who, pose, 40.0, contact);
        assert_eq!(key(&pose, false), key(&pose, false));
        assert_ne!(key(&pose, false), key(&next, false));
        assert_ne!(key(&pose, false), key(&pose, true));
    }
}
