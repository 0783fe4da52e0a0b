//! Requests in the background.

use crate::example;
use assembly::Edit;
use measure::Angle;
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering::SeqCst};
use std::time::{Duration, Instant};
use tryout::{Answer, Setup, Worker, around, edited, recheck};

/// Asks again until there is an answer to a request.
fn waited<T>(number: u64, ask: impl Fn() -> Option<Answer<T>>) -> (Answer<T>, Vec<u64>) {
    let begun = Instant::now();
    let mut before = Vec::new();
    loop {
        assert!(begun.elapsed() < Duration::from_mins(2), "no answer");
        match ask() {
            Some(answer) if answer.number == number => return (answer, before),
            Some(older) => before.push(older.number),
            None => std::thread::sleep(Duration::from_millis(1)),
        }
    }
}

fn turned(best: &Setup, deg: f64) -> Setup {
    let example = example();
    let bearing = Angle::from_degrees(best.placement.outlet_bearing.degrees() + deg);
    edited(&example.car, &example.kit, best, &Edit::OutletBearing(bearing)).unwrap()
}

fn worker() -> (Worker, Arc<AtomicUsize>) {
    let example = example();
    let woken = Arc::new(AtomicUsize::new(0));
    let counter = Arc::clone(&woken);
    let wake = move || {
        counter.fetch_add(1, SeqCst);
    };
    let ground = (Arc::clone(&example.car), Arc::clone(&example.kit));
    (Worker::start(ground.0, ground.1, wake).unwrap(), woken)
}

#[test]
fn the_newest_request_wins() {
    let example = example();
    let (worker, woken) = worker();
    let best = example.bests.find(example.fitting("LV1"), None).unwrap();
    let mut last = (0, best.clone());
    for step in 0..200 {
        let setup = turned(best, f64::from(step) * 0.1);
        last = (worker.ask(setup.clone()), setup);
    }
    assert_eq!(last.0, 200);
    let (answer, before) = waited(last.0, || worker.tried());
    // Most were dropped, and no answer came out of its order.
    assert!(before.len() < 199, "every request was answered");
    assert!(before.is_sorted() && before.iter().all(|n| *n < 200));
    let scene = example.scene();
    assert_eq!(answer.found.unwrap(), recheck(&scene, &last.1).unwrap());
    // What takes longer follows, for the newest alone.
    let (slow, _) = waited(last.0, || worker.around());
    assert_eq!(slow.found.unwrap(), around(&scene, &last.1, &|| false).unwrap());
    assert!(woken.load(SeqCst) >= 2);
    assert!(worker.tried().is_none() && worker.around().is_none());
}

#[test]
fn a_worker_is_dropped_in_the_middle_of_its_work() {
    let example = example();
    let best = example.bests.find(example.fitting("LV1"), None).unwrap();
    for wait in [0, 5, 700] {
        let (worker, _) = worker();
        worker.ask(best.clone());
        std::thread::sleep(Duration::from_millis(wait));
        drop(worker);
    }
}

#[test]
fn what_cannot_be_placed_is_told() {
    let example = example();
    let (worker, _) = worker();
    let mut setup = example.bests.find(example.fitting("LV1"), None).unwrap().clone();
    setup.choice.ports = [0, 0];
    let number = worker.ask(setup);
    let why = waited(number, || worker.tried()).0.found.unwrap_err();
    assert_eq!(why, "with these ports and this cup no bar can be placed");
    // An index out of range must not end the threads, whatever it does to the work.
    let mut setup = example.bests.find(example.fitting("LV1"), None).unwrap().clone();
    setup.placement.link_thickness = [[99; 2]; 2];
    let number = worker.ask(setup);
    assert!(waited(number, || worker.tried()).0.found.is_err());
    let best = example.bests.find(example.fitting("LV1"), None).unwrap();
    let number = worker.ask(best.clone());
    assert!(waited(number, || worker.tried()).0.found.is_ok());
}

#[test]
fn a_kit_that_cannot_be_built_is_told() {
    let example = example();
    let mut kit = example.kit.as_ref().clone();
    kit.cups[0].gasket = "none".into();
    let worker = Worker::start(Arc::clone(&example.car), Arc::new(kit), || {}).unwrap();
    let best = example.bests.find(example.fitting("LV1"), None).unwrap();
    let number = worker.ask(best.clone());
    let why = waited(number, || worker.tried()).0.found.unwrap_err();
    assert!(why.contains("none"), "{why}");
    let why = waited(number, || worker.around()).0.found.unwrap_err();
    assert!(why.contains("none"), "{why}");
}
