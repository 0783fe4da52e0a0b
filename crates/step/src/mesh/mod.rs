//! Meshes of faces that share their edges.
//!
//! The deviation that is carried is proven, not sampled: an edge's chord by its second derivative or
//! the hull of its control points, a triangle by upper bounds of the surface's second derivatives over
//! the rectangle of parameters that it covers. What the file's own edges lie beside its surfaces is
//! measured at the ends and in the middle of every chord, and added.

mod edges;
mod fill;
mod outline;
mod view;

use crate::geometry::{P, Surface, V};
use crate::graph::Args;
use crate::load::Loader;
use crate::{Accuracy, Fault, LostFace};
use edges::{Edge, LEAST, Pool, TURN, vertex};
use fill::Plane;
use outline::{Obstacle, Outline, Setting, Step, extent, outline, straighten};
use solids::Mesh;
use std::collections::{HashMap, HashSet};
use std::rc::Rc;
use view::View;

/// A face as its entities say it.
struct Face {
    id: u64,
    surface: Rc<Surface>,
    kind: String,
    /// Whether triangles are turned: those of a face whose normal is not the surface's.
    turned: bool,
    shell: usize,
    /// The face on their left, seen along the surface's normal.
    loops: Vec<Vec<Step>>,
    /// Loops that are a vertex.
    vertices: Vec<u32>,
}

/// A shell to mesh: its faces, and whether they are taken turned inside out.
pub(crate) struct ShellFaces {
    pub(crate) faces: Vec<u64>,
    pub(crate) turned: bool,
}

/// Shells meshed together.
pub(crate) struct Meshed {
    /// All shells, in the order asked.
    pub(crate) mesh: Mesh,
    /// The face of each triangle.
    pub(crate) face_of: Vec<u64>,
    /// The shell of each triangle.
    pub(crate) shell_of: Vec<usize>,
    /// Millimetres, proven.
    pub(crate) deviation: f64,
    pub(crate) lost: Vec<LostFace>,
    pub(crate) faces: usize,
}

/// A face laid out, or one of nothing at this accuracy, or why not; none where edges must be cut first.
type Ready = Option<Result<Option<(Outline, Plane)>, Fault>>;

/// Rounds in which edges are cut for their faces, at most.
const ROUNDS: usize = 12;
/// Cuts that a face may ask for in all rounds together, at most, and so many more for each chord that it has
/// at first. Boundaries that no cut parts would else double twelve times over; of all faces of the files that
/// the reader is held against none asked for four hundred.
const MOST_CUTS: usize = 4000;
const CUTS_A_CHORD: usize = 8;

/// Meshes shells over shared vertices and edges.
pub(crate) fn mesh(loader: &Loader<'_>, shells: &[ShellFaces], asked: Accuracy) -> Meshed {
    let mut builder = Builder {
        loader: *loader,
        pool: Pool::default(),
        edges: Vec::new(),
        by_entity: HashMap::new(),
        surfaces: HashMap::new(),
        alone: HashSet::new(),
        chord: 0.0,
        size: 0.0,
        loose: 0.0,
        // Whoever asks for millimetres gets them; a share of the size is worth less patience.
        most: match asked {
            Accuracy::Length(_) => 200_000,
            Accuracy::Share(_) => 50_000,
        },
    };
    builder.size = builder.measure(shells);
    // Some files say a tolerance that is coarse for their small bodies.
    builder.loader.tolerance = loader.tolerance.min(1e-4 * builder.size);
    builder.chord = match asked {
        Accuracy::Length(mm) => mm,
        Accuracy::Share(share) => share * builder.size,
    }
    .max(1e-9 * builder.size)
    .max(1e-12);
    builder.loose = (100.0 * builder.loader.tolerance).max(2e-3 * builder.size);
    builder.run(shells)
}

struct Builder<'g> {
    loader: Loader<'g>,
    pool: Pool,
    edges: Vec<Edge>,
    by_entity: HashMap<u64, Result<usize, Fault>>,
    /// Surfaces, several faces of which may be one's pieces.
    surfaces: HashMap<u64, Result<(Rc<Surface>, bool), Fault>>,
    /// Edges that are a loop on their own.
    alone: HashSet<u64>,
    chord: f64,
    size: f64,
    loose: f64,
    /// Corners in one face, at most.
    most: usize,
}

impl Builder<'_> {
    /// The diagonal of a box around the vertices and the middles of the edges, and around surfaces that
    /// have none.
    fn measure(&mut self, shells: &[ShellFaces]) -> f64 {
        let mut low = P::from(V::repeat(f64::INFINITY));
        let mut high = P::from(V::repeat(f64::NEG_INFINITY));
        let mut radius: f64 = 0.0;
        let graph = self.loader.graph;
        let mut grow = |p: P| {
            low = low.inf(&p);
            high = high.sup(&p);
        };
        let mut seen = HashSet::new();
        for face in shells.iter().flat_map(|s| &s.faces) {
            let Some(args) = face_args(graph, *face) else { continue };
            for bound in args.references(1).unwrap_or_default() {
                let bound = graph.any(bound, &["FACE_OUTER_BOUND", "FACE_BOUND"]);
                let Some(of) = bound.and_then(|b| b.optional(1)) else { continue };
                if let Some(poly) = graph.find(of, "POLY_LOOP") {
                    for p in poly.references(1).unwrap_or_default() {
                        if let Ok(p) = self.loader.point(p) {
                            grow(p);
                        }
                    }
                }
                let Some(edges) = graph.find(of, "EDGE_LOOP") else { continue };
                let edges = edges.references(1).unwrap_or_default();
                let alone = edges.len() == 1;
                for edge in edges {
                    let edge = graph.find(edge, "ORIENTED_EDGE").and_then(|e| e.optional(3));
                    self.alone.extend(edge.filter(|_| alone));
                    // Both of its faces name it.
                    if edge.is_some_and(|edge| !seen.insert(edge)) {
                        continue;
                    }
                    let Some(edge) = edge.and_then(|e| graph.find(e, "EDGE_CURVE")) else {
                        continue;
                    };
                    for end in [1, 2] {
                        let v = edge.optional(end).and_then(|v| graph.find(v, "VERTEX_POINT"));
                        if let Some(Ok(p)) =
                            v.and_then(|v| v.optional(1)).map(|p| self.loader.point(p))
                        {
                            grow(p);
                        }
                    }
                    // An edge that is closed reaches beyond its vertex.
                    let closed = edge.optional(1) == edge.optional(2);
                    if let Some(Ok(curve)) =
                        edge.optional(3).filter(|_| closed).map(|c| self.loader.curve(c))
                    {
                        for t in curve.samples().into_iter().step_by(2).take(200) {
                            grow(curve.at(t));
                        }
                    }
                    let circle =
                        edge.optional(3).and_then(|c| graph.any(c, &["CIRCLE", "ELLIPSE"]));
                    if let Some(Ok(r)) = circle.map(|c| c.number(2)) {
                        radius = radius.max(r.abs() * self.loader.length);
                    }
                }
            }
            if let Some(round) = args.optional(2).and_then(|s| graph.find(s, "SPHERICAL_SURFACE")) {
                radius = radius.max(round.number(2).unwrap_or(0.0).abs() * self.loader.length);
            }
            if let Some(ring) = args.optional(2).and_then(|s| graph.find(s, "TOROIDAL_SURFACE")) {
                let r = ring.number(2).unwrap_or(0.0).abs() + ring.number(3).unwrap_or(0.0).abs();
                radius = radius.max(r * self.loader.length);
            }
        }
        if radius == 0.0
            && (high - low).norm().partial_cmp(&0.0) != Some(std::cmp::Ordering::Greater)
        {
            // Closed surfaces whose border is a point.
            for face in shells.iter().flat_map(|s| &s.faces) {
                let surface = face_args(graph, *face).and_then(|a| a.optional(2));
                if let Some(Ok((surface, _))) = surface.map(|s| self.loader.surface(s)) {
                    let [u, v] = surface.ranges();
                    let at = |k: i32, (a, b): (f64, f64)| a + (b - a) * f64::from(k) / 4.0;
                    for i in 0..25 {
                        let p = surface.at(at(i % 5, u), at(i / 5, v));
                        if p.iter().all(|x| x.is_finite()) {
                            low = low.inf(&p);
                            high = high.sup(&p);
                        }
                    }
                }
            }
        }
        let diagonal = (high - low).norm();
        // A body whose vertices all lie on its seam is as large as it is round; a slightly curved large
        // face is not.
        let by_radius = 2.0 * radius;
        if !diagonal.is_finite() {
            by_radius.max(1e-3)
        } else if by_radius > 4.0 * diagonal && diagonal > 1e-6 * by_radius {
            diagonal.max(1e-3 * by_radius)
        } else {
            diagonal.max(by_radius)
        }
    }

    /// The edge of an `edge_curve`.
    fn edge(&mut self, id: u64) -> Result<usize, Fault> {
        if let Some(known) = self.by_entity.get(&id) {
            return known.clone();
        }
        let alone = self.alone.contains(&id);
        let made =
            Edge::read(&self.loader, id, &mut self.pool, 0.5 * self.chord, self.loose, alone);
        let number = made.map(|edge| {
            self.edges.push(edge);
            self.edges.len() - 1
        });
        self.by_entity.insert(id, number.clone());
        number
    }

    fn face(
        &mut self,
        id: u64,
        shell: usize,
        turned: bool,
        straight: &mut HashMap<(u32, u32), usize>,
    ) -> Result<Face, (String, Fault)> {
        let graph = self.loader.graph;
        let none = |fault| (String::new(), fault);
        let args = face_args(graph, id).ok_or_else(|| {
            none(match graph.instance(id) {
                Ok(i) => {
                    Fault::Kind { id, found: crate::graph::kinds(i), expected: "ADVANCED_FACE" }
                }
                Err(fault) => fault,
            })
        })?;
        let surface_id = args.optional(2);
        let kind =
            surface_id.and_then(|s| graph.get(s)).map_or_else(String::new, crate::graph::kinds);
        let named = |fault| (kind.clone(), fault);
        let mut same = args.flag(3).unwrap_or(true);
        let mut loops = Vec::new();
        let mut vertices = Vec::new();
        for bound in args.references(1).map_err(named)? {
            let bound = graph.any(bound, &["FACE_OUTER_BOUND", "FACE_BOUND"]).ok_or_else(|| {
                named(Fault::Kind {
                    id: bound,
                    found: graph.get(bound).map_or_else(String::new, crate::graph::kinds),
                    expected: "FACE_BOUND",
                })
            })?;
            let of = bound.reference(1).map_err(named)?;
            let forward = bound.flag(2).map_err(named)?;
            if let Some(point) = graph.find(of, "VERTEX_LOOP") {
                let v = vertex(&self.loader, point.reference(1).map_err(named)?, &mut self.pool);
                vertices.push(v.map_err(named)?);
                continue;
            }
            let mut steps = if let Some(poly) = graph.find(of, "POLY_LOOP") {
                self.poly_loop(poly, straight).map_err(named)?
            } else {
                let edges = graph.expect(of, "EDGE_LOOP").map_err(named)?;
                self.edge_loop(edges).map_err(named)?
            };
            if !forward {
                turn(&mut steps);
            }
            loops.push(steps);
        }
        let surface = match surface_id {
            Some(s) => {
                let loader = self.loader;
                let known = self.surfaces.entry(s);
                let made = known.or_insert_with(|| loader.surface(s).map(|(s, f)| (Rc::new(s), f)));
                let (surface, flipped) = made.clone().map_err(named)?;
                same = same != flipped;
                surface
            }
            // A face of a faceted body has no surface: the plane of its first loop.
            None => {
                let plane = self.plane_of(id, loops.first()).map_err(named)?;
                same = true;
                Rc::new(plane)
            }
        };
        if !same {
            for steps in &mut loops {
                turn(steps);
            }
        }
        Ok(Face { id, surface, kind, turned: turned == same, shell, loops, vertices })
    }

    fn edge_loop(&mut self, args: Args<'_>) -> Result<Vec<Step>, Fault> {
        let mut steps = Vec::new();
        for id in args.references(1)? {
            let oriented = self.loader.graph.expect(id, "ORIENTED_EDGE")?;
            let edge = self.edge(oriented.reference(3)?)?;
            steps.push(Step { edge, forward: oriented.flag(4)? });
        }
        Ok(steps)
    }

    fn poly_loop(
        &mut self,
        args: Args<'_>,
        straight: &mut HashMap<(u32, u32), usize>,
    ) -> Result<Vec<Step>, Fault> {
        let mut corners = Vec::new();
        for p in args.references(1)? {
            corners.push(self.pool.of_entity(p, || self.loader.point(p))?);
        }
        let mut steps = Vec::new();
        for (from, to) in corners.iter().zip(corners.iter().cycle().skip(1)) {
            if from == to {
                continue;
            }
            let key = (*from.min(to), *from.max(to));
            let edge = *straight.entry(key).or_insert_with(|| {
                self.edges.push(Edge::straight(args.id, key.0, key.1));
                self.edges.len() - 1
            });
            steps.push(Step { edge, forward: *from == key.0 });
        }
        Ok(steps)
    }

    /// The plane of a polygon, by the sum of its corners' cross products.
    fn plane_of(&self, id: u64, steps: Option<&Vec<Step>>) -> Result<Surface, Fault> {
        let corners: Vec<P> = steps
            .into_iter()
            .flatten()
            .filter_map(|s| {
                let edge = self.edges.get(s.edge)?;
                let stop = if s.forward { edge.stops.first() } else { edge.stops.last() };
                stop.map(|s| self.pool.at(s.vertex))
            })
            .collect();
        let fault = Fault::Values { id, why: "a polygon has no area" };
        let first = *corners.first().ok_or_else(|| fault.clone())?;
        let mut normal = V::zeros();
        for pair in corners.windows(2) {
            normal += (pair[0] - first).cross(&(pair[1] - first));
        }
        let z = crate::geometry::unit(normal).ok_or(fault)?;
        Ok(Surface::Plane(crate::geometry::Frame::new(first, Some(z), None)))
    }

    /// The outline of a face, laid out.
    fn prepare(&mut self, face: &Face) -> Result<Option<(Outline, Plane)>, Obstacle> {
        let view = View::new(&face.surface, self.loader.tolerance, false);
        let mut set = Setting {
            pool: &mut self.pool,
            edges: &self.edges,
            chord: self.chord,
            tolerance: self.loader.tolerance,
            size: self.size,
            loose: self.loose,
        };
        let mut outline = outline(face.id, &view, &face.loops, &face.vertices, &mut set)?;
        if outline.rings.is_empty() {
            return Ok(None);
        }
        let view = View::new(&face.surface, self.loader.tolerance, outline.swapped);
        let used = |axis: usize| {
            let ends = outline.rings.iter().map(|ring| extent(ring, axis));
            ends.fold((f64::INFINITY, f64::NEG_INFINITY), |a, b| (a.0.min(b.0), a.1.max(b.1)))
        };
        let (u, v) = if outline.swapped { (used(1), used(0)) } else { (used(0), used(1)) };
        if let Some(why) = face.surface.crosses_itself(u, v, self.loader.tolerance) {
            return Err(Fault::Unbounded { id: face.id, why }.into());
        }
        let short = self.chord.max(20.0 * self.loader.tolerance);
        straighten(&view, &mut outline, &self.pool, short);
        let near = (10.0 * self.loader.tolerance).max(1e-7 * self.size);
        let plane = Plane::lay(face.id, &view, &outline, &self.pool, self.chord, near)?;
        Ok(Some((outline, plane)))
    }

    /// How many cuts a face may ask for.
    fn cuts_of(&self, face: &Face) -> usize {
        let chords = |step: &Step| self.edges.get(step.edge).map_or(0, |e| e.chords.len());
        MOST_CUTS + CUTS_A_CHORD * face.loops.iter().flatten().map(chords).sum::<usize>()
    }

    fn run(mut self, shells: &[ShellFaces]) -> Meshed {
        let mut lost: Vec<LostFace> = Vec::new();
        let mut faces: Vec<Face> = Vec::new();
        let mut straight = HashMap::new();
        let mut count = 0;
        for (number, shell) in shells.iter().enumerate() {
            for id in &shell.faces {
                count += 1;
                match self.face(*id, number, shell.turned, &mut straight) {
                    Ok(face) => faces.push(face),
                    Err((kind, fault)) => lost.push(LostFace { id: *id, kind, fault }),
                }
            }
        }
        // Edges are cut until every face can be laid out with them.
        let mut ready: Vec<Ready> = Vec::new();
        ready.resize_with(faces.len(), || None);
        let mut left: Vec<usize> = faces.iter().map(|face| self.cuts_of(face)).collect();
        for round in 0..=ROUNDS {
            let mut cut: HashMap<(usize, usize), Option<f64>> = HashMap::new();
            let mut waiting = false;
            for ((face, slot), left) in faces.iter().zip(&mut ready).zip(&mut left) {
                if slot.is_some() {
                    continue;
                }
                match self.prepare(face) {
                    Ok(done) => *slot = Some(Ok(done)),
                    Err(Obstacle::Fault(fault)) => *slot = Some(Err(fault)),
                    Err(Obstacle::Unite(a, b)) => {
                        self.pool.unite(a, b);
                        waiting = true;
                        // Whoever is done may hold the other number; roots are taken at the end.
                    }
                    Err(Obstacle::Cut(chords)) => {
                        *left = left.saturating_sub(chords.len());
                        if round == ROUNDS || *left == 0 {
                            *slot = Some(Err(Fault::Crossing { id: face.id }));
                            continue;
                        }
                        waiting = true;
                        cut.extend(chords);
                    }
                }
            }
            if !waiting {
                break;
            }
            let mut cuts: Vec<_> = cut.into_iter().collect();
            // From the last chord of an edge to the first, so that numbers stay right.
            cuts.sort_by_key(|c| std::cmp::Reverse(c.0));
            let mut touched = vec![false; self.edges.len()];
            let short = self.loader.tolerance.min(1e-2 * self.chord).max(1e-9 * self.size);
            for ((edge, chord), t) in cuts {
                if let Some(of) = self.edges.get_mut(edge) {
                    let long = of.chord_length(chord, &self.pool) > short;
                    touched[edge] |= long && of.split(chord, t, &mut self.pool);
                }
            }
            let mut any = false;
            for (face, slot) in faces.iter().zip(&mut ready) {
                if face.loops.iter().flatten().any(|s| touched.get(s.edge) == Some(&true)) {
                    any = true;
                    if !matches!(slot, Some(Err(_))) {
                        *slot = None;
                    }
                }
            }
            if !any && round + 1 < ROUNDS {
                // Nothing could be cut: those that wait are lost, unless places were united.
                for (face, slot) in faces.iter().zip(&mut ready) {
                    if slot.is_none() {
                        match self.prepare(face) {
                            Ok(done) => *slot = Some(Ok(done)),
                            Err(Obstacle::Fault(fault)) => *slot = Some(Err(fault)),
                            Err(Obstacle::Unite(a, b)) => self.pool.unite(a, b),
                            Err(Obstacle::Cut(_)) => {
                                *slot = Some(Err(Fault::Crossing { id: face.id }));
                            }
                        }
                    }
                }
            }
        }
        self.fill(faces, ready, lost, count)
    }

    fn fill(
        mut self,
        faces: Vec<Face>,
        ready: Vec<Ready>,
        mut lost: Vec<LostFace>,
        count: usize,
    ) -> Meshed {
        let mut triangles: Vec<[u32; 3]> = Vec::new();
        let mut face_of = Vec::new();
        let mut shell_of = Vec::new();
        let mut deviation: f64 = 0.0;
        for (face, slot) in faces.into_iter().zip(ready) {
            let (outline, plane) = match slot {
                Some(Ok(Some(done))) => done,
                Some(Ok(None)) => continue,
                Some(Err(fault)) => {
                    lost.push(LostFace { id: face.id, kind: face.kind, fault });
                    continue;
                }
                None => {
                    let fault = Fault::Crossing { id: face.id };
                    lost.push(LostFace { id: face.id, kind: face.kind, fault });
                    continue;
                }
            };
            let view = View::new(&face.surface, self.loader.tolerance, outline.swapped);
            // Triangles of what is round both ways may turn nearly three times as far: they are many.
            let round = TURN * TURN * view.roundness();
            // No triangle errs less than the chord beside it.
            let chord = self.chord.min(round.max(self.chord / LEAST).max(2.0 * outline.along));
            let filled = plane.fill(&view, &mut self.pool, chord, self.most);
            if !filled.deviation.is_finite() || filled.deviation > self.chord.max(10.0 * self.loose)
            {
                let fault = Fault::TooFine { id: face.id };
                lost.push(LostFace { id: face.id, kind: face.kind, fault });
                continue;
            }
            // What was measured before places were made one holds but for that.
            let corners = filled.triangles.iter().flatten();
            let moved = corners.map(|v| self.pool.moved(*v)).fold(0.0, worst);
            deviation = worst(deviation, filled.deviation + outline.gap + moved);
            deviation = worst(deviation, outline.deviation + moved);
            let flip = face.turned != outline.swapped;
            for [a, b, c] in filled.triangles {
                triangles.push(if flip { [a, c, b] } else { [a, b, c] });
                face_of.push(face.id);
                shell_of.push(face.shell);
            }
        }
        // Places that became one, and only those that are used.
        let mut number = vec![u32::MAX; self.pool.len()];
        let mut mesh = Mesh::default();
        let mut kept = (Vec::new(), Vec::new());
        for ((t, face), shell) in triangles.into_iter().zip(face_of).zip(shell_of) {
            let t = t.map(|v| self.pool.root(v));
            if t[0] == t[1] || t[1] == t[2] || t[2] == t[0] {
                continue;
            }
            let t = t.map(|v| {
                let slot = &mut number[v as usize];
                if *slot == u32::MAX {
                    *slot = u32::try_from(mesh.vertices.len()).unwrap_or(u32::MAX);
                    mesh.vertices.push(self.pool.at(v));
                }
                *slot
            });
            mesh.triangles.push(t);
            kept.0.push(face);
            kept.1.push(shell);
        }
        Meshed { mesh, face_of: kept.0, shell_of: kept.1, deviation, lost, faces: count }
    }
}

fn face_args<'g>(graph: &'g crate::part21::Exchange<'_>, id: u64) -> Option<Args<'g>> {
    graph.any(id, &["ADVANCED_FACE", "FACE_SURFACE", "FACE"])
}

/// The greater of two lengths. What is no number may be any, and counts as endless.
fn worst(a: f64, b: f64) -> f64 {
    if b.is_nan() { f64::INFINITY } else { a.max(b) }
}

/// Runs a loop the other way.
fn turn(steps: &mut [Step]) {
    steps.reverse();
    for step in steps {
        step.forward = !step.forward;
    }
}
