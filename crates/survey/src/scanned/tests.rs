use super::*;
use crate::fit::whole;
use proptest::prelude::*;

fn thing(name: &str, place: Place, points: Vec<Point3<f64>>) -> Thing {
    let first = points.first().copied().unwrap_or_else(Point3::origin);
    let (low, high) = points.iter().fold((first, first), |(l, h), p| (l.inf(p), h.sup(p)));
    Thing { name: name.to_owned(), place, points, low, high, doubt: None }
}

fn scanned(things: Vec<Thing>) -> Scanned {
    Scanned {
        things,
        openings: Vec::new(),
        sigma: 0.3,
        spacing: 2.0,
        deviation: 1.0,
        plate: [(); 2].map(|()| likely("it is given")),
        area: 1e5,
        doubts: Vec::new(),
    }
}

/// Points of an upright tube, evenly.
fn tube(x: f64, y: f64, radius: f64, high: f64) -> Vec<Point3<f64>> {
    let around = 2 * whole(radius.max(10.0));
    (0..around)
        .flat_map(|i| {
            let turn = i as f64 / around as f64 * std::f64::consts::TAU;
            (0..whole(high / 3.0)).map(move |k| {
                Point3::new(x + radius * turn.cos(), y + radius * turn.sin(), 3.0 * k as f64)
            })
        })
        .collect()
}

#[test]
fn without_plate_or_wall_there_is_no_draft() {
    let none = survey_scan(&scanned(vec![]), &Settings::default());
    assert_eq!(none, Err(Unfound::NoPlate));
    let plate = thing("floor", Place::Plate, vec![Point3::origin()]);
    let none = survey_scan(&scanned(vec![plate.clone()]), &Settings::default());
    assert_eq!(none, Err(Unfound::NoHousing("floor".to_owned())));
    let mut bad = thing("bad", Place::Wall, tube(0.0, 0.0, 300.0, 200.0));
    bad.points[7].z = f64::NAN;
    let none = survey_scan(&scanned(vec![plate.clone(), bad]), &Settings::default());
    assert_eq!(none, Err(Unfound::Unusable("bad".to_owned())));
    // A post beside the plate surrounds nothing but itself, and no wall is that small; a draft of it
    // says nothing without a question.
    let half: Vec<_> = tube(0.0, 0.0, 300.0, 200.0).into_iter().filter(|p| p.y > 100.0).collect();
    let none =
        survey_scan(&scanned(vec![plate, thing("half", Place::Wall, half)]), &Settings::default());
    assert!(none.is_err(), "{none:?}");
}

#[test]
fn two_fittings_in_one_thing_are_asked_about() {
    let plate = thing("plate", Place::Plate, vec![Point3::origin()]);
    let wall = thing("wall", Place::Wall, tube(40.0, -30.0, 300.0, 240.0));
    let mut both = tube(150.0, 0.0, 70.0, 25.0);
    both.extend(tube(20.0, 40.0, 50.0, 25.0));
    let one = thing("one", Place::Standing, tube(-120.0, -60.0, 60.0, 25.0));
    let all = vec![plate, wall, thing("both", Place::Standing, both), one];
    let draft = survey_scan(&scanned(all), &Settings::default()).unwrap();
    let asked = |about: &str| draft.questions.iter().any(|q| q.about == about);
    assert!(asked("body \"both\""), "{:#?}", draft.questions);
    assert!(!asked("body \"one\""), "{:#?}", draft.questions);
    let one = draft.fittings.iter().find(|f| f.bodies[0].body == 3).unwrap();
    assert!((one.centre - Point2::new(-160.0, -30.0)).norm() < 1e-6, "{one:?}");
    assert!((one.flange - 120.0).abs() < 1e-6 && one.place_reason.confidence == Confidence::Likely);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    /// Every thing is in the draft once, or there is no draft; and each that is in doubt is asked about.
    #[test]
    fn nothing_is_left_out(
        things in prop::collection::vec(
            (0_usize..4, -400.0..400.0, -400.0..400.0, 1.0..90.0, 2.0..300.0, 0.0..200.0),
            0..14,
        ),
        wall in prop::bool::weighted(0.9),
        hinge in prop::option::of(0.0..6.0),
    ) {
        let mut all = vec![thing("plate", Place::Plate, vec![Point3::origin()])];
        if wall {
            all.push(thing("wall", Place::Wall, tube(0.0, 0.0, 320.0, 250.0)));
        }
        for (i, (place, x, y, radius, high, low)) in things.into_iter().enumerate() {
            let place = [Place::Plate, Place::Above, Place::Standing, Place::Standing][place];
            let mut points = tube(x, y, radius, high);
            for p in points.iter_mut().filter(|_| i % 3 == 0) {
                p.z += low;
            }
            all.push(thing(&format!("thing {i}"), place, points));
        }
        let scanned = scanned(all);
        let settings = Settings { hinge_at: hinge.map(measure::Angle::from_radians), ..Settings::default() };
        let draft = survey_scan(&scanned, &settings);
        prop_assert_eq!(&draft, &survey_scan(&scanned, &settings));
        prop_assert_eq!(draft.is_ok(), wall);
        let Ok(draft) = draft else { return Ok(()) };
        let mut listed: Vec<&Found> = vec![&draft.plate];
        listed.extend(&draft.housing);
        listed.extend(&draft.studs);
        listed.extend(draft.fittings.iter().flat_map(|f| &f.bodies));
        for (i, thing) in scanned.things.iter().enumerate() {
            let here: Vec<&&Found> = listed.iter().filter(|f| f.body == i).collect();
            let asked = draft.questions.iter().any(|q| q.about.contains(&format!("\"{}\"", thing.name)));
            // A further piece of the plate is in no list, and asked about.
            let piece = thing.place == Place::Plate && i > 0;
            prop_assert!(here.len() == 1 || (piece && asked), "{} is listed {} times", thing.name, here.len());
        }
        let doubts = draft.fittings.iter().filter(|f| f.kind_reason.confidence == Confidence::Doubtful);
        let kinds = draft.questions.iter().filter(|q| q.about.ends_with(", kind"));
        prop_assert_eq!(doubts.count(), kinds.count());
    }
}
