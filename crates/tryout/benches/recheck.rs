//! One placement checked again while it is dragged: `cargo bench -p tryout`. Every fitting of the first
//! example is dragged about its best placement as the window does it, with memory and on all threads: the
//! outlet by 60 degrees, the cup by 14 mm, the lid by 20 degrees, the bar by 6 mm along its line, each in 120
//! steps. For each drag: milliseconds until all figures of a step are known, the middle and the slowest tenth,
//! and what all threads together took of the processor for a step. Beside it a check anew on one thread. Every
//! tenth step is held against one checked anew, to the bit. The example's car top has about 200,000 triangles.
//!
//! The first figures of a line need a quiet machine; what the processor took is less disturbed by others.

#![allow(clippy::print_stdout, clippy::unwrap_used, reason = "a bench prints")]

use assembly::Edit;
use fitup::{Memory, Scene};
use measure::Angle;
use nalgebra::Vector2;
use review::{Request, review};
use std::path::Path;
use std::sync::Arc;
use std::time::{Duration, Instant};
use tryout::{Bests, Setup, edited, recheck, recheck_again, ring};

const STEPS: i32 = 120;

/// Milliseconds that something takes.
fn timed<T>(work: impl FnOnce() -> T) -> (f64, T) {
    let begun = Instant::now();
    let done = work();
    (begun.elapsed().as_secs_f64() * 1e3, done)
}

/// Milliseconds that the threads of this program have had of the processor, where the system tells.
fn processor() -> Option<f64> {
    // What runs is reckoned up now and then.
    std::thread::sleep(Duration::from_millis(20));
    let tasks = std::fs::read_dir("/proc/self/task").ok()?;
    let of_task = |task: std::io::Result<std::fs::DirEntry>| {
        let told = std::fs::read_to_string(task.ok()?.path().join("schedstat")).ok()?;
        told.split(' ').next()?.parse::<f64>().ok()
    };
    Some(tasks.filter_map(of_task).sum::<f64>() * 1e-6)
}

fn load() -> String {
    let told = std::fs::read_to_string("/proc/loadavg").unwrap_or_default();
    told.split(' ').next().map_or("unknown", |load| load).to_owned()
}

/// The middle and the slowest tenth.
fn spread(mut times: Vec<f64>) -> [f64; 2] {
    times.sort_by(f64::total_cmp);
    [5, 9].map(|tenths| times.get(times.len() * tenths / 10).copied().unwrap_or(f64::NAN))
}

fn main() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples");
    let car = intake::read_case(&root.join("pressure-car/case.toml")).unwrap().car;
    let kit = intake::read_kit(&root.join("kit.toml")).unwrap().kit;
    let found = review(&car, &kit, &Request::everything(&car, &kit), &|_| {}).unwrap();
    let bests = Arc::new(Bests::of(&found));
    let triangles: usize = car.bodies.iter().map(|b| b.body.mesh.triangles.len()).sum();
    let (building, scene) = timed(|| Scene::new(&car, &kit).unwrap());
    let threads = std::thread::available_parallelism().map_or(1, usize::from);
    println!(
        "{triangles} triangles, {threads} threads, load {}; the scene is built in {building:.0} ms",
        load()
    );
    println!("ms a step: the middle, the slowest tenth (of the processor)");
    let mut slowest = (0.0, String::new());
    for (index, fitting) in car.fittings.iter().enumerate() {
        let Some(best) = bests.find(index, None) else { continue };
        let place = &best.placement;
        let turned = |from: Angle, by: f64| Angle::from_degrees(from.degrees() + by);
        let drags: [(&str, &dyn Fn(f64) -> Edit); 4] = [
            ("outlet", &|i| Edit::OutletBearing(turned(place.outlet_bearing, 0.5 * i))),
            ("cup", &|i| Edit::CupOffset(place.cup_offset + Vector2::new(0.1, 0.06) * i)),
            ("lid", &|i| Edit::LidOpening(turned(place.lid_opening, i / 6.0 - 10.0))),
            ("bar", &|i| Edit::BarSlide(place.bar_slide + 0.05 * i)),
        ];
        let mut line = format!("{:4}", fitting.name);
        let mut anew = Vec::new();
        for (name, edit) in drags {
            let memory = Memory::new(&scene);
            let mut setup: Setup = best.clone();
            let (mut times, mut some) = (Vec::new(), Vec::new());
            let before = processor();
            for i in 0..STEPS {
                setup = edited(&car, &kit, &setup, &edit(f64::from(i) - 60.0)).unwrap();
                let (time, tried) = timed(|| recheck_again(&memory, &setup).unwrap());
                times.push(time);
                if i % 10 == 0 {
                    some.push((setup.clone(), tried));
                }
            }
            let took = before.zip(processor()).map(|(from, to)| (to - from) / f64::from(STEPS));
            let took = took.map_or("?".to_owned(), |took| format!("{took:.1}"));
            for (setup, tried) in some {
                let (time, fresh) = timed(|| recheck(&scene, &setup).unwrap());
                anew.push(time);
                assert_eq!(tried, fresh);
            }
            // The first one has nothing to remember.
            times.remove(0);
            let [middle, tenth] = spread(times);
            if middle > slowest.0 {
                slowest = (middle, format!("{} {name}", fitting.name));
            }
            line = format!("{line}  {name} {middle:.1} {tenth:.1} ({took})");
        }
        let (round, _) = timed(|| ring(&scene, best, &|| false));
        println!("{line}  anew {:.1}; ring {round:.0}", spread(anew)[0]);
    }
    println!("slowest middle: {} {:.1} ms; wanted: 5 ms; load {}", slowest.1, slowest.0, load());
}
