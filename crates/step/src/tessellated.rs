//! Triangles that a file holds as such: the tessellated geometry of ISO 10303-42.
//!
//! Nothing says how far such triangles lie from the surface that they stand for. Points of one body that
//! lie nearer to each other than the file can tell places apart are one, since every face may have points
//! of its own that were written with roundings of their own.

use crate::geometry::{P, V};
use crate::graph::{Args, kinds, list, number, whole};
use crate::load::Loader;
use crate::part21::{Exchange, Value};
use crate::{Fault, LostFace, Placement};
use solids::Mesh;
use std::collections::{HashMap, HashSet};
use std::rc::Rc;

/// Types of items that are triangles, or sets of such.
pub(crate) const TESSELLATED: [&str; 8] = [
    "TESSELLATED_SOLID",
    "TESSELLATED_SHELL",
    "TESSELLATED_GEOMETRIC_SET",
    "TRIANGULATED_FACE",
    "COMPLEX_TRIANGULATED_FACE",
    "TRIANGULATED_SURFACE_SET",
    "COMPLEX_TRIANGULATED_SURFACE_SET",
    "CUBIC_BEZIER_TRIANGULATED_FACE",
];

/// Those that are bodies also where no part has them.
pub(crate) const BODIES: [&str; 2] = ["TESSELLATED_SOLID", "TESSELLATED_SHELL"];

/// Sets within sets, at most so deep.
const DEPTH: usize = 64;
/// Triangles and indices that are looked at in a file, at most, those of faces of several bodies at every
/// use.
const MOST: usize = 60_000_000;
/// Points of a body are one within this share of its size, at most: what a number of single precision
/// rounds by.
pub(crate) const ROUNDING: f64 = 1e-7;

const TOO_MANY: &str = "the file's tessellations hold too many triangles";

/// The triangles of a body.
#[derive(Default)]
pub(crate) struct Tessellation {
    /// Millimetres, as the file winds them.
    pub(crate) mesh: Mesh,
    /// The face of each triangle.
    pub(crate) face_of: Vec<u64>,
    pub(crate) lost: Vec<LostFace>,
    pub(crate) faces: usize,
}

/// What a tessellated item stands for, as it says itself.
#[derive(Default)]
pub(crate) struct Links {
    /// Exact solids.
    pub(crate) solids: Vec<u64>,
    /// Shells of exact faces.
    pub(crate) shells: Vec<u64>,
    /// An exact face for each of its faces; none where one of them names none.
    pub(crate) faces: Option<Vec<u64>>,
}

/// Coordinates as the file writes them.
type Coordinates = Rc<Vec<[f64; 3]>>;

/// What is kept between the bodies of a file.
pub(crate) struct Tessellations {
    /// Lists of coordinates, which many faces share.
    coordinates: HashMap<u64, Result<Coordinates, Fault>>,
    /// What may still be looked at.
    left: usize,
}

impl Default for Tessellations {
    fn default() -> Self {
        Self { coordinates: HashMap::new(), left: MOST }
    }
}

/// A piece of a set: a face or a surface set, and where it lies.
struct Piece {
    id: u64,
    here_from_piece: Placement,
}

/// The points of a body that triangles use, and the triangles before points are made one.
#[derive(Default)]
struct Gathered {
    points: Vec<P>,
    /// The number of a point by its list, its index there, and the piece where that was put anew.
    numbers: HashMap<(u64, usize, usize), u32>,
    triangles: Vec<([u32; 3], u64)>,
}

impl Gathered {
    /// The number of a point; none where it is not finite.
    fn number(&mut self, key: (u64, usize, usize), place: impl FnOnce() -> P) -> Option<u32> {
        if let Some(known) = self.numbers.get(&key) {
            return Some(*known);
        }
        let p = place();
        let number = u32::try_from(self.points.len()).ok()?;
        if !p.iter().all(|c| c.is_finite()) {
            return None;
        }
        self.points.push(p);
        self.numbers.insert(key, number);
        Some(number)
    }
}

impl Tessellations {
    /// The triangles of an item; none where it is a set of curves and points alone, which `beside` tells.
    pub(crate) fn read(
        &mut self,
        loader: &Loader<'_>,
        id: u64,
        beside: &impl Fn(&str) -> bool,
    ) -> Result<Option<Tessellation>, Fault> {
        let (pieces, mut lost) = self.pieces(loader, id, beside)?;
        if pieces.is_empty() && lost.is_empty() {
            return Ok(None);
        }
        let faces = pieces.len() + lost.len();
        let mut all = Gathered::default();
        for (number, piece) in pieces.iter().enumerate() {
            let before = all.triangles.len();
            if let Err(fault) = self.face(loader, piece, number, &mut all) {
                all.triangles.truncate(before);
                let kind = loader.graph.get(piece.id).map_or_else(String::new, kinds);
                lost.push(LostFace { id: piece.id, kind, fault });
            }
        }
        let (mesh, face_of) = joined(&all, loader.tolerance);
        Ok(Some(Tessellation { mesh, face_of, lost, faces }))
    }

    /// The faces and surface sets of an item, each once at a place, and what of it cannot be read.
    fn pieces(
        &mut self,
        loader: &Loader<'_>,
        top: u64,
        beside: &impl Fn(&str) -> bool,
    ) -> Result<(Vec<Piece>, Vec<LostFace>), Fault> {
        let graph = loader.graph;
        let (mut pieces, mut lost) = (Vec::new(), Vec::new());
        let mut seen = HashSet::new();
        let mut waiting = vec![(top, Placement::default(), DEPTH)];
        while let Some((id, placement, depth)) = waiting.pop() {
            if !seen.insert((id, placement.bits())) {
                continue;
            }
            self.spend(id, 1)?;
            let mut lose = |fault| {
                let kind = graph.get(id).map_or_else(String::new, kinds);
                lost.push(LostFace { id, kind, fault });
            };
            let placement = match repositioned(loader, id) {
                Ok(here) => placement.after(&here),
                Err(fault) => {
                    lose(fault);
                    continue;
                }
            };
            match (items(graph, id), depth.checked_sub(1)) {
                (Some(Ok(items)), Some(depth)) => {
                    // The first is looked at first.
                    waiting.extend(items.into_iter().rev().map(|i| (i, placement, depth)));
                }
                (Some(Ok(_)), None) => lose(Fault::Cyclic { id }),
                (Some(Err(fault)), _) if id == top => return Err(fault),
                (Some(Err(fault)), _) => lose(fault),
                (None, _) => match graph.instance(id) {
                    Ok(_) if graph.any(id, &TESSELLATED).is_some() => {
                        pieces.push(Piece { id, here_from_piece: placement });
                    }
                    Ok(found) if found.records.iter().any(|r| beside(&r.kind)) => {}
                    Ok(found) => lose(Fault::Unread { id, kind: kinds(found) }),
                    Err(fault) => lose(fault),
                },
            }
        }
        Ok((pieces, lost))
    }

    fn spend(&mut self, id: u64, count: usize) -> Result<(), Fault> {
        let left = self.left.checked_sub(count);
        self.left = left.ok_or(Fault::Values { id, why: TOO_MANY })?;
        Ok(())
    }

    /// The triangles of a face or a surface set, the piece of this place among those of its body.
    fn face(
        &mut self,
        loader: &Loader<'_>,
        piece: &Piece,
        place: usize,
        all: &mut Gathered,
    ) -> Result<(), Fault> {
        let (graph, id) = (loader.graph, piece.id);
        let face = Face::of(graph, id)?;
        let points = self.points(graph, face.coordinates)?;
        self.spend(id, face.index.len() + 1)?;
        face.check(points.len())?;
        // Pieces that lie where they are written share their points.
        let moved = piece.here_from_piece != Placement::default();
        let place = if moved { place + 1 } else { 0 };
        let mut none = true;
        for (form, lists) in &face.lists {
            for one in *lists {
                let corners = list(one).unwrap_or_default();
                self.spend(id, corners.len() + 1)?;
                if corners.len() < 3 || (*form == Form::Triangle && corners.len() > 3) {
                    return Err(Fault::Values { id, why: form.wrong() });
                }
                let mut numbers = Vec::with_capacity(corners.len());
                for value in corners {
                    let at = face.at(value, points.len())?;
                    let written = points.get(at).copied().unwrap_or_default();
                    let there = || {
                        let p = P::from(V::from(written) * loader.length);
                        if moved { piece.here_from_piece.of(&p) } else { p }
                    };
                    let number = all.number((face.coordinates, at, place), there);
                    let why = "a coordinate is not finite";
                    numbers.push(number.ok_or(Fault::Values { id, why })?);
                }
                none = false;
                all.triangles.extend(form.triangles(&numbers).map(|t| (t, id)));
            }
        }
        if none { Err(Fault::Values { id, why: "it has no triangle" }) } else { Ok(()) }
    }

    /// The places of a `coordinates_list`, in the file's numbers.
    fn points(&mut self, graph: &Exchange<'_>, id: u64) -> Result<Coordinates, Fault> {
        if let Some(known) = self.coordinates.get(&id) {
            return known.clone();
        }
        let made = coordinates(graph, id).map(Rc::new);
        self.coordinates.insert(id, made.clone());
        made
    }
}

/// How corners make triangles.
#[derive(Clone, Copy, PartialEq)]
enum Form {
    Triangle,
    Strip,
    Fan,
}

impl Form {
    const fn wrong(self) -> &'static str {
        match self {
            Self::Triangle => "a triangle has not three corners",
            Self::Strip => "a strip of triangles has fewer than three corners",
            Self::Fan => "a fan of triangles has fewer than three corners",
        }
    }

    /// The triangles of three corners or more.
    fn triangles(self, corners: &[u32]) -> impl Iterator<Item = [u32; 3]> + '_ {
        corners.windows(3).enumerate().map(move |(at, three)| match self {
            Self::Fan => [corners[0], three[1], three[2]],
            // Every other one is wound the other way around.
            Self::Strip if at % 2 == 1 => [three[1], three[0], three[2]],
            Self::Triangle | Self::Strip => [three[0], three[1], three[2]],
        })
    }
}

/// A face or a surface set as it is written.
struct Face<'g> {
    id: u64,
    coordinates: u64,
    /// `pnmax`: the greatest index.
    most: usize,
    /// `pnindex`: which coordinates the indices stand for, from one; empty where they are those themselves.
    index: &'g [Value<'g>],
    lists: Vec<(Form, &'g [Value<'g>])>,
}

impl<'g> Face<'g> {
    fn of(graph: &'g Exchange<'_>, id: u64) -> Result<Self, Fault> {
        let instance = graph.instance(id)?;
        let unread = || Fault::Unread { id, kind: kinds(instance) };
        let of_kind = ["TRIANGULATED_FACE", "TRIANGULATED_SURFACE_SET"];
        let of_complex = ["COMPLEX_TRIANGULATED_FACE", "COMPLEX_TRIANGULATED_SURFACE_SET"];
        let plain = graph.any(id, &of_kind);
        let args = plain.or_else(|| graph.any(id, &of_complex)).ok_or_else(unread)?;
        let (general, own) = split(graph, id, args, instance.records.len() == 1)?;
        let index = match own.value(0) {
            None | Some(Value::Omitted) => &[][..],
            Some(_) => own.list(0)?,
        };
        let lists = if plain.is_some() {
            vec![(Form::Triangle, own.list(1)?)]
        } else {
            vec![(Form::Strip, own.list(1)?), (Form::Fan, own.list(2)?)]
        };
        let (coordinates, most) = (general.reference(0)?, general.count(1)?);
        Ok(Self { id, coordinates, most, index, lists })
    }

    /// Fails where what it says of its points is not so.
    fn check(&self, points: usize) -> Result<(), Fault> {
        let (id, said) = (self.id, self.most);
        // Without an index of its own it may use fewer points than there are.
        let good = if self.index.is_empty() { said <= points } else { said == self.index.len() };
        let there = if self.index.is_empty() { points } else { self.index.len() };
        if good { Ok(()) } else { Err(Fault::Count { id, said, there }) }
    }

    /// Where the point that an index means stands in the list of coordinates, which holds so many.
    fn at(&self, value: &Value<'_>, points: usize) -> Result<usize, Fault> {
        let id = self.id;
        let counted = |value: &Value<'_>, count: usize| {
            let why = "an index is not a whole number";
            let index = number(value).and_then(whole).ok_or(Fault::Values { id, why })?;
            let at = index.checked_sub(1).filter(|at| *at < count);
            at.ok_or(Fault::Index { id, index, count })
        };
        let first = counted(value, self.most)?;
        self.index.get(first).map_or(Ok(first), |value| counted(value, points))
    }
}

/// The parameters of a face as `coordinates`, `pnmax` and so on, and as `pnindex` and so on: one after the
/// other in a simple instance, under the supertype's name and its own in a complex one.
fn split<'g>(
    graph: &'g Exchange<'_>,
    id: u64,
    args: Args<'g>,
    simple: bool,
) -> Result<(Args<'g>, Args<'g>), Fault> {
    if simple {
        // A name, then those of the supertype: a face has a link among them.
        let skipped = if args.kind.ends_with("_FACE") { 5 } else { 4 };
        return Ok((args.skip(1), args.skip(skipped)));
    }
    let general = graph.any(id, &["TESSELLATED_FACE", "TESSELLATED_SURFACE_SET"]);
    let kind = || graph.get(id).map_or_else(String::new, kinds);
    let expected = "TESSELLATED_FACE or TESSELLATED_SURFACE_SET";
    let general = general.ok_or_else(|| Fault::Kind { id, found: kind(), expected })?;
    Ok((general, args))
}

/// The items of a solid, a shell or a set; none of what is none of these.
fn items(graph: &Exchange<'_>, id: u64) -> Option<Result<Vec<u64>, Fault>> {
    let kinds = ["TESSELLATED_SOLID", "TESSELLATED_SHELL", "TESSELLATED_GEOMETRIC_SET"];
    let args = graph.any(id, &kinds)?;
    Some(args.references(own(graph, id)))
}

/// The items of a solid, a shell or a set, as far as they can be read.
pub(crate) fn items_of(graph: &Exchange<'_>, id: u64) -> Vec<u64> {
    items(graph, id).and_then(Result::ok).unwrap_or_default()
}

/// Where an instance's own parameters begin: in a simple one behind the name.
fn own(graph: &Exchange<'_>, id: u64) -> usize {
    usize::from(graph.get(id).is_some_and(|i| i.records.len() == 1))
}

/// Where an item lies among those beside it.
fn repositioned(loader: &Loader<'_>, id: u64) -> Result<Placement, Fault> {
    let Some(args) = loader.graph.find(id, "REPOSITIONED_TESSELLATED_ITEM") else {
        return Ok(Placement::default());
    };
    let frame = loader.frame(args.reference(own(loader.graph, id))?)?;
    let base = crate::geometry::Frame::new(P::origin(), Some(V::z()), Some(V::x()));
    Ok(Placement::between(&base, &frame))
}

/// The places of a `coordinates_list`.
fn coordinates(graph: &Exchange<'_>, id: u64) -> Result<Vec<[f64; 3]>, Fault> {
    let args = graph.expect(id, "COORDINATES_LIST")?;
    let at = own(graph, id);
    let (said, written) = (args.count(at)?, args.list(at + 1)?);
    if said != written.len() {
        return Err(Fault::Count { id, said, there: written.len() });
    }
    let point = |value: &Value<'_>| -> Option<[f64; 3]> {
        let [x, y, z] = list(value)? else { return None };
        Some([number(x)?, number(y)?, number(z)?])
    };
    let all: Option<Vec<[f64; 3]>> = written.iter().map(point).collect();
    all.ok_or_else(|| args.wrong(at + 1, "a list of places of three numbers"))
}

/// What an item says that it stands for, and what its faces say.
pub(crate) fn links(graph: &Exchange<'_>, id: u64) -> Links {
    let mut found = Links::default();
    let at = own(graph, id) + 1;
    if let Some(args) = graph.find(id, "TESSELLATED_SOLID") {
        found.solids.extend(args.optional(at));
    }
    if let Some(args) = graph.find(id, "TESSELLATED_SHELL") {
        found.shells.extend(args.optional(at));
    }
    let faces = if items(graph, id).is_some() { items_of(graph, id) } else { vec![id] };
    let link = |face: u64| {
        let args = graph.any(face, &TESSELLATED)?;
        let simple = graph.get(face)?.records.len() == 1;
        split(graph, face, args, simple).ok()?.0.optional(3)
    };
    let is_face = |id: &u64| graph.any(*id, &TESSELLATED).is_some();
    let linked: Option<Vec<u64>> = faces.into_iter().filter(is_face).map(link).collect();
    found.faces = linked.filter(|all| !all.is_empty());
    found
}

/// The chord error that a file states for each item, mm by its length: the coarsest where it states several.
pub(crate) fn stated(graph: &Exchange<'_>) -> HashMap<u64, f64> {
    const WITH: &str = "TESSELLATED_SHAPE_REPRESENTATION_WITH_ACCURACY_PARAMETERS";
    let mut found: HashMap<u64, f64> = HashMap::new();
    for args in graph.all(WITH) {
        let at = if own(graph, args.id) == 1 { 3 } else { 0 };
        let chord = args.list(at).unwrap_or_default().iter().filter_map(|value| match value {
            Value::Typed(kind, _) if kind.as_ref() == "CHORDAL_DEVIATION" => number(value),
            _ => None,
        });
        let Some(chord) = chord.filter(|c| *c >= 0.0 && c.is_finite()).reduce(f64::max) else {
            continue;
        };
        let items = crate::units::representation(graph, args.id).map(|r| r.0);
        for item in items.unwrap_or_default() {
            let known = found.entry(item).or_insert(chord);
            *known = known.max(chord);
        }
    }
    found
}

/// The triangles over points of which those that the file cannot tell apart are one, and the face of each.
/// What has no three corners left is gone, as strips and fans are written with such.
fn joined(all: &Gathered, tolerance: f64) -> (Mesh, Vec<u64>) {
    let first = all.points.first().copied().unwrap_or(P::origin());
    let (low, high) = all.points.iter().fold((first, first), |(l, h), p| (l.inf(p), h.sup(p)));
    let root = roots(&all.points, tolerance.min(ROUNDING * (high - low).norm()));
    let mut number = vec![u32::MAX; all.points.len()];
    let (mut mesh, mut face_of) = (Mesh::default(), Vec::new());
    for (corners, face) in &all.triangles {
        let [a, b, c] = corners.map(|v| root[v as usize]);
        if a == b || b == c || c == a {
            continue;
        }
        mesh.triangles.push([a, b, c].map(|v| {
            let slot = &mut number[v as usize];
            if *slot == u32::MAX {
                *slot = u32::try_from(mesh.vertices.len()).unwrap_or(u32::MAX);
                mesh.vertices.push(all.points[v as usize]);
            }
            *slot
        }));
        face_of.push(*face);
    }
    (mesh, face_of)
}

/// No point.
const NONE: u32 = u32::MAX;

/// For each point the first that lies within a tolerance of it and is itself one of these; itself where
/// there is none. None is farther off than the tolerance, however many lie in a row.
fn roots(points: &[P], tolerance: f64) -> Vec<u32> {
    // Cells in which points are looked for, wide enough that most have no neighbour to look into.
    let cell = 4.0 * tolerance;
    let key = |p: V| -> [u64; 3] {
        // Adding zero makes one of the two zeros.
        p.map(|x| (if cell > 0.0 { (x / cell).floor() } else { x } + 0.0).to_bits()).into()
    };
    let mut first_in: HashMap<[u64; 3], u32> = HashMap::new();
    let mut next: Vec<u32> = vec![NONE; points.len()];
    let mut root: Vec<u32> = Vec::with_capacity(points.len());
    for (p, at) in points.iter().zip(0_u32..) {
        let low = key(p.coords.add_scalar(-tolerance));
        let high = key(p.coords.add_scalar(tolerance));
        let mut found = None;
        for corner in 0..8 {
            let is_high = |axis: usize| corner >> axis & 1 == 1;
            // Where both ends lie in one cell it is looked into once.
            if (0..3).any(|axis| is_high(axis) && low[axis] == high[axis]) || found.is_some() {
                continue;
            }
            let looked_into = [0, 1, 2].map(|a| if is_high(a) { high[a] } else { low[a] });
            let mut other = first_in.get(&looked_into).copied().unwrap_or(NONE);
            while other != NONE && found.is_none() {
                let there = &points[other as usize];
                found = ((there - p).norm() <= tolerance).then_some(other);
                other = next[other as usize];
            }
        }
        if found.is_none() {
            let slot = first_in.entry(key(p.coords)).or_insert(NONE);
            next[at as usize] = *slot;
            *slot = at;
        }
        root.push(found.unwrap_or(at));
    }
    root
}
