//! A car top of boxes in a folder of its own, with its kit, and the command run on it.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

/// A box by its least and greatest corner, mm.
pub(crate) type Corners = ([f64; 3], [f64; 3]);

/// A folder with `car/case.toml`, its meshes and `kit.toml`; gone when dropped.
pub(crate) struct BoxCar {
    folder: tempfile::TempDir,
}

impl BoxCar {
    pub(crate) fn new() -> Self {
        let folder = tempfile::tempdir().unwrap();
        let documents = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/command/box-car");
        let mesh = folder.path().join("car/mesh");
        fs::create_dir_all(&mesh).unwrap();
        fs::copy(documents.join("case.toml"), folder.path().join("car/case.toml")).unwrap();
        fs::copy(documents.join("kit.toml"), folder.path().join("kit.toml")).unwrap();
        for (name, boxes) in bodies() {
            fs::write(mesh.join(format!("{name}.stl")), stl(&boxes)).unwrap();
        }
        Self { folder }
    }

    pub(crate) fn path(&self, inside: &str) -> PathBuf {
        self.folder.path().join(inside)
    }

    /// Replaces a text in a document; the text must be there.
    pub(crate) fn edit(&self, document: &str, from: &str, to: &str) {
        let path = self.path(document);
        let text = fs::read_to_string(&path).unwrap();
        assert!(text.contains(from), "{document} does not hold {from:?}");
        fs::write(path, text.replacen(from, to, 1)).unwrap();
    }

    /// Runs the command in the folder, without a terminal.
    pub(crate) fn overcup(&self, args: &[&str]) -> Output {
        self.overcup_with(args, &[])
    }

    /// Begins to run the command there; what it prints goes to `printed`.
    #[cfg(unix)]
    pub(crate) fn begun(&self, args: &[&str]) -> std::process::Child {
        let printed = std::fs::File::create(self.path("printed")).unwrap();
        Command::new(env!("CARGO_BIN_EXE_overcup"))
            .args(args)
            .current_dir(self.folder.path())
            .stdout(printed)
            .spawn()
            .unwrap()
    }

    pub(crate) fn overcup_with(&self, args: &[&str], environment: &[(&str, &str)]) -> Output {
        Command::new(env!("CARGO_BIN_EXE_overcup"))
            .args(args)
            .envs(environment.iter().copied())
            .current_dir(self.folder.path())
            .output()
            .unwrap()
    }
}

/// A square housing with two ports, a small valve with a handwheel that covers it, and a block that
/// no cup goes over.
fn bodies() -> Vec<(&'static str, Vec<Corners>)> {
    let (inner, outer, top) = (342.9, 361.95, 300.0);
    let mut housing = vec![
        ([-outer, inner, 0.0], [outer, outer, top]),
        ([-outer, -outer, 0.0], [outer, -inner, top]),
    ];
    for (x0, x1) in [(inner, outer), (-outer, -inner)] {
        housing.push(([x0, 50.0, 0.0], [x1, inner, top]));
        housing.push(([x0, -inner, 0.0], [x1, -50.0, top]));
        housing.push(([x0, -50.0, 0.0], [x1, 50.0, 45.0]));
        housing.push(([x0, -50.0, 135.0], [x1, 50.0, top]));
    }
    vec![
        ("plate", vec![([-400.0, -400.0, -20.0], [400.0, 400.0, 0.0])]),
        ("housing", housing),
        ("n1-body", vec![([-40.0, -40.0, 0.0], [40.0, 40.0, 150.0])]),
        ("n1-handwheel", vec![([-120.0, -120.0, 155.0], [120.0, 120.0, 165.0])]),
        ("n2-body", vec![([-150.0, -320.0, 0.0], [150.0, -150.0, 40.0])]),
    ]
}

/// The faces of a box: corner n takes its x, y and z from the greatest corner where bit 0, 1, 2 is set.
const FACES: [[usize; 4]; 6] =
    [[0, 2, 3, 1], [4, 5, 7, 6], [0, 1, 5, 4], [2, 6, 7, 3], [0, 4, 6, 2], [1, 3, 7, 5]];

/// A STEP file of one part, whose solid has these boxes in its shell, each facing outward or not.
pub(crate) fn step(part: &str, boxes: &[(Corners, bool)]) -> String {
    let mut data = Data::default();
    let mut faces = Vec::new();
    for ((low, high), outward) in boxes {
        let corners: Vec<String> = places(low, high)
            .iter()
            .map(|[x, y, z]| data.add(&format!("CARTESIAN_POINT('',({x:?},{y:?},{z:?}))")))
            .collect();
        for mut face in FACES {
            if !outward {
                face.reverse();
            }
            let around = face.map(|n| corners[n].clone()).join(",");
            let around = data.add(&format!("POLY_LOOP('',({around}))"));
            let bound = data.add(&format!("FACE_OUTER_BOUND('',{around},.T.)"));
            faces.push(data.add(&format!("FACE('',({bound}))")));
        }
    }
    let shell = data.add(&format!("CLOSED_SHELL('',({}))", faces.join(",")));
    let solid = data.add(&format!("FACETED_BREP('',{shell})"));
    data.part(part, "FACETED_BREP_SHAPE_REPRESENTATION", &solid)
}

/// A STEP file of one part that is triangles alone, over the corners of a box by their numbers from 1.
pub(crate) fn tessellated(part: &str, (low, high): Corners, triangles: &str) -> String {
    let mut data = Data::default();
    let corners = places(&low, &high).map(|[x, y, z]| format!("({x:?},{y:?},{z:?})")).join(",");
    let list = data.add(&format!("COORDINATES_LIST('',8,({corners}))"));
    let face = data.add(&format!("TRIANGULATED_FACE('',{list},8,(),$,(),{triangles})"));
    let solid = data.add(&format!("TESSELLATED_SOLID('',({face}),$)"));
    data.part(part, "TESSELLATED_SHAPE_REPRESENTATION", &solid)
}

/// The corners of a box by their numbers.
fn places(low: &[f64; 3], high: &[f64; 3]) -> [[f64; 3]; 8] {
    std::array::from_fn(|n| [0, 1, 2].map(|i| if n >> i & 1 == 1 { high[i] } else { low[i] }))
}

/// The instances of a STEP file.
#[derive(Default)]
struct Data(Vec<String>);

impl Data {
    /// Adds an instance and gives the reference to it.
    fn add(&mut self, record: &str) -> String {
        let id = format!("#{}", self.0.len() + 1);
        self.0.push(format!("{id}={record};\n"));
        id
    }

    /// The file with one part, in millimetres, that has this item.
    fn part(mut self, part: &str, kind: &str, item: &str) -> String {
        let unit = self.add("(LENGTH_UNIT()NAMED_UNIT(*)SI_UNIT(.MILLI.,.METRE.))");
        let context = self.add(&format!(
            "(GEOMETRIC_REPRESENTATION_CONTEXT(3)GLOBAL_UNIT_ASSIGNED_CONTEXT(({unit}))\
             REPRESENTATION_CONTEXT('',''))"
        ));
        let product = self.add(&format!("PRODUCT('{part}','{part}','',())"));
        let formation = self.add(&format!("PRODUCT_DEFINITION_FORMATION('','',{product})"));
        let definition = self.add(&format!("PRODUCT_DEFINITION('','',{formation},$)"));
        let shape = self.add(&format!("PRODUCT_DEFINITION_SHAPE('','',{definition})"));
        let items = self.add(&format!("{kind}('',({item}),{context})"));
        self.add(&format!("SHAPE_DEFINITION_REPRESENTATION({shape},{items})"));
        let data = self.0.concat();
        format!(
            "ISO-10303-21;\nHEADER;\nFILE_DESCRIPTION((''),'2;1');\n\
             FILE_NAME('','',(''),(''),'','','');\nFILE_SCHEMA(('AUTOMOTIVE_DESIGN'));\nENDSEC;\nDATA;\n\
             {data}ENDSEC;\nEND-ISO-10303-21;\n"
        )
    }
}

/// Boxes as ASCII STL, each a closed shell.
fn stl(boxes: &[Corners]) -> String {
    let mut text = String::from("solid boxes\n");
    for (low, high) in boxes {
        let corner = |n: usize| {
            let [x, y, z] = [0, 1, 2].map(|i| if n >> i & 1 == 1 { high[i] } else { low[i] });
            format!("vertex {x} {y} {z}\n")
        };
        for [a, b, c, d] in FACES {
            for t in [[a, b, c], [a, c, d]] {
                text.push_str("facet normal 0 0 0\nouter loop\n");
                text.extend(t.map(corner));
                text.push_str("endloop\nendfacet\n");
            }
        }
    }
    text + "endsolid boxes\n"
}
