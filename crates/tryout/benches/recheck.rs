//! One placement checked again while it is dragged: `cargo bench -p tryout`. Milliseconds at the best
//! placement of each fitting of the first example, and along a drag of the outlet's bearing by 60 degrees
//! and of the cup by 14 mm across it: anew and with memory, for each the quickest tenth, the middle and
//! the slowest tenth. The two are held against each other, to the bit. The example's car top has about
//! 200,000 triangles.

#![allow(clippy::print_stdout, clippy::unwrap_used, reason = "a bench prints")]

use assembly::Edit;
use fitup::{Memory, Scene};
use measure::Angle;
use nalgebra::Vector2;
use review::{Request, review};
use std::path::Path;
use std::sync::Arc;
use std::time::Instant;
use tryout::{Bests, Setup, edited, recheck, recheck_again, ring};

/// Milliseconds that something takes.
fn timed<T>(work: impl FnOnce() -> T) -> (f64, T) {
    let begun = Instant::now();
    let done = work();
    (begun.elapsed().as_secs_f64() * 1e3, done)
}

fn main() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples");
    let car = intake::read_case(&root.join("pressure-car/case.toml")).unwrap().car;
    let kit = intake::read_kit(&root.join("kit.toml")).unwrap().kit;
    let found = review(&car, &kit, &Request::everything(&car, &kit), &|_| {}).unwrap();
    let bests = Arc::new(Bests::of(&found));
    let triangles: usize = car.bodies.iter().map(|b| b.body.mesh.triangles.len()).sum();
    let (building, scene) = timed(|| Scene::new(&car, &kit).unwrap());
    println!("{triangles} triangles; the scene is built in {building:.0} ms");
    for (index, fitting) in car.fittings.iter().enumerate() {
        let Some(best) = bests.find(index, None) else { continue };
        let (first, _) = timed(|| recheck(&scene, best).unwrap());
        let (again, _) = timed(|| recheck(&scene, best).unwrap());
        let bearing = |i: i32| {
            let turn = best.placement.outlet_bearing.degrees() + 0.5 * f64::from(i);
            Edit::OutletBearing(Angle::from_degrees(turn))
        };
        let offset = |i: i32| {
            let shift = Vector2::new(0.1, 0.06) * f64::from(i);
            Edit::CupOffset(best.placement.cup_offset + shift)
        };
        let drag = |edit: &dyn Fn(i32) -> Edit| {
            let memory = Memory::new(&scene);
            let mut setup: Setup = best.clone();
            let [mut anew, mut with_memory]: [Vec<f64>; 2] = Default::default();
            for i in 0..120 {
                setup = edited(&car, &kit, &setup, &edit(i - 60)).unwrap();
                let (time, found) = timed(|| recheck(&scene, &setup).unwrap());
                anew.push(time);
                let (time, same) = timed(|| recheck_again(&memory, &setup).unwrap());
                with_memory.push(time);
                assert_eq!(found, same);
            }
            // The first one has nothing to remember.
            with_memory.remove(0);
            [anew, with_memory].map(|mut all| {
                all.sort_by(f64::total_cmp);
                let at = |tenths: usize| all[all.len() * tenths / 10];
                format!("{:.1} {:.1} {:.1}", at(1), at(5), at(9))
            })
        };
        let ([turned, turned_again], [moved, moved_again]) = (drag(&bearing), drag(&offset));
        let (round, _) = timed(|| ring(&scene, best, &|| false));
        println!(
            "{:4} first {first:.1}, again {again:.1}; bearing dragged {turned}, with memory {turned_again}; cup \
             dragged {moved}, with memory {moved_again}; ring {round:.0} ms",
            fitting.name
        );
    }
}
