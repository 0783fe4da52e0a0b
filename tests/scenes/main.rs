//! The scenes of the examples: what is seen, as text; that everything that moves ends in its place and
//! passes where its way was proven; and that the glTF form reads back as the same.

#![expect(clippy::unwrap_used, reason = "a test fails by panicking")]

use assembly::rig::RigPart;
use display::{
    CutFace, DisplayList, Framing, Item, Plane, Role, Shown, View, Which, glb, interferences, marks,
};
use fitup::path::Way;
use fitup::{CupStudy, Part, Rule, Scene};
use gltf::Gltf;
use gltf::animation::util::ReadOutputs;
use intake::{CaseFile, KitFile, read_case, read_kit};
use nalgebra::{Isometry3, Matrix4, Point3, Vector3};
use review::{Inputs, Record, Request, Review, review};
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::LazyLock;

/// An example as it was reviewed.
struct Reviewed {
    /// Its folder's name.
    name: String,
    case: CaseFile,
    kit: KitFile,
    found: Review,
    record: Record,
}

static EXAMPLES: LazyLock<Vec<Reviewed>> = LazyLock::new(|| {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples");
    let mut cases: Vec<PathBuf> = fs::read_dir(&folder)
        .unwrap()
        .map(|entry| entry.unwrap().path().join("case.toml"))
        .filter(|case| case.is_file())
        .collect();
    cases.sort();
    assert!(cases.len() >= 3, "examples are missing: found {cases:?}");
    let reviewed = |path: PathBuf| {
        let name = path.parent().unwrap().file_name().unwrap().to_string_lossy().into_owned();
        let case = read_case(&path).unwrap_or_else(|faults| panic!("{faults:?}"));
        let kit = read_kit(&folder.join("kit.toml")).unwrap_or_else(|faults| panic!("{faults:?}"));
        let request = Request::everything(&case.car, &kit.kit);
        let found = review(&case.car, &kit.kit, &request, &|_| {}).unwrap();
        let inputs = Inputs {
            program: "test".into(),
            case_files: vec![],
            kit_files: vec![],
            findings: vec![],
        };
        let record = Record::of(&found, &case.car, &kit.kit, &request, inputs);
        Reviewed { name, case, kit, found, record }
    };
    cases.into_iter().map(reviewed).collect()
});

/// Calls with a list for the first fitting of each example that fits and the first that does not.
fn each(mut of: impl FnMut(&str, &DisplayList<'_>, &CupStudy)) {
    let mut seen = 0;
    for Reviewed { name, case, kit, found, record } in EXAMPLES.iter() {
        for fits in [true, false] {
            let mut both = found.fittings.iter().zip(&record.fittings);
            let Some((one, recorded)) = both.find(|(f, _)| f.verdict().is_fit() == fits) else {
                continue;
            };
            let study = &one.chosen().unwrap().study;
            let list = DisplayList::of(&case.car, &kit.kit, one.fitting, study).unwrap();
            let marks = marks(recorded, case.car.unit);
            let scene = Scene::new(&case.car, &kit.kit).unwrap();
            let interferences = interferences(review::interferences(&scene, study), &marks);
            let list = DisplayList { marks, interferences, ..list.unwrap() };
            of(&format!("{name}-{}", list.fitting), &list, study);
            seen += 1;
        }
    }
    assert!(seen >= 4, "{seen}");
}

fn off(a: &Isometry3<f64>, b: &Isometry3<f64>) -> f64 {
    let apart = a.inverse() * b;
    apart.translation.vector.norm() + 1000.0 * apart.rotation.angle()
}

#[test]
fn what_is_seen_of_every_example() {
    each(|name, list, study| {
        let text = list.text();
        // Where nothing fits, the exact placement is only the search's best guess.
        let lines = text.lines().map(|line| match line.split_once(", at ") {
            Some((item, _)) if !study.verdict.is_fit() => item,
            _ => line,
        });
        insta::assert_snapshot!(name, lines.collect::<Vec<_>>().join("\n"));
    });
}

#[test]
fn everything_that_moves_ends_in_its_place() {
    let mut moving = 0;
    each(|name, list, _| {
        for item in list.items.iter().filter(|item| !item.track.keys.is_empty()) {
            let last = item.track.pose(list.lasts()).unwrap();
            assert!(off(&last, &item.place) < 1e-9, "{name} {}", item.name);
            let times: Vec<f64> = item.track.keys.iter().map(|key| key.at).collect();
            assert!(
                times.windows(2).all(|pair| pair[0] < pair[1]),
                "{name} {} {times:?}",
                item.name
            );
            assert!(item.track.is_there(list.lasts()) && times[0] >= item.track.comes);
            moving += 1;
        }
    });
    assert!(moving > 20, "{moving}");
}

/// The ways were proven by sweeps; the way that is shown is the same.
#[test]
fn parts_pass_where_their_ways_were_proven() {
    let mut passed = 0;
    each(|name, list, study| {
        for way in &study.ways {
            for part in &way.lift.parts {
                let item = list.items.iter().find(|i| i.part == Part::Rig(*part)).unwrap();
                for point in way.waypoints(*part) {
                    let near = nearest(item, &point, list.lasts());
                    assert!(near < 1e-6, "{name} {} {near} mm off its way", item.name);
                    passed += 1;
                }
                assert!(never_beside(item, way), "{name} {} strays", item.name);
            }
        }
    });
    assert!(passed > 50, "{passed}");
}

/// How near an item's origin comes to a pose's, mm.
fn nearest(item: &Item, pose: &Isometry3<f64>, lasts: f64) -> f64 {
    let times = item.track.keys.iter().map(|key| key.at);
    let all = times.chain([lasts]).filter_map(|at| item.track.pose(at));
    let gap = |p: Isometry3<f64>| (p.translation.vector - pose.translation.vector).norm();
    all.map(gap).fold(f64::INFINITY, f64::min)
}

/// Whether a straight way is kept to between its ends.
fn never_beside(item: &Item, way: &Way) -> bool {
    let ends = way.waypoints(match item.part {
        Part::Rig(part) => part,
        Part::Car(_) => return true,
    });
    let (Some(first), Some(last)) = (ends.first(), ends.last()) else { return true };
    if ends.len() != 2 {
        return true;
    }
    let along = last.translation.vector - first.translation.vector;
    item.track.keys.iter().all(|key| {
        let gone = key.plate_from_item.translation.vector - first.translation.vector;
        gone.cross(&along).norm() <= 1e-6 * along.norm_squared()
    })
}

#[test]
fn the_gltf_form_reads_back_as_the_same() {
    each(|name, list, _| {
        let bytes = glb(list, "overcup test", "a caution").unwrap();
        // Reading checks the form as well.
        let read = Gltf::from_slice(&bytes).unwrap_or_else(|error| panic!("{name}: {error}"));
        let blob = read.blob.as_deref().unwrap();
        let under = |name: &str| {
            let group = read.nodes().find(|node| node.name() == Some(name));
            group.into_iter().flat_map(|group| group.children().collect::<Vec<_>>())
        };
        let nodes: Vec<gltf::Node<'_>> = under("car top").chain(under("rig")).collect();
        assert_eq!(nodes.len(), list.items.len());
        let figures: Vec<gltf::Node<'_>> = under("figures").collect();
        assert_eq!(figures.len(), list.marks.len());
        for (node, mark) in figures.iter().zip(&list.marks) {
            assert!(node.name().unwrap().contains(&mark.sentence));
        }
        assert_eq!(read.cameras().len(), View::ALL.len());
        let extras = read.document.as_json().asset.extras.as_ref().unwrap().get();
        assert!(extras.contains("a caution") && extras.contains(&list.fitting), "{extras}");
        for (node, item) in nodes.iter().zip(&list.items) {
            assert_eq!(node.name(), Some(item.name.as_str()));
            same_bounds(node, item, list, blob);
        }
        let animation = read.animations().next().unwrap();
        for channel in animation.channels() {
            let reader = channel.reader(|_| Some(blob));
            let times: Vec<f32> = reader.read_inputs().unwrap().collect();
            let at = channel.target().node().transform().decomposed();
            // A player that stops at the end leaves every part where it is without an animation.
            let near = |a: &[f32], b: &[f32]| a.iter().zip(b).all(|(a, b)| (a - b).abs() < 1e-3);
            let kept = match reader.read_outputs().unwrap() {
                ReadOutputs::Translations(all) => near(&all.last().unwrap(), &at.0),
                ReadOutputs::Rotations(all) => {
                    let last = all.into_f32().last().unwrap();
                    near(&last, &at.1) || near(&last.map(|x| -x), &at.1)
                }
                ReadOutputs::Scales(all) => near(&all.last().unwrap(), &at.2),
                ReadOutputs::MorphTargetWeights(_) => false,
            };
            assert!(kept, "{name} {:?}", channel.target().node().name());
            assert!(f64::from(*times.last().unwrap()) <= list.lasts() + 1e-3);
        }
    });
}

/// Every standing view shows everything but the open lid, and fills the picture with it.
#[test]
fn standing_views_show_everything() {
    each(|name, list, _| {
        for aspect in [0.6, 1.0, 1.6] {
            for view in View::ALL {
                let framing = list.framing(view, aspect);
                let look = Isometry3::look_at_rh(&framing.eye, &framing.target, &framing.up);
                let half = (0.5 * framing.angle).tan();
                let mut widest: f64 = 0.0;
                for item in list.items.iter().filter(|item| item.role != Role::Lid) {
                    for p in &list.meshes[item.mesh].vertices {
                        let seen = look * item.place * p;
                        let up = seen.y / (-seen.z * half);
                        let across = seen.x / (-seen.z * half * aspect);
                        assert!(seen.z < 0.0, "{name} {view:?}: {} is behind", item.name);
                        widest = widest.max(up.abs()).max(across.abs());
                    }
                }
                assert!((0.9..=1.0).contains(&widest), "{name} {view:?} {aspect}: {widest}");
            }
        }
    });
}

/// Holds a node's triangles in its place against the item's, single precision apart.
fn same_bounds(node: &gltf::Node<'_>, item: &Item, list: &DisplayList<'_>, blob: &[u8]) {
    let mesh = &list.meshes[item.mesh];
    assert_eq!(node.mesh().is_some(), !mesh.triangles.is_empty(), "{}", item.name);
    let Some(written) = node.mesh() else { return };
    let primitive = written.primitives().next().unwrap();
    let reader = primitive.reader(|_| Some(blob));
    // A piece that is taken off has no size at the end.
    let (translation, rotation, _) = node.transform().decomposed();
    let scale = [1.0; 3];
    let place = gltf::scene::Transform::Decomposed { translation, rotation, scale };
    let place = Matrix4::from(place.matrix()).map(f64::from);
    let positions = reader.read_positions().unwrap();
    let points = positions.map(|p| place.transform_point(&Point3::from(p.map(f64::from))));
    let bounds = |points: &mut dyn Iterator<Item = Point3<f64>>| {
        let far = Vector3::repeat(f64::INFINITY);
        let ends = (Point3::from(far), Point3::from(-far));
        points.fold(ends, |(low, high), p| (low.inf(&p), high.sup(&p)))
    };
    let corners = (0..mesh.triangles.len()).flat_map(|index| mesh.corners(index));
    let expected = bounds(&mut corners.map(|p| item.place * p));
    let got = bounds(&mut points.into_iter());
    for (a, b) in [(got.0, expected.0), (got.1, expected.1)] {
        assert!((a - b).norm() < 1e-3, "{}: {a} instead of {b}", item.name);
    }
    let normals = reader.read_normals().unwrap();
    assert!(normals.map(|n| Vector3::from(n).norm()).all(|length| (length - 1.0).abs() < 1e-4));
}

/// Whether two boxes have no inner point in common, each its least and greatest corner.
fn are_apart(a: &[Point3<f64>; 2], b: &[Point3<f64>; 2]) -> bool {
    (0..3).any(|axis| a[1][axis] <= b[0][axis] + 1e-9 || b[1][axis] <= a[0][axis] + 1e-9)
}

#[test]
fn the_parts_of_a_rig_taken_apart_stand_apart() {
    let mut pairs = 0;
    each(|name, list, _| {
        assert!(list.apart(0.0).iter().all(|off| off.norm() == 0.0));
        let (half, whole) = (list.apart(0.5), list.apart(1.0));
        let bar = list.items.iter().find(|item| item.name == "clamp bar").unwrap();
        let along = bar.place.rotation;
        let boxes: Vec<[Point3<f64>; 2]> = list
            .items
            .iter()
            .zip(&whole)
            .map(|(item, off)| {
                let far = Point3::from(Vector3::repeat(f64::INFINITY));
                let points = list.meshes[item.mesh].vertices.iter();
                let points = points.map(|p| along.inverse() * (item.place * p + off));
                let (low, high) =
                    points.fold((far, -far), |(low, high), p| (low.inf(&p), high.sup(&p)));
                [low, high]
            })
            .collect();
        let framing = list.framing_apart(View::Corner, 1.6, 1.0);
        for (item, off) in list.items.iter().zip(&whole).filter(|(i, _)| i.role != Role::Lid) {
            for p in list.meshes[item.mesh].vertices.iter().step_by(5) {
                assert_eq!(is_in(&framing, 1.6, &(item.place * p + off)), [true; 2], "{name}");
            }
        }
        for (i, item) in list.items.iter().enumerate() {
            assert!((half[i] * 2.0 - whole[i]).norm() < 1e-9, "{name} {}", item.name);
            let is_rig = matches!(item.part, Part::Rig(_));
            assert!(is_rig || whole[i].norm() == 0.0, "{name} {} moves", item.name);
            for (j, other) in list.items.iter().enumerate() {
                if i != j && is_rig && other.role != Role::Lid {
                    assert!(are_apart(&boxes[i], &boxes[j]), "{name} {} {}", item.name, other.name);
                    pairs += 1;
                }
            }
        }
    });
    assert!(pairs > 1000, "{pairs}");
}

/// Whether a point is in a picture, a perspective and a parallel one.
fn is_in(framing: &Framing, aspect: f64, point: &Point3<f64>) -> [bool; 2] {
    let seen = Isometry3::look_at_rh(&framing.eye, &framing.target, &framing.up) * point;
    let half = (0.5 * framing.angle).tan() * -seen.z;
    [half, 0.5 * framing.height].map(|half| {
        seen.z < 0.0 && seen.y.abs() <= half * 1.001 && seen.x.abs() <= half * aspect * 1.001
    })
}

#[test]
fn standing_views_are_full_in_parallel_too() {
    each(|name, list, _| {
        for (view, aspect) in View::ALL.into_iter().flat_map(|view| [(view, 0.7), (view, 1.6)]) {
            let framing = list.framing(view, aspect);
            let look = Isometry3::look_at_rh(&framing.eye, &framing.target, &framing.up);
            let mut widest: f64 = 0.0;
            for item in list.items.iter().filter(|item| item.role != Role::Lid) {
                for p in &list.meshes[item.mesh].vertices {
                    let seen = look * item.place * p;
                    let half = 0.5 * framing.height;
                    widest = widest.max(seen.y.abs() / half).max(seen.x.abs() / (half * aspect));
                }
            }
            assert!((0.9..=1.0).contains(&widest), "{name} {view:?} {aspect}: {widest}");
        }
    });
}

#[test]
fn a_mark_is_seen_with_its_section_toward_the_eye() {
    let (mut seen, mut shares) = (0, 0);
    each(|name, list, _| {
        for mark in &list.marks {
            for aspect in [0.7, 1.6] {
                let framing = list.framing_of(mark, aspect);
                assert_eq!(framing, list.framing_of(mark, aspect));
                for end in &mark.ends {
                    assert_eq!(is_in(&framing, aspect, end), [true; 2], "{name} {}", mark.sentence);
                }
                let Plane { point, normal } = list.plane_of(mark, &framing);
                for end in &mark.ends {
                    let off = normal.dot(&(end - point)).abs();
                    assert!(off < 1e-9, "{name} {}: {off}", mark.sentence);
                }
                assert!(normal.dot(&(framing.eye - point)) > 0.0, "{name} {}", mark.sentence);
                // What is shared is part of both.
                let plane = Plane { point, normal };
                let area = |face: &CutFace| face.fill.as_ref().map_or(0.0, solids::area);
                for shared in list.cut_interferences(&plane) {
                    let parts = &list.marks[list.interferences[shared.item].mark].parts;
                    let whole = |face: &&CutFace| parts.contains(&list.items[face.item].name);
                    for face in list.cut(&plane, list.lasts()).iter().filter(whole) {
                        // The cup is measured filled.
                        let is_cup = list.items[face.item].name == "cup";
                        assert!(is_cup || area(&shared) <= area(face) + 1e-6, "{name}");
                        shares += 1;
                    }
                }
                seen += 1;
            }
        }
    });
    assert!(seen > 20 && shares > 5, "{seen} {shares}");
}

#[test]
fn what_is_asked_for_is_drawn_so() {
    each(|name, list, _| {
        let mut list = list.clone();
        assert_eq!(list.show(Which::Named("no such thing"), Shown::Hidden), 0);
        assert_eq!(list.isolate(Which::Named("no such thing"), Shown::Hidden), 0);
        let links = list.show(Which::Named("*link at *"), Shown::Ghost);
        assert_eq!(links, 4, "{name}");
        assert_eq!(list.text().matches(", ghost\n").count(), 4);
        let cups = list.isolate(Which::Role(Role::Cup), Shown::Hidden);
        assert_eq!(cups, 2, "{name}");
        assert_eq!(list.text().matches(", hidden\n").count(), list.items.len() - 2);
        let plane = Plane { point: Point3::new(0.0, 0.0, 150.0), normal: Vector3::x_axis() };
        let done = list.lasts();
        assert!(list.cut(&plane, done).iter().all(|face| list.items[face.item].role == Role::Cup));
        assert_eq!(list.show(Which::Every, Shown::Solid), list.items.len());
        assert!(!list.text().contains(", hidden"));
    });
}

#[test]
fn a_scene_is_simplified_within_what_it_says() {
    let mut simplified = 0;
    each(|name, list, _| {
        let drawn = |list: &DisplayList<'_>| -> usize {
            list.items.iter().map(|item| list.meshes[item.mesh].triangles.len()).sum()
        };
        let mut simple = list.clone();
        let most = drawn(list) / 3;
        simple.simplify(most);
        assert!(drawn(&simple) <= most, "{name}: {} of {most}", drawn(&simple));
        assert!(simple.text().contains("drawn within"), "{name}");
        for (full, simple_mesh) in list.meshes.iter().zip(&simple.meshes) {
            let other = gap::Solid::new(full);
            for p in simple_mesh.vertices.iter().step_by(7) {
                let near = gap::nearest_point(&other, p, f64::INFINITY).unwrap().unwrap();
                assert!((near.point - p).norm() < 1e-9, "{name}: corners are the mesh's own");
            }
            let other = gap::Solid::new(simple_mesh);
            for p in full.vertices.iter().step_by(7) {
                let near = gap::nearest_point(&other, p, f64::INFINITY).unwrap().unwrap();
                let off = (near.point - p).norm();
                assert!(off <= simple.drawn_within + 1e-9, "{name}: {off}");
            }
            simplified += usize::from(simple_mesh.triangles.len() < full.triangles.len());
        }
        // What was closed still is.
        let plane = Plane { point: Point3::new(3.0, 1.0, 90.0), normal: Vector3::y_axis() };
        let filled = |list: &DisplayList<'_>| {
            let faces = list.cut(&plane, list.lasts()).into_iter();
            faces.filter(|face| face.fill.is_some()).map(|face| face.item).collect::<Vec<_>>()
        };
        assert_eq!(filled(&simple), filled(list), "{name}");
        // Enough for everything changes nothing.
        let mut same = list.clone();
        same.simplify(drawn(list));
        assert_eq!(same, *list);
    });
    assert!(simplified > 10, "{simplified}");
}

/// What someone measures: as the checks did where these measured the same solids; and by plain
/// arithmetic, where a gasket that rests on the plate is lifted off it.
#[test]
fn what_someone_measures_is_what_was_measured() {
    let mut compared = 0;
    for Reviewed { name, case, kit, found, .. } in EXAMPLES.iter() {
        let scene = Scene::new(&case.car, &kit.kit).unwrap();
        for one in &found.fittings {
            let study = &one.chosen().unwrap().study;
            let (Some(choice), Some(placement)) = (&study.choice, &study.placement) else {
                continue;
            };
            let between = |a: Part, b: Part, moved: Option<Isometry3<f64>>| {
                review::spacing(&scene, choice, placement, [(a, moved), (b, None)]).unwrap()
            };
            let of = |check: &fitup::CheckOutcome| check.margins.first().cloned();
            for margin in study.assessment.iter().flat_map(|a| &a.outcomes).filter_map(of) {
                let is_whole =
                    |part| matches!(part, Part::Rig(RigPart::Cup | RigPart::OutletHandle));
                if margin.rule != Rule::Gap || is_whole(margin.a) || is_whole(margin.b) {
                    continue;
                }
                if !margin.check.is_in_place() {
                    continue;
                }
                let seen = between(margin.a, margin.b, None);
                let distance = seen.distance.unwrap();
                let [low, high] = [distance.low.unwrap(), distance.high.unwrap()];
                let off =
                    (low - margin.measured.low).abs().max((high - margin.measured.high).abs());
                assert!(off < 1e-6, "{name} {:?} {:?} {low} {high}", seen.parts, margin.measured);
                assert_eq!(seen.ends.is_some(), margin.witness.is_some());
                compared += 1;
            }
            let lifted =
                Isometry3::translation(placement.cup_offset.x, placement.cup_offset.y, 0.0);
            let fitting = case.car.fittings[one.fitting].centre;
            let lifted = Isometry3::translation(fitting.x, fitting.y, 50.0) * lifted;
            let gasket = Part::Rig(RigPart::Gasket);
            let seen = between(gasket, Part::Car(case.car.plate), Some(lifted));
            let distance = seen.distance.unwrap();
            let [low, high] = [distance.low.unwrap(), distance.high.unwrap()];
            assert!(low <= 50.0 && 50.0 <= high + 1e-9, "{name}: {low} to {high}");
            let [on_gasket, on_plate] = seen.ends.unwrap();
            // A surveyed plate is as uneven as its deviation.
            let uneven = case.car.body(case.car.plate).body.deviation.bound;
            assert!((on_gasket.z - 50.0).abs() < 1e-6, "{name} {on_gasket}");
            assert!(on_plate.z <= uneven, "{name} {on_plate}");
            if study.verdict.is_fit() {
                let body = case.car.fittings[one.fitting].bodies[0];
                let seen = between(Part::Rig(RigPart::Cup), Part::Car(body), None);
                assert!(
                    seen.ends.unwrap()[0] != seen.ends.unwrap()[1],
                    "{name}: the cup is hollow"
                );
            }
        }
    }
    assert!(compared > 20, "{compared}");
}

/// Straight down from above, the first thing is the highest; a section takes away what is above it.
#[test]
fn what_is_picked_is_what_is_seen_first() {
    let mut picked = 0;
    each(|name, list, _| {
        let done = list.lasts();
        let bar = list.items.iter().position(|item| item.name == "clamp bar").unwrap();
        let screw = list.items.iter().find(|item| item.name == "screw").unwrap();
        let down = -Vector3::z();
        let solids: Vec<gap::Solid> = list.meshes.iter().map(|m| gap::Solid::new(m)).collect();
        for p in &list.meshes[list.items[bar].mesh].vertices {
            // A little toward the middle of the bar, off its edges.
            let p = list.items[bar].place * Point3::from(p.coords * 0.999);
            let from = Point3::new(p.x, p.y, 3000.0);
            let Some(found) = list.picked(&from, &down, done, None) else { continue };
            // Nothing of any item is above it there.
            let above = list.items.iter().filter_map(|item| {
                let place = item.place_at(done)?;
                let solid = &solids[item.mesh];
                let from = place.inverse_transform_point(&from);
                let hits = gap::ray_hits(solid, &from, &place.inverse_transform_vector(&down));
                hits.ok()?.first().map(|hit| 3000.0 - hit.distance)
            });
            let highest = above.fold(f64::NEG_INFINITY, f64::max);
            assert!((found.point.z - highest).abs() < 1e-6, "{name} {} {highest}", found.point);
            picked += 1;
            if picked % 8 == 7 {
                break;
            }
        }
        let over = screw.place.translation.vector + Vector3::new(0.0, 0.0, 3000.0);
        let plane = Plane { point: Point3::new(0.0, 0.0, 20.0), normal: Vector3::z_axis() };
        let below = list.picked(&over.into(), &down, done, Some(&plane)).unwrap();
        assert!(below.point.z <= 20.0 + 1e-6, "{name} {}", below.point);
        assert_eq!(list.picked(&over.into(), &Vector3::z(), done, None), None);
    });
    assert!(picked > 20, "{picked}");
}

#[test]
fn what_is_not_there_is_not_cut() {
    each(|name, list, _| {
        let plane = Plane { point: Point3::new(1.0, 2.0, 100.0), normal: Vector3::y_axis() };
        let is_rig = |index: usize| matches!(list.items[index].part, Part::Rig(_));
        let first = list.cut(&plane, 0.0);
        assert!(!first.is_empty() && first.iter().all(|face| !is_rig(face.item)), "{name}");
        let last = list.cut(&plane, list.lasts());
        assert!(last.iter().any(|face| is_rig(face.item)), "{name}");
        let taken = |face: &CutFace| list.items[face.item].role == Role::TakenOff;
        assert!(!last.iter().any(taken), "{name}");
    });
}
