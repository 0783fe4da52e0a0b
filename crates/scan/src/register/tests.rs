use super::*;
use crate::chance::Chance;
use crate::synthetic::{self, Car};

fn lay(
    a: &[Point3<f64>],
    b: &[Point3<f64>],
    eyes: [Option<Point3<f64>>; 2],
    start: &Start,
) -> Result<Registration, Unregistered> {
    let shot = |points: &[Point3<f64>], seen_from| Shot {
        points: points.to_vec(),
        seen_from,
        ..Shot::default()
    };
    register((&[&shot(a, eyes[0])], 2.4), (&shot(b, eyes[1]), 2.4), start)
}

fn nudge(seed: u64, shift: f64, turn: f64) -> Isometry3<f64> {
    let mut chance = Chance::new(seed);
    let mut some = |most: f64| Vector3::from([(); 3].map(|()| most * chance.either_way()));
    Isometry3::from_parts(Translation3::from(some(shift)), UnitQuaternion::new(some(turn)))
}

/// How far a pose puts points of the car top wrong, mm, at most over its box.
fn wrong(pose: &Isometry3<f64>, truth: &Isometry3<f64>) -> f64 {
    let mut most: f64 = 0.0;
    for x in [-330.0, 330.0] {
        for y in [-330.0, 330.0] {
            for z in [0.0, 260.0] {
                let p = Point3::new(x, y, z);
                most = most.max((pose * p - truth * p).norm());
            }
        }
    }
    most
}

/// Points of two views, the eyes, and where the second lies on the first.
type Two = ([Vec<Point3<f64>>; 2], [Point3<f64>; 2], Isometry3<f64>);

/// Two views of one car top, the second in the true frame moved by a known pose.
fn two(car: Car, seed: u64, noise: f64) -> Two {
    // A quarter turn apart about the car top, as one walks around it.
    let eyes = [synthetic::eyes()[0], Point3::new(-200.0, 600.0, 1250.0)];
    let second_from_first = nudge(seed + 50, 20.0, 0.03);
    let a = synthetic::from_eye(car, &eyes[0], noise, 250_000, seed);
    let b = synthetic::from_eye(car, &eyes[1], noise, 250_000, seed + 1);
    let b = b.iter().map(|p| second_from_first * p).collect();
    ([a, b], [eyes[0], second_from_first * eyes[1]], second_from_first.inverse())
}

#[test]
fn a_second_view_is_laid_on_the_first() {
    for (seed, car) in
        [(1, Car::round()), (2, Car::straight()), (3, Car { around: true, ..Car::round() })]
    {
        let ([a, b], eyes, truth) = two(car, seed, 0.3);
        let start = Start { first_from_second: Isometry3::identity(), within: 40.0 };
        for eyes in [[Some(eyes[0]), Some(eyes[1])], [None, None]] {
            let found = lay(&a, &b, eyes, &start);
            // Without eyes the two faces of a thin wall look alike: then it may be refused.
            let found = match found {
                Err(why) if eyes[0].is_none() => {
                    println!("{seed}: {why}");
                    continue;
                }
                found => found.unwrap(),
            };
            let wrong = wrong(&found.first_from_second, &truth);
            println!("{seed}: wrong {wrong:.3} {found:?}");
            assert!(wrong < 0.3, "{wrong} {found:?}");
            assert!(found.overlap > 0.4 && found.rms < 1.0, "{found:?}");
            assert!(wrong < 3.0 * found.worst + 0.1, "{wrong} {found:?}");
            if seed == 1 {
                assert_eq!(Ok(found), lay(&a, &b, eyes, &start));
            }
        }
    }
}

#[test]
fn a_bare_plane_slides_and_a_round_wall_turns() {
    let mut chance = Chance::new(1);
    let mut flat = || -> Vec<Point3<f64>> {
        (0..40_000)
            .map(|_| {
                Point3::new(
                    300.0 * chance.either_way(),
                    300.0 * chance.either_way(),
                    0.3 * chance.either_way(),
                )
            })
            .collect()
    };
    let start = Start { first_from_second: nudge(3, 5.0, 0.01), within: 20.0 };
    let found = lay(&flat(), &flat(), [None; 2], &start);
    assert!(matches!(&found, Err(Unregistered::Loose(_))), "{found:?}");
    // A round housing without anything in it turns about its axis.
    let car = Car { fittings: false, ..Car::round() };
    let ([a, b], ..) = two(car, 7, 0.3);
    let found =
        lay(&a, &b, [None; 2], &Start { first_from_second: Isometry3::identity(), within: 40.0 });
    assert!(
        matches!(&found, Err(Unregistered::Loose(why)) if why.starts_with("turn")),
        "{found:?}"
    );
}

#[test]
fn what_does_not_belong_together_is_refused() {
    let ([a, _], ..) = two(Car::round(), 4, 0.3);
    let far: Vec<Point3<f64>> = a.iter().map(|p| p + Vector3::new(3000.0, 0.0, 0.0)).collect();
    let start = Start { first_from_second: Isometry3::identity(), within: 20.0 };
    assert!(matches!(lay(&a, &far, [None; 2], &start), Err(Unregistered::Apart(_))));
    // Another car top: no pose, or one that is off by what it says.
    let ([_, b], ..) = two(Car::straight(), 5, 0.3);
    let found = lay(&a, &b, [None; 2], &start);
    assert!(found.as_ref().map_or(true, |f| f.overlap < 0.8), "{found:?}");
    assert_eq!(lay(&[], &a, [None; 2], &start), Err(Unregistered::TooFew));
    let one = vec![Point3::origin(); 5000];
    assert_eq!(lay(&a, &one, [None; 2], &start), Err(Unregistered::TooFew));
    let line: Vec<Point3<f64>> = (0..5000).map(|i| Point3::new(f64::from(i), 0.0, 0.0)).collect();
    assert!(lay(&a, &line, [None; 2], &start).is_err());
    assert!(lay(&line, &line, [None; 2], &start).is_err());
    let odd = vec![Point3::new(f64::NAN, 0.0, 0.0); 5000];
    assert!(lay(&a, &odd, [None; 2], &start).is_err());
}

/// From starts of growing error: found rightly, or refused; never wrong.
#[test]
fn from_any_start_it_is_right_or_refused() {
    let ([a, b], eyes, truth) = two(Car::straight(), 9, 0.3);
    let (mut right, mut refused) = (0, 0);
    for seed in 0..12 {
        let scale = f64::from(u32::try_from(seed).unwrap()) * 8.0;
        let start =
            Start { first_from_second: truth * nudge(seed, scale, scale / 600.0), within: 30.0 };
        match lay(&a, &b, eyes.map(Some), &start) {
            Ok(found) => {
                let wrong = wrong(&found.first_from_second, &truth);
                assert!(wrong < 0.3, "{seed}: {wrong} {found:?}");
                right += 1;
            }
            Err(why) => {
                println!("{seed}: {why}");
                refused += 1;
            }
        }
    }
    println!("{right} right, {refused} refused");
    assert!(right >= 4, "{right} right, {refused} refused");
}
