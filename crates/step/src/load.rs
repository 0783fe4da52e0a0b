//! Curves and surfaces from their entities, ISO 10303-42.

use crate::Fault;
use crate::geometry::{
    Curve, Frame, Link, P, Spline, SplineSurface, Surface, V, uniform_knots, unit,
};
use crate::graph::{Args, kinds, list, number, reference};
use crate::part21::Exchange;
use nalgebra::Vector4;
use std::cell::Cell;

/// Reads geometry of one representation context.
#[derive(Clone, Copy)]
pub(crate) struct Loader<'g> {
    pub(crate) graph: &'g Exchange<'g>,
    /// Millimetres in the file's unit of length.
    pub(crate) length: f64,
    /// Radians in the file's unit of angle.
    pub(crate) angle: f64,
    /// Millimetres within which the file calls two points one.
    pub(crate) tolerance: f64,
    /// Pieces of composite curves that may still be read in this file.
    pub(crate) pieces: &'g Cell<usize>,
}

/// Deeper than any curve of curves that means something.
const DEPTH: usize = 24;

const POSITIVE: &str = "a radius is not above zero";

impl<'g> Loader<'g> {
    fn unread(&self, id: u64) -> Fault {
        match self.graph.instance(id) {
            Ok(instance) => Fault::Unread { id, kind: kinds(instance) },
            Err(fault) => fault,
        }
    }

    fn coordinates(args: Args<'g>, index: usize) -> Result<V, Fault> {
        let wrong = || args.wrong(index, "two or three numbers");
        match args.numbers(index).map_err(|_| wrong())?.as_slice() {
            [x, y] => Ok(V::new(*x, *y, 0.0)),
            [x, y, z] => Ok(V::new(*x, *y, *z)),
            _ => Err(wrong()),
        }
    }

    /// A `cartesian_point`.
    pub(crate) fn point(&self, id: u64) -> Result<P, Fault> {
        let args = self.graph.expect(id, "CARTESIAN_POINT")?;
        Ok(P::from(Self::coordinates(args, 1)? * self.length))
    }

    pub(crate) fn direction(&self, id: u64) -> Result<V, Fault> {
        let args = self.graph.expect(id, "DIRECTION")?;
        let along = Self::coordinates(args, 1)?;
        unit(along).ok_or(Fault::Values { id, why: "a direction has no length" })
    }

    /// A direction that may be left out.
    pub(crate) fn direction_of(&self, args: Args<'g>, index: usize) -> Result<Option<V>, Fault> {
        args.maybe(index, "a direction")?.map(|id| self.direction(id)).transpose()
    }

    /// A `vector`, in millimetres.
    fn vector(&self, id: u64) -> Result<V, Fault> {
        let args = self.graph.expect(id, "VECTOR")?;
        let along = self.direction(args.reference(1)?)? * (args.number(2)? * self.length);
        if along.norm() > 0.0 {
            Ok(along)
        } else {
            Err(Fault::Values { id, why: "a vector has no length" })
        }
    }

    /// An `axis2_placement_3d`, or one of two dimensions in the plane z = 0.
    pub(crate) fn frame(&self, id: u64) -> Result<Frame, Fault> {
        // One that is left out is the standard's own; one that cannot be read is no placement.
        let optional = |args, index| self.direction_of(args, index);
        if let Some(args) = self.graph.find(id, "AXIS2_PLACEMENT_2D") {
            let origin = self.point(args.reference(1)?)?;
            return Ok(Frame::new(origin, None, optional(args, 2)?));
        }
        let args = self.graph.expect(id, "AXIS2_PLACEMENT_3D")?;
        let origin = self.point(args.reference(1)?)?;
        Ok(Frame::new(origin, optional(args, 2)?, optional(args, 3)?))
    }

    /// An `axis1_placement`.
    fn axis(&self, id: u64) -> Result<Frame, Fault> {
        let args = self.graph.expect(id, "AXIS1_PLACEMENT")?;
        let along = self.direction_of(args, 2)?;
        Ok(Frame::new(self.point(args.reference(1)?)?, along, None))
    }

    fn length(&self, args: Args<'g>, index: usize) -> Result<f64, Fault> {
        Ok(args.number(index)? * self.length)
    }

    fn radius(&self, args: Args<'g>, index: usize) -> Result<f64, Fault> {
        let radius = self.length(args, index)?;
        if radius > 0.0 { Ok(radius) } else { Err(Fault::Values { id: args.id, why: POSITIVE }) }
    }

    /// A curve in space, or with `graph`'s points of two dimensions in a plane.
    pub(crate) fn curve(&self, id: u64) -> Result<Curve, Fault> {
        self.curve_at(id, DEPTH)
    }

    fn curve_at(&self, id: u64, depth: usize) -> Result<Curve, Fault> {
        let depth = depth.checked_sub(1).ok_or(Fault::Cyclic { id })?;
        let find = |kind| self.graph.find(id, kind);
        if let Some(args) = find("LINE") {
            let origin = self.point(args.reference(1)?)?;
            return Ok(Curve::Line { origin, along: self.vector(args.reference(2)?)? });
        }
        if let Some(args) = find("CIRCLE") {
            let (frame, a) = (self.frame(args.reference(1)?)?, self.radius(args, 2)?);
            return Ok(Curve::Ellipse { frame, a, b: a });
        }
        if let Some(args) = find("ELLIPSE") {
            let frame = self.frame(args.reference(1)?)?;
            return Ok(Curve::Ellipse {
                frame,
                a: self.radius(args, 2)?,
                b: self.radius(args, 3)?,
            });
        }
        if let Some(args) = find("HYPERBOLA") {
            let frame = self.frame(args.reference(1)?)?;
            let (a, b) = (self.radius(args, 2)?, self.radius(args, 3)?);
            return Ok(Curve::Hyperbola { frame, a, b });
        }
        if let Some(args) = find("PARABOLA") {
            let (frame, focal) = (self.frame(args.reference(1)?)?, self.length(args, 2)?);
            if focal == 0.0 {
                return Err(Fault::Values { id, why: "a focal length is zero" });
            }
            return Ok(Curve::Parabola { frame, focal });
        }
        let on_surfaces =
            ["SURFACE_CURVE", "SEAM_CURVE", "INTERSECTION_CURVE", "BOUNDED_SURFACE_CURVE"];
        if let Some(args) = self.graph.any(id, &on_surfaces) {
            // In a complex instance the name stands apart.
            let curve = args.optional(1).or_else(|| args.optional(0));
            return self.curve_at(curve.ok_or_else(|| args.wrong(1, "a curve"))?, depth);
        }
        if let Some(args) = find("TRIMMED_CURVE") {
            return self.trimmed(args, depth);
        }
        if let Some(args) = find("POLYLINE") {
            let points: Vec<P> =
                args.references(1)?.into_iter().map(|p| self.point(p)).collect::<Result<_, _>>()?;
            let control: Vec<_> = points.iter().map(|p| p.coords.push(1.0)).collect();
            let knots = uniform_knots(1, control.len(), true);
            let made = Spline::new(1, knots, control);
            return made.map(Curve::Spline).map_err(|why| Fault::Values { id, why });
        }
        let composites = [
            "COMPOSITE_CURVE",
            "COMPOSITE_CURVE_ON_SURFACE",
            "BOUNDARY_CURVE",
            "OUTER_BOUNDARY_CURVE",
        ];
        if let Some(args) = self.graph.any(id, &composites) {
            return self.composite(args, depth);
        }
        if let Some(args) = self.graph.any(id, &["PCURVE", "BOUNDED_PCURVE"]) {
            return self.on_surface(args, depth);
        }
        self.spline(id)
    }

    /// Where a trimmed curve begins or ends on its basis.
    fn trim(&self, args: Args<'g>, index: usize, basis: &Curve) -> Result<f64, Fault> {
        let values = args.list(index)?;
        let parameter = values.iter().find_map(number).map(|t| match basis {
            Curve::Ellipse { .. } => t * self.angle,
            _ => t,
        });
        let point = values.iter().find_map(reference);
        let by_point = args.word(5) == Some("CARTESIAN");
        match (parameter, point) {
            (Some(t), None) => Ok(t),
            (Some(t), Some(_)) if !by_point => Ok(t),
            (_, Some(p)) => Ok(basis.nearest(&self.point(p)?)),
            (None, None) => Err(args.wrong(index, "a parameter or a point")),
        }
    }

    fn trimmed(&self, args: Args<'g>, depth: usize) -> Result<Curve, Fault> {
        let basis = self.curve_at(args.reference(1)?, depth)?;
        let from = self.trim(args, 2, &basis)?;
        let mut to = self.trim(args, 3, &basis)?;
        let forward = args.flag(4)?;
        if let Some(period) = basis.period(self.tolerance) {
            let apart = 1e-9 * period;
            if forward && to <= from + apart {
                to += period * ((from + apart - to) / period).ceil().max(1.0);
            } else if !forward && to >= from - apart {
                to -= period * ((to - from + apart) / period).ceil().max(1.0);
            }
        }
        if (to - from).abs() <= 0.0 || !from.is_finite() || !to.is_finite() {
            return Err(Fault::Values { id: args.id, why: "a trimmed curve has no length" });
        }
        Ok(Curve::Chain(vec![Link { curve: basis, from, to }]))
    }

    fn composite(&self, args: Args<'g>, depth: usize) -> Result<Curve, Fault> {
        let mut links = Vec::new();
        for segment in args.references(1)? {
            let segment = self
                .graph
                .any(
                    segment,
                    &["COMPOSITE_CURVE_SEGMENT", "REPARAMETRISED_COMPOSITE_CURVE_SEGMENT"],
                )
                .ok_or_else(|| self.unread(segment))?;
            let forward = segment.flag(1)?;
            let parent = self.curve_at(segment.reference(2)?, depth)?;
            let mut part = match parent {
                Curve::Chain(part) => part,
                curve => {
                    let Some((from, to)) = curve.domain() else {
                        let why = "a piece of a composite curve has no ends";
                        return Err(Fault::Values { id: args.id, why });
                    };
                    vec![Link { curve, from, to }]
                }
            };
            if !forward {
                part.reverse();
                for link in &mut part {
                    std::mem::swap(&mut link.from, &mut link.to);
                }
            }
            // Composites of composites double at every level.
            let left = self.pieces.get().checked_sub(part.len());
            let why = "the file's composite curves have too many pieces";
            self.pieces.set(left.ok_or(Fault::Values { id: args.id, why })?);
            if let Some(gap) = self.joint(args.id, &links, &part)? {
                links.push(gap);
            }
            links.extend(part);
        }
        if links.is_empty() {
            return Err(Fault::Values { id: args.id, why: "a composite curve has no piece" });
        }
        Ok(Curve::Chain(links))
    }

    /// A straight piece between a composite curve's last piece and the next, where they do not quite
    /// meet: so that it counts when the mesh is measured. Farther apart they are no one curve.
    fn joint(&self, id: u64, before: &[Link], after: &[Link]) -> Result<Option<Link>, Fault> {
        let (Some(last), Some(next)) = (before.last(), after.first()) else { return Ok(None) };
        let (from, to) = (last.curve.at(last.to), next.curve.at(next.from));
        let distance = (to - from).norm();
        if !distance.is_finite() || distance > 100.0 * self.tolerance {
            let (what, from) = ("a piece of the composite curve", "the one before it");
            return Err(Fault::Apart { id, what, from, distance });
        }
        let straight = Curve::Line { origin: from, along: to - from };
        Ok((distance > self.tolerance).then_some(Link { curve: straight, from: 0.0, to: 1.0 }))
    }

    /// A `pcurve` that stands for a curve in space.
    fn on_surface(&self, args: Args<'g>, depth: usize) -> Result<Curve, Fault> {
        let (surface, _) = self.surface_at(args.reference(1)?, depth)?;
        let representation =
            self.graph.expect(args.reference(2)?, "DEFINITIONAL_REPRESENTATION")?;
        let items = representation.references(1)?;
        let item = *items.first().ok_or_else(|| representation.wrong(1, "a curve"))?;
        // The plane of parameters has no unit of its own.
        let (u, v) = match &surface {
            Surface::Plane(_) => (self.length, self.length),
            // A cone's v runs along the axis, as here.
            Surface::Cylinder(..) | Surface::Cone(..) => (self.angle, self.length),
            Surface::Sphere(..) | Surface::Torus(..) => (self.angle, self.angle),
            Surface::Revolution(..) => (self.angle, 1.0),
            Surface::Spline(_) | Surface::Extrusion(..) => (1.0, 1.0),
            Surface::Offset(..) => return Err(self.unread(args.id)),
        };
        let flat = Self { length: 1.0, ..*self }.curve_at(item, depth)?;
        let scaled = scale_flat(flat, u, v).ok_or_else(|| self.unread(item))?;
        Ok(Curve::OnSurface(Box::new((surface, scaled))))
    }

    fn spline(&self, id: u64) -> Result<Curve, Fault> {
        let simple = self.graph.any(
            id,
            &["B_SPLINE_CURVE_WITH_KNOTS", "UNIFORM_CURVE", "QUASI_UNIFORM_CURVE", "BEZIER_CURVE"],
        );
        let complex = self.graph.find(id, "B_SPLINE_CURVE");
        let (base, form, knots) = match (complex, simple) {
            (Some(base), Some(form)) => (base, form.kind, Some(form)),
            // A bare B-spline curve says no knots: uniform ones with full ends.
            (Some(base), None) => (base, "QUASI_UNIFORM_CURVE", None),
            (None, Some(form)) => (form.skip(1), form.kind, Some(form.skip(6))),
            (None, None) => return Err(self.unread(id)),
        };
        let degree = base.count(0)?;
        let weights = match self.graph.find(id, "RATIONAL_B_SPLINE_CURVE") {
            Some(args) => Some(args.numbers(0)?),
            None => None,
        };
        let ids = base.references(1)?;
        let fault = |why| Fault::Values { id, why };
        if weights.as_ref().is_some_and(|w| w.len() != ids.len()) {
            return Err(fault("there are not as many weights as control points"));
        }
        let mut points = Vec::with_capacity(ids.len());
        for (i, p) in ids.into_iter().enumerate() {
            let w = weights.as_ref().and_then(|w| w.get(i)).copied().unwrap_or(1.0);
            points.push(weighted(self.point(p)?, w));
        }
        let knots = knots_of(form, degree, points.len(), knots, (0, 1)).map_err(|e| e.at(id))?;
        Spline::new(degree, knots, points).map(Curve::Spline).map_err(fault)
    }

    /// A surface, and whether its normal points the other way than the entity's.
    pub(crate) fn surface(&self, id: u64) -> Result<(Surface, bool), Fault> {
        self.surface_at(id, DEPTH)
    }

    fn surface_at(&self, id: u64, depth: usize) -> Result<(Surface, bool), Fault> {
        let depth = depth.checked_sub(1).ok_or(Fault::Cyclic { id })?;
        let find = |kind| self.graph.find(id, kind);
        let plain = |s| Ok((s, false));
        if let Some(args) = find("PLANE") {
            return plain(Surface::Plane(self.frame(args.reference(1)?)?));
        }
        if let Some(args) = find("CYLINDRICAL_SURFACE") {
            let frame = self.frame(args.reference(1)?)?;
            return plain(Surface::Cylinder(frame, self.radius(args, 2)?));
        }
        if let Some(args) = find("CONICAL_SURFACE") {
            let (frame, radius) = (self.frame(args.reference(1)?)?, self.length(args, 2)?);
            let angle = args.number(3)? * self.angle;
            if radius < 0.0 || angle.abs() >= std::f64::consts::FRAC_PI_2 {
                return Err(Fault::Values { id, why: "a cone's radius or angle makes no cone" });
            }
            if angle == 0.0 {
                return plain(Surface::Cylinder(frame, self.radius(args, 2)?));
            }
            return plain(Surface::Cone(frame, radius, angle.tan()));
        }
        if let Some(args) = find("SPHERICAL_SURFACE") {
            return plain(Surface::Sphere(self.frame(args.reference(1)?)?, self.radius(args, 2)?));
        }
        if let Some(args) = self.graph.any(id, &["DEGENERATE_TOROIDAL_SURFACE", "TOROIDAL_SURFACE"])
        {
            let frame = self.frame(args.reference(1)?)?;
            let (a, b) = (self.length(args, 2)?, self.radius(args, 3)?);
            if a < 0.0 {
                return Err(Fault::Values { id, why: POSITIVE });
            }
            let outer = args.kind != "DEGENERATE_TOROIDAL_SURFACE" || args.flag(4)?;
            return plain(Surface::Torus(frame, a, b, outer));
        }
        if let Some(args) = find("SURFACE_OF_LINEAR_EXTRUSION") {
            let curve = self.curve_at(args.reference(1)?, depth)?;
            let along = self.vector(args.reference(2)?)?;
            return extruded(curve, along)
                .ok_or(Fault::Values { id, why: "a surface is a line moved along itself" });
        }
        if let Some(args) = find("SURFACE_OF_REVOLUTION") {
            let curve = self.curve_at(args.reference(1)?, depth)?;
            return Ok(revolved(self.axis(args.reference(2)?)?, curve));
        }
        if let Some(args) = find("OFFSET_SURFACE") {
            let (basis, flipped) = self.surface_at(args.reference(1)?, depth)?;
            let distance = self.length(args, 2)? * if flipped { -1.0 } else { 1.0 };
            let made = offset(basis, distance).ok_or(Fault::Values { id, why: POSITIVE })?;
            return Ok((made, flipped));
        }
        if let Some(args) = find("RECTANGULAR_TRIMMED_SURFACE") {
            // The face's boundary says where it ends.
            let (basis, flipped) = self.surface_at(args.reference(1)?, depth)?;
            return Ok((basis, flipped != (args.flag(6)? != args.flag(7)?)));
        }
        self.spline_surface(id).map(|s| (Surface::Spline(Box::new(s)), false))
    }

    fn spline_surface(&self, id: u64) -> Result<SplineSurface, Fault> {
        let simple = self.graph.any(
            id,
            &[
                "B_SPLINE_SURFACE_WITH_KNOTS",
                "UNIFORM_SURFACE",
                "QUASI_UNIFORM_SURFACE",
                "BEZIER_SURFACE",
            ],
        );
        let complex = self.graph.find(id, "B_SPLINE_SURFACE");
        let (base, form, knots) = match (complex, simple) {
            (Some(base), Some(form)) => (base, form.kind, Some(form)),
            (Some(base), None) => (base, "QUASI_UNIFORM_SURFACE", None),
            (None, Some(form)) => (form.skip(1), form.kind, Some(form.skip(8))),
            (None, None) => return Err(self.unread(id)),
        };
        let fault = |why| Fault::Values { id, why };
        let (degree_u, degree_v) = (base.count(0)?, base.count(1)?);
        let weights = match self.graph.find(id, "RATIONAL_B_SPLINE_SURFACE") {
            Some(args) => Some(args.list(0)?),
            None => None,
        };
        let mut rows = Vec::new();
        for (i, row) in base.list(2)?.iter().enumerate() {
            let ids = list(row).ok_or_else(|| base.wrong(2, "rows of control points"))?;
            let row_of_weights = match weights {
                Some(all) => Some(
                    all.get(i)
                        .and_then(list)
                        .filter(|w| w.len() == ids.len())
                        .ok_or_else(|| fault("there are not as many weights as control points"))?,
                ),
                None => None,
            };
            let mut points = Vec::with_capacity(ids.len());
            for (j, value) in ids.iter().enumerate() {
                let p = reference(value).ok_or_else(|| base.wrong(2, "rows of control points"))?;
                let w = match row_of_weights.and_then(|w| w.get(j)) {
                    Some(w) => number(w).ok_or_else(|| fault("a weight is no number"))?,
                    None => 1.0,
                };
                points.push(weighted(self.point(p)?, w));
            }
            rows.push(points);
        }
        let count_v = rows.first().map_or(0, Vec::len);
        let knots_u = knots_of(form, degree_u, rows.len(), knots, (0, 2)).map_err(|e| e.at(id))?;
        let knots_v = knots_of(form, degree_v, count_v, knots, (1, 3)).map_err(|e| e.at(id))?;
        SplineSurface::new((degree_u, knots_u), (degree_v, knots_v), &rows, self.tolerance)
            .map_err(fault)
    }
}

fn weighted(p: P, w: f64) -> Vector4<f64> {
    (p.coords * w).push(w)
}

enum KnotFault {
    Fault(Fault),
    Why(&'static str),
}

impl KnotFault {
    fn at(self, id: u64) -> Fault {
        match self {
            Self::Fault(fault) => fault,
            Self::Why(why) => Fault::Values { id, why },
        }
    }
}

/// Knots by the form of a spline: `places` are those of multiplicities and knots.
fn knots_of(
    form: &str,
    degree: usize,
    count: usize,
    args: Option<Args<'_>>,
    places: (usize, usize),
) -> Result<Vec<f64>, KnotFault> {
    match args {
        Some(args) if form.ends_with("_WITH_KNOTS") => {
            let multiplicities = args.counts(places.0).map_err(KnotFault::Fault)?;
            let values = args.numbers(places.1).map_err(KnotFault::Fault)?;
            // Counts first: a multiplicity of a milliard is refused before it is written out.
            let total: usize = multiplicities.iter().fold(0, |a, b| a.saturating_add(*b));
            if multiplicities.len() != values.len() || total != count + degree + 1 {
                let why = "the number of knots, degree and control points do not belong together";
                return Err(KnotFault::Why(why));
            }
            let each = multiplicities.into_iter().zip(values);
            Ok(each.flat_map(|(m, k)| std::iter::repeat_n(k, m)).collect())
        }
        _ if form.starts_with("BEZIER") => {
            if degree == 0 || count < 2 || !(count - 1).is_multiple_of(degree) {
                return Err(KnotFault::Why("control points do not make whole Bezier pieces"));
            }
            let pieces = (count - 1) / degree;
            let knots = (0..=count + degree)
                .map(|i| (i.saturating_sub(1) / degree).min(pieces) as f64)
                .collect();
            Ok(knots)
        }
        _ => Ok(uniform_knots(degree, count, !form.starts_with("UNIFORM"))),
    }
}

/// A curve of the plane of parameters with its coordinates stretched.
fn scale_flat(curve: Curve, u: f64, v: f64) -> Option<Curve> {
    let by = |w: V| V::new(w.x * u, w.y * v, 0.0);
    Some(match curve {
        Curve::Line { origin, along } => {
            Curve::Line { origin: P::from(by(origin.coords)), along: by(along) }
        }
        Curve::Spline(mut s) => {
            for h in &mut s.points {
                *h = by(h.xyz()).push(h.w);
            }
            Curve::Spline(s)
        }
        Curve::Ellipse { mut frame, a, b } if (u - v).abs() <= 1e-15 * u.abs() => {
            frame.origin = P::from(by(frame.origin.coords));
            Curve::Ellipse { frame, a: a * u, b: b * u }
        }
        Curve::Chain(links) => {
            let stretched = |l: Link| Some(Link { curve: scale_flat(l.curve, u, v)?, ..l });
            Curve::Chain(links.into_iter().map(stretched).collect::<Option<_>>()?)
        }
        _ => return None,
    })
}

/// The curve itself where a chain has one piece.
fn single(curve: &Curve) -> &Curve {
    match curve {
        Curve::Chain(links) => match links.as_slice() {
            [link] => single(&link.curve),
            _ => curve,
        },
        _ => curve,
    }
}

/// Whether the normal of `made` points the other way than that of `given` at one of its points.
fn turned(given: &Surface, made: &Surface, (u, v): (f64, f64)) -> bool {
    let p = given.at(u, v);
    let (a, b, _) = made.nearest(&p, None, 0.0);
    given.normal(u, v).dot(&made.normal(a, b)) < 0.0
}

/// A place on a curve to compare normals at: within its ends and on no axis of symmetry.
fn somewhere(curve: &Curve) -> f64 {
    curve.domain().map_or(0.37, |(a, b)| a + 0.37 * (b - a))
}

fn extruded(curve: Curve, along: V) -> Option<(Surface, bool)> {
    let given = Surface::Extrusion(Box::new(curve), along);
    let Surface::Extrusion(curve, _) = &given else { return None };
    let made = match single(curve) {
        Curve::Line { origin, along: line } => {
            let z = unit(line.cross(&along))?;
            Some(Surface::Plane(Frame::new(*origin, Some(z), Some(*line))))
        }
        Curve::Ellipse { frame, a, b } if (a - b).abs() <= 1e-12 * a => {
            let square = frame.z.dot(&along).abs() >= (1.0 - 1e-14) * along.norm();
            square.then_some(Surface::Cylinder(*frame, *a))
        }
        _ => None,
    };
    let Some(made) = made else { return Some((given, false)) };
    let flip = turned(&given, &made, (somewhere(curve), 0.3));
    Some((made, flip))
}

fn revolved(axis: Frame, curve: Curve) -> (Surface, bool) {
    let given = Surface::Revolution(axis, Box::new(curve));
    let Surface::Revolution(_, curve) = &given else { return (given, false) };
    let made = match single(curve) {
        Curve::Line { origin, along } => {
            let along = along.normalize();
            let rise = along.dot(&axis.z);
            let l = axis.of(origin);
            let radius = l.x.hypot(l.y);
            let near = 1e-12 * (1.0 + radius);
            // The point of the line nearest the axis, and how far that is.
            let across = along - axis.z * rise;
            let foot = |s: f64| axis.of(&(origin + along * s));
            if rise.abs() >= 1.0 - 1e-14 {
                (radius > near).then_some(Surface::Cylinder(axis, radius))
            } else {
                let flat = |p: V| V::new(p.x, p.y, 0.0);
                let slope = flat(V::new(across.dot(&axis.x), across.dot(&axis.y), 0.0));
                let s = -flat(l).dot(&slope) / slope.norm_squared();
                let at = foot(s);
                if rise.abs() <= 1e-14 {
                    let middle = axis.origin + axis.z * l.z;
                    Some(Surface::Plane(Frame { origin: middle, ..axis }))
                } else if at.x.hypot(at.y) <= near {
                    // The line meets the axis: a cone, on the side on which the curve lies.
                    let side = axis.of(&curve.at(somewhere(curve)));
                    let t = side.x.hypot(side.y) / (side.z - at.z);
                    let apex = Frame { origin: axis.origin + axis.z * at.z, ..axis };
                    t.is_finite().then_some(Surface::Cone(apex, 0.0, t))
                } else {
                    None
                }
            }
        }
        Curve::Ellipse { frame, a, b } if (a - b).abs() <= 1e-12 * a => {
            let middle = axis.of(&frame.origin);
            let out = middle.x.hypot(middle.y);
            let center = axis.origin + axis.z * middle.z;
            let in_plane = frame.z.dot(&axis.z).abs() <= 1e-12;
            if in_plane && out <= 1e-12 * a {
                Some(Surface::Sphere(Frame { origin: center, ..axis }, *a))
            } else {
                let outward = (frame.origin - center).dot(&frame.z).abs() <= 1e-12 * out;
                (in_plane && outward && out >= *a).then_some(Surface::Torus(
                    Frame { origin: center, ..axis },
                    out,
                    *a,
                    true,
                ))
            }
        }
        _ => None,
    };
    let Some(made) = made else { return (given, false) };
    let flip = turned(&given, &made, (0.3, somewhere(curve)));
    (made, flip)
}

/// An offset surface; of an elementary one another such, where that exists.
fn offset(basis: Surface, distance: f64) -> Option<Surface> {
    let positive = |r: f64| (r > 0.0).then_some(r);
    Some(match basis {
        Surface::Plane(f) => Surface::Plane(Frame { origin: f.origin + f.z * distance, ..f }),
        Surface::Cylinder(f, r) => Surface::Cylinder(f, positive(r + distance)?),
        Surface::Sphere(f, r) => Surface::Sphere(f, positive(r + distance)?),
        Surface::Torus(f, a, b, outer) if b <= a => {
            Surface::Torus(f, a, positive(b + distance)?, outer)
        }
        // One offset of another is one: their work would grow with every level.
        Surface::Offset(basis, first) if first + distance == 0.0 => *basis,
        Surface::Offset(basis, first) => Surface::Offset(basis, first + distance),
        other => Surface::Offset(Box::new(other), distance),
    })
}
