//! From a file to a model: products, where they are used, and their bodies.

use crate::colour::{Colour, colours};
use crate::geometry::{Frame, P, V};
use crate::graph::{kinds, reference};
use crate::load::Loader;
use crate::mesh::{Meshed, ShellFaces, mesh};
use crate::part21::{Exchange, Value, parse};
use crate::tessellated::{self, TESSELLATED, Tessellations};
use crate::units::{Units, representation, units};
use crate::{
    Accuracy, Body, BodyKind, Fault, Finding, Model, Occurrence, PlacedBody, Placement, ReadError,
    Unit,
};
use nalgebra::Matrix3;
use solids::{ContradictionKind, Mesh, contradiction, soundness};
use std::cell::Cell;
use std::collections::{HashMap, HashSet, VecDeque};

/// Reads a file and meshes its bodies.
///
/// # Errors
/// When the bytes are no exchange file of ISO 10303-21, or the accuracy is not above zero.
pub fn read(bytes: &[u8], accuracy: Accuracy) -> Result<Model, ReadError> {
    let (Accuracy::Length(x) | Accuracy::Share(x)) = accuracy;
    if !(x > 0.0 && x.is_finite()) {
        return Err(ReadError::Accuracy);
    }
    let graph = parse(bytes)?;
    let pieces = Cell::new(MOST_PIECES);
    let mut reader = Reader {
        graph: &graph,
        pieces: &pieces,
        asked: accuracy,
        colours: colours(&graph),
        units: HashMap::new(),
        bodies: Vec::new(),
        by_entity: HashMap::new(),
        findings: Vec::new(),
        told: HashSet::new(),
        work: MOST_ITEMS,
        annotated: annotated(&graph),
        tessellations: Tessellations::default(),
        stated: tessellated::stated(&graph),
        first: None,
        unsaid: false,
    };
    let occurrences = reader.occurrences();
    Ok(reader.finish(occurrences))
}

/// Uses of parts, at most.
const MOST_OCCURRENCES: usize = 50_000;
/// Findings, at most; what is beyond is told as one.
const MOST_FINDINGS: usize = 1000;
/// Items of parts that are looked at, at most, those of mapped items at every use.
const MOST_ITEMS: usize = 1_000_000;
/// Pieces of composite curves, at most.
const MOST_PIECES: usize = 2_000_000;
/// Parts within parts, or mapped items within mapped items, at most so deep.
const DEPTH: usize = 64;
/// Used where a file says no uncertainty, mm.
const UNCERTAINTY: f64 = 1e-5;

/// A tessellation and an exact body whose boxes differ by this share of their size are one, if they also
/// hold as much but for ten times this share.
const ALIKE: f64 = 0.02;

/// Types of bodies that are read.
const BODIES: [&str; 5] = [
    "BREP_WITH_VOIDS",
    "FACETED_BREP",
    "MANIFOLD_SOLID_BREP",
    "SHELL_BASED_SURFACE_MODEL",
    "FACE_BASED_SURFACE_MODEL",
];

/// Shells that a part may have as items of their own.
const SHELLS: [&str; 5] = [
    "CLOSED_SHELL",
    "OPEN_SHELL",
    "CONNECTED_FACE_SET",
    "ORIENTED_CLOSED_SHELL",
    "ORIENTED_OPEN_SHELL",
];

/// Whether an item of this type is no part of a body: places, points, curves, planes without end, and
/// what is written beside the shape. What is neither this nor read is told.
fn is_beside(kind: &str) -> bool {
    let ends =
        ["CURVE", "POINT", "_PLACEMENT", "_PLACEMENT_3D", "_CALLOUT", "_OCCURRENCE", "_ITEM"];
    let starts = ["ANNOTATION_", "DRAUGHTING_", "TEXT_", "CAMERA_", "B_SPLINE_CURVE"];
    let named = [
        "AXIS2_PLACEMENT_2D",
        "AXIS2_PLACEMENT_3D",
        "CIRCLE",
        "COORDINATES_LIST",
        "DEFINED_SYMBOL",
        "DIRECTION",
        "EDGE_CURVE",
        "ELLIPSE",
        "GEOMETRIC_CURVE_SET",
        "HYPERBOLA",
        "LINE",
        "PARABOLA",
        "PLACEMENT",
        "PLANAR_BOX",
        "PLANAR_EXTENT",
        "PLANE",
        "POINT_ON_CURVE",
        "POLYLINE",
        "TESSELLATED_CONNECTING_EDGE",
        "TESSELLATED_CURVE_SET",
        "TESSELLATED_EDGE",
        "TESSELLATED_POINT_SET",
        "TESSELLATED_VERTEX",
        "TESSELLATED_WIRE",
        "VECTOR",
    ];
    // Supertypes and uses of all sorts of items.
    let general = [
        "REPRESENTATION_ITEM",
        "GEOMETRIC_REPRESENTATION_ITEM",
        "TOPOLOGICAL_REPRESENTATION_ITEM",
        "MAPPED_ITEM",
        "TESSELLATED_ITEM",
    ];
    !general.contains(&kind)
        && (named.contains(&kind)
            || ends.iter().any(|e| kind.ends_with(e))
            || starts.iter().any(|s| kind.starts_with(s)))
}

/// Whether an item, or every element of a set, is no part of a body.
fn is_beside_all(graph: &Exchange<'_>, item: u64) -> bool {
    let beside =
        |id: u64| graph.get(id).is_some_and(|i| i.records.iter().any(|r| is_beside(&r.kind)));
    let set = graph.find(item, "GEOMETRIC_SET");
    let elements = set.and_then(|s| s.references(1).or_else(|_| s.references(0)).ok());
    beside(item) || elements.is_some_and(|all| all.into_iter().all(beside))
}

struct Reader<'g> {
    graph: &'g Exchange<'g>,
    asked: Accuracy,
    colours: HashMap<u64, Colour>,
    units: HashMap<u64, Option<Units>>,
    bodies: Vec<Body>,
    by_entity: HashMap<u64, Option<usize>>,
    findings: Vec<Finding>,
    /// Items that a finding is about.
    told: HashSet<u64>,
    /// Items that may still be looked at.
    work: usize,
    pieces: &'g Cell<usize>,
    /// Items that are drawn as annotations, and are no part of a body.
    annotated: HashSet<u64>,
    tessellations: Tessellations,
    /// The chord errors that the file states for tessellated items.
    stated: HashMap<u64, f64>,
    /// The units of the first body.
    first: Option<Units>,
    /// Whether something is written in a context that says no unit of length.
    unsaid: bool,
}

/// A product's definition, as far as shape goes.
#[derive(Default)]
struct Definition {
    name: String,
    /// Its representations, those that are the same by a relationship among them.
    representations: Vec<u64>,
    uses: Vec<Use>,
    is_used: bool,
}

/// What the representations of a part hold.
#[derive(Default)]
struct Contents {
    bodies: Vec<PlacedBody>,
    /// Tessellated items, each with its context and where it lies.
    tessellated: Vec<(u64, Option<u64>, Placement)>,
}

/// What is known of exact bodies, to tell tessellations of them by.
#[derive(Default)]
struct Exact {
    ids: HashSet<u64>,
    faces: HashSet<u64>,
    extents: Vec<Extent>,
}

impl Exact {
    /// Whether one of the bodies reaches as far as a mesh every way, and holds as much: then that is the same
    /// body once more, though nothing in the file says so.
    fn has_extent_of(&self, mesh: &Mesh) -> bool {
        let Some(extent) = Extent::of(mesh) else { return false };
        self.extents.iter().any(|other| {
            let near = ALIKE * (other.high - other.low).norm();
            (extent.low - other.low).amax() <= near
                && (extent.high - other.high).amax() <= near
                && (extent.volume - other.volume).abs() <= 10.0 * ALIKE * other.volume.abs()
        })
    }
}

/// How far a body reaches, mm, and what it holds, mm3.
struct Extent {
    low: P,
    high: P,
    volume: f64,
}

impl Extent {
    fn of(mesh: &Mesh) -> Option<Self> {
        let (low, high) = mesh.bounds()?;
        Some(Self { low, high, volume: solids::volume(mesh) })
    }
}

/// A use of a definition in another.
struct Use {
    instance: String,
    child: u64,
    placement: Result<Placement, Fault>,
}

impl<'g> Reader<'g> {
    /// Notes a finding, within reason.
    fn tell(&mut self, finding: Finding) {
        if self.findings.len() < MOST_FINDINGS {
            self.findings.push(finding);
        } else if self.findings.len() == MOST_FINDINGS {
            self.findings.push(Finding::TooManyFindings(MOST_FINDINGS));
        }
    }

    /// Notes once what is wrong with an item, however often the item is used.
    fn tell_of(&mut self, item: u64, fault: Fault) {
        if self.told.insert(item) {
            self.tell(Finding::Item(fault));
        }
    }

    fn units_of(&mut self, context: Option<u64>) -> Option<Units> {
        let Some(context) = context else {
            self.unsaid = true;
            return Some(Units::default());
        };
        if let Some(known) = self.units.get(&context) {
            return known.clone();
        }
        let found = match units(self.graph, context) {
            Ok(units) => {
                self.unsaid |= !units.said;
                Some(units)
            }
            Err(fault) => {
                self.tell(Finding::Units(fault));
                None
            }
        };
        self.units.insert(context, found.clone());
        found
    }

    /// The units of a representation, without which nothing in it has a place.
    fn units_in(&mut self, id: u64) -> Result<Units, Fault> {
        let context = representation(self.graph, id).and_then(|r| r.1);
        let why = "the units of its placements cannot be read";
        self.units_of(context).ok_or(Fault::Values { id, why })
    }

    fn loader(&self, units: &Units) -> Loader<'g> {
        Loader {
            graph: self.graph,
            length: units.length,
            angle: units.angle,
            // A file's word is taken within reason: nobody means a millimetre.
            pieces: self.pieces,
            tolerance: units.uncertainty.unwrap_or(UNCERTAINTY).clamp(1e-9, 0.05),
        }
    }

    /// The name of a product definition's product.
    fn product_name(&self, definition: u64) -> String {
        let formation = self
            .graph
            .get(definition)
            .and_then(|i| i.records.iter().find_map(|r| r.parameters.get(2).and_then(reference)));
        let product = formation.and_then(|f| {
            let records = &self.graph.get(f)?.records;
            records.iter().find_map(|r| r.parameters.get(2).and_then(reference))
        });
        let Some(product) = product.and_then(|p| self.graph.find(p, "PRODUCT")) else {
            return String::new();
        };
        let (id, name) = (product.text(0), product.text(1));
        if name.is_empty() { id } else { name }
    }

    fn definitions(&mut self) -> (Vec<u64>, HashMap<u64, Definition>) {
        let graph = self.graph;
        let mut order = Vec::new();
        let mut all: HashMap<u64, Definition> = HashMap::new();
        let kinds_of = ["PRODUCT_DEFINITION", "PRODUCT_DEFINITION_WITH_ASSOCIATED_DOCUMENTS"];
        for instance in &graph.instances {
            if graph.any(instance.id, &kinds_of).is_some() {
                order.push(instance.id);
                let name = self.product_name(instance.id);
                all.insert(instance.id, Definition { name, ..Definition::default() });
            }
        }
        // Which definition a shape belongs to.
        let shape_of = |shape: u64| of_shape(graph, shape);
        let mut owner: HashMap<u64, u64> = HashMap::new();
        let mut own: HashMap<u64, Vec<u64>> = HashMap::new();
        let (kind, general) =
            ("SHAPE_DEFINITION_REPRESENTATION", "PROPERTY_DEFINITION_REPRESENTATION");
        for link in graph.all(kind).filter_map(|l| graph.inherited(l.id, kind, general, 2)) {
            if let (Some(shape), Some(used)) = (link.optional(0), link.optional(1))
                && let Some(definition) = shape_of(shape).filter(|d| all.contains_key(d))
            {
                owner.entry(used).or_insert(definition);
                let all = own.entry(definition).or_default();
                // Said twice it is still there once.
                if !all.contains(&used) {
                    all.push(used);
                }
            }
        }
        let same = self.same_representations();
        for id in &order {
            let mut found: Vec<u64> = own.remove(id).unwrap_or_default();
            let mut seen: HashSet<u64> = found.iter().copied().collect();
            let mut at = 0;
            while let Some(representation) = found.get(at).copied() {
                at += 1;
                for other in same.get(&representation).into_iter().flatten() {
                    // What belongs to another product is not this one's.
                    if owner.get(other).is_none_or(|o| o == id) && seen.insert(*other) {
                        found.push(*other);
                    }
                }
            }
            if let Some(definition) = all.get_mut(id) {
                definition.representations = found;
            }
        }
        self.add_uses(&order, &mut all);
        (order, all)
    }

    /// Representations that a relationship without a transformation makes the same.
    fn same_representations(&self) -> HashMap<u64, Vec<u64>> {
        let mut same: HashMap<u64, Vec<u64>> = HashMap::new();
        // One that places a part is not about one part.
        let places = self.graph.all("CONTEXT_DEPENDENT_SHAPE_REPRESENTATION");
        let places: HashSet<u64> = places.filter_map(|link| link.optional(0)).collect();
        for instance in &self.graph.instances {
            if places.contains(&instance.id) {
                continue;
            }
            if self
                .graph
                .find(instance.id, "REPRESENTATION_RELATIONSHIP_WITH_TRANSFORMATION")
                .is_some()
            {
                continue;
            }
            let kinds = ["SHAPE_REPRESENTATION_RELATIONSHIP", "REPRESENTATION_RELATIONSHIP"];
            let related = kinds.iter().find_map(|kind| {
                let args = self.graph.find(instance.id, kind)?;
                Some((args.optional(2)?, args.optional(3)?))
            });
            if let Some((a, b)) = related {
                same.entry(a).or_default().push(b);
                same.entry(b).or_default().push(a);
            }
        }
        same
    }

    fn add_uses(&mut self, order: &[u64], all: &mut HashMap<u64, Definition>) {
        let graph = self.graph;
        let mut related: HashMap<u64, u64> = HashMap::new();
        for link in graph.all("CONTEXT_DEPENDENT_SHAPE_REPRESENTATION") {
            let of = link.optional(1).and_then(|s| of_shape(graph, s));
            if let (Some(relation), Some(of)) = (link.optional(0), of) {
                related.entry(of).or_insert(relation);
            }
        }
        let mut mapped = self.mapped_parts(order, all);
        let kind = "NEXT_ASSEMBLY_USAGE_OCCURRENCE";
        let usages: Vec<u64> = graph.all(kind).map(|u| u.id).collect();
        // A complex instance has the names and the parts under the supertype's name.
        let of_usage = |id| graph.inherited(id, kind, "PRODUCT_DEFINITION_RELATIONSHIP", 5);
        let holders: HashSet<u64> =
            usages.iter().filter_map(|u| of_usage(*u)?.optional(3)).collect();
        for id in usages {
            let Some(usage) = of_usage(id) else {
                let fault = Fault::Values { id, why: "it says no parts" };
                self.tell(Finding::Place { instance: String::new(), fault });
                continue;
            };
            let known = |index| usage.optional(index).filter(|part| all.contains_key(part));
            let (Some(parent), Some(child)) = (known(3), known(4)) else {
                let fault = usage.wrong(if known(3).is_some() { 4 } else { 3 }, "a part");
                self.tell(Finding::Place { instance: usage.text(1), fault });
                continue;
            };
            let component = graph.find(id, "ASSEMBLY_COMPONENT_USAGE");
            let reference = component.map_or_else(|| usage.text(5), |c| c.text(0));
            let names = [usage.text(1), reference, usage.text(0)];
            let instance = names.into_iter().find(|n| !n.is_empty()).unwrap_or_default();
            let reps = |id: &u64| all.get(id).map_or(&[][..], |d| d.representations.as_slice());
            // A mapped item may say again what a relationship says.
            let item = mapped.get_mut(&(parent, child)).and_then(VecDeque::pop_front);
            let placement = match (related.get(&usage.id), item) {
                (Some(relation), _) => self.relation(*relation, reps(&parent), reps(&child)),
                (None, Some((_, placement))) => placement,
                // A part without a shape has no place either.
                (None, None) if reps(&child).is_empty() && !holders.contains(&child) => {
                    Ok(Placement::default())
                }
                (None, None) => Err(Fault::Values { id, why: "nothing says where the part lies" }),
            };
            add_use(all, parent, Use { instance, child, placement });
        }
        // Parts that are mapped into others without a usage are used all the same.
        let rank: HashMap<u64, usize> = order.iter().zip(0..).map(|(id, at)| (*id, at)).collect();
        let mut mapped: Vec<_> = mapped.into_iter().collect();
        mapped.sort_by_key(|((parent, child), _)| (rank.get(parent), rank.get(child)));
        for ((parent, child), uses) in mapped {
            for (instance, placement) in uses {
                let known =
                    all.get(&parent).into_iter().flat_map(|d| &d.uses).any(|u| {
                        u.child == child && u.placement.is_ok() && u.placement == placement
                    });
                if !known {
                    add_use(all, parent, Use { instance, child, placement });
                }
            }
        }
    }

    /// The mapped items of parts within others: by parent and child, each with its name and place, in
    /// the order of the file.
    fn mapped_parts(&mut self, order: &[u64], all: &HashMap<u64, Definition>) -> MappedParts {
        let mut owner: HashMap<u64, u64> = HashMap::new();
        for id in order {
            for representation in all.get(id).into_iter().flat_map(|d| &d.representations) {
                owner.entry(*representation).or_insert(*id);
            }
        }
        let mut found = MappedParts::new();
        for id in order {
            let own = all.get(id).map_or(&[][..], |d| d.representations.as_slice());
            let mut waiting: Vec<(u64, Result<Placement, Fault>, usize)> =
                own.iter().rev().map(|r| (*r, Ok(Placement::default()), DEPTH)).collect();
            while let Some((holder, place, depth)) = waiting.pop() {
                let items = representation(self.graph, holder).map(|r| r.0).unwrap_or_default();
                for item in items {
                    let Some(work) = self.work.checked_sub(1) else { return found };
                    self.work = work;
                    let Some((mapped, here)) = self.mapped_item(item, holder) else { continue };
                    let place = match (&place, here) {
                        (Ok(place), Ok(here)) => Ok(place.after(&here)),
                        (Err(fault), _) => Err(fault.clone()),
                        (_, Err(fault)) => Err(fault),
                    };
                    match owner.get(&mapped) {
                        Some(child) if child != id => {
                            let name = item_name(self.graph, item);
                            found.entry((*id, *child)).or_default().push_back((name, place));
                        }
                        None if depth > 1 => waiting.push((mapped, place, depth - 1)),
                        // Its own is there already; too deep, it is told where bodies are looked for.
                        Some(_) | None => {}
                    }
                }
            }
        }
        found
    }

    /// The frame of a placement item, in its representation's units.
    fn frame(&mut self, item: u64, representation_id: u64) -> Result<Frame, Fault> {
        let units = self.units_in(representation_id)?;
        self.loader(&units).frame(item)
    }

    /// How a relationship with a transformation places the child.
    fn relation(&mut self, id: u64, parent: &[u64], child: &[u64]) -> Result<Placement, Fault> {
        let graph = self.graph;
        let kind = "REPRESENTATION_RELATIONSHIP_WITH_TRANSFORMATION";
        let base = graph.find(id, "REPRESENTATION_RELATIONSHIP");
        let Some(with) = graph.find(id, kind) else {
            // Without a transformation the part lies in its parent as it is.
            let plain = graph.find(id, "SHAPE_REPRESENTATION_RELATIONSHIP").or(base);
            return match plain {
                Some(_) => Ok(Placement::default()),
                None => Err(graph.expect(id, kind).err().unwrap_or(Fault::Dangling { id })),
            };
        };
        let (first, second, operator) = match base {
            Some(base) => (base.reference(2)?, base.reference(3)?, with.reference(0)?),
            None => (with.reference(2)?, with.reference(3)?, with.reference(4)?),
        };
        // From the first to the second; the child is the first, but some write it the other way.
        let backward = child.contains(&second) && parent.contains(&first);
        if let Some(items) = graph.find(operator, "ITEM_DEFINED_TRANSFORMATION") {
            let (one, two) = (items.reference(2)?, items.reference(3)?);
            // The frame among the child's items comes to lie on the one among the parent's, in whatever
            // order they are written. Only where that says nothing the order counts.
            let holder = |of: &[u64], item: u64| {
                let has =
                    |r: &&u64| representation(graph, **r).is_some_and(|r| r.0.contains(&item));
                of.iter().find(has).copied()
            };
            let sides = |from, to| Some((from, holder(child, from)?, to, holder(parent, to)?));
            let (from, from_in, to, to_in) = match (sides(one, two), sides(two, one), backward) {
                (Some(found), None, _) | (None, Some(found), _) => found,
                (_, _, false) => (one, first, two, second),
                (_, _, true) => (two, second, one, first),
            };
            return Ok(Placement::between(&self.frame(from, from_in)?, &self.frame(to, to_in)?));
        }
        let units = self.units_in(second)?;
        let placement = self.operator(operator, &units)?;
        let inverse = if backward { placement.inverse() } else { Some(placement) };
        inverse.ok_or(Fault::Values { id, why: "a placement has no inverse" })
    }

    /// A `cartesian_transformation_operator_3d`.
    fn operator(&self, id: u64, units: &Units) -> Result<Placement, Fault> {
        let graph = self.graph;
        let loader = self.loader(units);
        let simple = graph.find(id, "CARTESIAN_TRANSFORMATION_OPERATOR_3D");
        let base = graph.find(id, "CARTESIAN_TRANSFORMATION_OPERATOR");
        let (first, third) = match (base, simple) {
            // axis1, axis2, origin and scale, and the third axis in the subtype's own record.
            (Some(base), Some(third)) => (base, loader.direction_of(third, 0)?),
            (Some(base), None) => (base, None),
            // A name comes first; representation items may come under a functional supertype's name.
            (None, Some(simple)) => {
                let skipped = simple.skip(1);
                let skipped = if skipped.optional(2).is_none() { simple.skip(3) } else { skipped };
                (skipped, loader.direction_of(skipped, 4)?)
            }
            (None, None) => {
                let instance = graph.instance(id)?;
                return Err(Fault::Unread { id, kind: kinds(instance) });
            }
        };
        let (x, y, z) = (loader.direction_of(first, 0)?, loader.direction_of(first, 1)?, third);
        let origin = loader.point(first.reference(2)?)?;
        let scale = match first.value(3) {
            None | Some(Value::Omitted) => 1.0,
            Some(_) => first.number(3)?,
        };
        if !(scale > 0.0 && scale.is_finite()) {
            return Err(first.wrong(3, "a scale above zero"));
        }
        let frame = Frame::new(origin, z, x);
        // The second axis says whether left and right change places.
        let mirrored = y.is_some_and(|y| y.dot(&frame.y) < 0.0);
        let y = if mirrored { -frame.y } else { frame.y };
        let linear = Matrix3::from_columns(&[frame.x, y, frame.z]) * scale;
        Ok(Placement { linear, offset: origin.coords })
    }

    /// Mapped items among the items of a representation: what is mapped, and where it goes.
    fn mapped_item(&mut self, id: u64, holder: u64) -> Option<(u64, Result<Placement, Fault>)> {
        let graph = self.graph;
        let (origin, mapped, target) = map_of(graph, id)?;
        let place = || -> Result<(u64, u64), Fault> { Ok((origin?, target?)) };
        let placement = place().and_then(|(origin, target)| {
            let units = self.units_in(holder)?;
            if graph.find(target, "AXIS2_PLACEMENT_3D").is_none() {
                let placement = self.operator(target, &units)?;
                let from = self.frame(origin, mapped)?;
                let base = Frame::new(nalgebra::Point3::origin(), Some(V::z()), Some(V::x()));
                return Ok(placement.after(&Placement::between(&from, &base)));
            }
            let (from, to) = (self.frame(origin, mapped)?, self.frame(target, holder)?);
            Ok(Placement::between(&from, &to))
        });
        Some((mapped, placement))
    }

    fn occurrences(&mut self) -> Vec<Occurrence> {
        let (order, all) = self.definitions();
        self.tell_parts(&order, &all);
        let mut found: Vec<Occurrence> = Vec::new();
        let mut contents: HashMap<u64, Vec<PlacedBody>> = HashMap::new();
        let owned: HashSet<u64> = all.values().flat_map(|d| &d.representations).copied().collect();
        let roots = order.iter().filter(|id| {
            all.get(id).is_some_and(|d| {
                !d.is_used && (!d.representations.is_empty() || !d.uses.is_empty())
            })
        });
        for root in roots {
            let Some(definition) = all.get(root) else { continue };
            let name = definition.name.clone();
            self.expand(
                &all,
                &owned,
                (*root, name, Placement::default()),
                &mut found,
                &mut contents,
            );
        }
        // Bodies that no part has: those of a part without a place are missing, not loose.
        let parts = self.items_of_parts(&all);
        let ids: Vec<u64> = self.graph.instances.iter().map(|i| i.id).collect();
        let mut loose = Vec::new();
        let mut context_of: Option<HashMap<u64, Option<u64>>> = None;
        for id in ids {
            let taken = self.by_entity.contains_key(&id) || parts.contains(&id);
            if taken || self.graph.any(id, &BODIES).is_none() {
                continue;
            }
            let contexts = context_of.get_or_insert_with(|| contexts(self.graph));
            let context = contexts.get(&id).copied().flatten();
            if let Some(body) = self.body(id, context) {
                loose.push(PlacedBody { body, here_from_body: Placement::default() });
            }
        }
        self.loose_tessellated(&parts, &mut loose);
        if !loose.is_empty() {
            found.push(Occurrence {
                product: String::new(),
                instance: String::new(),
                parent: None,
                parent_from_here: Placement::default(),
                bodies: loose,
            });
        }
        found
    }

    /// Tessellated bodies that no part has, unless they stand for an exact one somewhere.
    fn loose_tessellated(&mut self, parts: &HashSet<u64>, loose: &mut Vec<PlacedBody>) {
        let graph = self.graph;
        let here_from_body = Placement::default();
        let sets = graph.all("TESSELLATED_GEOMETRIC_SET").map(|set| set.id);
        let known = sets.filter(|set| parts.contains(set) || self.annotated.contains(set));
        let in_sets: HashSet<u64> =
            known.flat_map(|set| tessellated::items_of(graph, set)).collect();
        let waiting: Vec<u64> = graph
            .instances
            .iter()
            .map(|i| i.id)
            .filter(|id| graph.any(*id, &tessellated::BODIES).is_some())
            .filter(|id| !self.by_entity.contains_key(id) && !parts.contains(id))
            .filter(|id| !self.annotated.contains(id) && !in_sets.contains(id))
            .collect();
        if waiting.is_empty() {
            return;
        }
        let all = (0..self.bodies.len()).map(|body| PlacedBody { body, here_from_body });
        let exact = self.exact(&all.collect::<Vec<_>>());
        let contexts = contexts(graph);
        for id in waiting {
            if self.stands_for(id, &exact) {
                continue;
            }
            let body = self.tessellated(id, contexts.get(&id).copied().flatten());
            let body = self.keep(id, body);
            loose.extend(body.map(|body| PlacedBody { body, here_from_body }));
        }
    }

    /// Tells of parts that are used and have no shape here, and of parts that are used by nothing but
    /// each other.
    fn tell_parts(&mut self, order: &[u64], all: &HashMap<u64, Definition>) {
        let mut reached: HashSet<u64> = HashSet::new();
        let reach = |from: u64, reached: &mut HashSet<u64>| {
            let mut waiting = vec![from];
            while let Some(id) = waiting.pop() {
                if reached.insert(id) {
                    let uses = all.get(&id).into_iter().flat_map(|d| &d.uses);
                    waiting.extend(uses.map(|u| u.child));
                }
            }
        };
        let used = |id: &&u64| all.get(id).is_some_and(|d| d.is_used);
        for id in order.iter().filter(|id| !used(id)) {
            reach(*id, &mut reached);
        }
        for id in order.iter().filter(used) {
            let Some(definition) = all.get(id) else { continue };
            if !reached.contains(id) {
                self.tell(Finding::Circle(definition.name.clone()));
                reach(*id, &mut reached);
            }
            if definition.representations.is_empty() && definition.uses.is_empty() {
                self.tell(Finding::NoShape(definition.name.clone()));
            }
        }
    }

    /// Every item of every part, those of mapped representations among them.
    fn items_of_parts(&self, all: &HashMap<u64, Definition>) -> HashSet<u64> {
        let mut waiting: Vec<u64> =
            all.values().flat_map(|d| &d.representations).copied().collect();
        let mut seen: HashSet<u64> = waiting.iter().copied().collect();
        let mut found = HashSet::new();
        while let Some(id) = waiting.pop() {
            for item in representation(self.graph, id).map(|r| r.0).unwrap_or_default() {
                found.insert(item);
                if let Some((_, mapped, _)) = map_of(self.graph, item)
                    && seen.insert(mapped)
                {
                    waiting.push(mapped);
                }
            }
        }
        found
    }

    /// An occurrence and all below it, without recursion.
    fn expand(
        &mut self,
        all: &HashMap<u64, Definition>,
        owned: &HashSet<u64>,
        (root, instance, placement): (u64, String, Placement),
        found: &mut Vec<Occurrence>,
        contents: &mut HashMap<u64, Vec<PlacedBody>>,
    ) {
        let mut waiting: Vec<(u64, String, Placement, Option<usize>)> =
            vec![(root, instance, placement, None)];
        // The definition of each occurrence, to find parts that hold themselves.
        let mut above: HashMap<usize, u64> = HashMap::new();
        while let Some((id, instance, parent_from_here, parent)) = waiting.pop() {
            let Some(definition) = all.get(&id) else { continue };
            let (mut up, mut depth, mut circle) = (parent, 0, false);
            while let Some(at) = up {
                depth += 1;
                circle |= above.get(&at) == Some(&id) || depth > DEPTH;
                up = found.get(at).and_then(|o| o.parent);
                if circle {
                    break;
                }
            }
            if circle {
                self.tell(Finding::Circle(definition.name.clone()));
                continue;
            }
            if found.len() >= MOST_OCCURRENCES {
                self.tell(Finding::TooManyOccurrences(MOST_OCCURRENCES));
                return;
            }
            let bodies = match contents.get(&id) {
                Some(bodies) => bodies.clone(),
                None => {
                    let mut held = Contents::default();
                    for representation in &definition.representations {
                        let place = Placement::default();
                        self.items(*representation, place, owned, &mut held, DEPTH);
                    }
                    let mut bodies = self.with_tessellated(held);
                    // Representations that are the same may list the same body.
                    let mut seen: HashSet<(usize, [u64; 12])> = HashSet::new();
                    bodies.retain(|b| seen.insert((b.body, b.here_from_body.bits())));
                    contents.insert(id, bodies.clone());
                    bodies
                }
            };
            let number = found.len();
            above.insert(number, id);
            found.push(Occurrence {
                product: definition.name.clone(),
                instance,
                parent,
                parent_from_here,
                bodies,
            });
            for part in definition.uses.iter().rev() {
                match &part.placement {
                    Ok(placement) => {
                        waiting.push((part.child, part.instance.clone(), *placement, Some(number)));
                    }
                    Err(fault) => self.tell(Finding::Place {
                        instance: part.instance.clone(),
                        fault: fault.clone(),
                    }),
                }
            }
        }
    }

    /// The bodies among the items of a representation, those of mapped ones among them.
    fn items(
        &mut self,
        id: u64,
        placement: Placement,
        owned: &HashSet<u64>,
        held: &mut Contents,
        depth: usize,
    ) {
        let Some(depth) = depth.checked_sub(1) else {
            self.tell_of(id, Fault::Cyclic { id });
            return;
        };
        let Some((items, context)) = representation(self.graph, id) else { return };
        for item in items {
            if held.bodies.len() + held.tessellated.len() >= MOST_OCCURRENCES {
                if self.told.insert(id) {
                    self.tell(Finding::TooManyOccurrences(MOST_OCCURRENCES));
                }
                return;
            }
            let Some(work) = self.work.checked_sub(1) else {
                if self.told.insert(id) {
                    self.tell(Finding::TooManyItems(MOST_ITEMS));
                }
                return;
            };
            self.work = work;
            if self.graph.any(item, &BODIES).or_else(|| self.graph.any(item, &SHELLS)).is_some() {
                if let Some(body) = self.body(item, context) {
                    held.bodies.push(PlacedBody { body, here_from_body: placement });
                }
            } else if self.graph.any(item, &TESSELLATED).is_some() {
                if !self.annotated.contains(&item) {
                    held.tessellated.push((item, context, placement));
                }
            } else if let Some((mapped, place)) = self.mapped_item(item, id) {
                // A mapped representation that is a part of its own comes in as a use of that part.
                if owned.contains(&mapped) {
                    continue;
                }
                match place {
                    Ok(place) => self.items(mapped, placement.after(&place), owned, held, depth),
                    Err(fault) => self.tell_of(item, fault),
                }
            } else {
                match self.graph.instance(item) {
                    Ok(_) if is_beside_all(self.graph, item) => {}
                    Ok(found) => {
                        let kind = kinds(found);
                        self.tell_of(item, Fault::Unread { id: item, kind });
                    }
                    Err(fault) => self.tell_of(item, fault),
                }
            }
        }
    }

    /// The bodies of a part, those of its tessellated items among them that have no exact body beside them.
    fn with_tessellated(&mut self, held: Contents) -> Vec<PlacedBody> {
        let mut bodies = held.bodies;
        if held.tessellated.is_empty() {
            return bodies;
        }
        let exact = self.exact(&bodies);
        let mut seen: HashSet<(u64, [u64; 12])> = HashSet::new();
        for (item, context, here_from_body) in held.tessellated {
            let bits = here_from_body.bits();
            if !seen.insert((item, bits)) || self.stands_for(item, &exact) {
                continue;
            }
            let body = match self.by_entity.get(&item) {
                Some(known) => *known,
                None => match self.tessellated(item, context) {
                    Some(body) if exact.has_extent_of(&here_from_body.of_mesh(&body.mesh)) => {
                        continue;
                    }
                    body => self.keep(item, body),
                },
            };
            bodies.extend(body.map(|body| PlacedBody { body, here_from_body }));
        }
        bodies
    }

    /// What is known of some bodies, to tell tessellations of them by.
    fn exact(&self, bodies: &[PlacedBody]) -> Exact {
        let mut found = Exact::default();
        for placed in bodies {
            let Some(body) = self.bodies.get(placed.body) else { continue };
            found.ids.insert(body.id);
            found.faces.extend(&body.triangle_faces);
            found.faces.extend(body.lost.iter().map(|l| l.id));
            let mesh = placed.here_from_body.of_mesh(&body.mesh);
            found.extents.extend(Extent::of(&mesh));
        }
        found
    }

    /// Whether a tessellated item says that it stands for what some exact bodies are.
    fn stands_for(&self, item: u64, exact: &Exact) -> bool {
        let links = tessellated::links(self.graph, item);
        let of_shells = links.shells.iter().filter_map(|s| self.shell(*s, false).ok());
        let mut faces: Vec<u64> = of_shells.flatten().flat_map(|part| part.faces).collect();
        faces.extend(links.faces.into_iter().flatten());
        links.solids.iter().any(|solid| exact.ids.contains(solid))
            || (!faces.is_empty() && faces.iter().all(|face| exact.faces.contains(face)))
    }

    /// The body of a tessellated item; none where it is no part of a body, or is told.
    fn tessellated(&mut self, id: u64, context: Option<u64>) -> Option<Body> {
        let units = self.units_of(context)?;
        let loader = self.loader(&units);
        let mut made = match self.tessellations.read(&loader, id, &is_beside) {
            Ok(made) => made?,
            Err(fault) => {
                self.tell_of(id, fault);
                return None;
            }
        };
        self.first.get_or_insert(units.clone());
        let soundness = soundness(&made.mesh);
        // Programs do not agree which way strips are wound, and a solid is never inside out.
        let turned = soundness.is_closed() && solids::volume(&made.mesh) < 0.0;
        if turned {
            made.mesh.triangles.iter_mut().for_each(|t| t.swap(1, 2));
        }
        let deviation = self.stated.get(&id).map(|chord| chord * units.length);
        let size = made.mesh.bounds().map_or(0.0, |(low, high)| (high - low).norm());
        let near = deviation.map_or(0.0, |d| 2.0 * d).max(tessellated::ROUNDING * size);
        // Pieces that run into each other stand for their union, as in any mesh.
        let contradiction = (soundness.components > 1)
            .then(|| contradiction(&made.mesh, near))
            .flatten()
            .filter(|found| found.kind != ContradictionKind::Overlap);
        let of_face = |face: &u64| self.colours.get(face).copied();
        let colours: Vec<Option<Colour>> = made.face_of.iter().map(of_face).collect();
        Some(Body {
            id,
            name: item_name(self.graph, id),
            kind: BodyKind::Tessellated,
            soundness,
            contradiction,
            mesh: made.mesh,
            deviation,
            lost: made.lost,
            faces: made.faces,
            triangle_faces: made.face_of,
            turned_shells: usize::from(turned),
            colour: self.colours.get(&id).copied(),
            triangle_colours: if colours.iter().any(Option::is_some) {
                colours
            } else {
                Vec::new()
            },
        })
    }

    /// Keeps what was made of an entity, so that it is made once.
    fn keep(&mut self, id: u64, body: Option<Body>) -> Option<usize> {
        let made = body.map(|body| {
            self.bodies.push(body);
            self.bodies.len() - 1
        });
        self.by_entity.insert(id, made);
        made
    }

    /// The body of an entity, meshed once.
    fn body(&mut self, id: u64, context: Option<u64>) -> Option<usize> {
        if let Some(known) = self.by_entity.get(&id) {
            return *known;
        }
        let units = self.units_of(context)?;
        let made = match self.make_body(id, &units) {
            Ok(body) => {
                self.first.get_or_insert(units);
                Some(body)
            }
            Err(fault) => {
                self.tell(Finding::Item(fault));
                None
            }
        };
        self.keep(id, made)
    }

    fn make_body(&self, id: u64, units: &Units) -> Result<Body, Fault> {
        let graph = self.graph;
        let instance = graph.instance(id)?;
        let simple = instance.records.len() == 1;
        // In a complex instance each record holds its own parameters, and the name stands apart.
        let own = usize::from(simple);
        let mut shells: Vec<(u64, bool)> = Vec::new();
        let kind;
        if let Some(args) =
            graph.any(id, &["SHELL_BASED_SURFACE_MODEL", "FACE_BASED_SURFACE_MODEL"])
        {
            kind = BodyKind::Surfaces;
            shells.extend(args.references(own)?.into_iter().map(|s| (s, false)));
        } else if graph.any(id, &SHELLS).is_some() {
            kind = BodyKind::Surfaces;
            shells.push((id, false));
        } else {
            let solid = graph.any(id, if simple { &BODIES } else { &["MANIFOLD_SOLID_BREP"] });
            let solid = solid.ok_or(Fault::Unread { id, kind: kinds(instance) })?;
            shells.push((solid.reference(own)?, false));
            kind = match graph.find(id, "BREP_WITH_VOIDS") {
                Some(voids) => {
                    let at = if simple { 2 } else { 0 };
                    shells.extend(voids.references(at)?.into_iter().map(|s| (s, true)));
                    BodyKind::SolidWithVoids
                }
                None if graph.find(id, "FACETED_BREP").is_some() => BodyKind::Faceted,
                None => BodyKind::Solid,
            };
        }
        let mut parts: Vec<ShellFaces> = Vec::new();
        // Which shell of the file each part is, and whether it is a void.
        let mut shell_of: Vec<(u64, bool)> = Vec::new();
        for (shell, void) in shells {
            for part in self.shell(shell, false)? {
                parts.push(part);
                shell_of.push((shell, void));
            }
        }
        let loader = self.loader(units);
        let mut meshed = mesh(&loader, &parts, self.asked);
        let turned_shells =
            if kind == BodyKind::Surfaces { 0 } else { turn_shells(&mut meshed, &shell_of) };
        let name = item_name(graph, id);
        let of_triangle = |(face, shell): (&u64, &usize)| {
            let shell = shell_of.get(*shell).map_or(0, |s| s.0);
            self.colours.get(face).or_else(|| self.colours.get(&shell)).copied()
        };
        let colours: Vec<Option<Colour>> =
            meshed.face_of.iter().zip(&meshed.shell_of).map(of_triangle).collect();
        let soundness = soundness(&meshed.mesh);
        // Pieces may touch as nearly as either is known.
        let several = soundness.components > 1 && meshed.deviation.is_finite();
        let contradiction =
            several.then(|| contradiction(&meshed.mesh, 2.0 * meshed.deviation)).flatten();
        Ok(Body {
            id,
            name,
            kind,
            soundness,
            contradiction,
            mesh: meshed.mesh,
            deviation: Some(meshed.deviation),
            lost: meshed.lost,
            faces: meshed.faces,
            triangle_faces: meshed.face_of,
            turned_shells,
            colour: self.colours.get(&id).copied(),
            triangle_colours: if colours.iter().any(Option::is_some) {
                colours
            } else {
                Vec::new()
            },
        })
    }

    /// The faces of a shell, in groups that are turned alike.
    fn shell(&self, id: u64, turned: bool) -> Result<Vec<ShellFaces>, Fault> {
        let graph = self.graph;
        let (mut id, mut turned) = (id, turned);
        for _ in 0..DEPTH {
            let Some(oriented) = graph.any(id, &["ORIENTED_CLOSED_SHELL", "ORIENTED_OPEN_SHELL"])
            else {
                break;
            };
            id = oriented.reference(2)?;
            turned = turned == oriented.flag(3)?;
        }
        let kinds_of = ["CLOSED_SHELL", "OPEN_SHELL", "CONNECTED_FACE_SET"];
        let shell = graph.any(id, &kinds_of).ok_or_else(|| match graph.instance(id) {
            Ok(i) => Fault::Kind { id, found: kinds(i), expected: "a shell" },
            Err(fault) => fault,
        })?;
        let mut groups = [
            ShellFaces { faces: Vec::new(), turned },
            ShellFaces { faces: Vec::new(), turned: !turned },
        ];
        for face in shell.references(1)? {
            match graph.find(face, "ORIENTED_FACE") {
                Some(oriented) => {
                    let group = usize::from(!oriented.flag(3)?);
                    groups[group].faces.push(oriented.reference(2)?);
                }
                None => groups[0].faces.push(face),
            }
        }
        Ok(groups.into_iter().filter(|g| !g.faces.is_empty()).collect())
    }

    fn finish(mut self, occurrences: Vec<Occurrence>) -> Model {
        if self.bodies.is_empty() {
            self.tell(Finding::NoBody);
        }
        let units = self.first.take().or_else(|| {
            let known = self.graph.instances.iter().filter_map(|i| self.units.get(&i.id));
            known.flatten().next().cloned()
        });
        let units = units.unwrap_or_default();
        if self.unsaid && !self.bodies.is_empty() {
            self.tell(Finding::NoUnit);
        }
        Model {
            schemas: self.graph.schemas.clone(),
            unit: Unit { name: units.name, millimetres: units.length, said: units.said },
            bodies: self.bodies,
            occurrences,
            findings: self.findings,
        }
    }
}

/// Mapped items by parent and child: their names and places.
type MappedParts = HashMap<(u64, u64), VecDeque<(String, Result<Placement, Fault>)>>;

fn add_use(all: &mut HashMap<u64, Definition>, parent: u64, of: Use) {
    if let Some(definition) = all.get_mut(&of.child) {
        definition.is_used = true;
    }
    if let Some(definition) = all.get_mut(&parent) {
        definition.uses.push(of);
    }
}

/// What annotations draw: letters and signs, which tessellated sets are as well as bodies.
fn annotated(graph: &Exchange<'_>) -> HashSet<u64> {
    let is_annotation = |kind: &str| kind.contains("ANNOTATION") && kind.ends_with("_OCCURRENCE");
    let all = graph.instances.iter().map(|i| &i.records);
    let all = all.filter(|records| records.iter().any(|r| is_annotation(&r.kind)));
    all.flatten().flat_map(|r| &r.parameters).filter_map(reference).collect()
}

/// What a shape is the shape of.
fn of_shape(graph: &Exchange<'_>, shape: u64) -> Option<u64> {
    let args = graph.inherited(shape, "PRODUCT_DEFINITION_SHAPE", "PROPERTY_DEFINITION", 3)?;
    args.optional(2)
}

/// The name of a representation item.
fn item_name(graph: &Exchange<'_>, id: u64) -> String {
    graph
        .find(id, "REPRESENTATION_ITEM")
        .or_else(|| graph.get(id)?.records.first().and_then(|r| graph.find(id, &r.kind)))
        .map_or_else(String::new, |args| args.text(0))
}

/// Origin, representation and target of a mapped item.
type Mapping = (Result<u64, Fault>, u64, Result<u64, Fault>);

/// What a mapped item maps: the origin, the representation, and the target.
fn map_of(graph: &Exchange<'_>, id: u64) -> Option<Mapping> {
    let args = graph.find(id, "MAPPED_ITEM")?;
    // In a complex instance the name stands apart.
    let at = if args.optional(2).is_some() { 2 } else { 1 };
    let map = args.optional(at - 1).and_then(|m| graph.find(m, "REPRESENTATION_MAP"))?;
    Some((map.reference(0), map.optional(1)?, args.reference(at)))
}

/// The context of the first representation that has each item.
fn contexts(graph: &Exchange<'_>) -> HashMap<u64, Option<u64>> {
    let mut found = HashMap::new();
    for instance in &graph.instances {
        if instance.records.iter().any(|r| r.kind.ends_with("REPRESENTATION"))
            && let Some((items, context)) = representation(graph, instance.id)
        {
            for item in items {
                found.entry(item).or_insert(context);
            }
        }
    }
    found
}

/// Turns shells that the file has inside out: an outer one must hold something, a void must not.
/// `shells` are, for each part that was meshed, its shell and whether it is a void. How many were turned.
fn turn_shells(meshed: &mut Meshed, shells: &[(u64, bool)]) -> usize {
    let Some((low, high)) = meshed.mesh.bounds() else { return 0 };
    let about = nalgebra::center(&low, &high);
    // Six times what each encloses.
    let mut enclosed: HashMap<u64, f64> = HashMap::new();
    let shell_of = |part: &usize| shells.get(*part).map(|s| s.0);
    for (t, part) in (0..).zip(&meshed.shell_of) {
        let [a, b, c] = meshed.mesh.corners(t).map(|p| p - about);
        if let Some(shell) = shell_of(part) {
            *enclosed.entry(shell).or_default() += a.dot(&b.cross(&c));
        }
    }
    let mut turned = 0;
    let mut done = HashSet::new();
    for (shell, void) in shells {
        let inside_out = enclosed.get(shell).is_some_and(|v| (*v < 0.0) != *void);
        if !done.insert(*shell) || !inside_out {
            continue;
        }
        let of_shell = |part: &usize| shell_of(part) == Some(*shell);
        let own = meshed.mesh.triangles.iter().zip(&meshed.shell_of);
        let part = solids::Mesh {
            vertices: meshed.mesh.vertices.clone(),
            triangles: own.filter(|(_, part)| of_shell(part)).map(|(t, _)| *t).collect(),
        };
        if soundness(&part).is_closed() {
            turned += 1;
            let all = meshed.mesh.triangles.iter_mut().zip(&meshed.shell_of);
            all.filter(|(_, part)| of_shell(part)).for_each(|(t, _)| t.swap(1, 2));
        }
    }
    turned
}
