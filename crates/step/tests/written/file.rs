//! A STEP file written piece by piece.

use std::f64::consts::PI;
use std::fmt::Write as _;
use step::{Accuracy, Body, Model, read};

/// Instances that are written so far.
#[derive(Default)]
pub(crate) struct File {
    data: String,
    count: u64,
}

impl File {
    /// Adds an instance and gives its number.
    pub(crate) fn add(&mut self, record: &str) -> u64 {
        self.count += 1;
        writeln!(self.data, "#{}={record};", self.count).unwrap();
        self.count
    }

    pub(crate) fn point(&mut self, [x, y, z]: [f64; 3]) -> u64 {
        self.add(&format!("CARTESIAN_POINT('',({x:?},{y:?},{z:?}))"))
    }

    pub(crate) fn direction(&mut self, [x, y, z]: [f64; 3]) -> u64 {
        self.add(&format!("DIRECTION('',({x:?},{y:?},{z:?}))"))
    }

    pub(crate) fn frame(&mut self, origin: [f64; 3], z: [f64; 3], x: [f64; 3]) -> u64 {
        let (origin, z, x) = (self.point(origin), self.direction(z), self.direction(x));
        self.add(&format!("AXIS2_PLACEMENT_3D('',#{origin},#{z},#{x})"))
    }

    pub(crate) fn vertex(&mut self, at: [f64; 3]) -> u64 {
        let point = self.point(at);
        self.add(&format!("VERTEX_POINT('',#{point})"))
    }

    pub(crate) fn circle(&mut self, frame: u64, radius: f64) -> u64 {
        self.add(&format!("CIRCLE('',#{frame},{radius:?})"))
    }

    pub(crate) fn line(&mut self, from: [f64; 3], to: [f64; 3]) -> u64 {
        let along = [0, 1, 2].map(|i| to[i] - from[i]);
        let (from, along) = (self.point(from), self.direction(along));
        let vector = self.add(&format!("VECTOR('',#{along},1.)"));
        self.add(&format!("LINE('',#{from},#{vector})"))
    }

    pub(crate) fn edge(&mut self, from: u64, to: u64, curve: u64, forward: bool) -> u64 {
        let forward = flag(forward);
        self.add(&format!("EDGE_CURVE('',#{from},#{to},#{curve},{forward})"))
    }

    /// A loop of edges, each with whether it is run from its start to its end.
    pub(crate) fn edge_loop(&mut self, edges: &[(u64, bool)]) -> u64 {
        let oriented: Vec<u64> = edges
            .iter()
            .map(|(e, forward)| self.add(&format!("ORIENTED_EDGE('',*,*,#{e},{})", flag(*forward))))
            .collect();
        self.add(&format!("EDGE_LOOP('',({}))", list(&oriented)))
    }

    /// A face with its loops, none of them said to be the outer one.
    pub(crate) fn face(&mut self, surface: u64, same: bool, loops: &[u64]) -> u64 {
        let bounds: Vec<u64> =
            loops.iter().map(|l| self.add(&format!("FACE_BOUND('',#{l},.T.)"))).collect();
        self.add(&format!("ADVANCED_FACE('',({}),#{surface},{})", list(&bounds), flag(same)))
    }

    pub(crate) fn solid(&mut self, name: &str, faces: &[u64]) -> u64 {
        let shell = self.add(&format!("CLOSED_SHELL('',({}))", list(faces)));
        self.add(&format!("MANIFOLD_SOLID_BREP('{name}',#{shell})"))
    }

    /// Millimetres and radians, a tolerance of a hundred thousandth.
    pub(crate) fn context(&mut self) -> u64 {
        let length = self.add("(LENGTH_UNIT()NAMED_UNIT(*)SI_UNIT(.MILLI.,.METRE.))");
        let angle = self.add("(NAMED_UNIT(*)PLANE_ANGLE_UNIT()SI_UNIT($,.RADIAN.))");
        self.context_of(length, angle)
    }

    pub(crate) fn context_of(&mut self, length: u64, angle: u64) -> u64 {
        let about = self.add(&format!(
            "UNCERTAINTY_MEASURE_WITH_UNIT(LENGTH_MEASURE(1.E-5),#{length},'distance','')"
        ));
        self.add(&format!(
            "(GEOMETRIC_REPRESENTATION_CONTEXT(3)GLOBAL_UNCERTAINTY_ASSIGNED_CONTEXT((#{about}))\
             GLOBAL_UNIT_ASSIGNED_CONTEXT((#{length},#{angle}))REPRESENTATION_CONTEXT('',''))"
        ))
    }

    /// A product with a shape, as its definition and its representation.
    pub(crate) fn product(&mut self, name: &str, items: &[u64], context: u64) -> (u64, u64) {
        let product = self.add(&format!("PRODUCT('id of {name}','{name}','',())"));
        let formation = self.add(&format!("PRODUCT_DEFINITION_FORMATION('','',#{product})"));
        let definition = self.add(&format!("PRODUCT_DEFINITION('design','',#{formation},$)"));
        let shape = self.add(&format!("PRODUCT_DEFINITION_SHAPE('','',#{definition})"));
        let kind = "ADVANCED_BREP_SHAPE_REPRESENTATION";
        let representation = self.add(&format!("{kind}('',({}),#{context})", list(items)));
        self.add(&format!("SHAPE_DEFINITION_REPRESENTATION(#{shape},#{representation})"));
        (definition, representation)
    }

    pub(crate) fn text(&self) -> String {
        format!(
            "ISO-10303-21;\nHEADER;\nFILE_DESCRIPTION((''),'2;1');\nFILE_NAME('','',(''),(''),'','','');\n\
             FILE_SCHEMA(('AUTOMOTIVE_DESIGN'));\nENDSEC;\nDATA;\n{}ENDSEC;\nEND-ISO-10303-21;\n",
            self.data
        )
    }

    pub(crate) fn model(&self, accuracy: Accuracy) -> Model {
        read(self.text().as_bytes(), accuracy).unwrap()
    }

    /// The file with one product that has these bodies.
    pub(crate) fn part(mut self, items: &[u64]) -> Self {
        let context = self.context();
        self.product("part", items, context);
        self
    }
}

pub(crate) fn flag(yes: bool) -> &'static str {
    if yes { ".T." } else { ".F." }
}

pub(crate) fn list(ids: &[u64]) -> String {
    let ids: Vec<String> = ids.iter().map(|id| format!("#{id}")).collect();
    ids.join(",")
}

/// The only body of a file, which must be sound and keep to what was asked.
pub(crate) fn only_body(file: &File, asked: f64) -> Body {
    let model = file.model(Accuracy::Length(asked));
    assert_eq!(model.findings, []);
    assert_eq!(model.bodies.len(), 1);
    let body = model.bodies[0].clone();
    assert!(body.is_sound(), "{:?} {:?}", body.lost, body.soundness);
    let deviation = stated(&body);
    assert!(deviation <= asked * (1.0 + 1e-9) + 1e-9, "{deviation} asked {asked}");
    body
}

/// The deviation of a body that was meshed here.
pub(crate) fn stated(body: &Body) -> f64 {
    body.deviation.unwrap()
}

/// Volume and area within what the deviation allows: the mesh lies within that of the surface.
pub(crate) fn holds(body: &Body, volume: f64, area: f64) {
    let (v, a) = (solids::volume(&body.mesh), solids::area(&body.mesh));
    // The volume between surface and mesh is at most the deviation all over the area.
    let slack = 1.05 * stated(body) * area + 1e-9 * volume;
    assert!((v - volume).abs() <= slack, "volume {v}, expected {volume} within {slack}");
    assert!((a / area - 1.0).abs() < 0.01, "area {a}, expected {area}");
}

/// An accuracy at which circles get some two hundred chords for a unit radius.
pub(crate) fn chord(radius: f64) -> f64 {
    radius * (1.0 - (PI / 100.0).cos())
}
